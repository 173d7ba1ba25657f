"""Step 3: the suit made wider or narrower at seams."""

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, IntProperty, StringProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import changes, guides, repairs, settings, widenings
from ..read import mm_per_unit
from .base import FoamOperator


class WidenSeam(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.widen_seam"
    bl_label = "Widen at Seam"
    bl_description = ("Make the suit wider or narrower at the selected seams, such as after a "
                      "fitting: the pieces on both sides grow, other seams stay as they are drawn "
                      "as far as possible. The sculpt itself is not changed")
    bl_options = {"REGISTER", "UNDO"}

    amount: StringProperty(**widenings.AMOUNT)
    upper: StringProperty(**widenings.UPPER)
    mirrored: BoolProperty(**widenings.MIRRORED)

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH" or any(map(guides.is_guide, context.selected_objects)):
            return True
        cls.poll_message_set("Enter Edit Mode and select edges of a seam, or select seams drawn "
                             "as lines")
        return False

    def run(self, context):
        widenings.amounts(self.amount, self.upper, settings.unit())
        found = widenings.chosen(context)
        if not found:
            raise FoamError(Finding("no-seam-selected", ERROR, "No seam is selected.",
                                    "Select edges that are marked as seams, or lines that are."))
        with repairs.object_mode(context, ()):  # where Edit Mode cannot undo it
            for item, place in found:
                widenings.add(context.scene, item, place, mm_per_unit(context.scene), self.amount,
                              self.upper, self.mirrored)
        self.report({"INFO"}, rpt_("Seams to be widened: {count}. Check the foam to see what "
                                   "becomes of the pieces.").format(count=len(found)))


class ForgetWidening(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.forget_widening"
    bl_label = "Leave Seam as Drawn"
    bl_description = "Take this seam off the list, so that it is made as it is drawn"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    index: IntProperty(name="Seam", description="Its place in the list", min=0,
                       options={"SKIP_SAVE", "HIDDEN"})

    def run(self, context):
        rows = context.scene.foamwright.widenings
        if self.index >= len(rows):
            raise FoamError(Finding("no-such-widening", ERROR, "That seam is not listed any more.",
                                    "Choose one that is."))
        with repairs.object_mode(context, ()):
            rows.remove(self.index)
            changes.note()


CLASSES = (WidenSeam, ForgetWidening)
