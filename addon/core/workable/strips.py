"""Parts of a piece that are too slender: narrower than the foam is thick, or long and thin.

What a disc of some width cannot reach from inside an outline is narrower than the disc
(the outline minus its morphological opening). Convex corners leave a crumb as well; it
tapers to a point, which a strip does not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..errors import NOTE, WARNING, Finding
from ..inset import inset
from ..model import Piece, Region
from ..units import format_length

LONG = 2.0  # thicknesses over which a narrow strip bends and tears when handled; common practice
SLENDER = 3.0  # thicknesses below which a strip may be awkward; common practice
RATIO = 4.0  # widths, and thicknesses, of length beyond which it is; common practice
TAPER = 0.65  # mean over greatest width: 1/2 for a tip that tapers to a point, 1 for a strip
SLACK = 0.01  # of the disc's radius: the rounding of discs drawn as polygons is below it


@dataclass(frozen=True, eq=False)
class Part:
    """A narrow part: its shape, mean width and length, what it hangs on at each of its ends,
    and, where it has one end, the two points (2, 2) of that neck."""

    shape: object
    width: float
    length: float
    bodies: tuple
    neck: np.ndarray | None

    @property
    def tapers(self) -> bool:
        return not inset(self.shape, self.width / (2 * TAPER)).is_empty


def narrow_strips(piece: Piece, region: Region) -> list[Finding]:
    """`narrow-strip`: strips, and bridges beside holes, narrower than the foam is thick."""
    found = []
    t = piece.stock.thickness
    for part in _narrow_parts(piece, t):
        bridge = len(part.bodies) > 1
        width = _gap(part) if bridge else part.width
        if part.bodies and not bridge and (part.length < LONG * t or part.tapers):
            continue
        what = "A bridge of foam" if bridge else "A strip" if part.bodies else "The whole piece"
        found.append(Finding(
            "narrow-strip", WARNING,
            f"{what} is only {format_length(width)} wide over {format_length(part.length)}, "
            f"narrower than the foam is thick ({format_length(t)}); it tears and twists.",
            "Widen it, move the hole or seam beside it, or use thinner foam.",
            faces=_faces_in(piece, part.shape), piece=piece.code))
    return found


def awkward_strips(piece: Piece, region: Region) -> list[Finding]:
    """`awkward-strip`: a long thin strip on a larger piece, with the cut that parts them."""
    found = []
    for part in _narrow_parts(piece, SLENDER * piece.stock.thickness):
        if (len(part.bodies) != 1 or part.bodies[0].area < part.shape.area
                or part.length < RATIO * max(part.width, piece.stock.thickness) or part.tapers):
            continue
        proposed = _cut_between(piece, region, part.neck)
        found.append(Finding(
            "awkward-strip", NOTE,
            f"A strip {format_length(part.width)} wide and {format_length(part.length)} long "
            "hangs on a larger piece: it wastes foam on the mat and is easily torn off.",
            "Mark a seam across its neck to cut it as a piece of its own"
            + (", along the edges shown." if len(proposed) else "."),
            edges=proposed, piece=piece.code))
    return found


def _narrow_parts(piece: Piece, width: float) -> list[Part]:
    """The parts of a piece that a disc of the given width cannot reach."""
    import shapely

    radius = width / 2
    outline = shapely.make_valid(shapely.Polygon(piece.cut[0], piece.cut[1:]))
    outline = outline.simplify(SLACK * radius / 2)
    kept = inset(outline, radius * (1 - SLACK)).buffer(radius * (1 + SLACK))
    parts = []
    for shape in _polygons(outline.difference(kept)):
        if shape.area < SLACK * width**2:  # a crumb of a corner
            continue
        ends = _polygons(shape.buffer(SLACK * radius).intersection(kept))
        bodies = tuple(body for end in ends for body in _polygons(kept) if body.intersects(end))
        neck = None
        if len(bodies) == 1:
            shape, neck = _with_straight_neck(shape, kept, SLACK * radius / 10)
        if bodies or kept.is_empty:  # else a scrap of an outline that touches itself
            parts.append(Part(shape, *_mean_size(shape), bodies, neck))
    return parts


def _mean_size(shape) -> tuple[float, float]:
    """Mean width and length of a strip, straight or bent: of the rectangle with the same area
    A and perimeter P: length l = (P/2 + sqrt(P^2/4 - 4 A)) / 2, width A / l."""
    half = shape.length / 2
    length = (half + math.sqrt(max(half**2 - 4 * shape.area, 0.0))) / 2
    return shape.area / length, length


def _gap(part: Part) -> float:
    """Smallest width of a bridge: the distance between its free sides."""
    import shapely

    ends = shapely.union_all(part.bodies).buffer(2 * SLACK * part.width)
    free = shapely.line_merge(part.shape.boundary.difference(ends))
    sides = list(getattr(free, "geoms", [free]))
    return min((a.distance(b) for i, a in enumerate(sides) for b in sides[:i]),
               default=part.width)


def _with_straight_neck(shape, body, touching: float):
    """A part with a straight edge in place of the arc that the disc left where it hangs on its
    body, and that edge (2, 2); the part as it is and None where there is no such edge."""
    import shapely

    ring = np.array(shape.exterior.coords)[:-1]
    on = shapely.distance(shapely.points(ring), body) < touching
    first = np.flatnonzero(on & ~np.roll(on, 1))
    if len(first) != 1 or on.sum() < 2:
        return shape, None
    ring = np.roll(ring, -first[0], axis=0)
    ring = np.concatenate([ring[:1], ring[on.sum() - 1:]])
    straight = shapely.Polygon(ring, shape.interiors)
    return (straight, ring[:2]) if straight.is_valid else (shape, None)


def _cut_between(piece: Piece, region: Region, neck: np.ndarray | None) -> np.ndarray:
    """Edges (k, 2) of the sculpt on the shortest way through a piece from one side of a neck to
    the other; none where no inner edges lead across."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    none = np.empty((0, 2), dtype=np.int64)
    if neck is None:
        return none
    rim = np.unique(np.concatenate([b.vertices for b in region.borders]))
    near = [rim[np.argmin(np.linalg.norm(piece.flat[rim] - p, axis=1))] for p in neck]
    inner, _ = mesh.edge_faces(region.faces)
    size = np.linalg.norm(region.vertices[inner[:, 0]] - region.vertices[inner[:, 1]], axis=1)
    count = len(region.vertices)
    graph = coo_matrix((size, inner.T), shape=(count, count))
    _, previous = dijkstra(graph, directed=False, indices=near[0], return_predecessors=True)
    path = [near[1]]
    while path[-1] != near[0] and previous[path[-1]] >= 0:
        path.append(previous[path[-1]])
    if path[-1] != near[0]:
        return none
    source = region.source_vertex[path]
    return np.stack([source[:-1], source[1:]], axis=1)


def _faces_in(piece: Piece, shape) -> np.ndarray:
    """Faces (k,) of the sculpt of which a part of the flat consists."""
    import shapely

    corner = piece.flat[piece.faces]
    low, high = np.split(np.array(shape.bounds), 2)
    near = np.flatnonzero(((corner.max(axis=1) >= low) & (corner.min(axis=1) <= high)).all(axis=1))
    triangles = shapely.make_valid(shapely.polygons(corner[near]))
    inside = shapely.area(shapely.intersection(triangles, shape)) > 0
    return piece.source_face[near[inside]]


def _polygons(shape) -> list:
    return [g for g in getattr(shape, "geoms", [shape])
            if g.geom_type == "Polygon" and not g.is_empty]
