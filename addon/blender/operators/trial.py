"""Step 4: put the suit together again in thought, and show where it comes out otherwise."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import StringProperty

from ...core.errors import ERROR, Finding, FoamError
from ...core.units import format_length
from .. import memory, repairs, settings, trial, view, write
from ..choices import TRIAL
from .base import FoamOperator
from .long import LongOperator


class TryBuild(LongOperator, bpy.types.Operator):
    bl_idname = "foamwright.try_build"
    bl_label = "Try the Build"
    bl_description = ("Put the suit together again from its flat pieces, in thought, and show how "
                      "far it comes out beside the sculpt. Nothing is written")
    bl_options = {"REGISTER", "UNDO"}

    def prepare(self, context):
        from ...core.make import check
        from ...core.rebuild import tried

        sculpt, chosen = self.read(context)
        known, quick = memory.of_scene(context.scene), context.scene.foamwright.trial.quick

        def work(progress):
            checked = check(sculpt, chosen, lambda share, text: progress(0.3 * share, text), known)
            return checked, tried(checked, lambda share, text: progress(0.3 + 0.7 * share, text),
                                  quick)

        return work

    def keep(self, context, result):
        from ...core.rebuild.told import findings

        checked, built = result
        super().keep(context, checked)
        scene = context.scene
        with repairs.object_mode(context, ()):  # where Edit Mode cannot undo it
            trial.store(scene, built, *self._read, self._sources)
        write.store_findings(scene, findings(built, built.rebuilt), built.sculpt, self._sources,
                             TRIAL)
        write.store_boxes(scene, built, self._sources)
        scene.foamwright.overlay, scene.foamwright.overlay_shows = True, "TRIAL"

    def words(self, result):
        found, unit = result[1].rebuilt, settings.unit()
        return rpt_("The suit comes out {rms} (RMS) beside the sculpt, at most {most}.").format(
            rms=format_length(found.rms, unit), most=format_length(found.most, unit))


class SelectTrialPiece(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_trial_piece"
    bl_label = "Show the Worst Place"
    bl_description = "Bring the place into view where this piece comes out furthest"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    piece: StringProperty(name="Piece", description="Code of the piece",
                          options={"SKIP_SAVE", "HIDDEN"})

    def run(self, context):
        points = trial.worst_place(context.scene, self.piece)
        if not len(points):
            raise FoamError(Finding("no-such-piece", ERROR, "There is no such piece any more.",
                                    "Try the build again."))
        view.frame(context, points)


class ForgetTrial(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.forget_trial"
    bl_label = "Forget the Trial Build"
    bl_description = "Throw away what came of the trial build"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        if context.scene.foamwright.trial.found:
            return True
        cls.poll_message_set("No build has been tried")
        return False

    def run(self, context):
        with repairs.object_mode(context, ()):
            trial.forget(context.scene)
        write.store_findings(context.scene, (), step=TRIAL)


CLASSES = (TryBuild, SelectTrialPiece, ForgetTrial)
