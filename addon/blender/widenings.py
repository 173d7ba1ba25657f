"""Seams at which the suit is to be wider or narrower, kept with the scene: a place on each, in the
space of its object, by which the seam is found again however it is drawn anew."""

from __future__ import annotations

from collections.abc import Sequence

import bmesh
import bpy
import numpy as np
from bpy.props import BoolProperty, FloatVectorProperty, StringProperty
from mathutils import Vector

from ..core import mesh
from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Widening
from ..core.units import parse_change
from . import changes, guides, identity
from .fields import foam_changed

NEAR = 5.0  # mm within which a place is that of an earlier one
MOST = 500.0  # mm that make sense
AMOUNT = dict(
    name="Wider By", default="20 mm",
    description="How much longer every section across the seam becomes, half of it on each side, "
                "with its unit, such as 20 mm or 3/4 in; narrower with a minus, such as -15 mm")
UPPER = dict(
    name="At the Upper End",
    description="By how much at the upper end of the seam, or of a level one at the end further "
                "out, such as 0 mm, if otherwise than at the lower one. Empty: the same all along")
MIRRORED = dict(
    name="Other Side Too",
    description="Widen the seam at the same place on the wearer's other side as well, if there "
                "is one")


class FoamwrightWidening(bpy.types.PropertyGroup):
    """name and word: of the object (see identity); place: in its space."""

    name: StringProperty()
    word: StringProperty()
    place: FloatVectorProperty(size=3, precision=6)
    amount: StringProperty(update=foam_changed, **AMOUNT)
    upper: StringProperty(update=foam_changed, **UPPER)
    mirrored: BoolProperty(update=foam_changed, **MIRRORED)


def amounts(amount: str, upper: str, unit: str) -> tuple[float, float]:
    """Growth at the lower and the upper end of a seam, mm. Raises FoamError `bad-length`."""
    low = parse_change(amount, unit)
    high = parse_change(upper, unit) if upper.strip() else low
    if max(abs(low), abs(high)) > MOST or low == high == 0:
        raise FoamError(Finding(
            "bad-length", ERROR, f"A seam cannot be widened by “{amount}”.",
            f"Give a length up to {MOST:g} mm, or one below zero to make the suit narrower."))
    return low, high


def problem(row: FoamwrightWidening, unit: str) -> str:
    """What is wrong with a row, "" where nothing is."""
    try:
        amounts(row.amount, row.upper, unit)
    except FoamError as error:
        return f"{error.finding.message} {error.finding.remedy}"
    return ""


def read(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object], mm: float, unit: str
         ) -> list[Widening]:
    """What is to be widened on these objects. Raises FoamError `bad-length`."""
    found = []
    for row in scene.foamwright.widenings:
        item = identity.find(scene, row.name, row.word)
        if item not in objects:
            continue
        low, high = amounts(row.amount, row.upper, unit)
        place = mm * np.array(item.matrix_world @ Vector(row.place))
        found.append(Widening(place, low, high))
        if row.mirrored:
            found.append(Widening(place * (-1.0, 1.0, 1.0), low, high, optional=True))
    return found


def chosen(context: bpy.types.Context) -> list[tuple[bpy.types.Object, np.ndarray]]:
    """The seams that are selected, as edges in Edit Mode or as lines: of each its object and the
    place (3,) in that object's space."""
    if context.mode == "EDIT_MESH":
        return [(item, place) for item in context.objects_in_mode_unique_data
                for place in _selected(bmesh.from_edit_mesh(item.data))]
    found = []
    for line in context.selected_objects:
        if not guides.is_guide(line) or line.foamwright.guide != "SEAM" or guides.is_loose(line):
            continue
        back = np.array(line.parent.matrix_world.inverted())
        for points, _ in guides.world_polylines(line):
            middle = _middle(points)
            found.append((line.parent, back[:3, :3] @ middle + back[:3, 3]))
    return found


def _selected(bm: bmesh.types.BMesh) -> list[np.ndarray]:
    """A place (3,) on each seam of which edges are selected: seams end where others meet them."""
    edges = np.array([[v.index for v in e.verts] for e in bm.edges if e.seam and e.select],
                     dtype=np.int64).reshape(-1, 2)
    bm.verts.ensure_lookup_table()
    places = []
    for path in mesh.chains(edges):
        ends = [k for k, v in enumerate(path[1:-1].tolist(), 1)
                if sum(e.seam for e in bm.verts[v].link_edges) != 2]
        for start, stop in zip([0, *ends], [*ends, len(path) - 1], strict=True):
            places.append(_middle(np.array([bm.verts[v].co for v in path[start:stop + 1]])))
    return places


def _middle(points: np.ndarray) -> np.ndarray:
    along = mesh.arc_length(points)
    return np.array([np.interp(along[-1] / 2, along, p) for p in points.T])


def add(scene: bpy.types.Scene, item: bpy.types.Object, place: np.ndarray, mm: float, amount: str,
        upper: str, mirrored: bool) -> None:
    """Keep what is asked at a seam, in place of what was asked there before."""
    size = mm * np.linalg.norm(np.array(item.matrix_world)[:3, :3], axis=0).mean()
    word = identity.mark(scene, item)
    row = next((r for r in scene.foamwright.widenings
                if identity.find(scene, r.name, r.word) == item
                and size * np.linalg.norm(np.array(r.place) - place) <= NEAR), None)
    if row is None:
        row = scene.foamwright.widenings.add()
    row.name, row.word, row.place = item.name, word, place.tolist()
    row.amount, row.upper, row.mirrored = amount, upper, mirrored
    changes.note()
