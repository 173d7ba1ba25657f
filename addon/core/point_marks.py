"""Marks without a cut on the flat pieces: each by its barycentric place in a face of the sculpt."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Protocol

import numpy as np

from . import mesh
from .errors import WARNING, Finding
from .model import DRILL, HOLE, PATCH, Cut, Marking, Piece, PointMark

NEAR = 12  # faces looked at for a place, those whose middles are nearest
ROUND_PARTS = 64  # of a circle
CROSSING = 0.05  # mm by which a mark may reach over the cut line


class Standing(Protocol):
    """A mark that is set out on the sculpt, see trace.Stand."""

    marking: Marking
    number: int
    object: int
    place: np.ndarray
    way: np.ndarray


def on_flats(cut: Cut, flats: Sequence[np.ndarray], stands: Sequence[Standing]
             ) -> list[tuple[PointMark, ...]]:
    """The marks of each region on its flat (n, 2)."""
    marks: list[list[PointMark]] = [[] for _ in cut.regions]
    for thing, mine in _by_object(stands).items():
        of = [r for r, region in enumerate(cut.regions) if region.object == thing]
        if not of:
            continue
        places = np.array([stand.place for stand in mine])
        region, face, weights = _nearest(cut, of, places)
        for stand, r, f, w in zip(mine, region, face, weights, strict=True):
            corner = cut.regions[r].faces[f]
            flat, solid = flats[r][corner], cut.regions[r].vertices[corner]
            marks[r].append(PointMark(
                stand.marking.kind, stand.marking.name, stand.number, w @ flat,
                _on_flat(solid, flat, stand.way), stand.marking.size, stand.marking.stock,
                stand.place))
    return [tuple(found) for found in marks]


def _by_object(stands: Sequence[Standing]) -> dict[int, list[Standing]]:
    groups = defaultdict(list)
    for stand in stands:
        groups[stand.object].append(stand)
    return groups


def _nearest(cut: Cut, of: Sequence[int], places: np.ndarray
             ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Region (k,), face (k,) in it and weights (k, 3) of the points nearest to places (k, 3)."""
    from scipy.spatial import cKDTree

    corners = np.concatenate([cut.regions[r].vertices[cut.regions[r].faces] for r in of])
    region = np.concatenate([np.full(len(cut.regions[r].faces), r) for r in of])
    face = np.concatenate([np.arange(len(cut.regions[r].faces)) for r in of])
    middle = corners.mean(axis=1)
    reach = float(np.linalg.norm(corners - middle[:, None], axis=2).max())
    tree = cKDTree(middle)
    best, weight = np.empty(len(places), dtype=np.int64), np.empty((len(places), 3))
    for k, place in enumerate(places):
        near = np.atleast_1d(tree.query(place, min(NEAR, len(middle)))[1])
        first = _feet(corners[near], place)[1].min()
        near = np.array(sorted(tree.query_ball_point(place, first + reach)))  # none is nearer
        part, away = _feet(corners[near], place)
        best[k], weight[k] = near[away.argmin()], part[away.argmin()]
    return region[best], face[best], weight


def _feet(corners: np.ndarray, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    part = mesh.nearest_weights(corners, np.repeat(place[None], len(corners), axis=0))
    foot = np.einsum("ij,ijk->ik", part, corners)
    return part, np.linalg.norm(foot - place, axis=1)


def _on_flat(solid: np.ndarray, flat: np.ndarray, way: np.ndarray) -> np.ndarray:
    """The unit direction (2,) on a flat triangle that a way (3,) has on the triangle it came
    from."""
    sides = np.stack([solid[1] - solid[0], solid[2] - solid[0]])
    share = np.linalg.lstsq(sides.T, way, rcond=None)[0]
    found = share @ np.stack([flat[1] - flat[0], flat[2] - flat[0]])
    return found / max(np.hypot(*found), 1e-12)


def outline(mark: PointMark) -> np.ndarray:
    """The ring (k, 2) of what a mark stands for: a circle, a slot with round ends, or the
    rectangle of a patch; empty where it has no size."""
    length, width = mark.size
    if mark.kind == DRILL or min(length, width) <= 0:
        return np.empty((0, 2))
    side = np.array((-mark.along[1], mark.along[0]))
    if mark.kind == PATCH:
        half = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)]) * mark.size / 2
    else:
        r = min(length, width) / 2
        turn = 2 * np.pi * np.arange(ROUND_PARTS) / ROUND_PARTS
        half = r * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        if length != width:
            shift = np.array((max(length - width, 0.0), max(width - length, 0.0))) / 2
            half = _hull(np.concatenate([half + shift, half - shift]))
    return mark.point + half @ np.stack([mark.along, side])


def _hull(points: np.ndarray) -> np.ndarray:
    from scipy.spatial import ConvexHull

    return points[ConvexHull(points).vertices]


def findings(piece: Piece) -> list[Finding]:
    """Marks that reach over the cut line of their piece, or stand on it: one finding for each
    marking, with the faces they stand on."""
    import shapely

    if not piece.point_marks:
        return []
    body = shapely.make_valid(shapely.Polygon(piece.cut[0], piece.cut[1:]))
    room = body.buffer(CROSSING)
    shapely.prepare(room)
    lost: dict[tuple[str, str], list[PointMark]] = defaultdict(list)
    for mark in piece.point_marks:
        ring = outline(mark)
        shape = shapely.Polygon(ring) if len(ring) else shapely.Point(mark.point)
        inside = room.covers(shape) and body.boundary.distance(shapely.Point(mark.point)) > CROSSING
        if not inside:
            lost[mark.name, mark.kind].append(mark)
    centre = piece.vertices[piece.faces].mean(axis=1)
    return [Finding(
        "mark-over-edge", WARNING,
        f"“{name}”, {kind} {', '.join(str(m.number) for m in marks)}, reaches over an edge of the "
        "piece." + (" A hole there cuts the edge open." if kind == HOLE else ""),
        "Move it off the seam or rim, or set its row farther beside the line.",
        faces=piece.source_face[[int(np.linalg.norm(centre - m.place, axis=1).argmin())
                                 for m in marks]], piece=piece.code)
        for (name, kind), marks in lost.items()]
