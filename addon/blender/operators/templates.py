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
    from ...core.model import Pattern, Sculpt, Settings
    from ..read import Source

    Make = Callable[[Sculpt, Settings, work.Progress, Memory | None], Pattern]
    Narrow = Callable[[Settings, Memory, work.Progress], Settings]


class Export(LongOperator):
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

    def read_worn(self, context: bpy.types.Context) -> "tuple[Sculpt, Settings]":
        """The suit of this scene on its wearer. Raises FoamError where there is no suit."""
        sculpt, settings = self.read(context)
        return with_body(context.scene, sculpt), settings

    def prepare(self, context):
        from ...core.make import make_pattern
        from ...export.folder import home, write_all

        folder = self.target(context)
        sculpt, settings = self.read_worn(context)
        known = memory.of_scene(context.scene)
        narrow = self.narrow(context)
        make = maker(context.scene) if self.whole else make_pattern

        def work(progress):
            only = narrow(settings, known, progress)
            pattern = make(sculpt, only, lambda share, text: progress(0.7 * share, text),
                           None if only.mock_up else known)  # what is known is about foam
            files = write_all(
                pattern, folder, progress=lambda share, text: progress(0.7 + 0.3 * share, text))
            return pattern, len(files), str(home(pattern, folder))

        return work

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


def maker(scene: bpy.types.Scene) -> "Make":
    """A function of the pure core for the pattern of a whole suit: with its fit, and with trial
    build, movement and box where the plan is to tell of them. Raises FoamError for what was
    entered about those and makes no sense."""
    from ...core.fit import fitted
    from ...core.make import make_pattern
    from ...core.reach import reached
    from ...core.rebuild import tried
    from ...core.transport import packed

    group = scene.foamwright
    again, quick = group.trial.in_plan, group.trial.quick
    angles = wearing.wanted(scene) if group.reach.in_plan else None
    box = wearing.box(scene) if group.transport.in_plan else None

    def make(sculpt, settings, progress, known=None):
        share = 0.45 if again else 1.0
        pattern = make_pattern(
            sculpt, settings, lambda part, text: progress(share * part, text), known)
        if again:
            pattern = tried(pattern, lambda part, text: progress(share + (1 - share) * part, text),
                            quick)
        say = lambda part, text: progress(1.0, text)  # noqa: E731
        pattern = fitted(pattern, progress=say)
        if angles is not None:
            pattern = reached(pattern, angles, say)
        return pattern if box is None else packed(pattern, *box, say)

    return make


def _needs_saved_file(folder: str) -> bool:
    return folder.startswith("//") and not bpy.data.filepath


DIRECTORY = dict(name="Folder", description="Folder the templates are written to",
                  subtype="DIR_PATH", options={"SKIP_SAVE"})
FILTER = dict(default=True, options={"HIDDEN", "SKIP_SAVE"})


class MakePattern(Export, bpy.types.Operator):
    bl_idname = "foamwright.make_pattern"
    bl_label = "Write Templates"
    bl_description = ("Write the 1:1 templates, the mat layouts, the build plan and the report "
                      "to the folder")
    bl_options = {"REGISTER", "UNDO"}
    whole = True

    directory: StringProperty(**DIRECTORY)
    filter_folder: BoolProperty(**FILTER)


class MakeMockUp(Export, bpy.types.Operator):
    bl_idname = "foamwright.make_mock_up"
    bl_label = "Write Mock-Up"
    bl_description = ("Write templates in card at half or a third of the size, made anew for the "
                      "card's thickness, into a folder of their own: to try shape and fit before "
                      "foam is cut")
    bl_options = {"REGISTER", "UNDO"}

    directory: StringProperty(**DIRECTORY)
    filter_folder: BoolProperty(**FILTER)

    def narrow(self, context):
        size = context.scene.foamwright.mock_up
        return lambda settings, known, progress: replace(settings, mock_up=size)

    def keep(self, context, pattern):
        """What is found about card says nothing about the suit."""


class MakeOnePiece(Export, bpy.types.Operator):
    bl_idname = "foamwright.make_one_piece"
    bl_label = "Write One Piece"
    bl_description = ("Write the template of the piece under the active face alone, "
                      "for a quick trial on scrap")
    bl_options = {"REGISTER", "UNDO"}

    directory: StringProperty(**DIRECTORY)
    filter_folder: BoolProperty(**FILTER)
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
