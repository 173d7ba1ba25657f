"""Seams for a sculpt that has none."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.units import format_length
from .. import seams, settings
from ..choices import SUGGEST
from .base import Step, wrapped
from .findings import draw_findings


class FOAMWRIGHT_PT_suggest(Step, bpy.types.Panel):
    bl_label = "Suggested Seams"
    bl_parent_id = "FOAMWRIGHT_PT_mark"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright.seams
        column = layout.column(align=True)
        row = column.row()
        row.label(text="Fewer Pieces")
        right = row.row()
        right.alignment = "RIGHT"
        right.label(text="Easier Foam")
        column.prop(group, "ease", text="", slider=True)
        layout.row().prop(group, "marks", expand=True)
        layout.operator("foamwright.suggest_seams", icon="OUTLINER_OB_LIGHTPROBE")
        if group.found:
            _draw_proposal(layout, context, group)
            row = layout.row(align=True)
            row.operator("foamwright.accept_seams", text="Accept", icon="CHECKMARK")
            row.operator("foamwright.forget_seams", text="Forget", icon="X")
        draw_findings(layout, context, SUGGEST)


def _draw_proposal(layout, context, group) -> None:
    unit = settings.unit()
    box = layout.box()
    column = box.column(align=True)
    for text in (iface_("Pieces: {count}").format(count=group.pieces),
                 iface_("Seams: {length}").format(length=format_length(group.length, unit)),
                 iface_("Trenches: {length}").format(length=format_length(group.trenches, unit)),
                 iface_("Worst strain: {worst:.2f}").format(worst=group.worst),
                 iface_("Narrowest piece: {width}").format(
                     width=format_length(group.narrowest, unit))):
        column.label(text=text, translate=False)
    if group.failing:
        wrapped(box, iface_("The foam does not take {count} of the pieces.").format(
            count=group.failing), context, "ERROR")
    if group.details:
        wrapped(box, iface_("Small loose parts are details to lay on afterwards, {count} faces. "
                            "Accepting leaves them out of the foam.").format(
            count=group.details), context, "INFO")
    if group.edges or group.lines:
        _draw_marks(box, context, group)
    if group.coarse:
        for surface in group.surfaces:
            if surface.mesh:
                wrapped(box, iface_(
                    "The faces of “{name}” are too large for these lines. Accepting makes a new "
                    "object, “{smooth}”, of a smooth surface through its points, on which they are "
                    "marked. “{name}” is hidden and left out, not deleted.").format(
                    name=surface.name, smooth=seams.SMOOTH.format(name=surface.name)),
                    context, "INFO")


def _draw_marks(box, context, group) -> None:
    had = iface_("There are {edges} marked edges and {lines} drawn lines.").format(
        edges=group.edges, lines=group.lines)
    if group.coarse:
        text = "The new object has none of them." if group.replaces else (
            "In the new object their seams are open edges, not mates: choose Replace and suggest "
            "again if you want to glue them.")
    elif group.replaces:
        text = "Accepting takes the marks off and leaves the lines out."
    else:
        text = "They stay."
    wrapped(box, f"{had} {iface_(text)}", context, "ERROR" if group.replaces else "INFO")


CLASSES = (FOAMWRIGHT_PT_suggest,)
