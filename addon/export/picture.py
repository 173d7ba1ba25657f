"""A line picture of the suit, or of what of it stands, as vectors in mm.

Pale fills in a few tones, thin seams and marks, a stronger outline, the seam of
the moment thick, the pieces of the moment darker. Hidden lines are left out by a
depth buffer, so nothing needs a graphics card and equal input gives equal output.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from ..core import mesh
from ..core.model import SCORE, TRENCH, Pattern
from .depth import HIDDEN, DepthMap, depth_map

# (azimuth, elevation) of the viewer in degrees: 0, 0 stands before the suit, 90, 0 on its left.
VIEWS = {"front": (0.0, 0.0), "back": (180.0, 0.0), "left": (90.0, 0.0), "right": (-90.0, 0.0)}
CANDIDATES = tuple((a, e) for e in (20.0, -25.0, 50.0)
                   for a in (30.0, -30.0, 90.0, -90.0, 150.0, -150.0))

PALE, DARK = (0.98, 0.95, 0.915, 0.88), (0.80, 0.75, 0.70, 0.65)  # tones, lit to shaded
RESOLUTION = 4.0  # pixels per mm of the depth buffer
_MARGIN = 1.0  # mm of white round the picture
_LIGHT = np.array((-0.35, 0.55, 0.76))  # in the picture's own axes
_LEVELS = (0.80, 0.58, 0.33)  # brightness at which the tone changes


@dataclass(frozen=True, eq=False)
class Fill:
    """An area of one tone: rings (k, 2), the first the outside, the rest holes."""

    rings: tuple[np.ndarray, ...]
    grey: float


@dataclass(frozen=True, eq=False)
class Line:
    """A visible stretch of line: points (k, 2). kind: "outline", "border" (the rim of a
    piece), "mark" (trench or score line) or "seam" (to be glued now)."""

    kind: str
    points: np.ndarray


@dataclass(frozen=True, eq=False)
class Picture:
    """size (w, h) mm, y up. fills are painted in order, then lines. spots: for each piece
    that is seen the middle of its roomiest place and the room around it (x, y, radius);
    seam_spots: for each seam of the moment that is seen, the middle of its seen part."""

    size: tuple[float, float]
    fills: tuple[Fill, ...]
    lines: tuple[Line, ...]
    spots: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    seam_spots: dict[str, tuple[float, float]] = field(default_factory=dict)


def suit_picture(pattern: Pattern, view: str | tuple[float, float], size: tuple[float, float],
                 highlight: Iterable[str] = (), shown: Iterable[str] | None = None,
                 seams: Iterable[str] = (), marks: bool = True) -> Picture:
    """Picture of the pieces `shown` (all of them when None).

    view: a name from VIEWS, or (azimuth, elevation) in degrees; size: (w, h) mm that
    the picture fits; highlight: pieces drawn darker; seams: codes of mates drawn thick;
    marks: draw trenches and score lines. Raises ValueError when nothing is shown.
    """
    scene = Scene(pattern, shown)
    camera = Camera(scene, view, size)
    seen = depth_map(camera.pixels(scene.points), scene.faces, camera.shape)
    mates = [m for m in pattern.mates if m.code in set(seams)]
    lines = [*camera.lines(seen, "border", scene.borders()),
             *(camera.lines(seen, "mark", scene.marks()) if marks else ()),
             *camera.lines(seen, "outline", scene.outlines(camera.toward))]
    spots = {}
    for mate in mates:
        found = camera.lines(seen, "seam", [mate.curve])
        lines += found
        if found:
            spots[mate.code] = _halfway(max(found, key=lambda f: mesh.polyline_length(f.points)))
    return Picture(camera.size, tuple(_fills(scene, camera, seen, set(highlight))), tuple(lines),
                   _roomy(scene, camera, seen), spots)


def best_view(pattern: Pattern, highlight: Iterable[str] = (), shown: Iterable[str] | None = None,
              seams: Iterable[str] = ()) -> tuple[float, float]:
    """The view (azimuth, elevation) that shows most of the seams and highlighted pieces.

    Counts each line as it appears in the picture, so one seen end-on counts little. Of
    the pieces that meet at the seams the one that is seen least counts.
    """
    scene = Scene(pattern, shown)
    seams, highlight = set(seams), set(highlight)
    curves = [m.curve for m in pattern.mates if m.code in seams]
    meeting = {c for m in pattern.mates if m.code in seams for c, _ in m.edges}
    meeting &= {p.code for p in scene.pieces}
    wanted = [i for i, p in enumerate(scene.pieces) if p.code in (meeting or highlight)]
    whole = sum(map(mesh.polyline_length, curves)) or 1.0
    normals, areas = mesh.face_normals(scene.points, scene.faces)
    area = np.bincount(scene.owner, areas, minlength=len(scene.pieces))

    def score(item):
        place, view = item
        camera = Camera(scene, view, (25.0, 25.0))
        seen = depth_map(camera.pixels(scene.points), scene.faces, camera.shape)
        drawn = sum(mesh.polyline_length(line.points)
                    for line in camera.lines(seen, "seam", curves)) / camera.scale / whole
        face = seen.face[seen.face != HIDDEN]
        outside = face[normals[face] @ camera.toward > 0]
        pixels = np.bincount(scene.owner[outside], minlength=len(scene.pieces))
        share = (pixels / (RESOLUTION * camera.scale) ** 2 / np.maximum(area, 1e-9))[wanted]
        clear = (share.min() if meeting else share.mean()) if len(share) else 0.0
        return round(drawn + clear - 0.01 * place, 3)

    return max(enumerate(CANDIDATES), key=score)[1]


class Scene:
    """The triangles of the shown pieces, with the piece of each."""

    def __init__(self, pattern: Pattern, shown: Iterable[str] | None):
        wanted = None if shown is None else set(shown)
        self.pieces = [p for p in pattern.pieces if wanted is None or p.code in wanted]
        if not self.pieces:
            raise ValueError("a picture needs at least one piece")
        self.sculpt = pattern.sculpt
        counts = [len(p.vertices) for p in self.pieces]
        shift = np.concatenate([[0], np.cumsum(counts)])
        self.points = np.concatenate([p.vertices for p in self.pieces])
        self.faces = np.concatenate([p.faces + s
                                     for p, s in zip(self.pieces, shift, strict=False)])
        self.owner = np.repeat(np.arange(len(self.pieces)), [len(p.faces) for p in self.pieces])
        self.source = np.concatenate([p.source_vertex for p in self.pieces])
        self.normals = np.concatenate([mesh.vertex_normals(p.vertices, p.faces)
                                       for p in self.pieces])
        self.place = np.zeros((len(self.sculpt.vertices), 3))
        self.place[self.source] = self.points

    def _curves(self, pairs: np.ndarray) -> list[np.ndarray]:
        """Polylines (k, 3) through pairs of the sculpt's vertices, each pair once."""
        return [self.place[chain] for chain in mesh.chains(pairs)]

    def borders(self) -> list[np.ndarray]:
        start, end, _ = mesh.half_edges(self.faces)
        rim = mesh.twins(self.faces) < 0
        return self._curves(self.source[np.stack([start[rim], end[rim]], axis=1)])

    def marks(self) -> list[np.ndarray]:
        edges = self.sculpt.edges[(self.sculpt.kinds & (TRENCH | SCORE)) > 0]
        here = np.isin(edges, self.source).all(axis=1)
        return self._curves(edges[here])

    def outlines(self, toward: np.ndarray) -> list[np.ndarray]:
        """Edges between a face that looks at the viewer and one that looks away, and rims
        of only one piece; smooth places are where the outline of a dome runs."""
        sourced = self.source[self.faces]
        start, end, key = mesh.half_edges(sourced)
        front = np.repeat(mesh.face_normals(self.points, self.faces)[0] @ toward > 0, 3)
        _, first, group, count = np.unique(key, return_index=True, return_inverse=True,
                                           return_counts=True)
        facing = np.bincount(group.reshape(-1), front, minlength=len(first))
        kept = first[(count == 1) | ((facing > 0) & (facing < count))]
        return self._curves(np.stack([start[kept], end[kept]], axis=1))


