"""Step 4: write the templates and the build plan."""

from dataclasses import replace

import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, StringProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import memory
from ..write import active_face, triangles_of
from .base import SuitOperator, shown_progress


class _Export(SuitOperator):
    """Asks for the folder where none is set, then makes the pattern and writes it."""

    def invoke(self, context, event):
        folder = context.scene.foamwright.folder
        if self.directory or folder and not _needs_saved_file(folder):
            return self.execute(context)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def target(self, context: bpy.types.Context) -> str:
        """The chosen folder as an absolute path."""
        folder = self.directory or context.scene.foamwright.folder
        if not folder or _needs_saved_file(folder):
            raise FoamError(Finding(
                "no-folder", ERROR, "No folder is chosen for the templates.",
                "Choose a folder; one beside the .blend file needs that file saved first."))
        return bpy.path.abspath(folder)

    def write(self, context: bpy.types.Context, choose=None) -> None:
        """Write the pattern; `choose(sculpt, settings)` may narrow the settings first."""
        from ...core.make import make_pattern
        from ...export.folder import write_all

        folder = self.target(context)
        with shown_progress(context) as progress:
            progress(0.0, "Reading the sculpt")
            sculpt, settings = self.read(context)
            if choose:
                settings = choose(sculpt, settings)
            pattern = make_pattern(
                sculpt, settings, progress, memory.of_scene(context.scene))
            progress(1.0, "Writing the files")
            files = write_all(pattern, folder)
        self.keep(context, pattern)
        self.report({"INFO"}, rpt_("Files written: {count}, to {folder}").format(
            count=len(files), folder=folder))


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

    directory: StringProperty(**_DIRECTORY)
    filter_folder: BoolProperty(**_FILTER)

    def run(self, context):
        self.write(context)


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

    def run(self, context):
        def choose(sculpt, settings):
            return replace(settings, only=self.piece or self.active_piece(context, settings))

        self.write(context, choose)

    def active_piece(self, context: bpy.types.Context, settings) -> str:
        """Code of the piece under the active face. Raises FoamError `no-active-face`."""
        from ...core.make import check

        active = active_face(context)
        if active is None or not len(triangles_of(self._sculpt, self._sources, *active)):
            raise FoamError(Finding(
                "no-active-face", ERROR, "No face of the suit is active.",
                "Enter Edit Mode, choose face select, and click a face of the piece."))
        pattern = check(self._sculpt, settings, memory=memory.of_scene(context.scene))
        faces = triangles_of(pattern.sculpt, self._sources, *active)
        for piece in pattern.pieces:
            if np.isin(faces, piece.source_face).any():
                return piece.code
        raise FoamError(Finding(
            "no-active-face", ERROR, "The active face belongs to no piece of foam.",
            "Click a face of the surface that is seen from outside."))


CLASSES = (MakePattern, MakeOnePiece)
