"""The base classes of the operators: where a FoamError becomes words on the screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import bpy
from bpy.app.translations import pgettext_rpt as rpt_

from ...core.errors import FoamError
from ...core.model import Pattern, Sculpt, Settings
from .. import carry, changes, guides, lines, schema
from ..read import Source, read_scene, suit_objects
from ..settings import read_settings
from ..write import store_boxes, store_findings


class FoamOperator:
    """Runs `run`; a FoamError is reported and cancels. Everything else is a bug and is raised.

    `run` returns nothing, or False where there was nothing to do.
    """

    def execute(self, context):
        try:
            schema.require(context.scene)
            done = self.run(context)
        except FoamError as error:
            self.fail(context, error)
            return {"CANCELLED"}
        return {"CANCELLED"} if done is False else {"FINISHED"}

    def run(self, context: bpy.types.Context) -> bool | None:
        raise NotImplementedError

    def fail(self, context: bpy.types.Context, error: FoamError) -> None:
        finding = error.finding
        self.report({"ERROR"}, f"{rpt_(finding.message)} {rpt_(finding.remedy)}")

    def tell_missing(self, names: Sequence[str], remedy: str) -> None:
        """Warn of objects whose elements could not be selected."""
        self.report({"WARNING"}, rpt_(
            "Not shown, because it was changed, hidden or deleted since, or belongs to another "
            "file: {names}. {remedy}").format(names=", ".join(names), remedy=rpt_(remedy)))


# Of errors found once the suit was read, those that are about what was asked and not the suit.
_ASKED = {"bad-box", "bad-length", "bad-movement", "bad-size", "bad-sizes", "cannot-write",
          "changed-meanwhile", "map-too-small", "no-active-face", "no-such-piece",
          "no-such-relief", "no-uv-map", "page-too-small", "unknown-paper"}


class SuitOperator(FoamOperator):
    """An operator that reads the suit; its findings go to the list in the sidebar.

    An error that is not about the suit, such as a folder that cannot be written to, is only
    reported, and what the list says of the suit stays.
    """

    _reads = False
    _sculpt: Sculpt | None = None
    _sources: tuple[Source, ...] = ()
    _count: int | None = None  # of changes when the work began, if that takes long

    def read(self, context: bpy.types.Context) -> tuple[Sculpt, Settings]:
        """The suit of this scene. Raises FoamError when there is none."""
        settings = read_settings(context.scene)
        self._reads = True
        objects = suit_objects(context.scene, context.selected_objects)
        self._sculpt, self._sources = read_scene(context.scene, objects, settings)
        return self._sculpt, settings

    def keep(self, context: bpy.types.Context, pattern: Pattern) -> None:
        """Show what a finished run found in the sidebar, and keep the lines it was cut along."""
        with changes.ours(bpy.context.view_layer):
            lines.keep(context.scene, self._sculpt, self._sources)
            items = [context.scene.objects.get(s.name) for s in self._sources]
            guides.settle(context.scene, self._sculpt, items)
            # After a change, where things were then is of no use: the next look leads the lines.
            now = self._count is None or self._count == changes.count
            for item, source in zip(items if now else (), self._sources, strict=now):
                if item is not None and source.ground is not None:
                    carry.follow(context.scene, item, source.ground)
        # The core may have left out an inner skin; findings count the faces that remain.
        self._show(context, pattern.findings, pattern.sculpt, summary(pattern))
        store_boxes(context.scene, pattern, self._sources)

    def fail(self, context, error):
        about_suit = self._reads and error.finding.code not in _ASKED
        if about_suit and not schema.is_newer(context.scene):
            # What reading told, such as marks lost to modifiers, may be the reason.
            read = self._sculpt.findings if self._sculpt else ()
            self._show(context, (*error.findings, *(f for f in read if f not in error.findings)),
                       self._sculpt, "")
        super().fail(context, error)

    def _show(self, context, findings, sculpt, text: str) -> None:
        schema.upgrade(context.scene)
        store_findings(context.scene, findings, sculpt, self._sources)
        context.scene.foamwright.summary = text


_VERDICTS = {"flat": "flat {count}", "bend": "bent cold {count}",
             "heat": "formed with heat {count}", "relief": "in need of relief {count}"}


def summary(pattern: Pattern) -> str:
    """The verdicts in one sentence."""
    kinds = Counter(p.verdict.kind for p in pattern.pieces)
    parts = ", ".join(rpt_(words).format(count=kinds[kind])
                      for kind, words in _VERDICTS.items() if kinds[kind])
    return rpt_("Pieces: {count} ({parts}).").format(count=len(pattern.pieces), parts=parts)


@contextmanager
def shown_progress(context: bpy.types.Context) -> Iterator:
    """A progress(fraction, text) function that shows on the pointer and in the status bar."""
    manager, workspace = context.window_manager, context.workspace
    manager.progress_begin(0.0, 1.0)

    shown = None

    def progress(fraction: float, text: str = "") -> None:
        nonlocal shown
        if (fraction, text) == shown:  # a search says the last word again at each turn
            return
        shown = fraction, text
        manager.progress_update(fraction)
        if workspace:
            workspace.status_text_set(rpt_(text) or None)

    try:
        yield progress
    finally:
        manager.progress_end()
        if workspace:
            workspace.status_text_set(None)