class Camera:
    """Parallel projection that fits the scene into a picture."""

    def __init__(self, scene: Scene, view, size):
        azimuth, elevation = np.radians(VIEWS[view] if isinstance(view, str) else view)
        up, front = scene.sculpt.up, scene.sculpt.front
        level = np.cos(azimuth) * front + np.sin(azimuth) * np.cross(up, front)
        self.toward = np.cos(elevation) * level + np.sin(elevation) * up
        right = np.cross(up, level)
        self.axes = np.stack([right, np.cross(self.toward, right), self.toward])
        flat = scene.points @ self.axes.T
        low, high = flat.min(axis=0), flat.max(axis=0)
        room = np.asarray(size, dtype=float) - 2 * _MARGIN
        self.scale = float((room / np.maximum(high - low, 1e-9)[:2]).min())
        used = (high - low)[:2] * self.scale + 2 * _MARGIN
        self.size = (float(used[0]), float(used[1]))
        self.origin = np.append(low[:2] - _MARGIN / self.scale, 0.0)
        self.shape = tuple(int(np.ceil(s * RESOLUTION)) for s in self.size[::-1])

    def project(self, points: np.ndarray) -> np.ndarray:
        """Picture positions (k, 3), mm; the third towards the viewer."""
        return (points @ self.axes.T - self.origin) * self.scale

    def pixels(self, points: np.ndarray) -> np.ndarray:
        return self.project(points) * RESOLUTION

    def lines(self, seen: DepthMap, kind: str, curves: Iterable[np.ndarray]) -> list[Line]:
        """The seen stretches of curves (k, 3) of the scene."""
        from shapely import LineString

        found = []
        for curve in curves:
            points = self.pixels(curve)
            arc = mesh.arc_length(points[:, :2])
            # The corners stay among the samples, so that straight lines end where they should.
            samples = np.unique(np.concatenate([arc, np.arange(0.0, arc[-1], 1.0)]))
            if len(samples) < 2:
                continue
            points = np.stack([np.interp(samples, arc, points[:, i]) for i in range(3)], axis=1)
            for a, b in _stretches(seen.visible(points, slack=2.0), samples):
                line = LineString(points[a:b + 1, :2] / RESOLUTION).simplify(0.04)
                found.append(Line(kind, np.array(line.coords)))
        return found


