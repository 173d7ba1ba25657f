"""Flat positions -> the lines of a piece: both faces' outlines, bevels, trenches, scores.

The flat of a region is the line of the sculpt's own face. At a seam of fold f both
mates are cut at f/2 from square, so the face that lies d further out reaches
d tan(f/2) further and the inner one as much less. On a concave seam the back is
the larger face, and the stock must be cut to it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from . import fair, mesh
from .errors import ERROR, Finding
from .model import BACK, FRONT, TRENCH, Cut, Fold, Layer, PieceEdge, Region
from .stock import Stock

ALIKE = 5e-4  # share of a seam's length by which its two edges may be drawn unlike
CHORD = 0.02  # mm by which a drawn curve may leave its true line
STEEPEST = math.radians(75.0)  # bevels beyond this are not cut but found fault with
TURN = math.radians(1.0)  # by which a bevel changes, about, from one drawn point to the next
TOUCHING = 1e-3  # mm of overlap along an outline that is rounding, not foam
SQUARE = math.radians(1.0)  # a bevel smaller than this is cut square


@dataclass(frozen=True, eq=False)
class Outline:
    """The lines of one flat piece, see model.Piece."""

    front: tuple[np.ndarray, ...]
    back: tuple[np.ndarray, ...]
    cut: tuple[np.ndarray, ...]
    edges: tuple[PieceEdge, ...]
    folds: tuple[Fold, ...]
    area: float


def outlines(cut: Cut, layers: Sequence[Layer], flats: Sequence[np.ndarray],
             stocks: Sequence[Stock], sides: Sequence[str], web: float, score: float
             ) -> list[Outline]:
    """The lines of all pieces of a cut, the two edges of a seam of one length.

    flats: points (n, 2) of each piece. web, score: foam left under a trench and depth of a
    score line, as fractions of the thickness.

    Curves through the few points of a coarse seam may bulge more on one flat than on its
    mate; there the longer one bulges less, if that makes them alike.
    """
    bulges = [np.ones(len(region.borders)) for region in cut.regions]

    def draw(r: int) -> Outline:
        return outline(cut.regions[r], layers[r], flats[r], stocks[r], sides[r], web, score,
                        bulges[r])

    drawn = [draw(r) for r in range(len(cut.regions))]
    changed = set()
    for seam in cut.seams:
        (shorter, (r, b)), (longer, (q, c)) = sorted(
            (drawn[r].edges[b].length, (r, b)) for r, b in seam.sides)
        border = cut.regions[q].borders[c]
        straight = _touching(layers[q].contact[c],
                             fair.border_map(cut.regions[q], border) @ flats[q])
        # A curve's length beyond its chords grows with the square of its bulge.
        if longer > (1 + ALIKE) * shorter and straight < shorter:
            bulges[q][c] = math.sqrt((shorter - straight) / (longer - straight))
            changed.add(q)
    for r in changed:
        drawn[r] = draw(r)
    return drawn


def outline(region: Region, layer: Layer, points: np.ndarray, stock: Stock, side: str,
            web: float, score: float, bulges: np.ndarray | None = None) -> Outline:
    """All lines of a piece from its flat points (n, 2); bulges: of each border, see `smooth`."""
    front, back = stock.depths(side)
    bulges = np.ones(len(region.borders)) if bulges is None else bulges
    curves, touch = [], []
    for border, fold, contact, bulge in zip(region.borders, layer.folds, layer.contact, bulges,
                                            strict=True):
        bevel = np.clip(fold / 2, -STEEPEST, STEEPEST)
        along = mesh.arc_length(fair.curve(region, border))
        fraction = along / along[-1]
        ring = border.vertices[0] == border.vertices[-1]
        line = fair.border_map(region, border) @ points
        curve, carried = smooth(line,
                                np.stack([bevel, fraction if border.forward else 1 - fraction], 1),
                                ring, bulge)
        curves.append((curve, carried[:, 0], carried[:, 1]))
        touch.append(_touching(contact, line, mesh.polyline_length(curve)))
    reach = [(front * np.tan(b), -back * np.tan(b)) for _, b, _ in curves]
    offsets = {
        FRONT: [r[0] for r in reach],
        BACK: [r[1] for r in reach],
        "cut": [np.maximum(r[0], r[1]) for r in reach],
    }
    rings = {
        face: tuple(_ring([curves[b][0] for b in loop], [offset[b] for b in loop])
                    for loop in region.loops)
        for face, offset in offsets.items()
    }
    edges = []
    for index, (curve, bevel, fraction) in enumerate(curves):
        mean = float(np.mean(bevel))
        edges.append(PieceEdge(
            points=curve, cut=curve + offsets["cut"][index][:, None] * outward(curve),
            fraction=fraction, bevel=bevel,
            length=touch[index],
            larger="" if np.abs(bevel).max() < SQUARE else FRONT if mean > 0 else BACK))
    folds = tuple(_fold(fair.border_map(region, line) @ points, line.kind, fold,
                        stock.thickness, web, score)
                  for line, fold in zip(region.lines, layer.line_folds, strict=True))
    return Outline(rings[FRONT], rings[BACK], rings["cut"], tuple(edges), folds,
                   ring_area(rings["cut"]))


def _touching(contact: np.ndarray, line: np.ndarray, length: float | None = None) -> float:
    """Length of the line in which mates touch beside an edge drawn through `line` (k, 2):
    of its chords, or with the given length of the drawn curve."""
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    whole = step.sum()
    return float(contact @ step) * (1.0 if length is None else length / whole)


def findings(shape: Outline, region: Region, code: str) -> list[Finding]:
    """Overlapping outlines."""
    if not overlaps(shape, region):
        return []
    return [Finding("overlaps-itself", ERROR, "The flat piece overlaps itself.",
                    "Mark a seam that divides it.", faces=region.source_face, piece=code)]


def overlaps(shape: Outline, region: Region) -> bool:
    """Does the flat piece of a region lie over itself?"""
    # The cut outline alone would hide a small overlap: it is freed of small loops.
    line = tuple(np.concatenate([shape.edges[b].points for b in loop])
                 for loop in region.loops)
    return _overlaps(shape.cut) or _overlaps(line)


def _overlaps(rings: tuple[np.ndarray, ...]) -> bool:
    """Do the rings of a piece, the outer one first, cover some place twice, or turn over?

    Where they do, the area they go round differs from the area inside an odd number of
    times. Rings that only touch in a point overlap nothing.
    """
    from shapely import make_valid
    from shapely.geometry import LinearRing, Polygon

    body = Polygon(rings[0], rings[1:])
    if not LinearRing(rings[0]).is_ccw:
        return True
    return not body.is_valid and (
        abs(make_valid(body).area - ring_area(rings)) > TOUCHING * body.length)


# --- curves ------------------------------------------------------------------


def smooth(points: np.ndarray, carried: np.ndarray, ring: bool, bulge: float = 1.0
           ) -> tuple[np.ndarray, np.ndarray]:
    """A smooth curve through points (k, 2), as a polyline within CHORD of it.

    Centripetal Catmull-Rom (Yuksel, Schaefer and Keyser 2011: no loops, no
    overshoot). carried (k, c) is interpolated along it by length; its first column are angles
    by whose tangents faces are set off: they change by about TURN at most between points. ring:
    the curve closes on itself without a corner. bulge: share of its height above its chords
    that it is given.
    """
    before, after = ((points[-2], points[1]) if ring else
                     (2 * points[0] - points[1], 2 * points[-1] - points[-2]))
    wrapped = np.concatenate([[before], points, [after]])
    knot = np.maximum(np.sqrt(np.linalg.norm(np.diff(wrapped, axis=0), axis=1)), 1e-6)[:, None]
    step = np.diff(wrapped, axis=0) / knot
    tangent = ((step[:-1] * knot[1:] + step[1:] * knot[:-1]) / (knot[:-1] + knot[1:]))
    if not ring and len(points) > 2:  # the ends follow the parabola through the last three points
        tangent[0], tangent[-1] = 2 * step[1] - tangent[1], 2 * step[-2] - tangent[-2]
    span = knot[1:-1]
    start, end = tangent[:-1] * span, tangent[1:] * span
    # Each of n parts leaves its chord by at most |second derivative| / (8 n^2), and that is
    # largest at an end of the cubic: 6 d - 4 m0 - 2 m1 and -6 d + 2 m0 + 4 m1.
    step = np.diff(points, axis=0)
    bend = np.maximum(np.linalg.norm(6 * step - 4 * start - 2 * end, axis=1),
                      np.linalg.norm(-6 * step + 2 * start + 4 * end, axis=1))
    turn = np.abs(np.diff(carried[:, 0])) / TURN
    parts = np.clip(np.ceil(np.maximum(np.sqrt(bend / (8 * CHORD)), turn)), 1, 512).astype(int)
    segment = np.repeat(np.arange(len(parts)), parts)
    first = np.repeat(np.cumsum(parts) - parts, parts)
    s = ((np.arange(len(segment)) - first) / parts[segment])[:, None]
    p0, p1 = points[:-1][segment], points[1:][segment]
    curve = ((2 * s**3 - 3 * s**2 + 1) * p0 + (s**3 - 2 * s**2 + s) * start[segment]
             + (-2 * s**3 + 3 * s**2) * p1 + (s**3 - s**2) * end[segment])
    if bulge != 1:
        curve = bulge * curve + (1 - bulge) * ((1 - s) * p0 + s * p1)
    curve = np.concatenate([curve, points[-1:]])
    # Along the curve, which the parameter is not: else notches of mates would not meet.
    step = np.linalg.norm(np.diff(curve, axis=0), axis=1)
    whole = np.bincount(segment, step)
    way = np.cumsum(step) - step - (np.cumsum(whole) - whole)[segment]
    share = (way / np.maximum(whole, 1e-300)[segment])[:, None]
    between = (1 - share) * carried[:-1][segment] + share * carried[1:][segment]
    return curve, np.concatenate([between, carried[-1:]])


def outward(curve: np.ndarray) -> np.ndarray:
    """Unit normals (k, 2) to the right of a curve, away from the foam on its left.

    Square to the parabola through each point and its neighbours, at an end through the last
    three points (divided differences), so that they do not depend on how finely it is drawn.
    """
    step = np.diff(curve, axis=0)
    length = np.maximum(np.linalg.norm(step, axis=1), 1e-12)[:, None]
    along = step / length
    ring = len(curve) > 2 and np.allclose(curve[0], curve[-1])
    if ring:
        along, length = (np.concatenate([v[-1:], v, v[:1]]) for v in (along, length))
    inner = (along[:-1] * length[1:] + along[1:] * length[:-1]) / (length[:-1] + length[1:])
    if not ring:
        ends = [along[k] if len(along) < 2 else 2 * along[k] - inner[k] for k in (0, -1)]
        inner = np.concatenate([ends[:1], inner, ends[1:]])
    inner /= np.maximum(np.linalg.norm(inner, axis=1), 1e-12)[:, None]
    return np.stack([inner[:, 1], -inner[:, 0]], axis=1)


def signed_area(ring: np.ndarray) -> float:
    """Shoelace area, sum (x_i y_i+1 - y_i x_i+1) / 2, of a closed ring (k, 2),
    counter-clockwise positive."""
    x, y = ring.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def ring_area(rings: tuple[np.ndarray, ...]) -> float:
    """Area within the first ring, less that of the others, its holes."""
    return abs(signed_area(rings[0])) - sum(abs(signed_area(ring)) for ring in rings[1:])


def _ring(curves: list[np.ndarray], offsets: list[np.ndarray]) -> np.ndarray:
    """One closed ring from a loop of borders, each moved outward by its own offset."""
    moved = [c + o[:, None] * outward(c) for c, o in zip(curves, offsets, strict=True)]
    if len(curves) > 1 or not np.allclose(curves[0][0], curves[0][-1]) or _turns(curves[0]):
        for i in range(len(curves)):
            j = (i + 1) % len(curves)
            moved[i], moved[j] = _meet(curves[i], offsets[i], moved[i],
                                       curves[j], offsets[j], moved[j], i == j)
    ring = np.concatenate(moved)
    keep = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1) > 1e-6
    return _untangled(ring[keep])


def _turns(curve: np.ndarray) -> bool:
    """Does a closed curve have a corner where it starts?"""
    a, b = curve[1] - curve[0], curve[-1] - curve[-2]
    return float(a @ b) < 0.9 * np.linalg.norm(a) * np.linalg.norm(b)


def _meet(curve, offset, moved, next_curve, next_offset, next_moved, same):
    """Extend or trim two neighbouring offset curves to the corner in which they meet.

    It lies at corner + x with n1 . x = offset and n2 . x = next offset (Cramer's rule).
    """
    corner = curve[-1]
    n1, n2 = outward(curve[-3:])[-1], outward(next_curve[:3])[0]
    det = n1[0] * n2[1] - n1[1] * n2[0]
    if abs(det) < 0.2 or max(abs(offset[-1]), abs(next_offset[0])) < 1e-9:
        return moved, next_moved
    shift = np.array([offset[-1] * n2[1] - next_offset[0] * n1[1],
                      next_offset[0] * n1[0] - offset[-1] * n2[0]]) / det
    longest = 4 * max(abs(offset[-1]), abs(next_offset[0]))
    if np.linalg.norm(shift) > longest:
        return moved, next_moved
    meet = corner + shift
    before = np.array([-n1[1], n1[0]])
    after = np.array([-n2[1], n2[0]])
    moved = np.concatenate([_until(moved, meet, before), [meet]])
    if same:
        return moved, moved
    next_moved = np.concatenate([[meet], _until(next_moved[::-1], meet, -after)[::-1]])
    return moved, next_moved


def _until(curve, point, direction):
    """The curve without the end that has run past a point in the given direction."""
    past = (curve - point) @ direction > -1e-9
    keep = len(curve)
    while keep > 1 and past[keep - 1]:
        keep -= 1
    return curve[:keep]


def _untangled(ring: np.ndarray) -> np.ndarray:
    """The ring without the small loops that offsetting a tight curve leaves.

    A flat that truly overlaps itself keeps its overlap: only loops of less than
    2 % of the area are taken out.
    """
    from shapely import make_valid
    from shapely.geometry import LinearRing, MultiPolygon, Polygon

    if len(ring) < 4 or LinearRing(ring).is_simple:
        return ring
    fixed = make_valid(Polygon(ring))
    parts = [g for g in (fixed.geoms if hasattr(fixed, "geoms") else [fixed])
             if isinstance(g, Polygon | MultiPolygon)]
    if not parts:
        return ring
    largest = max(parts, key=lambda g: g.area)
    area = signed_area(ring)
    if not isinstance(largest, Polygon) or abs(largest.area - abs(area)) > 0.02 * abs(area):
        return ring
    clean = np.array(largest.exterior.coords)[:-1]
    return clean if (signed_area(clean) > 0) == (area > 0) else clean[::-1]


def _fold(path, kind, fold, thickness, web, score) -> Fold:
    """A trench of depth d = t - web closes at the fold f if its mouth is 2 d tan(f/2)
    (derived), or a score line, which has no mouth."""
    curve, carried = smooth(path, fold[:, None], bool(np.allclose(path[0], path[-1])))
    if kind != TRENCH:
        return Fold(curve, carried[:, 0], kind, FRONT, score * thickness, 0.0)
    depth = (1 - web) * thickness
    return Fold(curve, carried[:, 0], kind, BACK if np.median(fold) >= 0 else FRONT, depth,
                float(2 * depth * np.tan(np.abs(carried).max() / 2)))
