"""How the suit fits the body that wears it."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.units import format_length
from .. import body
from ..choices import FIT
from ..settings import unit
from .base import Step, wrapped
from .findings import draw_findings

_LISTED = 10  # pieces, the tightest ones first


class FOAMWRIGHT_PT_fit(Step, bpy.types.Panel):
    bl_label = "Fit"
    bl_parent_id = "FOAMWRIGHT_PT_check"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, root = self.layout, context.scene.foamwright
        wearers = body.parts(context.scene)
        if not wearers:
            wrapped(layout, iface_("Select the body the armour is worn on and set it as such, or "
                                   "add a figure with the wearer's measures."), context, "INFO")
        row = layout.row(align=True)
        row.operator("foamwright.set_body", icon="USER")
        row.operator("foamwright.add_figure", icon="ARMATURE_DATA")
        for item in wearers:
            layout.label(text=item.name, icon="OUTLINER_OB_MESH", translate=False)
        if not wearers:
            return
        column = layout.column()
        column.use_property_split = True
        column.use_property_decorate = False
        column.prop(root, "girth_heights")
        row = layout.row(align=True)
        row.operator("foamwright.check_fit", icon="MOD_CLOTH")
        if root.fit.found:
            row.operator("foamwright.forget_fit", text="", icon="X")
            _draw_found(layout, context, root.fit)
        draw_findings(layout, context, FIT)


def _draw_found(layout, context, group) -> None:
    length = lambda mm: (f"−{format_length(-round(mm), unit())}" if round(mm) < 0 else  # noqa: E731
                         format_length(round(mm), unit()))
    if group.outdated:
        wrapped(layout, iface_("The sculpt or the body has been changed since. Check the fit "
                               "again."), context, "ERROR")
    box = layout.box()
    box.active = not group.outdated
    if group.girths:
        _row(box, "Girth", "Body", "Inside", "To Spare", heading=True)
        for girth in group.girths:
            _row(box, iface_(girth.name).capitalize(), length(girth.body), length(girth.inside),
                 length(girth.inside - girth.body))
    _row(box, "Piece", "Least Air", "Mean", heading=True)
    for piece in group.pieces[:_LISTED]:
        _row(box, piece.name, length(piece.least), length(piece.mean))
    if group.spacers:
        wrapped(box, iface_("Spacers that would hold it off the body: {count}. The plan and the "
                            "report tell where.").format(count=group.spacers), context)


def _row(box, *texts: str, heading: bool = False) -> None:
    row = box.row(align=True)
    for text in texts:
        row.label(text=text, translate=heading)


CLASSES = (FOAMWRIGHT_PT_fit,)
