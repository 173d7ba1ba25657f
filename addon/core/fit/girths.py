"""Girths of the body and of the foam's inside about it, at some heights of the trunk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import GirthFit, Pattern
from ..sections import bodies, cut, tape
from .clearance import Skin, inner_face

# Where a standing person's girths are, as shares of their height: ANSUR II's medians are about
# 0.73 (chest), 0.60 (waist at the navel) and 0.51 (hips); from memory, with room on both sides, but
# for the chest below the armpits, where arms begin.
PLACES = {"chest": (0.70, 0.745, max), "waist": (0.57, 0.66, min), "hips": (0.46, 0.56, max)}
STEP = 10.0  # mm between the heights that are tried
# How much wider rigid foam should be than the body over its undersuit, and how much a chest grows
# with a deep breath: common practice, no source; and a study of 251 people (48 mm, author not
# known).
EASE, BREATH = 50.0, 48.0
PERSON = 1300.0  # mm: what is less tall is a torso or a part, whose girths have no names
BINS = 72  # directions in which foam is looked for
CLOSED = 0.95  # of the way round: a suit that leaves more open gives way at its straps
RING = 0.35  # of the way round that foam must cover to be told of at all


@dataclass(frozen=True, eq=False)
class _Plane:
    """The body's trunk at a height: its area and, of all parts of the body there, the areas."""

    height: float
    trunk: object
    parts: list


def girths(pattern: Pattern, skin: Skin, heights: Sequence[float]) -> tuple[GirthFit, ...]:
    """At the chest, waist and hips of a whole person, and at other heights over the soles, where
    foam goes round a part of the trunk at least."""
    up = pattern.sculpt.up
    level = skin.surface.vertices @ up
    low, tall = float(level.min()), float(np.ptp(level))
    frame = _frame(up, pattern.sculpt.front)
    inner = [(inner_face(piece), piece.faces) for piece in pattern.pieces]
    wanted: list[tuple[str, _Plane, float]] = []
    if tall >= PERSON:
        for name, (start, stop, choose) in PLACES.items():
            planes = [plane for height in np.arange(start * tall, stop * tall, STEP)
                      if (plane := _plane(skin, up, frame, low, float(height)))]
            if planes:
                wanted.append((name, choose(planes, key=_girth),
                               EASE + (BREATH if name == "chest" else 0.0)))
    for height in heights:
        plane = _plane(skin, up, frame, low, float(height))
        if plane is not None:
            wanted.append((f"at {height:g} mm", plane, EASE))
    found = (_about(name, plane, inner, up, frame, low, ease) for name, plane, ease in wanted)
    return tuple(girth for girth in found if girth is not None)


def _frame(up: np.ndarray, front: np.ndarray) -> np.ndarray:
    """Two axes (2, 3) of level planes."""
    across = np.cross(up, front)
    across /= np.linalg.norm(across)
    return np.stack([across, np.cross(up, across)])


def _plane(skin: Skin, up: np.ndarray, frame: np.ndarray, low: float, height: float
           ) -> _Plane | None:
    surface = skin.surface
    parts = bodies(cut(surface.vertices, surface.faces,
                       surface.vertices @ up - low - height) @ frame.T)
    return _Plane(height, parts[0], parts) if parts else None


def _girth(plane: _Plane) -> float:
    import shapely

    return tape(shapely.get_coordinates(plane.trunk))


def _about(name: str, plane: _Plane, inner: list, up: np.ndarray, frame: np.ndarray, low: float,
           wanted: float) -> GirthFit | None:
    """The foam about the trunk at a height; None where there is next to none."""
    import shapely

    segments = np.concatenate([np.empty((0, 2, 2)), *(
        cut(points, faces, points @ up - low - plane.height) @ frame.T
        for points, faces in inner)])
    if not len(segments):
        return None
    middle = shapely.points(segments.mean(axis=1))
    away = np.stack([shapely.distance(part, middle) for part in plane.parts])
    own = segments[np.argmin(away, axis=0) == 0].reshape(-1, 2)  # not about arms
    centre = np.array(plane.trunk.centroid.coords[0])
    ends = (own - centre).reshape(-1, 2, 2)
    if not len(ends):
        return None
    first = np.arctan2(ends[..., 1], ends[..., 0])
    turn = (first[:, 1] - first[:, 0] + np.pi) % (2 * np.pi) - np.pi
    t = np.linspace(0.0, 1.0, 9)
    seen = np.floor((first[:, :1] + turn[:, None] * t) / (2 * np.pi) * BINS).astype(int) % BINS
    share = len(np.unique(seen)) / BINS
    if share < RING:
        return None
    # Where foam leaves the body open the tape lies on that.
    own = own if share >= CLOSED else np.concatenate(
        [own, shapely.get_coordinates(plane.trunk)])
    return GirthFit(name, plane.height, _girth(plane), tape(own), share, wanted)
