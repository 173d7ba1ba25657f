"""The seams and trenches of a parting as guides on the maker's own surface."""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..model import SEAM, TRENCH, Guide, Sculpt
from ..trace.surface import Surface
from .merge import Parting

APART = 20.0  # mm between the points of a guide where it is smooth
STRAY = 0.3  # mm by which leaving points out may move it


def guides_of(parting: Parting, sculpt: Sculpt, faces: np.ndarray) -> list[Guide]:
    """Guides on some faces (k,) of the sculpt: its seams, and trenches where creases stay."""
    working = parting.working
    surface = Surface(sculpt.vertices, sculpt.faces[faces])
    thing = sculpt.face_object[working.source]
    of_vertex = np.zeros(len(working.points), dtype=np.int64)
    of_vertex[working.faces] = thing[:, None]
    guides = []
    for kind, chosen in ((SEAM, parting.seams), (TRENCH, working.crease & ~parting.seams)):
        for path in mesh.chains(working.edges[chosen]) if chosen.any() else []:
            points = surface.nearest(working.points[path]).points
            closed = bool(path[0] == path[-1])
            points = _thinned(points)
            if closed:
                points = points[:-1]
            guides.append(Guide(points, kind, closed, int(of_vertex[path[0]])))
    return guides


def _thinned(points: np.ndarray) -> np.ndarray:
    """Some of the points of a line (k, 3), so that none left out lies further than STRAY from
    the chord, and no chord is longer than APART unless an edge of the line is."""
    kept = [0]
    while kept[-1] < len(points) - 1:
        first = last = kept[-1]
        for nxt in range(first + 1, len(points)):
            chord = points[nxt] - points[first]
            size = max(float(np.linalg.norm(chord)), 1e-300)
            off = np.linalg.norm(np.cross(points[first:nxt] - points[first], chord / size), axis=1)
            if nxt > first + 1 and (size > APART or off.max() > STRAY):
                break
            last = nxt
        kept.append(last)
    return points[kept]
