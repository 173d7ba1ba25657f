"""Step 3, further: a part of a sculpt's face that gets a piece of its own, glued on."""

from __future__ import annotations

import bmesh
import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import StringProperty

from ...core.errors import ERROR, Finding, FoamError
from ...core.model import INNER
from ..read import is_sculpt, mm_per_unit
from ..read_object import mean_scale
from ..settings import object_side, object_stock, read_settings
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
        stock = object_stock(item, settings) or settings.stock
        front = stock.depths(object_side(item) or settings.side)[0]
        bm = bmesh.from_edit_mesh(item.data).copy()
        try:
            rest = [face for face in bm.faces if not face.select or face.hide]
            if len(rest) == len(bm.faces):
                raise FoamError(Finding(
                    "nothing-selected", ERROR, f"No face of “{item.name}” is selected.",
                    "Select the faces that the piece is to cover."))
            bmesh.ops.delete(bm, geom=rest, context="FACES")
            bmesh.ops.delete(bm, geom=[v for v in bm.verts if not v.link_faces], context="VERTS")
            bm.normal_update()
            # On the outer face of the base, whichever face of that the sculpt is.
            out = float(front / (mm_per_unit(context.scene) * mean_scale(item)))
            for edge in bm.edges:
                edge.seam = False
            places = [v.co + out * v.normal for v in bm.verts]
            for vertex, place in zip(bm.verts, places, strict=True):
                vertex.co = place
            made = _object(item, bm, self.stock)
        finally:
            bm.free()
        self.report({"INFO"}, rpt_("“{name}” is glued on “{base}”. Choose its foam under This "
                                   "Object.").format(name=made.name, base=item.name))


def _object(item: bpy.types.Object, bm: bmesh.types.BMesh, stock: str) -> bpy.types.Object:
    """The new object beside the one it lies on, shaped by the same modifiers but for thickness."""
    data = bpy.data.meshes.new(f"{item.name} detail")
    bm.to_mesh(data)
    for name in [a.name for a in data.attributes if a.name.startswith("foamwright_")]:
        data.attributes.remove(data.attributes[name])
    made = item.copy()
    made.name, made.data = data.name, data
    for modifier in [m for m in made.modifiers if m.type == "SOLIDIFY"]:
        made.modifiers.remove(modifier)
    group = made.foamwright
    for prop in group.bl_rna.properties:
        if not prop.is_readonly:
            group.property_unset(prop.identifier)
    for collection in item.users_collection:
        collection.objects.link(made)
    made.select_set(not item.foamwright.include)  # what counts, as long as nothing was added
    group.include, group.side, group.stock = item.foamwright.include, INNER, stock
    group.rests, group.lies_on = "OBJECT", item
    return made


CLASSES = (LayOnSelected,)
