"""Step 4: what the foam says, most serious first; and how the findings of any step are listed."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import ERROR, NOTE, WARNING
from ...export.findings import Group, grouped
from .. import remedies
from ..choices import CHECK, DONE, OPEN, SEVERITY_ICONS, STALE
from .base import Step, wrapped

_HEADINGS = {ERROR: "To put right: {count}", WARNING: "To decide on: {count}",
             NOTE: "Good to know: {count}"}


def draw_findings(layout: bpy.types.UILayout, context: bpy.types.Context, step: str) -> None:
    """The findings of a step: a line for every kind, and the chosen one opened below its line."""
    findings = context.scene.foamwright.findings
    mine = [index for index, item in enumerate(findings) if item.step == step]
    severity = None
    for group in grouped([findings[index] for index in mine]):
        if group.severity != severity:
            severity = group.severity
            count = sum(findings[index].severity == severity for index in mine)
            layout.label(text=iface_(_HEADINGS[severity]).format(count=count), translate=False)
        _draw_group(layout, context, group, [mine[member] for member in group.members])


def _draw_group(layout, context, group: Group, members: list[int]) -> None:
    """members: places in the list of the scene."""
    findings, chosen = context.scene.foamwright.findings, context.scene.foamwright.finding
    states = {findings[index].state for index in members}
    column = layout.column(align=True)
    row = column.row(align=True)
    row.active = OPEN in states
    row.alignment = "LEFT"
    is_open = chosen in members
    title, piece = iface_(group.title), findings[members[0]].piece
    text = f"{title} ({len(members)})" if len(members) > 1 else (
        f"{title}: {piece}" if piece else title)
    row.operator("foamwright.select_finding", text=text, translate=False,
                 icon="CHECKMARK" if states == {DONE} else SEVERITY_ICONS[group.severity],
                 emboss=is_open).index = chosen if is_open else members[0]
    if is_open:
        _draw_finding(column.box(), context, chosen, members)


def _draw_finding(box, context, index: int, members: list[int]) -> None:
    item = context.scene.foamwright.findings[index]
    if len(members) > 1:
        row = box.row(align=True)
        row.label(text=iface_("{place} of {count}").format(
            place=members.index(index) + 1, count=len(members)), translate=False)
        row.operator("foamwright.select_finding", text="", icon="TRIA_LEFT").index = _after(
            members[::-1], index)
        row.operator("foamwright.select_finding", text="", icon="TRIA_RIGHT").index = _after(
            members, index)
    wrapped(box, sentence(item), context)
    wrapped(box, iface_(item.remedy), context)
    if item.state != OPEN:
        wrapped(box, iface_("Done. Check again to be sure.") if item.state == DONE else iface_(
            "The sculpt has been changed since. Check it again."), context,
            "CHECKMARK" if item.state == DONE else "FILE_REFRESH")
    _draw_remedies(box, context, index, members)
    if item.places not in ("", "{}") and item.state != STALE:
        box.operator("foamwright.select_finding", icon="RESTRICT_SELECT_OFF").index = index


def _draw_remedies(box, context, index: int, members: list[int]) -> None:
    findings = context.scene.foamwright.findings
    left = sum(findings[member].state == OPEN for member in members)
    column = box.column(align=True)
    for button in remedies.buttons(findings[index]):
        row = column.row(align=True)
        one = row.row(align=True)
        one.enabled = findings[index].state == OPEN
        remedies.draw(one, button, findings[index], index)
        if len(members) > 1 and remedies.takes_all(button):
            every = row.row(align=True)
            every.enabled = left > 0 and findings[index].state != STALE
            remedies.draw(every, button, findings[index], index,
                          iface_("All {count}").format(count=left), everywhere=True)


def sentence(item: bpy.types.PropertyGroup) -> str:
    """What a finding says, with the code of its piece in front."""
    message = iface_(item.message)
    return f"{item.piece}: {message}" if item.piece and item.piece not in message else message


def _after(members: list[int], index: int) -> int:
    """The member after this one, going round."""
    return members[(members.index(index) + 1) % len(members)]


class FOAMWRIGHT_PT_check(Step, bpy.types.Panel):
    bl_label = "4  Check"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.operator("foamwright.check", icon="VIEWZOOM")
        mine = [item for item in group.findings if item.step == CHECK]
        if group.summary:
            wrapped(layout, group.summary, context, "NONE" if mine else "CHECKMARK")
        draw_findings(layout, context, CHECK)


CLASSES = (FOAMWRIGHT_PT_check,)
