"""Overlaps: the piece that lies outside gets the foam with which it reaches over its mate.

A strip `lap` wide is added along its edge, which is then cut square. It lies `lift` further out
than the sculpt, so its outer edge is `longer` than the seam, half of that at either end. On its
mate a line tells where that edge comes to lie, with ticks for its notches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from .. import mesh
from ..model import OVERLAP, Join, Mate, Notch, Piece, PieceEdge, Place, Tick

_INTO = 0.5  # mm by which a strip reaches into the piece, besides its bevel, so that both are one


def lapped(pieces: Sequence[Piece], mates: Sequence[Mate]) -> tuple[Piece, ...]:
    """The pieces with their overlaps. Those that have one, and all that were cut from the same
    template, get templates of their own, since the others need not overlap alike."""
    over = [m for m in mates if m.join.kind == OVERLAP]
    if not over:
        return tuple(pieces)
    touched = {code for m in over for code, _ in m.edges}
    shared = {p.template for p in pieces if p.code in touched}
    known = {p.code: alone(p) if p.template in shared or p.code in touched else p for p in pieces}
    for mate in over:
        (a, i), (b, j) = mate.edges if mate.edges[0][0] == mate.join.over else mate.edges[::-1]
        known[a] = _reaching(known[a], i, mate.join)
        known[b] = _told(known[b], j, a, mate.join)
    return tuple(known[p.code] for p in pieces)


def alone(piece: Piece) -> Piece:
    """A piece with a template of its own, and only what is glued on itself shown on it."""
    places = []
    for place in piece.places:
        own = [k for k, on in enumerate(place.on) if on == piece.code]
        if own:
            places.append(replace(place, of=tuple(place.of[k] for k in own),
                                  on=tuple(place.on[k] for k in own)))
    return replace(piece, template=piece.code, copies=1, mirrored=0, flipped=False, turn=0.0,
                   places=tuple(places))


def _reaching(piece: Piece, index: int, join: Join) -> Piece:
    edge = piece.edges[index]
    line = _outer(piece, edge.points, join)
    inner = edge.points - outward(edge.points, piece) * (
        np.abs(np.tan(edge.bevel)).max() * piece.stock.thickness + _INTO)
    strip = shapely.make_valid(shapely.Polygon(np.concatenate([inner, line[::-1]])))
    rings = {face: _joined(getattr(piece, face), strip) for face in ("front", "back", "cut")}
    edges = list(piece.edges)
    edges[index] = replace(edge, cut=line, larger="", lap=join.lap)
    notches = tuple(_moved(n, edge, line) if _is_on(n, edge) else n for n in piece.notches)
    outer = shapely.Polygon(rings["cut"][0], rings["cut"][1:])
    return replace(piece, **rings, edges=tuple(edges), notches=notches, area=float(outer.area))


def _told(piece: Piece, index: int, over: str, join: Join) -> Piece:
    """With the line on its face that the edge of the piece over it comes to."""
    edge = piece.edges[index]
    line = edge.points - outward(edge.points, piece) * join.lap
    ticks = tuple(Tick(_at(line, _share(edge, n)), n.inward, n.index)
                  for n in piece.notches if _is_on(n, edge))
    return replace(piece, places=(*piece.places, Place(
        (line,), ticks, edge.letter, (over,), (piece.code,))))


def _outer(piece: Piece, points: np.ndarray, join: Join) -> np.ndarray:
    """The line `lap` outside of an edge (k, 2), `longer` than that, half of it at each end."""
    line = points + outward(points, piece) * join.lap
    if np.allclose(points[0], points[-1]) or join.longer <= 0:
        return line
    along = mesh.arc_length(points) / max(mesh.polyline_length(points), 1e-9)
    step = np.gradient(points, axis=0)
    way = step / np.maximum(np.linalg.norm(step, axis=1), 1e-12)[:, None]
    return line + way * ((along - 0.5) * join.longer)[:, None]


def outward(points: np.ndarray, piece: Piece) -> np.ndarray:
    """Unit vectors (k, 2) square to an edge (k, 2), away from the foam of its piece."""
    step = np.gradient(points, axis=0)
    step /= np.maximum(np.linalg.norm(step, axis=1), 1e-12)[:, None]
    out = np.stack([step[:, 1], -step[:, 0]], axis=1)
    # A twin that lies turned over may run the other way round.
    body = shapely.Polygon(np.concatenate([e.points for e in piece.edges]))
    k = len(points) // 2
    return -out if body.contains(shapely.Point(points[k] + 0.1 * out[k])) else out


def _joined(rings: tuple[np.ndarray, ...], strip: shapely.Geometry) -> tuple[np.ndarray, ...]:
    """The rings of a face with a strip that overlaps it; holes keep their order."""
    whole = shapely.union(shapely.make_valid(shapely.Polygon(rings[0], rings[1:])), strip)
    body = max(shapely.get_parts(whole), key=shapely.area)
    body = shapely.Polygon(body.exterior, [hole for hole in body.interiors
                                           if shapely.Polygon(hole).area > 1])
    body = shapely.orient_polygons(body)
    return tuple(np.asarray(ring.coords)[:-1] for ring in (body.exterior, *body.interiors))


def _is_on(notch: Notch, edge: PieceEdge) -> bool:
    return notch.letter == edge.letter and shapely.distance(
        shapely.LineString(edge.cut), shapely.Point(notch.point)) < 0.01


def _share(edge: PieceEdge, notch: Notch) -> float:
    """How far along its edge a notch is, 0 to 1."""
    return float(shapely.line_locate_point(
        shapely.LineString(edge.cut), shapely.Point(notch.point), normalized=True))


def _at(line: np.ndarray, share: float) -> np.ndarray:
    along = mesh.arc_length(line)
    return np.array([np.interp(share * along[-1], along, x) for x in line.T])


def _moved(notch: Notch, edge: PieceEdge, line: np.ndarray) -> Notch:
    return replace(notch, point=_at(line, _share(edge, notch)))
