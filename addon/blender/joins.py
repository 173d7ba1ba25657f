"""How seams are held together: a whole number on edges, its place in the core's JOINS.

0, as on edges that were never asked, is a plain glued seam. Lines drawn across faces carry theirs
as a property (`foamwright.join`).
"""

from __future__ import annotations

from collections.abc import Iterable

import bmesh
import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import BUTT, JOINS

ATTRIBUTE = "foamwright_join"


def read_joins(mesh: bpy.types.Mesh) -> np.ndarray:
    """The number in JOINS (e,) of every edge of a mesh outside Edit Mode."""
    numbers = np.zeros(len(mesh.edges), dtype=np.int32)
    attribute = mesh.attributes.get(ATTRIBUTE)
    if attribute and (attribute.domain, attribute.data_type) == ("EDGE", "INT"):
        attribute.data.foreach_get("value", numbers)
    # A modifier may have made up what lies between two numbers, or tools any number at all.
    return np.where((numbers >= 0) & (numbers < len(JOINS)), numbers, 0).astype(np.int64)


def require_room(mesh: bpy.types.Mesh) -> None:
    """Raises FoamError `attribute-taken` where something else in a mesh bears the name."""
    attribute = mesh.attributes.get(ATTRIBUTE)
    if attribute and (attribute.domain, attribute.data_type) != ("EDGE", "INT"):
        raise FoamError(Finding(
            "attribute-taken", ERROR,
            f"“{mesh.name}” has an attribute called “{ATTRIBUTE}” that tells of no joins.",
            "Rename or delete it in Object Data properties > Attributes, then choose again."))


def layer(bm: bmesh.types.BMesh, create: bool = False) -> bmesh.types.BMLayerItem | None:
    """The edge layer of joins, None where the mesh has none yet."""
    found = bm.edges.layers.int.get(ATTRIBUTE)
    return bm.edges.layers.int.new(ATTRIBUTE) if found is None and create else found


def set_joins(bm: bmesh.types.BMesh, chosen: Iterable[int], join: str) -> int:
    """Give the chosen edges (indices) a join of JOINS; how many changed."""
    number = 0 if join == BUTT else JOINS.index(join)
    chosen = list(chosen)
    found = layer(bm, create=bool(number and chosen))
    if found is None:
        return 0
    bm.edges.ensure_lookup_table()
    changed = [bm.edges[i] for i in chosen if bm.edges[i][found] != number]
    for edge in changed:
        edge[found] = number
    return len(changed)


def write_joins(mesh: bpy.types.Mesh, numbers: np.ndarray) -> None:
    """Give every edge of a mesh outside Edit Mode its number in JOINS (e,)."""
    attribute = mesh.attributes.get(ATTRIBUTE)
    if attribute is None and numbers.any():
        attribute = mesh.attributes.new(ATTRIBUTE, "INT", "EDGE")
    if attribute and (attribute.domain, attribute.data_type) == ("EDGE", "INT"):
        attribute.data.foreach_set("value", numbers.astype(np.int32))


def joined(bm: bmesh.types.BMesh, join: str) -> list[int]:
    """Indices of the seams that are held in this way."""
    found = layer(bm)
    wanted = (0, JOINS.index(BUTT)) if join == BUTT else (JOINS.index(join),)
    return [e.index for e in bm.edges if e.seam and (0 if found is None else e[found]) in wanted]
