"""Step 1: the foam, and the objects made of it."""

from dataclasses import replace

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import FoamError
from ...core.units import format_length
from ..read import is_sculpt
from ..settings import defaults, object_stock, suit_stock, unit
from .base import Step, wrapped


class FOAMWRIGHT_PT_foam(Step, bpy.types.Panel):
    bl_label = "1  Foam"

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        group = context.scene.foamwright
        column = layout.column()
        _draw_foam(column, group, lambda: suit_stock(context.scene), context)
        column.prop(group, "side")
        column.prop(group, "scale")
        column.prop(group, "contact")


class FOAMWRIGHT_PT_object(Step, bpy.types.Panel):
    bl_label = "This Object"
    bl_parent_id = "FOAMWRIGHT_PT_foam"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context):
        return super().poll(context) and context.object and is_sculpt(context.object)

    def draw(self, context):
        layout, item = self.layout, context.object
        layout.use_property_split = True
        layout.use_property_decorate = False
        group = item.foamwright
        row = layout.column(align=True)
        row.prop(group, "include")
        row.prop(group, "leave_out")
        if group.leave_out:
            return
        _draw_foam(layout, group, lambda: object_stock(item, replace(
            defaults(), stock=suit_stock(context.scene))), context)
        layout.prop(group, "side")
        layout.prop(group, "rests")
        if group.rests == "OBJECT":
            layout.prop(group, "lies_on")


def _draw_foam(layout, group, stock, context) -> None:
    """Foam and thickness, and what they come to; red where they make no sense."""
    try:
        found, problem = stock(), None
    except FoamError as error:
        found, problem = None, error.finding
    row = layout.row()
    row.alert = problem is not None and problem.code == "bad-stock"
    row.prop(group, "stock", placeholder=found.name if found else "")
    row = layout.row()
    row.alert = problem is not None and problem.code == "bad-length"
    row.prop(group, "thickness",
             placeholder=format_length(found.thickness, unit()) if found else "")
    if problem:
        wrapped(layout, f"{iface_(problem.message)} {iface_(problem.remedy)}", context, "ERROR")


CLASSES = (FOAMWRIGHT_PT_foam, FOAMWRIGHT_PT_object)
