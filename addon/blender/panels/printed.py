"""Step 5: which templates must be printed again."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from .. import printed
from .base import Step, wrapped


class FOAMWRIGHT_UL_made(bpy.types.UIList):
    """How far each piece is made, one a line."""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property):
        row = layout.row(align=True)
        row.label(text=item.name, translate=False)
        row.prop(item, "state", text="")


class FOAMWRIGHT_PT_made(Step, bpy.types.Panel):
    bl_label = "Already Made"
    bl_parent_id = "FOAMWRIGHT_PT_build"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context):
        return super().poll(context) and bool(getattr(context.scene, printed.PROPERTY).pieces)

    def draw(self, context):
        layout, group = self.layout, getattr(context.scene, printed.PROPERTY)
        layout.template_list("FOAMWRIGHT_UL_made", "", group, "pieces", group, "row", rows=5)
        layout.operator_menu_enum("foamwright.set_made", "state", text="Set All")
        for title, lines in printed.to_do(context.scene):
            column = layout.column(align=True)
            wrapped(column, iface_(title), context)
            for line in lines:
                wrapped(column.box(), iface_(line), context)


class FOAMWRIGHT_PT_printed(Step, bpy.types.Panel):
    bl_label = "Since the Last Templates"
    bl_parent_id = "FOAMWRIGHT_PT_templates"

    @classmethod
    def poll(cls, context):
        return super().poll(context) and bool(getattr(context.scene, printed.PROPERTY).record)

    def draw(self, context):
        told = printed.told(context.scene)
        for title, lines in told:
            column = self.layout.column(align=True)
            wrapped(column, iface_(title), context, "NONE" if lines else "CHECKMARK")
            for line in lines:
                wrapped(column.box(), iface_(line), context)
        if not told:
            wrapped(self.layout, iface_("Codes and letters stay as they were printed. What must "
                                        "be printed again is listed here the next time."), context)
        self.layout.operator("foamwright.forget_printed", icon="TRASH")


CLASSES = (FOAMWRIGHT_PT_printed,)
AFTER_BUILD = (FOAMWRIGHT_UL_made, FOAMWRIGHT_PT_made)
