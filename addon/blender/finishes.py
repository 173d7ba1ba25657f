"""How seams look from outside: a whole number on edges, that of the core's Finish.

0, as on edges that were never asked, is flush. Lines drawn across faces carry theirs as
properties (`foamwright.finish` and its width).
"""

from __future__ import annotations

from collections.abc import Iterable

import bmesh
import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import FLUSH, Finish
from ..core.model.finish import USUAL, WIDEST
from ..core.units import format_length, parse_length
from . import edge_numbers
from .settings import unit

ATTRIBUTE = "foamwright_finish"
WIDTH = dict(
    name="Finish Width", default="",
    description="How far each outer edge is chamfered or set back, on the outer face, with its "
                f"unit, such as 4 mm or 1/8 in. Empty: {USUAL:g} mm")


def read_finishes(mesh: bpy.types.Mesh) -> np.ndarray:
    """The number of its Finish (e,) of every edge of a mesh outside Edit Mode."""
    numbers = edge_numbers.read(mesh, ATTRIBUTE)
    # A modifier may have made up what lies between two numbers, or tools any number at all.
    return np.where(np.abs(numbers) <= 200 * WIDEST + 1, np.maximum(numbers, 0), 0)


def require_room(mesh: bpy.types.Mesh) -> None:
    """Raises FoamError `attribute-taken` where something else in a mesh bears the name."""
    edge_numbers.require_room(mesh, ATTRIBUTE, "finishes")


def put(bm: bmesh.types.BMesh, chosen: Iterable[int], number: int) -> int:
    """Give the chosen edges (indices) the number of a Finish; how many changed."""
    return edge_numbers.put(bm, ATTRIBUTE, chosen, number)


def chosen(kind: str, width: str) -> Finish:
    """The finish of a kind with a width as it is entered. Raises FoamError `bad-length`."""
    if kind == FLUSH:
        return Finish()
    length = parse_length(width, unit()) if width.strip() else USUAL
    if not 0.05 <= length <= WIDEST:
        raise FoamError(Finding(
            "bad-length", ERROR, f"A seam's finish cannot be “{width}” wide.",
            f"Choose a length from {format_length(0.05, unit())} to "
            f"{format_length(WIDEST, unit())}."))
    return Finish(kind, length)


def finish_of(line: bpy.types.Object) -> Finish:
    """The finish of the seam along a line. Raises FoamError `bad-length`."""
    own = line.foamwright
    return chosen(own.finish, own.finish_width) if own.guide == "SEAM" else Finish()


def told(bm: bmesh.types.BMesh, kind: str) -> list[int]:
    """Indices of the seams of a kind of finish."""
    found = edge_numbers.layer(bm, ATTRIBUTE)
    return [e.index for e in bm.edges if e.seam
            and Finish.of(0 if found is None else e[found]).kind == kind]
