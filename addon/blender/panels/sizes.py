"""The suit in several sizes."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from .. import sizes
from .base import Step, wrapped

FIELDS = ("across", "deep", "tall", "girths")


class FOAMWRIGHT_UL_sizes(bpy.types.UIList):
    """A line for each size: its name, and what came of it or is wrong with it."""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index):
        wrong = sizes.problem(item)
        row = layout.row(align=True)
        row.alert = bool(wrong)
        row.prop(item, "name", text="", emboss=False, icon="ERROR" if wrong else "CON_SIZELIKE")
        row.label(text=item.told, translate=False)


class FOAMWRIGHT_PT_sizes(Step, bpy.types.Panel):
    bl_label = "Sizes"
    bl_parent_id = "FOAMWRIGHT_PT_templates"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        row = layout.row()
        row.template_list("FOAMWRIGHT_UL_sizes", "", group, "sizes", group, "size", rows=3)
        column = row.column(align=True)
        column.operator("foamwright.add_size", text="", icon="ADD")
        column.operator("foamwright.remove_size", text="", icon="REMOVE")
        column.operator("foamwright.move_size", text="", icon="TRIA_UP").up = True
        column.operator("foamwright.move_size", text="", icon="TRIA_DOWN").up = False
        if group.size < len(group.sizes):
            _draw_chosen(layout.box(), context, group.sizes[group.size])
        column = layout.column(align=True)
        column.operator("foamwright.load_sizes", icon="FILE_FOLDER")
        column.operator("foamwright.write_sizes", icon="DOCUMENTS")


def _draw_chosen(box, context, item) -> None:
    column = box.column()
    column.use_property_split = True
    column.use_property_decorate = False
    for name in FIELDS:
        column.prop(item, name)
    if wrong := sizes.problem(item):
        wrapped(box, iface_(wrong), context, "ERROR")


CLASSES = (FOAMWRIGHT_UL_sizes, FOAMWRIGHT_PT_sizes)
