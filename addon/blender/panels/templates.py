"""Step 4: the templates and the build plan."""

import bpy

from .base import Step


class FOAMWRIGHT_PT_templates(Step, bpy.types.Panel):
    bl_label = "4  Templates"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        column = layout.column()
        column.prop(group, "title")
        column.prop(group, "paper")
        column.prop(group, "folder")
        column = layout.column()
        large = column.row()
        large.scale_y = 1.4
        large.operator("foamwright.make_pattern", icon="DOCUMENTS")
        column.operator("foamwright.make_one_piece", icon="FACESEL")


CLASSES = (FOAMWRIGHT_PT_templates,)