def _stretches(seen: np.ndarray, arc: np.ndarray) -> list[tuple[int, int]]:
    """Runs of seen samples; gaps and runs of less than 3 pixels are noise of the raster."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], seen, [False]]).astype(int)))
    runs: list[list[int]] = []
    for a, b in zip(edges[::2].tolist(), (edges[1::2] - 1).tolist(), strict=True):
        if runs and arc[a] - arc[runs[-1][1]] < 3.0:
            runs[-1][1] = b
        else:
            runs.append([a, b])
    whole = arc[-1] - arc[0]
    return [(a, b) for a, b in runs if arc[b] - arc[a] >= min(3.0, 0.9 * whole) and b > a]


def _fills(scene: Scene, camera: Camera, seen: DepthMap, highlight: set[str]) -> list[Fill]:
    """Tones painted over one another, each over all that is as dark or darker: no hairlines."""
    there = seen.face != HIDDEN
    corners = scene.faces[np.where(there, seen.face, 0)]
    normal = np.einsum("hwi,hwij->hwj", seen.weights, scene.normals[corners])
    normal = normal @ camera.axes.T
    inside = normal[..., 2] < 0  # the hollow side of a shell
    light = np.where(inside[..., None], -normal, normal) @ _LIGHT
    level = np.sum([light < limit for limit in _LEVELS], axis=0)
    level = np.where(inside, np.minimum(level + 1, len(PALE) - 1), level)
    lit = np.array([p.code in highlight for p in scene.pieces])[scene.owner]
    lit = lit[np.where(there, seen.face, 0)]
    tones = np.where(lit, np.array(DARK)[level], np.array(PALE)[level])
    return [Fill(rings, grey) for grey in (*PALE, *DARK)
            for rings in areas(there & (tones <= grey + 1e-9))]


def areas(mask: np.ndarray) -> list[tuple[np.ndarray, ...]]:
    """The areas (rings in mm) that a mask (h, w) covers, with its stairs smoothed."""
    import shapely

    padded = np.pad(mask, ((0, 0), (1, 1))).astype(np.int8)
    row, start = np.nonzero(np.diff(padded, axis=1) == 1)
    _, stop = np.nonzero(np.diff(padded, axis=1) == -1)
    if not len(row):
        return []
    whole = shapely.union_all(shapely.box(start, row, stop, row + 1))
    whole = whole.simplify(0.9).buffer(0)
    return [tuple(np.array(ring.coords)[:-1] / RESOLUTION
                  for ring in (area.exterior, *area.interiors))
            for area in getattr(whole, "geoms", [whole]) if area.area > 4.0]


def _roomy(scene: Scene, camera: Camera, seen: DepthMap) -> dict[str, tuple]:
    """For each seen piece the point farthest from where it ends, and that distance, mm."""
    from scipy.ndimage import distance_transform_edt

    owner = np.where(seen.face == HIDDEN, -1, scene.owner[np.maximum(seen.face, 0)])
    spots = {}
    for i, piece in enumerate(scene.pieces):
        mask = owner == i
        if mask.sum() < 6:
            continue
        rows, cols = np.nonzero(mask)
        r0, c0 = rows.min(), cols.min()
        part = np.pad(mask[r0:rows.max() + 1, c0:cols.max() + 1], 1)
        away = distance_transform_edt(part)
        row, col = np.unravel_index(int(np.argmax(away)), away.shape)
        spots[piece.code] = tuple(float(v) / RESOLUTION for v in (
            c0 + col - 0.5, r0 + row - 0.5, away[row, col]))
    return spots


def _halfway(line: Line) -> tuple[float, float]:
    arc = mesh.arc_length(line.points)
    return tuple(float(np.interp(arc[-1] / 2, arc, line.points[:, i])) for i in (0, 1))
