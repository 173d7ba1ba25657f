"""Whole numbers on the edges of a mesh, each in an attribute of its own, which Blender carries
through copies, joins of objects, undo and most modifiers. 0 is what edges have that were never
asked."""

from __future__ import annotations

from collections.abc import Iterable

import bmesh
import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError


def read(mesh: bpy.types.Mesh, name: str) -> np.ndarray:
    """The number (e,) of every edge of a mesh outside Edit Mode."""
    numbers = np.zeros(len(mesh.edges), dtype=np.int32)
    attribute = mesh.attributes.get(name)
    if attribute and (attribute.domain, attribute.data_type) == ("EDGE", "INT"):
        attribute.data.foreach_get("value", numbers)
    return numbers.astype(np.int64)


def write(mesh: bpy.types.Mesh, name: str, numbers: np.ndarray) -> None:
    """Give every edge of a mesh outside Edit Mode its number (e,)."""
    attribute = mesh.attributes.get(name)
    if attribute is None and numbers.any():
        attribute = mesh.attributes.new(name, "INT", "EDGE")
    if attribute and (attribute.domain, attribute.data_type) == ("EDGE", "INT"):
        attribute.data.foreach_set("value", numbers.astype(np.int32))


def require_room(mesh: bpy.types.Mesh, name: str, what: str) -> None:
    """Raises FoamError `attribute-taken` where something else in a mesh bears the name; what: the
    numbers tell of."""
    attribute = mesh.attributes.get(name)
    if attribute and (attribute.domain, attribute.data_type) != ("EDGE", "INT"):
        raise FoamError(Finding(
            "attribute-taken", ERROR,
            f"“{mesh.name}” has an attribute called “{name}” that tells of no {what}.",
            "Rename or delete it in Object Data properties > Attributes, then choose again."))


def layer(bm: bmesh.types.BMesh, name: str, create: bool = False
          ) -> bmesh.types.BMLayerItem | None:
    """The edge layer of the numbers, None where the mesh has none yet."""
    found = bm.edges.layers.int.get(name)
    return bm.edges.layers.int.new(name) if found is None and create else found


def put(bm: bmesh.types.BMesh, name: str, chosen: Iterable[int], number: int) -> int:
    """Give the chosen edges (indices) a number; how many changed."""
    chosen = list(chosen)
    found = layer(bm, name, create=bool(number and chosen))
    if found is None:
        return 0
    bm.edges.ensure_lookup_table()
    changed = [bm.edges[i] for i in chosen if bm.edges[i][found] != number]
    for edge in changed:
        edge[found] = number
    return len(changed)
