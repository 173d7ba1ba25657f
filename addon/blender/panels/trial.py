"""The suit put together again in thought, and where it comes out otherwise."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.units import format_length
from ..choices import TRIAL
from ..settings import unit
from .base import Step, wrapped
from .findings import draw_findings

_LISTED = 10  # pieces, the worst ones first


class FOAMWRIGHT_PT_trial(Step, bpy.types.Panel):
    bl_label = "Trial Build"
    bl_parent_id = "FOAMWRIGHT_PT_check"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright.trial
        row = layout.row(align=True)
        row.operator("foamwright.try_build", icon="MOD_BUILD")
        row.prop(group, "quick", toggle=True)
        if group.found:
            row.operator("foamwright.forget_trial", text="", icon="X")
            _draw_found(layout, context, group)
        draw_findings(layout, context, TRIAL)


def _draw_found(layout, context, group) -> None:
    length = lambda mm: format_length(mm, unit())  # noqa: E731
    if group.outdated:
        wrapped(layout, iface_("The sculpt has been changed since. Try the build again."), context,
                "ERROR")
    box = layout.box()
    box.active = not group.outdated
    wrapped(box, iface_("Beside the sculpt: {rms} (RMS), {most} at most. Bent only and never "
                        "stretched: {bare} (RMS), {bare_most} at most.").format(
        rms=length(group.rms), most=length(group.most), bare=length(group.unformed_rms),
        bare_most=length(group.unformed_most)), context)
    column = box.column(align=True)
    row = column.row(align=True)
    for text in ("Piece", "RMS", "At Most"):
        row.label(text=text)
    for piece in group.pieces[:_LISTED]:
        row = column.row(align=True)
        row.operator("foamwright.select_trial_piece", text=piece.name, translate=False,
                     icon="VIEWZOOM").piece = piece.name
        row.label(text=length(piece.rms), translate=False)
        row.label(text=length(piece.most), translate=False)


CLASSES = (FOAMWRIGHT_PT_trial,)
