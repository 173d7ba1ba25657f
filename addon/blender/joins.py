"""How seams are held together: a whole number on edges, its place in the core's JOINS.

0, as on edges that were never asked, is a plain glued seam. Lines drawn across faces carry theirs
as a property (`foamwright.join`).
"""

from __future__ import annotations

from collections.abc import Iterable

import bmesh
import bpy
import numpy as np

from ..core.model import BUTT, JOINS
from . import edge_numbers

ATTRIBUTE = "foamwright_join"


def read_joins(mesh: bpy.types.Mesh) -> np.ndarray:
    """The number in JOINS (e,) of every edge of a mesh outside Edit Mode."""
    numbers = edge_numbers.read(mesh, ATTRIBUTE)
    # A modifier may have made up what lies between two numbers, or tools any number at all.
    return np.where((numbers >= 0) & (numbers < len(JOINS)), numbers, 0)


def require_room(mesh: bpy.types.Mesh) -> None:
    """Raises FoamError `attribute-taken` where something else in a mesh bears the name."""
    edge_numbers.require_room(mesh, ATTRIBUTE, "joins")


def put(bm: bmesh.types.BMesh, chosen: Iterable[int], join: str) -> int:
    """Give the chosen edges (indices) a join of JOINS; how many changed."""
    return edge_numbers.put(bm, ATTRIBUTE, chosen, 0 if join == BUTT else JOINS.index(join))


def told(bm: bmesh.types.BMesh, join: str) -> list[int]:
    """Indices of the seams that are held in this way."""
    found = edge_numbers.layer(bm, ATTRIBUTE)
    wanted = (0, JOINS.index(BUTT)) if join == BUTT else (JOINS.index(join),)
    return [e.index for e in bm.edges if e.seam and (0 if found is None else e[found]) in wanted]
