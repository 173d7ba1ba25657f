"""Lines drawn across faces -> the core's guides, in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import bpy
import numpy as np

from ..core.errors import ERROR, NOTE, Finding, FoamError
from ..core.model import Guide, Sculpt
from ..core.trace.home import OFF, Surfaces
from . import anchors, carry, guides
from .finishes import finish_of
from .marks import KINDS


def read_guides(scene: bpy.types.Scene, item: bpy.types.Object, matrix: np.ndarray, mm: float,
                number: int, ground: anchors.Ground | None = None) -> list[Guide]:
    """The lines of an object as the core knows them: in mm, and of the sculpt's object `number`.

    matrix (4, 4): where the object stands in the world. ground: the object's surface as it is
    read; lines that are bound to it are where it has taken them.
    """
    found = []
    for line in guides.guides_of(scene, item):
        there = carry.taken(line, ground) if ground else None
        found += (_read(line, matrix @ guides.on_parent(line), mm, number) if there is None else
                  [Guide(points, KINDS[line.foamwright.guide], closed, number, line.name,
                         guides.join_of(line), finish_of(line))
                   for points, closed in there])
    return found


def read_loose(scene: bpy.types.Scene, sculpt: Sculpt, mm: float,
               scale: float) -> tuple[list[Guide], list[Finding]]:
    """The lines that lost their object, as when it was joined into another, on those objects of
    a sculpt that they lie on; and what to say about those that lie on none.

    scale: the factor on the sculpt's size, before which lengths are as in the sculpt.
    """
    surfaces, found, told = Surfaces(sculpt), [], []
    for line in sorted((o for o in scene.objects if guides.is_guide(o)), key=lambda o: o.name):
        if not guides.is_loose(line) or line.foamwright.leave_out:
            continue
        lines = _read(line, guides.matrix(line), mm, -1)
        points = np.concatenate([np.empty((0, 3)), *(g.points for g in lines)])
        home = surfaces.home(points, off=OFF / scale)
        found += [replace(g, object=home) for g in lines if home >= 0]
        if home < 0:
            told.append(Finding(
                "line-without-sculpt", NOTE,
                f"The line “{line.name}” belongs to no sculpt and was left out.",
                "Parent it to its sculpt again with Object > Parent > Object (Keep Transform), or "
                "delete it."))
    return found, told


def without_lines(items: Sequence[bpy.types.Object], sculpt: Sculpt,
                  firsts: Sequence[int]) -> list[Finding]:
    """What to say about objects that have the mesh of another but none of its lines, as a copy
    has that was made of the sculpt alone. firsts: the first sculpt vertex of each object."""
    drawn = {guide.object for guide in sculpt.guides}
    told = []
    for number, item in enumerate(items):
        alike = next((items[i].name for i in sorted(drawn) if number not in drawn
                      and _same_mesh(items[i].data, item.data)), None)
        if alike is not None:
            told.append(Finding(
                "lines-not-copied", NOTE,
                f"“{item.name}” has the mesh of “{alike}”, but none of the lines drawn on it.",
                "If it shall have them, delete it and duplicate the sculpt with its lines "
                "selected as well.", vertices=[firsts[number]]))
    return told


def _same_mesh(one: bpy.types.Mesh, other: bpy.types.Mesh) -> bool:
    if one == other:
        return True
    if not len(one.vertices) or any(len(getattr(one, kind)) != len(getattr(other, kind))
                                    for kind in ("vertices", "edges", "polygons")):
        return False
    places = np.empty((2, 3 * len(one.vertices)), dtype=np.float32)
    for mesh, place in zip((one, other), places, strict=True):
        mesh.attributes["position"].data.foreach_get("vector", place)
    return np.array_equal(places[0], places[1])


def _read(line: bpy.types.Object, place: np.ndarray, mm: float, number: int) -> list[Guide]:
    lines = [((points @ place[:3, :3].T + place[:3, 3]) * mm, closed)
             for points, closed in guides.polylines(line)]
    if not all(np.isfinite(points).all() for points, _ in lines):
        raise FoamError(Finding(
            "line-nowhere", ERROR,
            f"The line “{line.name}” has a point with a coordinate that is no number.",
            "Delete that point in Edit Mode, or delete the line and draw it again."))
    return [Guide(points, KINDS[line.foamwright.guide], closed, number, line.name,
                  guides.join_of(line), finish_of(line))
            for points, closed in lines]
