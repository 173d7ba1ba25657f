"""Objects that are glued on others: made of faces of what they lie on."""

from __future__ import annotations

import bmesh
import bpy

from ..core.model import INNER, Settings
from .read import mm_per_unit
from .read_object import mean_scale
from .settings import object_side, object_stock


def laid_on(item: bpy.types.Object, bm: bmesh.types.BMesh, scene: bpy.types.Scene,
            settings: Settings, stock: str) -> bpy.types.Object:
    """A new object that lies on the outer face of `item`. bm: faces of that one's mesh, to be
    covered, in its own space; changed. stock: short name of its foam, "" for the suit's."""
    foam = object_stock(item, settings) or settings.stock
    front = foam.depths(object_side(item) or settings.side)[0]
    bm.normal_update()
    # On the outer face of the base, whichever face of that the sculpt is.
    out = float(front / (mm_per_unit(scene) * settings.scale * mean_scale(item)))
    for edge in bm.edges:
        edge.seam = False
    places = [v.co + out * v.normal for v in bm.verts]
    for vertex, place in zip(bm.verts, places, strict=True):
        vertex.co = place
    return _object(item, bm, stock)


def _object(item: bpy.types.Object, bm: bmesh.types.BMesh, stock: str) -> bpy.types.Object:
    """The new object beside the one it lies on, shaped by the same modifiers but for thickness."""
    data = bpy.data.meshes.new(f"{item.name} detail")
    bm.to_mesh(data)
    for material in item.data.materials:
        data.materials.append(material)
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
