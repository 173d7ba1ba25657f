"""Which faces of a sculpt are built: all but those that carry the face attribute.

The underside of a solid and the inner wall of a shell are modelled but never made of foam.
They stay in the mesh and are only left out when it is read.
"""

from __future__ import annotations

from collections.abc import Iterable

import bmesh
import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError

ATTRIBUTE = "foamwright_not_built"


def read_built(mesh: bpy.types.Mesh) -> np.ndarray:
    """Which polygons (p,) of a mesh outside Edit Mode are built."""
    left_out = np.zeros(len(mesh.polygons), dtype=bool)
    attribute = mesh.attributes.get(ATTRIBUTE)
    if attribute and (attribute.domain, attribute.data_type) == ("FACE", "BOOLEAN"):
        attribute.data.foreach_get("value", left_out)
    return ~left_out


def require_room(mesh: bpy.types.Mesh) -> None:
    """Raises FoamError `attribute-taken` where something else in the mesh bears the name."""
    attribute = mesh.attributes.get(ATTRIBUTE)
    if attribute and (attribute.domain, attribute.data_type) != ("FACE", "BOOLEAN"):
        raise FoamError(Finding(
            "attribute-taken", ERROR,
            f"“{mesh.name}” has an attribute called “{ATTRIBUTE}” that is no mark on faces.",
            "Rename or delete it in Object Data properties > Attributes, then try again."))


def set_built(bm: bmesh.types.BMesh, faces: Iterable[int], built: bool) -> int:
    """Say of these faces (indices) whether they are built; of how many that changed."""
    layers = bm.faces.layers.bool
    layer = layers.get(ATTRIBUTE)
    if layer is None:
        if built:
            return 0
        layer = layers.new(ATTRIBUTE)
    bm.faces.ensure_lookup_table()
    changed = 0
    for index in faces:
        changed += bm.faces[index][layer] == built
        bm.faces[index][layer] = not built
    return changed


def left_out(bm: bmesh.types.BMesh) -> list[int]:
    """Indices of the faces that are not built."""
    layer = bm.faces.layers.bool.get(ATTRIBUTE)
    return [] if layer is None else [face.index for face in bm.faces if face[layer]]
