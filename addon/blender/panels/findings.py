"""Step 3: what the foam says, the most serious first."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ..choices import SEVERITY_ICONS
from .base import Step, wrapped


def _sentence(item) -> str:
    """What a finding says, with the code of its piece in front."""
    message = iface_(item.message)
    return f"{item.piece}: {message}" if item.piece and item.piece not in message else message


class FOAMWRIGHT_UL_findings(bpy.types.UIList):
    """The findings, most serious first; a click shows where."""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0):
        row = layout.row()
        row.alignment = "LEFT"
        row.operator("foamwright.select_finding", text=_sentence(item), translate=False,
                     icon=SEVERITY_ICONS[item.severity], emboss=False).index = index


class FOAMWRIGHT_PT_check(Step, bpy.types.Panel):
    bl_label = "3  Check"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.operator("foamwright.check", icon="VIEWZOOM")
        if group.summary:
            wrapped(layout, group.summary, context, "NONE" if len(group.findings) else "CHECKMARK")
        if not len(group.findings):
            return
        layout.template_list("FOAMWRIGHT_UL_findings", "", group, "findings", group, "finding",
                             rows=3, maxrows=8)
        if group.finding < len(group.findings):
            item = group.findings[group.finding]
            box = layout.box()
            wrapped(box, _sentence(item), context, SEVERITY_ICONS[item.severity])
            wrapped(box, iface_(item.remedy), context, "BLANK1")
            if item.places not in ("", "{}"):
                box.operator("foamwright.select_finding", icon="RESTRICT_SELECT_OFF")


CLASSES = (FOAMWRIGHT_UL_findings, FOAMWRIGHT_PT_check)
