"""Look at the build: the suit as it stands after each step, in place of the sculpt."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import IntProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import build_view, memory, trial
from ..read import mm_per_unit
from .base import FoamOperator
from .long import LongOperator


class ShowBuild(LongOperator, bpy.types.Operator):
    bl_idname = "foamwright.show_build"
    bl_label = "Show the Build"
    bl_description = ("Look at the suit as it stands after each step of the build, in place of the "
                      "sculpt. Nothing in the file is changed")

    @classmethod
    def poll(cls, context):
        if context.mode == "OBJECT":
            return True
        cls.poll_message_set("Go to Object Mode first")
        return False

    def prepare(self, context):
        from ...core.make import check, in_order
        from .. import build_draw

        sculpt, settings = self.read(context)
        known = memory.of_scene(context.scene)
        unit = 1.0 / (mm_per_unit(context.scene) * settings.scale)

        def work(progress):
            checked = check(sculpt, settings, lambda share, text: progress(0.7 * share, text),
                            known)
            progress(0.7, "Planning the build")
            pattern = in_order(checked)
            progress(0.9, "Drawing the steps")
            return pattern, build_draw.build(pattern, unit)

        return work

    def pattern(self, result):
        return result

    def keep(self, context, result):
        """Shows it; what a check lists is not touched, since this changes nothing."""
        if self._job is not None and context.mode != "OBJECT":
            raise FoamError(Finding(
                "changed-meanwhile", ERROR, "You went to another mode while the build was planned, "
                "so it is not shown.", "Go to Object Mode and show the build again."))
        scene = context.scene
        items = [item for source in self._sources if (item := scene.objects.get(source.name))]
        build_view.show(scene, context.view_layer, result[1], trial.about(*self._read), items)

    def words(self, result):
        return rpt_("The build has {count} steps.").format(count=len(result[1].stages))


class LeaveBuild(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.leave_build"
    bl_label = "Back to the Sculpt"
    bl_description = "Leave the build and show the sculpt again, as it was"

    @classmethod
    def poll(cls, context):
        return _is_shown(cls, context)

    def run(self, context):
        build_view.leave()


class GoToStep(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.go_to_step"
    bl_label = "Go to Step"
    bl_description = "Look at the step before or after this one"
    bl_options = {"INTERNAL"}

    by: IntProperty(name="Steps", description="How many steps on", default=1,
                    options={"SKIP_SAVE", "HIDDEN"})

    @classmethod
    def poll(cls, context):
        return _is_shown(cls, context)

    def run(self, context):
        manager = context.window_manager
        before = manager.foamwright_step
        manager.foamwright_step = max(before + self.by, 1)
        return manager.foamwright_step != before


def _is_shown(cls, context) -> bool:
    if build_view.is_shown(context.scene):
        return True
    cls.poll_message_set("Show the build first")
    return False


CLASSES = (ShowBuild, LeaveBuild, GoToStep)
