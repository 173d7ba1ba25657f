"""Step 2: is the sculpt sound, of one wall and of the right size?"""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.measures import size_text
from ...core.units import format_length
from .. import settings
from ..choices import SCULPT
from .base import Step, wrapped
from .findings import draw_findings


class FOAMWRIGHT_PT_sculpt(Step, bpy.types.Panel):
    bl_label = "2  Sculpt"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.operator("foamwright.look_over", icon="VIEWZOOM")
        unit = settings.unit()
        for survey in (s for s in group.surveys if s.name in context.scene.objects):
            column = layout.column(align=True)
            column.label(text=survey.name, icon="OUTLINER_OB_MESH", translate=False)
            size = " × ".join(format_length(round(side), unit) if side < 10_000 else
                              size_text(side) for side in survey.size)
            wrapped(column, size, context, "BLANK1")
            wrapped(column, iface_(survey.kind), context, "BLANK1")
        if group.surveys and not any(item.step == SCULPT for item in group.findings):
            wrapped(layout, iface_("Nothing was found amiss."), context, "CHECKMARK")
        draw_findings(layout, context, SCULPT)


class FOAMWRIGHT_PT_built(Step, bpy.types.Panel):
    bl_label = "Faces Not Built"
    bl_parent_id = "FOAMWRIGHT_PT_sculpt"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout = self.layout
        if context.mode == "EDIT_MESH":
            row = layout.row(align=True)
            row.operator("foamwright.set_built", icon="HIDE_ON")
            row.operator("foamwright.select_not_built", text="", icon="RESTRICT_SELECT_OFF")
            row.operator("foamwright.set_built", text="", icon="X").build = True
        else:
            wrapped(layout, iface_("Enter Edit Mode and select faces to leave them out, such as "
                                   "the underside of a solid."), context, "INFO")
        row = layout.row(align=True)
        row.operator("foamwright.keep_outer_skin", icon="MOD_SOLIDIFY")
        row.operator("foamwright.show_outer_skin", text="", icon="RESTRICT_SELECT_OFF")


class FOAMWRIGHT_PT_wearer(Step, bpy.types.Panel):
    bl_label = "Wearer"
    bl_parent_id = "FOAMWRIGHT_PT_sculpt"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, wearer = self.layout, context.scene.foamwright.wearer
        layout.use_property_split = True
        layout.use_property_decorate = False
        item = context.object
        if item and item.type == "MESH":
            layout.prop(item.foamwright, "worn", text=iface_("{name} Goes On").format(
                name=item.name))
        column = layout.column()
        for prop in wearer.bl_rna.properties:
            if prop.identifier not in ("rna_type", "name"):
                column.prop(wearer, prop.identifier)
        layout.operator("foamwright.rescale", icon="FULLSCREEN_ENTER")


CLASSES = (FOAMWRIGHT_PT_sculpt, FOAMWRIGHT_PT_built, FOAMWRIGHT_PT_wearer)
