"""Step 3, further: rivets, holes and other marks without a cut."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from .. import markings
from ..choices import MARKINGS
from .base import Step, wrapped


class FOAMWRIGHT_PT_set_marks(Step, bpy.types.Panel):
    bl_label = "Rivets, Holes and Strips"
    bl_parent_id = "FOAMWRIGHT_PT_mark"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout = self.layout
        column = layout.column(align=True)
        for kind, name, _ in MARKINGS:
            column.operator("foamwright.set_marks", text=name).kind = kind
        item = context.object
        if item is None or not markings.is_marking(item):
            wrapped(layout, iface_("Select a row or a mark to set its sizes."), context, "INFO")
            return
        column = layout.column()
        column.use_property_split = True
        column.use_property_decorate = False
        group = item.foamwright.marking
        column.prop(group, "kind")
        if group.kind == "STRIP":
            for name in ("width", "stock", "lies", "corners", "mirrored"):
                column.prop(group, name)
            return
        if item.type == "CURVE":
            for name in ("count", "spacing", "first", "last", "inset"):
                column.prop(group, name)
        if group.kind != "DRILL":
            column.prop(group, "length")
        if group.kind in ("HOLE", "PATCH"):
            column.prop(group, "width")
        if group.kind == "CIRCLE":
            column.prop(group, "stock")
        column.prop(group, "mirrored")


CLASSES = (FOAMWRIGHT_PT_set_marks,)
