"""Lines bound to the polygons they were drawn on, so that they go along with the surface.

What a line is bound to is kept on its curve: places in the polygons of the object's own mesh,
one every few mm along the line, with the curve's points as they were then. While the mesh keeps
its polygons, modifiers, shape keys and strokes may move and divide them as they like. A curve that
was edited since, and one whose mesh has other polygons now, counts as it stands, as near to the
surface as it is, and is bound anew.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import cached_property

import bpy
import numpy as np

from ..core import mesh as kernels
from ..core import trace
from ..core.errors import FoamError
from ..core.trace.home import OFF
from ..core.trace.places import regular
from .triangles import triangles

ATTRIBUTE = "foamwright_place"  # on working copies only: where each corner lies in its polygon
_KEY = "foamwright_anchors"  # on curves
_EVERY, _MOST = 5.0, 400  # mm of suit between the anchors of a line; how many, but for its points
_STILL = 1e-6  # of the object's size: a surface or a point moved less has not moved
_FINE = 0.05  # mm of suit: how near to the line the curve runs between its points

Polylines = list[tuple[np.ndarray, bool]]  # points (k, 3), and whether it is closed


@dataclass(frozen=True, eq=False)
class Ground:
    """An object's surface as it is seen, in mm of the world, for lines to be bound to.

    mesh: digest of the polygons; matrix (4, 4): from the object's own space to mm of the world.
    scale: of the suit, which is built so many times as large as the world shows it.
    """

    places: trace.Places
    mesh: str
    matrix: np.ndarray
    scale: float = 1.0

    def inside(self, points: np.ndarray) -> np.ndarray:
        """Points (k, 3) of the world in the object's own space."""
        back = np.linalg.inv(self.matrix)
        return points @ back[:3, :3].T + back[:3, 3]

    @cached_property
    def still(self) -> float:
        """How far in the object's own space a point may be off that has not moved."""
        return _STILL * float(np.ptp(self.inside(self.places.vertices), axis=0).max(initial=0.0))


def digest(mesh: bpy.types.Mesh) -> str:
    """What tells the polygons of a mesh from those of another, wherever their corners lie."""
    corners = np.empty(len(mesh.loops), dtype=np.int32)
    starts = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.loops.foreach_get("vertex_index", corners)
    mesh.polygons.foreach_get("loop_start", starts)
    found = hashlib.blake2b(f"{len(mesh.vertices)} {len(starts)} ".encode(), digest_size=16)
    found.update(corners.tobytes() + starts.tobytes())
    return found.hexdigest()


def prepare(mesh: bpy.types.Mesh) -> None:
    """Let a working copy tell where its corners lie in their polygons, whatever becomes of it."""
    if old := mesh.attributes.get(ATTRIBUTE):
        mesh.attributes.remove(old)
    corners = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", corners)
    place = np.zeros((len(mesh.loops), 3), dtype=np.float32)
    place[:, :2] = regular(corners)
    # No UV map (FLOAT2), whose islands modifiers would smooth.
    mesh.attributes.new(ATTRIBUTE, "FLOAT_VECTOR", "CORNER").data.foreach_set(
        "vector", place.ravel())


def corner_places(mesh: bpy.types.Mesh, loops: np.ndarray) -> np.ndarray | None:
    """Where the corners (t, 3, 2) of a working copy's triangles lie in the polygons it had; None
    where modifiers have lost that. loops (t, 3): of these triangles."""
    attribute = mesh.attributes.get(ATTRIBUTE)
    if attribute is None or (attribute.domain, attribute.data_type) != ("CORNER", "FLOAT_VECTOR"):
        return None
    place = np.empty(3 * len(mesh.loops), dtype=np.float32)
    attribute.data.foreach_get("vector", place)
    return place.reshape(-1, 3)[loops, :2]


