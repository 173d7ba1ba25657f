"""A line picture of the suit, or of what of it stands, as vectors in mm.

Pale fills in a few tones, thin seams and marks, a stronger outline, the seam of
the moment thick, the pieces of the moment darker. Hidden lines are left out by a
depth buffer, so nothing needs a graphics card and equal input gives equal output.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..core import mesh
from ..core.model import Pattern
from .areas import areas
from .depth import DepthMap
from .scene import RESOLUTION, Camera, Scene

CANDIDATES = tuple((a, e) for e in (20.0, -25.0, 50.0)
                   for a in (30.0, -30.0, 90.0, -90.0, 150.0, -150.0))

PALE, DARK = (0.98, 0.95, 0.915, 0.88), (0.80, 0.75, 0.70, 0.65)  # tones, lit to shaded
_LIGHT = np.array((-0.35, 0.55, 0.76))  # in the picture's own axes
_LEVELS = (0.80, 0.58, 0.33)  # brightness at which the tone changes
_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8)  # of a seam, where its letter may stand
_LETTER = 5.5  # mm, from the middle of one letter to that of another
_TRIAL = (25.0, 25.0)  # mm, the pictures by which a view is chosen


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


@dataclass(frozen=True, eq=False)
class Shades:
    """A map to shade a picture by: values (n,) at the points of the scene, limits (k,) rising
    between the tones, and the grey levels (k + 1,) from the light one to the dark one."""

    values: np.ndarray
    limits: Sequence[float]
    greys: Sequence[float]


def suit_picture(pattern: Pattern, view: str | tuple[float, float], size: tuple[float, float],
                 highlight: Iterable[str] = (), shown: Iterable[str] | None = None,
                 seams: Iterable[str] = (), marks: bool = True,
                 scene: Scene | None = None, shades: Shades | None = None,
                 frame: Sequence[np.ndarray] = ()) -> Picture:
    """Picture of the pieces `shown` (all of them when None).

    view: a name from VIEWS, or (azimuth, elevation) in degrees; size: (w, h) mm that
    the picture fits; highlight: pieces drawn darker; seams: codes of mates drawn thick;
    marks: draw trenches and score lines; scene: of the shown pieces, where there is one
    already; shades: in place of light; frame: lines (k, 3) that have room in the picture and are
    drawn as marks where they are seen. Raises ValueError when nothing is shown.
    """
    scene = scene or Scene(pattern, shown)
    camera = Camera(scene, view, size, frame)
    seen = camera.shot()
    wanted = set(seams)
    curves = {"border": scene.borders(), "mark": scene.marks() if marks else [],
              "outline": scene.outlines(camera.toward)}
    curves["mark"] += frame
    lines = [Line(kind, points) for kind, some in curves.items()
             for points in camera.stretches(seen, some)]
    spots = {}
    for mate in (m for m in pattern.mates if m.code in wanted):
        found = camera.stretches(seen, [mate.curve])
        lines += [Line("seam", points) for points in found]
        if found:
            spots[mate.code] = _beside(found, list(spots.values()))
    fills = (_fills(scene, camera, seen, set(highlight)) if shades is None
             else _shaded(scene, seen, shades))
    drawn = [line.points for line in lines if line.kind == "mark"]
    return Picture(camera.size, tuple(fills), tuple(lines), _roomy(scene, seen, drawn), spots)


def best_view(pattern: Pattern, highlight: Iterable[str] = (), shown: Iterable[str] | None = None,
              seams: Iterable[str] = (), scene: Scene | None = None) -> tuple[float, float]:
    """The view (azimuth, elevation) that shows most of the seams and highlighted pieces.

    Counts each line as it appears in the picture, so one seen end-on counts little. Of
    the pieces that meet at the seams the one that is seen least counts. scene: of the shown
    pieces, where there is one already.
    """
    scene = scene or Scene(pattern, shown)
    seams, highlight = set(seams), set(highlight)
    mates = [m for m in pattern.mates if m.code in seams]
    meeting = {c for m in mates for c, _ in m.edges} & {p.code for p in scene.pieces}
    wanted = [i for i, p in enumerate(scene.pieces) if p.code in (meeting or highlight)]
    return Choice(scene, [m.curve for m in mates], wanted, bool(meeting)).view()


class Choice:
    """The search for a view: where a view could not win if nothing hid anything, it is not
    drawn on trial.

    curves: seams (k, 3) to be seen; wanted: numbers of the pieces to be seen; least: the one
    of them that is seen least counts, else their mean.
    """

    def __init__(self, scene: Scene, curves: list[np.ndarray], wanted: list[int], least: bool):
        self.scene, self.curves, self.wanted, self.least = scene, curves, wanted, least
        self.whole = sum(map(mesh.polyline_length, curves)) or 1.0
        self.area = np.bincount(scene.owner, scene.face_normals[1], len(scene.pieces))
        self.cameras = [Camera(scene, view, _TRIAL) for view in CANDIDATES]

    def view(self) -> tuple[float, float]:
        bounds, best = self._bounds(), (-np.inf, 0)
        for place in np.argsort(-bounds, kind="stable").tolist():
            if bounds[place] < best[0]:
                break
            # Of equal ones the first.
            best = max(best, (round(self.score(place), 3), -place))
        return CANDIDATES[-best[1]]

    def _bounds(self) -> np.ndarray:
        """(views,): no less than what each can score."""
        toward = np.stack([camera.toward for camera in self.cameras], axis=1)
        shares = self.scene.facing(toward)[self.wanted]
        # What a raster may count too much: about as many pixels as are on a side.
        pixels = np.maximum(self.area[self.wanted], 1e-9)[:, None] * np.array(
            [RESOLUTION * camera.scale for camera in self.cameras]) ** 2
        clear = self._clear(shares + np.sqrt(shares / pixels) + 1.0 / pixels)
        drawn = [sum(mesh.polyline_length(camera.project(curve)[:, :2]) for curve in self.curves)
                 / camera.scale / self.whole for camera in self.cameras]
        return clear + np.array(drawn) - 0.01 * np.arange(len(self.cameras)) + 0.001

    def _clear(self, shares: np.ndarray) -> np.ndarray:
        """How far pieces are seen, of the share of each (k, ...)."""
        if not len(shares):
            return np.zeros(shares.shape[1:])
        return shares.min(axis=0) if self.least else shares.mean(axis=0)

    def score(self, place: int) -> float:
        """What a view counts: its share of the seams, of the pieces, and its place in the row."""
        scene, camera = self.scene, self.cameras[place]
        seen = camera.shot()
        drawn = sum(map(mesh.polyline_length, camera.stretches(seen, self.curves)))
        face = seen.face[seen.seen]
        outside = face[scene.face_normals[0][face] @ camera.toward > 0]
        pixels = np.bincount(scene.owner[outside], minlength=len(scene.pieces))
        shares = pixels / (RESOLUTION * camera.scale) ** 2 / np.maximum(self.area, 1e-9)
        return (drawn / camera.scale / self.whole + float(self._clear(shares[self.wanted]))
                - 0.01 * place)


def _fills(scene: Scene, camera: Camera, seen: DepthMap, highlight: set[str]) -> list[Fill]:
    """Tones painted over one another, each over all that is as dark or darker: no hairlines."""
    face = seen.face[seen.seen]
    corners, weights = scene.faces[face], seen.weights()

    def along(direction: np.ndarray) -> np.ndarray:
        return np.einsum("ij,ij->i", (scene.normals @ direction)[corners], weights)

    inside = along(camera.toward) < 0  # the hollow side of a shell
    light = along(_LIGHT @ camera.axes)
    light = np.where(inside, -light, light)
    level = np.sum([light < limit for limit in _LEVELS], axis=0)
    level = np.where(inside, np.minimum(level + 1, len(PALE) - 1), level)
    lit = np.array([p.code in highlight for p in scene.pieces])[scene.owner][face]
    tones = np.full(seen.face.shape, np.inf)
    tones[seen.seen] = np.where(lit, np.array(DARK)[level], np.array(PALE)[level])
    return _painted(tones, (*PALE, *DARK))


def _shaded(scene: Scene, seen: DepthMap, shades: Shades) -> list[Fill]:
    """Tones by a map, likewise."""
    corners = scene.faces[seen.face[seen.seen]]
    value = np.einsum("ij,ij->i", shades.values[corners], seen.weights())
    tones = np.full(seen.face.shape, np.inf)
    tones[seen.seen] = np.array(shades.greys)[np.searchsorted(shades.limits, value)]
    return _painted(tones, shades.greys)


def _painted(tones: np.ndarray, greys: Sequence[float]) -> list[Fill]:
    """The areas of an image of grey levels, from the light one to the dark one."""
    return [Fill(tuple(ring / RESOLUTION for ring in rings), grey)
            for grey in greys if (tones == grey).any() for rings in areas(tones <= grey)]


def _roomy(scene: Scene, seen: DepthMap, marks: Sequence[np.ndarray] = ()
           ) -> dict[str, tuple[float, float, float]]:
    """For each seen piece the point farthest from where it ends and from the marks (k, 2) on it,
    and that distance, mm."""
    from scipy.ndimage import distance_transform_edt, find_objects

    owner = np.zeros(seen.face.shape, dtype=int)
    owner[seen.seen] = scene.owner[seen.face[seen.seen]] + 1
    for line in marks:
        arc = mesh.arc_length(line)
        at = np.linspace(0.0, arc[-1], int(2 * RESOLUTION * arc[-1]) + 2)
        column, row = ((np.interp(at, arc, x) * RESOLUTION).astype(int) for x in line.T)
        owner[row.clip(0, owner.shape[0] - 1), column.clip(0, owner.shape[1] - 1)] = 0
    spots = {}
    for i, window in enumerate(find_objects(owner)):
        if window is None or (mask := owner[window] == i + 1).sum() < 6:
            continue
        away = distance_transform_edt(np.pad(mask, 1))
        row, col = np.unravel_index(int(np.argmax(away)), away.shape)
        spots[scene.pieces[i].code] = tuple(float(v) / RESOLUTION for v in (
            window[1].start + col - 0.5, window[0].start + row - 0.5, away[row, col]))
    return spots


def _beside(stretches: Sequence[np.ndarray], taken: Sequence[tuple[float, float]]
            ) -> tuple[float, float]:
    """The middle of the longest stretch (k, 2), or another place of them where that is too near to
    what is taken for two letters."""
    places = []
    for points in sorted(stretches, key=mesh.polyline_length, reverse=True):
        arc = mesh.arc_length(points)
        places += [tuple(float(np.interp(share * arc[-1], arc, x)) for x in points.T)
                   for share in _PLACES]
    room = [min((float(np.hypot(x - a, y - b)) for a, b in taken), default=_LETTER)
            for x, y in places]
    return places[int(np.argmax(np.minimum(room, _LETTER)))]
