"""How far the wearer moves before plates meet, and whether the parts go into a box."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, IntProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import memory, poses, repairs, wearing, write
from ..choices import REACH, TRANSPORT
from ..read import with_body
from .base import FoamOperator
from .long import LongOperator


class _Wearing(LongOperator):
    """Checks the suit, then asks it something more; step: whose findings that gives."""

    step = ""

    def asked(self, context: bpy.types.Context):
        """A function (pattern, progress) -> pattern of the pure core."""
        raise NotImplementedError

    def store(self, scene: bpy.types.Scene, pattern) -> None:
        raise NotImplementedError

    def prepare(self, context):
        from ...core.make import check

        function = self.asked(context)
        sculpt, chosen = self.read(context)
        sculpt = with_body(context.scene, sculpt)
        known = memory.of_scene(context.scene)

        def work(progress):
            checked = check(sculpt, chosen, lambda share, text: progress(0.4 * share, text), known)
            return checked, function(checked, lambda share, text: progress(0.4 + 0.6 * share, text))

        return work

    def keep(self, context, result):
        checked, found = result
        super().keep(context, checked)
        scene, known = context.scene, set(checked.findings)
        with repairs.object_mode(context, ()):  # where Edit Mode cannot undo it
            self.store(scene, found)
        write.store_findings(scene, [f for f in found.findings if f not in known], found.sculpt,
                             self._sources, self.step)
        write.store_boxes(scene, found, self._sources)


class CheckMovement(_Wearing, bpy.types.Operator):
    bl_idname = "foamwright.check_movement"
    bl_label = "Try the Movements"
    bl_description = ("Turn arms, legs, head and torso, each joint by itself, and tell at which "
                      "angle plates first meet. Coarsely, since plates are taken as rigid")
    bl_options = {"REGISTER", "UNDO"}
    step = REACH

    def asked(self, context):
        from ...core.reach import reached

        angles = wearing.wanted(context.scene)
        return lambda pattern, progress: reached(pattern, angles, progress)

    def store(self, scene, pattern):
        wearing.store_reach(scene, pattern, *self._read, self._sources)

    def words(self, result):
        from ...export.reach_words import in_words

        return in_words(result[1])[0]


class PackBox(_Wearing, bpy.types.Operator):
    bl_idname = "foamwright.pack_box"
    bl_label = "Pack the Box"
    bl_description = ("Look for a way in which all parts, apart where joins are removable, go into "
                      "a box of this size")
    bl_options = {"REGISTER", "UNDO"}
    step = TRANSPORT

    def asked(self, context):
        from ...core.transport import packed

        size, gap = wearing.box(context.scene)
        return lambda pattern, progress: packed(pattern, size, gap, progress)

    def store(self, scene, pattern):
        wearing.store_transport(scene, pattern, *self._read, self._sources)

    def words(self, result):
        from ...export.transport_words import in_words

        return in_words(result[1])[0]


class ShowPose(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.show_pose"
    bl_label = "Show the Pose"
    bl_description = "Show copies of what moves, where it gets to before plates meet"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    index: IntProperty(name="Movement", description="Its place in the list", min=0,
                       options={"SKIP_SAVE", "HIDDEN"})

    def run(self, context):
        if self.index >= len(context.scene.foamwright.reach.lines):
            raise FoamError(Finding(
                "no-such-movement", ERROR, "There is no such movement any more.",
                "Try the movements again."))
        with repairs.object_mode(context, ()):
            parted = poses.show_pose(context.scene, self.index)
        _tell(self, parted)


class ShowBox(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.show_box"
    bl_label = "Show the Packed Box"
    bl_description = "Show copies of the parts as they lie in the box, beside the suit"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        if context.scene.foamwright.transport.found:
            return True
        cls.poll_message_set("No box has been packed")
        return False

    def run(self, context):
        size, _ = wearing.box(context.scene)
        with repairs.object_mode(context, ()):
            parted = poses.show_box(context.scene, size)
        _tell(self, parted)


class HideShown(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.hide_moved"
    bl_label = "Hide Pose and Box"
    bl_description = "Remove the copies that show a pose or the packed box"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        root = context.scene.foamwright
        if root.reach.shown or root.transport.shown:
            return True
        cls.poll_message_set("No pose and no box is shown")
        return False

    def run(self, context):
        with repairs.object_mode(context, ()):
            poses.hide(context.scene.foamwright.reach)
            poses.hide(context.scene.foamwright.transport)


class ForgetWearing(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.forget_wearing"
    bl_label = "Forget Movement or Box"
    bl_description = "Throw away what was found about the movements"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    box: BoolProperty(name="Box", description="What was found about the box instead",
                      options={"SKIP_SAVE", "HIDDEN"})

    @classmethod
    def description(cls, context, properties):
        return rpt_("Throw away what was found about the box") if properties.box else ""

    def run(self, context):
        with repairs.object_mode(context, ()):
            wearing.forget(context.scene, wearing.BOX if self.box else wearing.MOVEMENTS)
        write.store_findings(context.scene, (), step=TRANSPORT if self.box else REACH)


def _tell(operator: bpy.types.Operator, parted: list[str]) -> None:
    if parted:
        operator.report({"WARNING"}, rpt_(
            "Not shown, because only a part of it moves: {names}.").format(names=", ".join(parted)))


CLASSES = (CheckMovement, PackBox, ShowPose, ShowBox, HideShown, ForgetWearing)
