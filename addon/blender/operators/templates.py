"""Step 5: write the templates and the build plan."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, StringProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import memory, printed, wearing, work
from ..read import with_body
from ..write import active_face, triangles_of
from .long import LongOperator

if TYPE_CHECKING:
    from ...core.make import Memory
    from ...core.model import Pattern, Settings
    from ..read import Source

    Narrow = Callable[[Settings, Memory, work.Progress], Settings]


class _Export(LongOperator):
    """Asks for the folder where none is set, then makes the pattern and writes it."""

    whole = False  # is it the suit itself that is written?
    _asked = False

    def invoke(self, context, event):
        folder = context.scene.foamwright.folder
        if self.directory or folder and not _needs_saved_file(folder):
            return super().invoke(context, event)
        self._asked = True
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context):
        if self._asked:  # Blender does not let an operator run on that comes from its file browser
            name = self.bl_idname.split(".")[1]
            getattr(bpy.ops.foamwright, name)(
                "INVOKE_DEFAULT", **self.as_keywords(ignore=("filter_folder",)))
            return {"CANCELLED"}
        return super().execute(context)

    def target(self, context: bpy.types.Context) -> str:
        """The chosen folder as an absolute path."""
        folder = self.directory or context.scene.foamwright.folder
        if not folder or _needs_saved_file(folder):
            raise FoamError(Finding(
                "no-folder", ERROR, "No folder is chosen for the templates.",
                "Choose a folder; one beside the .blend file needs that file saved first."))
        return bpy.path.abspath(folder)

    def prepare(self, context):
        from ...core.fit import fitted
        from ...core.make import make_pattern
        from ...core.rebuild import tried
        from ...export.folder import home, write_all

        folder = self.target(context)
        sculpt, settings = self.read(context)
        sculpt = with_body(context.scene, sculpt)
        known = memory.of_scene(context.scene)
        narrow = self.narrow(context)
        group = context.scene.foamwright.trial
        again, quick = self.whole and group.in_plan, group.quick
        worn = _asked(context.scene) if self.whole else lambda pattern, progress: pattern

        def make(progress):
            only = narrow(settings, known, progress)
            pattern = make_pattern(
                sculpt, only, lambda share, text: progress((0.3 if again else 0.7) * share, text),
                None if only.mock_up else known)  # what is known is about foam
            if again:
                pattern = tried(pattern, lambda share, text: progress(0.3 + 0.4 * share, text),
                                quick)
            if self.whole and not only.mock_up:
                pattern = fitted(pattern, progress=lambda share, text: progress(0.7, text))
                pattern = worn(pattern, lambda share, text: progress(0.7, text))
            files = write_all(
                pattern, folder, progress=lambda share, text: progress(0.7 + 0.3 * share, text))
            return pattern, len(files), str(home(pattern, folder))

        return make

    def narrow(self, context: bpy.types.Context) -> "Narrow":
        """A function of the pure core that may narrow the settings to one piece."""
        return lambda settings, known, progress: settings

    def pattern(self, result):
        return result[0]

    def keep(self, context, pattern):
        printed.keep(context.scene, pattern)
        super().keep(context, pattern)

    def words(self, result):
        return rpt_("Files written: {count}, to {folder}").format(
            count=result[1], folder=result[2])


def _asked(scene: bpy.types.Scene):
    """A function of the pure core that adds movement and box, where the plan is to tell of them.
    Raises FoamError for what was entered about them and makes no sense."""
    group = scene.foamwright
    angles = wearing.wanted(scene) if group.reach.in_plan else None
    size = wearing.box(scene) if group.transport.in_plan else None

    def add(pattern, progress):
        from ...core.reach import reached
        from ...core.transport import packed

        if angles is not None:
            pattern = reached(pattern, angles, progress)
        return pattern if size is None else packed(pattern, *size, progress)

    return add


def _needs_saved_file(folder: str) -> bool:
    return folder.startswith("//") and not bpy.data.filepath


_DIRECTORY = dict(name="Folder", description="Folder the templates are written to",
                  subtype="DIR_PATH", options={"SKIP_SAVE"})
_FILTER = dict(default=True, options={"HIDDEN", "SKIP_SAVE"})


class MakePattern(_Export, bpy.types.Operator):
    bl_idname = "foamwright.make_pattern"
    bl_label = "Write Templates"
    bl_description = ("Write the 1:1 templates, the mat layouts, the build plan and the report "
                      "to the folder")
    bl_options = {"REGISTER", "UNDO"}
    whole = True

    directory: StringProperty(**_DIRECTORY)
    filter_folder: BoolProperty(**_FILTER)


class MakeMockUp(_Export, bpy.types.Operator):
    bl_idname = "foamwright.make_mock_up"
    bl_label = "Write Mock-Up"
    bl_description = ("Write templates in card at half or a third of the size, made anew for the "
                      "card's thickness, into a folder of their own: to try shape and fit before "
                      "foam is cut")
    bl_options = {"REGISTER", "UNDO"}

    directory: StringProperty(**_DIRECTORY)
    filter_folder: BoolProperty(**_FILTER)

    def narrow(self, context):
        size = context.scene.foamwright.mock_up
        return lambda settings, known, progress: replace(settings, mock_up=size)

    def keep(self, context, pattern):
        """What is found about card says nothing about the suit."""


class MakeOnePiece(_Export, bpy.types.Operator):
    bl_idname = "foamwright.make_one_piece"
    bl_label = "Write One Piece"
    bl_description = ("Write the template of the piece under the active face alone, "
                      "for a quick trial on scrap")
    bl_options = {"REGISTER", "UNDO"}

    directory: StringProperty(**_DIRECTORY)
    filter_folder: BoolProperty(**_FILTER)
    piece: StringProperty(
        name="Piece", description="Code of the piece; empty for the one under the active face",
        options={"SKIP_SAVE"})

    def narrow(self, context):
        from ...core.make import check

        code = self.piece
        if code:
            return lambda settings, known, progress: replace(settings, only=code)
        active, sculpt, sources = active_face(context), self._sculpt, self._sources
        if active is None or not len(triangles_of(sculpt, sources, *active)):
            raise FoamError(Finding(
                "no-active-face", ERROR, "No face of the suit is active.",
                "Enter Edit Mode, choose face select, and click a face of the piece."))
        return lambda settings, known, progress: replace(settings, only=_piece_with(
            active, sources, check(sculpt, settings, lambda _, text: progress(0.0, text), known)))


def _piece_with(face: tuple[str, int], sources: "tuple[Source, ...]", pattern: "Pattern") -> str:
    """Code of the piece that the maker's face (object, index) is part of.

    Raises FoamError `no-active-face`.
    """
    faces = triangles_of(pattern.sculpt, sources, *face)
    for piece in pattern.pieces:
        if np.isin(faces, piece.source_face).any():
            return piece.code
    raise FoamError(Finding(
        "no-active-face", ERROR, "The active face belongs to no piece of foam.",
        "Click a face of the surface that is seen from outside."))


CLASSES = (MakePattern, MakeMockUp, MakeOnePiece)