def bare(mesh: bpy.types.Mesh, matrix: np.ndarray) -> Ground:
    """A mesh without modifiers as ground. matrix (4, 4): from its space to mm of the world."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    divided = triangles(mesh)
    corners = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", corners)
    points = points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]
    return Ground(trace.Places(points, divided.vertices, divided.polygon,
                               regular(corners)[divided.loops]), digest(mesh), matrix)


# --- of one line -------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Bond:
    """What a line is bound to.

    mesh: digest of the polygons; on_parent (4, 4): how the line hung on its object; closed (l,)
    and ends (l,): of each polyline, and where its anchors end; anchors (k,): along the line;
    bound (k, 3): where they lay, in the object's own space; drawn (p,): which of them are the
    points that the line was drawn through, and original (p, 3): where it had these, in its own
    space, on the surface or near it; shown (q,): those that its curve has now, and curve (q, 3):
    where, with stops (l,): where those of each end.
    """

    mesh: str
    on_parent: np.ndarray
    closed: np.ndarray
    ends: np.ndarray
    anchors: trace.Anchors
    bound: np.ndarray
    drawn: np.ndarray
    original: np.ndarray
    shown: np.ndarray
    curve: np.ndarray
    stops: np.ndarray

    def kept(self, ground: Ground, polylines: Polylines,
             on_parent: np.ndarray) -> np.ndarray | None:
        """Which points (q,) of the line's curve are where it was bound; None where the polygons
        or the line are others now."""
        if self.mesh != ground.mesh or not np.allclose(on_parent, self.on_parent, atol=1e-5):
            return None
        if [closed for _, closed in polylines] != self.closed.astype(bool).tolist() or (
                np.cumsum([len(points) for points, _ in polylines]).tolist()
                != self.stops.tolist()):
            return None
        now = np.concatenate([points for points, _ in polylines])
        return np.abs(now - self.curve).max(axis=1) <= _STILL * max(np.abs(now).max(), 1e-12)

    def now(self, ground: Ground) -> np.ndarray | None:
        """Where all anchors lie (k, 3) in mm of the world; None where their polygons are not
        there."""
        return ground.places.points(self.anchors)

    def moved(self, ground: Ground, points: np.ndarray) -> bool:
        """Has the surface changed its shape where the anchors lie now (k, 3)?"""
        return bool(np.abs(ground.inside(points) - self.bound).max() > ground.still)

    def as_drawn(self, place: np.ndarray) -> list[np.ndarray]:
        """The points (k, 3) of each polyline as they were drawn, by a matrix (4, 4) elsewhere."""
        points = self.original @ place[:3, :3].T + place[:3, 3]
        return np.split(points, np.searchsorted(self.drawn, self.ends[:-1]))

    def shape(self, points: np.ndarray, scale: float) -> np.ndarray:
        """Which anchors (q,) a curve needs to look like the line through all of them (k, 3), on
        ground of that scale."""
        kept = []
        starts = np.append(0, self.ends[:-1])
        for start, end, closed in zip(starts, self.ends, self.closed.astype(bool), strict=True):
            ring = np.arange(start, end)
            if closed:
                ring = np.append(ring, start)
            which = trace.needed(points[ring], _FINE / scale)
            kept.append(np.union1d(ring[which], ring[np.isin(ring, self.drawn)]))
        return np.concatenate(kept)

    def on_curve(self, shown: np.ndarray, polylines: Polylines) -> Bond:
        """The same, with other anchors (q,) as the points of the curve, polylines in its space."""
        return replace(self, shown=shown, curve=np.concatenate([p for p, _ in polylines]),
                       stops=np.cumsum([len(p) for p, _ in polylines]))

    def parts(self, chosen: np.ndarray) -> list[np.ndarray]:
        """Chosen anchors (q,), in order, those of each polyline."""
        return np.split(chosen, np.searchsorted(chosen, self.ends[:-1]))


def load(curve: bpy.types.Curve) -> Bond | None:
    """What a curve is bound to, None where it is not."""
    kept = curve.get(_KEY)
    if kept is None:
        return None
    array = lambda name, *shape: np.array(kept[name]).reshape(*shape)  # noqa: E731
    return Bond(
        kept["mesh"], array("on_parent", 4, 4), array("closed", -1), array("ends", -1),
        trace.Anchors(array("polygon", -1), array("place", -1, 2), array("copy", -1)),
        array("bound", -1, 3), array("drawn", -1), array("original", -1, 3),
        array("shown", -1), array("curve", -1, 3), array("stops", -1))


def store(curve: bpy.types.Curve, bond: Bond) -> None:
    """Bind a curve."""
    lists = lambda **arrays: {  # noqa: E731
        name: array.ravel().tolist() for name, array in arrays.items()}
    curve[_KEY] = {"mesh": bond.mesh, **lists(
        on_parent=bond.on_parent, closed=bond.closed.astype(int), ends=bond.ends,
        polygon=bond.anchors.polygon, place=bond.anchors.place, copy=bond.anchors.copy,
        bound=bond.bound, drawn=bond.drawn, original=bond.original,
        shown=bond.shown, curve=bond.curve, stops=bond.stops)}


def bind(ground: Ground, world: Polylines, polylines: Polylines,
         on_parent: np.ndarray) -> Bond | None:
    """Bind a line to the surface it lies on; None where a part of it lies on none.

    world, polylines: the line in mm of the world, and in its own space.
    """
    along, drawn, ends = [], [], [0]
    surface = ground.places.surface
    for points, closed in world:
        if len(points) < 2 + closed or not np.isfinite(points).all() or not (
                surface.nearest(points).distance.max() <= OFF / ground.scale):
            return None
        try:
            line = trace.through(surface, points, closed)
        except FoamError:  # parts that do not hang together: told when it is laid
            return None
        at, picks = _spaced(line, _EVERY / ground.scale)
        along.append(at)
        drawn.append(ends[-1] + picks[:len(points)])
        ends.append(ends[-1] + len(at))
    if not along:
        return None
    foot = surface.nearest(np.concatenate(along))
    anchors = ground.places.anchors(foot.face, foot.weights)
    points = ground.places.points(anchors) if anchors is not None else None
    if points is None:
        return None
    drawn, own = np.concatenate(drawn), np.concatenate([points for points, _ in polylines])
    return Bond(ground.mesh, on_parent, np.array([closed for _, closed in polylines]),
                np.array(ends[1:]), anchors, ground.inside(points), drawn, own, drawn, own,
                np.cumsum([len(points) for points, _ in polylines]))


def _spaced(line: trace.SurfaceLine, every: float) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 3) on a line that far apart, and which of them are its picks."""
    along = kernels.arc_length(line.points)
    stops = along[line.picks]
    size = max(every, along[-1] / _MOST)
    count = np.maximum(np.ceil(np.diff(stops) / size), 1).astype(np.int64)
    at = np.concatenate([start + (stop - start) * np.arange(n) / n for start, stop, n
                         in zip(stops[:-1], stops[1:], count, strict=True)])
    picks = np.concatenate([[0], np.cumsum(count)])
    if line.closed:
        picks = picks[:-1]
    else:
        at = np.append(at, stops[-1])
    return np.stack([np.interp(at, along, x) for x in line.points.T], axis=1), picks
