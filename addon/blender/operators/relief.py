"""Relief for a piece that fails: proposals, one of them shown, accepted or forgotten."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import IntProperty, StringProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import memory, reliefs, repairs
from ..write import active_face, triangles_of
from .base import FoamOperator
from .long import LongOperator

if TYPE_CHECKING:
    from ...core.model import Pattern, Piece
    from ...core.suggest.relief import Relief


@dataclass(frozen=True, eq=False)
class _Found:
    """The check, None where a piece had no flat; the code of the piece to relieve, and its
    proposals or why there are none."""

    pattern: Pattern | None
    piece: str
    proposals: tuple[Relief, ...] = ()
    refusal: Finding | None = None


class SuggestRelief(LongOperator, bpy.types.Operator):
    bl_idname = "foamwright.suggest_relief"
    bl_label = "Suggest Relief Cuts"
    bl_description = ("Look for darts and seams with which the foam takes the shape of a piece "
                      "that fails: the piece under the active face if that fails, else the worst. "
                      "Nothing is cut until you accept one")
    bl_options = {"REGISTER", "UNDO"}

    _found: _Found | None = None

    piece: StringProperty(
        name="Piece", description="Code of the piece; empty for the one under the active face, "
                                  "else the worst", options={"SKIP_SAVE"})

    def prepare(self, context):
        from ...core.make import check
        from ...core.suggest.relief import relieve

        sculpt, settings = self.read(context)
        active, sources, known = active_face(context), self._sources, memory.of_scene(context.scene)
        code = self.piece

        def work(progress):
            checking = lambda share, text: progress(0.3 * share, text)  # noqa: E731
            looking = lambda share, text: progress(0.3 + 0.7 * share, text)  # noqa: E731
            try:
                pattern = check(sculpt, settings, checking, known)
            except FoamError as error:
                chosen, faces = _without_flat(error, code)
                return _Found(None, chosen, relieve(sculpt, settings, faces, looking))
            under = triangles_of(sculpt, sources, *active) if active else ()
            piece = _chosen(pattern, code, under)
            try:
                found = relieve(sculpt, settings, piece.source_face, looking)
            except FoamError as error:
                return _Found(pattern, piece.code, refusal=error.finding)
            return _Found(pattern, piece.code, found)

        return work

    def pattern(self, result):
        self._found = result
        return result.pattern

    def keep(self, context, pattern):
        if pattern is not None:
            super().keep(context, pattern)
        found = self._found
        with repairs.object_mode(context, ()):
            reliefs.store(context.scene, found.piece, found.proposals, self._sculpt,
                          self._sources)
            if len(context.scene.foamwright.reliefs):
                reliefs.show(context.scene, 0)

    def words(self, result):
        if result.refusal:
            return f"{rpt_(result.refusal.message)} {rpt_(result.refusal.remedy)}"
        return rpt_("Relief cuts proposed for {piece}: {count}.").format(
            piece=result.piece, count=len(result.proposals))


def _chosen(pattern: Pattern, code: str, faces: np.ndarray) -> Piece:
    """The piece of that code; else the failing one that has one of the faces; else the worst.

    Raises FoamError `no-such-piece`.
    """
    for piece in pattern.pieces:
        if piece.code == code:
            return piece
    if code:
        raise FoamError(Finding(
            "no-such-piece", ERROR, f"There is no piece called “{code}” any more.",
            "Check the foam again."))
    failing = [p for p in pattern.pieces if p.verdict.kind == "relief"]
    under = [p for p in failing if np.isin(p.source_face, faces).any()]
    return max(under or failing or pattern.pieces, key=lambda p: p.verdict.heated)


def _without_flat(error: FoamError, code: str) -> tuple[str, np.ndarray]:
    """Code and faces of a piece that no flat was found for: the one of that code if it is
    among them. Raises the error where it is of another kind."""
    found = [f for f in error.findings if f.code == "cannot-flatten" and len(f.faces)]
    found = [f for f in found if f.piece == code] or found
    if not found:
        raise error
    return found[0].piece, found[0].faces


class _OnProposals(FoamOperator):
    @classmethod
    def poll(cls, context):
        if len(context.scene.foamwright.reliefs):
            return True
        cls.poll_message_set("No relief has been suggested")
        return False


class ShowRelief(_OnProposals, bpy.types.Operator):
    bl_idname = "foamwright.show_relief"
    bl_label = "Show Relief Cut"
    bl_description = "Show this proposal as lines on the sculpt; nothing is cut"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    index: IntProperty(name="Proposal", description="Position in the list", default=0, min=0,
                       options={"SKIP_SAVE"})

    def run(self, context):
        if self.index >= len(context.scene.foamwright.reliefs):
            raise FoamError(Finding("no-such-relief", ERROR, "There is no such proposal.",
                                    "Suggest relief cuts again."))
        with repairs.object_mode(context, ()):
            if not reliefs.show(context.scene, self.index):
                raise reliefs.gone(context.scene)


class AcceptRelief(_OnProposals, bpy.types.Operator):
    bl_idname = "foamwright.accept_relief"
    bl_label = "Accept Relief Cut"
    bl_description = ("Make the lines that are shown seams of the suit. They are cut when the "
                      "templates are made; the mesh stays as it is, but for the mark of a seam "
                      "that moves")
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        scene = context.scene
        with repairs.object_mode(context, ()):
            if not reliefs.shown(scene) and not reliefs.show(scene, scene.foamwright.relief):
                raise reliefs.gone(context.scene)
            lines = reliefs.accept(scene)
        self.report({"INFO"}, rpt_("Seams added: {names}. Check the foam again.").format(
            names=", ".join(line.name for line in lines)))


class ForgetRelief(_OnProposals, bpy.types.Operator):
    bl_idname = "foamwright.forget_relief"
    bl_label = "Forget Relief Cuts"
    bl_description = "Take the proposals and the lines that show them away again"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        with repairs.object_mode(context, ()):
            reliefs.forget(context.scene)


CLASSES = (SuggestRelief, ShowRelief, AcceptRelief, ForgetRelief)
