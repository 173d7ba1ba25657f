"""Step 4: ask what the foam says, and show where."""

import bpy
from bpy.props import IntProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import view, write
from ..choices import STALE
from .base import FoamOperator
from .checked import CheckedOperator


class Check(CheckedOperator, bpy.types.Operator):
    bl_idname = "foamwright.check"
    bl_label = "Check the Foam"
    bl_description = ("Cut the suit along its seams in thought, and see whether the foam takes "
                      "the shape of every piece. Nothing is written")
    bl_options = {"REGISTER", "UNDO"}


class SelectFinding(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_finding"
    bl_label = "Show on the Sculpt"
    bl_description = "Select the vertices, edges or faces this finding is about"
    bl_options = {"REGISTER", "UNDO"}

    index: IntProperty(name="Finding", description="Position in the list", default=-1,
                       options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        findings = context.scene.foamwright.findings
        if 0 <= properties.index < len(findings):
            item = findings[properties.index]
            return f"{item.message} {item.remedy}"
        return ""

    def run(self, context):
        group = context.scene.foamwright
        index = self.index if self.index >= 0 else group.finding
        if not 0 <= index < len(group.findings):
            raise FoamError(Finding("no-such-finding", ERROR, "There is no such finding.",
                                    "Check the foam again."))
        group.finding = index
        places, sizes, gone = write.places_of(context.scene, group.findings[index])
        if not places and not gone or group.findings[index].state == STALE:
            return  # by now the elements may be others
        missing = gone + write.select(context, places, sizes)
        if missing:
            self.tell_missing(missing, "Check the foam again.")
        shown = [context.scene.objects[name] for name in places if name not in missing]
        if shown:
            view.frame(context, write.surroundings(context.scene, group.findings[index], shown))


CLASSES = (Check, SelectFinding)
