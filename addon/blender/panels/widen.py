"""Step 3, further: seams at which the suit is made wider or narrower."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from .. import identity, widenings
from ..settings import unit
from .base import Step, wrapped


class FOAMWRIGHT_PT_widen(Step, bpy.types.Panel):
    bl_label = "Widened Seams"
    bl_parent_id = "FOAMWRIGHT_PT_mark"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, rows = self.layout, context.scene.foamwright.widenings
        layout.operator("foamwright.widen_seam", icon="ARROW_LEFTRIGHT")
        for index, item in enumerate(rows):
            _draw_row(layout.box(), context, index, item)


def _draw_row(box, context, index: int, item) -> None:
    found = identity.find(context.scene, item.name, item.word)
    row = box.row(align=True)
    row.label(text=found.name if found else item.name, translate=False,
              icon="OUTLINER_OB_MESH" if found else "ERROR")
    row.operator("foamwright.forget_widening", text="", icon="X").index = index
    column = box.column()
    column.use_property_split = True
    column.use_property_decorate = False
    wrong = widenings.problem(item, unit())
    lengths = column.column()
    lengths.alert = bool(wrong)
    lengths.prop(item, "amount")
    lengths.prop(item, "upper", placeholder=iface_("As at the lower end"))
    column.prop(item, "mirrored")
    if wrong:
        wrapped(box, iface_(wrong), context, "ERROR")
    if found is None:
        wrapped(box, iface_("This object is gone."), context, "ERROR")


CLASSES = (FOAMWRIGHT_PT_widen,)
