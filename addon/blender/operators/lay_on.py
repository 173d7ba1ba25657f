"""Step 3, further: a part of a sculpt's face that gets a piece of its own, glued on."""

from __future__ import annotations

import bmesh
import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import StringProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import details
from ..read import is_sculpt
from ..settings import read_settings
from .base import FoamOperator


class LayOnSelected(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.lay_on_selected"
    bl_label = "Lay a Piece On"
    bl_description = ("Make a piece of foam that is glued on the selected faces: an object of its "
                      "own, as large as they are")
    bl_options = {"REGISTER", "UNDO"}

    stock: StringProperty(
        name="Foam", description="Foam of the piece that is laid on, such as eva-6. Empty: as the "
                                 "suit's")

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH" and context.object and is_sculpt(context.object):
            return True
        cls.poll_message_set("Enter Edit Mode and select faces first")
        return False

    def run(self, context):
        item = context.object
        settings = read_settings(context.scene)
        bm = bmesh.from_edit_mesh(item.data).copy()
        try:
            rest = [face for face in bm.faces if not face.select or face.hide]
            if len(rest) == len(bm.faces):
                raise FoamError(Finding(
                    "nothing-selected", ERROR, f"No face of “{item.name}” is selected.",
                    "Select the faces that the piece is to cover."))
            bmesh.ops.delete(bm, geom=rest, context="FACES")
            bmesh.ops.delete(bm, geom=[v for v in bm.verts if not v.link_faces], context="VERTS")
            made = details.laid_on(item, bm, context.scene, settings, self.stock)
        finally:
            bm.free()
        self.report({"INFO"}, rpt_("“{name}” is glued on “{base}”. Choose its foam under This "
                                   "Object.").format(name=made.name, base=item.name))


CLASSES = (LayOnSelected,)
