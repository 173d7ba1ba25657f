"""The base class of operators whose work takes long: in the background, with progress and Esc."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import bpy
from bpy.app.translations import pgettext_rpt as rpt_

from ...core.errors import Cancelled, FoamError
from ...core.model import Pattern, Sculpt, Settings
from ...core.nest import NESTING
from .. import changes, schema, work
from ..read import read_scene
from ..settings import read_settings
from .base import SuitOperator, shown_progress

_LOOK = 0.1  # seconds between two looks at the work


_ENTER = {"RET", "NUMPAD_ENTER"}


def _nesting(job: work.Job) -> bool:
    """Is the job at what may be ended early with a result?"""
    return job.text.startswith(NESTING)


class LongOperator(SuitOperator):
    """An operator that reads the suit in `prepare`, works on it, and lists what it found.

    In a window the work goes on in the background while the maker may go on modelling: its
    progress stands in the status bar, and Esc cancels it; while pieces are nested Enter goes on
    with the best layout so far. From a script or without a window
    `execute` runs it straight through.
    """

    _job: work.Job | None = None
    _read: tuple[Sculpt, Settings] | None = None

    def prepare(self, context: bpy.types.Context) -> Callable[[work.Progress], object]:
        """Read all that the work needs; the work itself is returned and must not touch bpy."""
        raise NotImplementedError

    def pattern(self, result: object) -> Pattern:
        """The pattern in what the work returned: its findings go to the sidebar."""
        return result

    def words(self, result: object) -> str:
        """One sentence to report on what was done."""
        raise NotImplementedError

    def read(self, context):
        self._read = super().read(context)
        return self._read

    def run(self, context):
        function = self.prepare(context)
        with shown_progress(context) as progress:
            result = work.run(function, progress)
        self.keep(context, self.pattern(result))
        self.report({"INFO"}, self.words(result))

    def invoke(self, context, event):
        if bpy.app.background or context.window is None:
            return self.execute(context)
        return self.begin(context)

    def begin(self, context: bpy.types.Context) -> set[str]:
        """Start the work in the background; `modal` looks after it."""
        earlier = work.running()
        if earlier is not None and earlier.asked and not earlier.cancelled:
            self.report({"WARNING"}, rpt_("Foamwright is still at work. Wait, or press Esc to stop "
                                          "that first."))
            return {"CANCELLED"}
        try:
            schema.require(context.scene)
            function = self.prepare(context)
        except FoamError as error:
            self.fail(context, error)
            return {"CANCELLED"}
        self._start = changes.epoch, context.scene.session_uid
        self._count = changes.count
        self._job = work.start(function, asked=True)
        manager = context.window_manager
        self._timer = manager.event_timer_add(_LOOK, window=context.window)
        manager.modal_handler_add(self)
        self._show_progress(context)
        return {"RUNNING_MODAL"}

    def modal(self, context, event):
        job = self._job
        if event.type == "ESC" and event.value == "PRESS":
            job.cancel()
            self._show_progress(context)
            return {"RUNNING_MODAL"}
        if event.type in _ENTER and event.value == "PRESS" and _nesting(job):
            job.settle()
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if not job.over:
            self._show_progress(context)
            return {"PASS_THROUGH"}
        self.cancel(context)
        try:
            result = job.result()
            if self._start != (changes.epoch, context.scene.session_uid):
                self.report({"WARNING"}, rpt_("{text} It is about an earlier state of the scene "
                                              "and is not listed.").format(text=self.words(result)))
                return {"CANCELLED"}
            self.keep(context, self.pattern(result))
            text = self.words(result)  # of what was kept, too
            if self._outdated(context):
                self.report({"WARNING"}, rpt_("{text} The sculpt has been changed meanwhile; this "
                                              "is about how it was before.").format(text=text))
            else:
                self.report({"INFO"}, text)
        except Cancelled:
            self.report({"INFO"}, rpt_("Stopped. Nothing was written or changed."))
            return {"CANCELLED"}
        except FoamError as error:
            self.fail(context, error)
            return {"CANCELLED"}
        return {"FINISHED"}

    def cancel(self, context):
        """Leave nothing behind on the screen; Blender calls this where it ends the operator."""
        self._job.cancel()
        context.window_manager.event_timer_remove(self._timer)
        if context.workspace:
            context.workspace.status_text_set(None)

    def _show_progress(self, context) -> None:
        if context.workspace:
            job = self._job
            words = rpt_("{text}: {share:.0%} done. Esc stops it.").format(
                text=rpt_(job.text or "Foamwright"), share=job.share)
            if _nesting(job):
                words += " " + rpt_("Enter goes on with the best layout so far.")
            context.workspace.status_text_set(rpt_("Stopping…") if job.cancelled else words)

    def _outdated(self, context) -> bool:
        """Would the objects be read otherwise now than when the work began?"""
        if changes.count == self._count:
            return False
        objects = [context.scene.objects.get(source.name) for source in self._sources]
        try:
            settings = read_settings(context.scene)
            now, _ = read_scene(context.scene, [o for o in objects if o is not None], settings)
        except FoamError:
            return True
        before, asked = self._read
        settings = replace(settings, printed=asked.printed)  # what this very run may have printed
        return changes.signature(now, settings) != changes.signature(before, asked)
