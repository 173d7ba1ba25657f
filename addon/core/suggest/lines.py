"""The lines of a parting as guides on the maker's own surface, or as marks on the working one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..model import SEAM, TRENCH, Guide, Sculpt
from ..trace.surface import Surface
from .merge import Parting

APART = 20.0  # mm between the points of a guide where it is smooth
STRAY = 0.3  # mm by which leaving points out may move it


def guides_of(parting: Parting, sculpt: Sculpt, faces: np.ndarray,
              folds: Sequence[np.ndarray] = ()) -> list[Guide]:
    """Guides on some faces (k,) of the sculpt: its seams, and trenches where creases stay that
    are none yet, and along folds, each (j, 3)."""
    working = parting.working
    surface = Surface(sculpt.vertices, sculpt.faces[faces])
    thing = sculpt.face_object[working.source]
    of_vertex = np.zeros(len(working.points), dtype=np.int64)
    of_vertex[working.faces] = thing[:, None]
    guides = []
    trenches = working.crease & ~parting.seams & ~working.trench
    for kind, chosen in ((SEAM, parting.seams), (TRENCH, trenches)):
        for path in mesh.chains(working.edges[chosen]) if chosen.any() else []:
            points = surface.nearest(working.points[path]).points
            closed = bool(path[0] == path[-1])
            points = _thinned(points)
            if closed:
                points = points[:-1]
            guides.append(Guide(points, kind, closed, int(of_vertex[path[0]])))
    for line in folds:
        there = surface.nearest(line)
        guides.append(Guide(there.points, TRENCH,
                            object=int(sculpt.face_object[faces[there.face[0]]])))
    return guides


def marked(parting: Parting, sculpt: Sculpt, folds: Sequence[np.ndarray] = ()) -> Sculpt:
    """The working surface with the lines as marked edges, those that the sculpt has, and folds,
    each (k, 3), along edges; its faces tell which of the sculpt's they stand for."""
    working = parting.working
    _, first = np.unique(working.sewn, return_index=True)
    seam, trench = parting.seams, working.crease & ~parting.seams
    seams, trenches = (working.sewn[working.edges[chosen]] for chosen in (seam, trench))
    points = working.points[first]
    paths = [_vertices(points, line) for line in folds]
    trenches = np.concatenate([trenches, *(np.stack([p[:-1], p[1:]], axis=1) for p in paths)])
    edges = np.concatenate([seams, working.kept, trenches])
    kinds = np.repeat([SEAM, SEAM, TRENCH], [len(seams), len(working.kept), len(trenches)])
    source = working.source
    return replace(sculpt, vertices=points, faces=working.sewn[working.faces],
                   edges=np.sort(edges, axis=1), kinds=kinds, polygon=sculpt.polygon[source],
                   face_object=sculpt.face_object[source], origin=sculpt.origin[source], guides=(),
                   uncut=(), parent=())


def together(parts: Sequence[Sculpt]) -> Sculpt:
    """Marked surfaces of parts of one sculpt as one."""
    first = np.cumsum([0, *(len(part.vertices) for part in parts)])
    joined = {name: np.concatenate([getattr(part, name) for part in parts])
              for name in ("vertices", "kinds", "face_object", "polygon", "origin")}
    for name in ("faces", "edges"):
        joined[name] = np.concatenate([getattr(part, name) + start for part, start
                                       in zip(parts, first, strict=False)])
    return replace(parts[0], **joined)


def _vertices(points: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Which of the points (n, 3) those of a line (k, 3) are."""
    from scipy.spatial import cKDTree

    return cKDTree(points).query(line)[1]


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
