"""Polygons as a file lists them -> a sculpt: welded, triangulated, its objects apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core import mesh
from ..core.errors import NOTE, Finding
from ..core.model import Sculpt, SculptObject
from .polygons import triangulate

WELD = 1e-6  # of the diagonal: points closer than this are one


@dataclass(frozen=True, eq=False)
class RawMesh:
    """What a file holds. points (n, 3); corners (k,) point indices of all polygons one
    after another; sizes (p,) corners of each polygon; object_of (p,) index into
    names; unit and up: what the format fixes, None where it does not."""

    points: np.ndarray
    corners: np.ndarray
    sizes: np.ndarray
    object_of: np.ndarray
    names: tuple[str, ...] = ("",)
    unit: str | None = None
    up: str | None = None

    def __post_init__(self):
        if len(self.corners) and not (
                0 <= self.corners.min() and self.corners.max() < len(self.points)):
            raise ValueError("a face refers to a point that does not exist")
        if len(self.sizes) and self.sizes.min() < 3:
            raise ValueError("a face has fewer than three corners")


def assemble(raw: RawMesh, points: np.ndarray, fallback: str,
             findings: Sequence[Finding]) -> Sculpt:
    """The sculpt of a file's polygons on points (n, 3) in mm; fallback names what has no name."""
    faces, polygon = triangulate(points, raw.corners, raw.sizes)
    object_of = raw.object_of[polygon]
    points, owner, faces = _apart(points, object_of, faces)
    points, faces = _weld(points, owner, faces)
    kept, notes = _sound(faces)
    used, object_of = np.unique(object_of[kept], return_inverse=True)
    return Sculpt(
        vertices=points, faces=faces[kept], edges=np.empty((0, 2)), kinds=(),
        face_object=object_of.ravel(),
        objects=tuple(SculptObject(raw.names[i] or fallback) for i in used),
        polygon=polygon[kept], findings=(*findings, *notes))


def _apart(points: np.ndarray, object_of: np.ndarray,
           faces: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points (n', 3), the object (n',) that owns each, and faces: no point in two objects.

    Points of no object keep their place, owned by -1.
    """
    count = len(points)
    corner = np.repeat(object_of, 3) * count + faces.ravel()
    owned, index = np.unique(corner, return_inverse=True)
    loose = np.setdiff1d(np.arange(count), owned % count)
    source = np.concatenate([owned % count, loose])
    owner = np.concatenate([owned // count, np.full(len(loose), -1)])
    order = np.lexsort((owner, source))  # the order of the file where nothing was doubled
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return points[source[order]], owner[order], rank[index.ravel()].reshape(-1, 3)


def _weld(points: np.ndarray, owner: np.ndarray,
          faces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points and faces with the coincident points of each object made one, the first of them."""
    from scipy.spatial import cKDTree

    finite = np.flatnonzero(np.isfinite(points).all(axis=1))
    if len(finite) == 0:
        return points, faces
    diagonal = float(np.linalg.norm(np.ptp(points[finite], axis=0))) or 1.0
    # Objects lie apart along a fourth axis, so that they never weld to one another.
    place = np.column_stack([points[finite], owner[finite] * diagonal]) + 0.0
    order = np.lexsort(place.T)
    fresh = np.append(True, (np.diff(place[order], axis=0) != 0).any(axis=1))
    group = np.empty(len(order), dtype=np.int64)
    group[order] = np.cumsum(fresh) - 1
    near = cKDTree(place[order[fresh]]).query_pairs(WELD * diagonal, output_type="ndarray")
    _, label = mesh.components(int(fresh.sum()), near)
    first = np.full(len(points), -1, dtype=np.int64)
    first[finite] = label[group]
    nowhere = first < 0
    first[nowhere] = first.max() + 1 + np.arange(int(nowhere.sum()))
    _, keep, index = np.unique(first, return_index=True, return_inverse=True)
    order = np.argsort(keep)
    rank = np.empty(len(keep), dtype=np.int64)
    rank[order] = np.arange(len(keep))
    return points[keep[order]], rank[index.ravel()][faces]


def _sound(faces: np.ndarray) -> tuple[np.ndarray, list[Finding]]:
    """Indices of the faces to keep, and notes of those that welding left out."""
    notes = []
    collapsed = (faces == np.roll(faces, 1, axis=1)).any(axis=1)
    kept = np.flatnonzero(~collapsed)
    # Start every face at its lowest corner: equal rows then are equal faces wound alike.
    turn = (faces[kept].argmin(axis=1)[:, None] + np.arange(3)) % 3
    _, first = np.unique(np.take_along_axis(faces[kept], turn, axis=1), axis=0,
                         return_index=True)
    repeated = len(kept) - len(first)
    for number, code, what in (
            (int(collapsed.sum()), "collapsed-face", "had two corners at one point"),
            (repeated, "repeated-face", "lay twice at the same place")):
        if number:
            notes.append(Finding(
                code, NOTE, f"{number} face{'s' * (number > 1)} of the file {what} and "
                f"{'were' if number > 1 else 'was'} left out.",
                "Nothing needs to be done unless something is missing."))
    return kept[np.sort(first)], notes
