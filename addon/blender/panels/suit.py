"""Step 1: the objects that make up the suit, each with its foam."""

from dataclasses import replace

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import FoamError
from .. import rods
from ..read import goes_with, suit_objects
from ..settings import defaults, object_stock, suit_stock
from .base import Step, wrapped


class FOAMWRIGHT_PT_suit(Step, bpy.types.Panel):
    bl_label = "Objects"
    bl_parent_id = "FOAMWRIGHT_PT_foam"
    bl_options = {"DEFAULT_CLOSED"}

    def draw_header_preset(self, context):
        count = len(suit_objects(context.scene, context.selected_objects))
        self.layout.label(text=str(count) if count else iface_("none yet"), translate=False)

    def draw(self, context):
        layout = self.layout
        suit = suit_objects(context.scene, context.selected_objects)
        chosen = bool(suit) and suit[0].foamwright.include
        if not chosen:
            wrapped(layout, iface_("The selected objects are made of foam. Add objects to keep "
                                   "your choice."), context, "INFO")
        column = layout.column(align=True)
        for item in suit:
            row = column.row(align=True)
            row.label(text=item.name, icon="OUTLINER_OB_MESH", translate=False)
            _draw_stock(row, item, context)
            if chosen:
                row.operator("foamwright.remove_from_suit", text="", icon="X").name = item.name
        for item in rods.rods_of(context.scene):
            row = column.row(align=True)
            row.label(text=item.name, icon="OUTLINER_OB_CURVE", translate=False)
            row.label(text=iface_("rod"))
            row.operator("foamwright.remove_from_suit", text="", icon="X").name = item.name
        for item in context.scene.objects:
            if goes_with(item) and item.foamwright.leave_out:
                row = column.row(align=True)
                row.label(text=item.name, icon="GHOST_DISABLED", translate=False)
                row.label(text=iface_("left out"))
                back = row.operator("foamwright.leave_out", text="", icon="LOOP_BACK")
                back.name, back.back = item.name, True
        column = layout.column(align=True)
        column.operator("foamwright.add_to_suit", icon="ADD")
        row = column.row(align=True)
        row.operator("foamwright.add_to_suit", text="Remove", icon="REMOVE").remove = True
        row.operator("foamwright.leave_out", icon="GHOST_DISABLED")


def _draw_stock(row, item, context) -> None:
    """The foam of an object in a few letters; red where its fields make no sense."""
    try:
        settings = replace(defaults(), stock=suit_stock(context.scene))
        stock = object_stock(item, settings) or settings.stock
        text = stock.name
    except FoamError:
        row.alert = True
        text = iface_("unclear")
    row.label(text=text, translate=False)


CLASSES = (FOAMWRIGHT_PT_suit,)
