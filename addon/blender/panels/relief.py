"""Cuts that let the foam take the shape of a piece that fails."""

import json

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.units import format_length
from .. import preferences
from .base import Step, wrapped

_SEEN, _HIDDEN = 0.75, 0.5  # visibility from which most of a cut is seen, and up to which little
_KINDS = {"dart": "Dart", "seam": "Full Seam", "split": "Moved Seam"}
_PAIRS = {**_KINDS, "dart": "Two Darts", "seam": "Two Cuts"}


class FOAMWRIGHT_PT_relief(Step, bpy.types.Panel):
    bl_label = "Relief Cuts"
    bl_parent_id = "FOAMWRIGHT_PT_check"

    @classmethod
    def poll(cls, context):
        # They are asked for beside the finding of a piece that fails.
        return super().poll(context) and len(context.scene.foamwright.reliefs) > 0

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        mine = preferences.get(context)
        unit = mine.unit if mine else "mm"
        column = layout.column(align=True)
        for index, each in enumerate(group.reliefs):
            text = iface_("{kind}: {length}, strain {worst:.2f}").format(
                kind=iface_(_kind(each)), length=format_length(each.length, unit),
                worst=each.worst)
            column.operator("foamwright.show_relief", text=text, translate=False,
                            icon="CHECKMARK" if each.passes else "ERROR",
                            depress=index == group.relief).index = index
        if group.relief < len(group.reliefs):
            _draw_chosen(layout, context, group, group.reliefs[group.relief])
        row = layout.row(align=True)
        row.operator("foamwright.accept_relief", text="Accept", icon="CHECKMARK")
        row.operator("foamwright.forget_relief", text="Forget", icon="X")


def _draw_chosen(layout, context, group, each) -> None:
    pieces = json.loads(each.pieces)
    box = layout.box()
    wrapped(box, iface_("{piece} asks {before:.2f} times what the heated foam stands. With this "
                        "cut: {after}.").format(
        piece=group.relief_piece, before=each.before,
        after=", ".join(f"{u:.2f}" for u in pieces)), context)
    if each.kind == "split":
        wrapped(box, iface_("The seam with a neighbour is moved; the figures are of both."),
                context)
    wrapped(box, iface_(_sight(each)).format(where=iface_(each.where)), context)
    if not each.passes:
        wrapped(box, iface_("This cut alone does not suffice."), context, "ERROR")
    if each.alone:
        wrapped(box, iface_("Why no other kind of cut: {reasons}").format(
            reasons=iface_(each.alone)), context)


def _kind(each) -> str:
    return (_PAIRS if len(json.loads(each.lines)) > 1 else _KINDS)[each.kind]


def _sight(each) -> str:
    """How much the cut will show. Where it lies is told where that hides at least a part of it."""
    from ...core.suggest.relief.exposure import PLAIN

    if each.where == PLAIN:
        return "It will be seen: it lies in plain sight."
    if each.visibility > _SEEN:
        return "Most of it will be seen; a part lies {where}."
    if each.visibility > _HIDDEN:
        return "Some of it will be seen; the rest lies {where}."
    return "It will hardly be seen: it lies {where}."


CLASSES = (FOAMWRIGHT_PT_relief,)
