"""The same suit in other sizes: the sculpt made larger or smaller along its axes, and by how much
that must be for a length or a girth. Foam keeps its thickness, which is why a suit is not simply
printed larger: its inside grows by more than its outside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from . import mesh
from .errors import ERROR, Finding, FoamError
from .model import PLANNED, Printed, Sculpt, Settings, Size
from .sections import cut, separate, tape
from .units import format_length

Place = float | tuple[float, tuple[str, ...]]  # a height, mm, and names of objects
AXES = ("across", "deep", "tall")  # side to side, front to back, up, as the wearer stands
LEAST, MOST = 0.2, 5.0  # factors that make sense
NEAR = 0.01  # mm from a girth that is reached
ROUNDS = 60


def sized(sculpt: Sculpt, size: Size) -> Sculpt:
    """The sculpt, with all that is drawn on it, larger by a size's factors about the middle of its
    foot; the wearer stays as they are. Rods keep their thickness.

    Raises FoamError `bad-size` for factors that make no sense.
    """
    if not ((size.factors >= LEAST) & (size.factors <= MOST)).all():  # false for NaN as well
        raise _bad(f"Size “{size.name}” would be {', '.join(f'{f:.3g}' for f in size.factors)} "
                   f"times as large {', '.join(AXES)}.",
                   f"Choose factors from {LEAST:g} to {MOST:g}; check the units of lengths.")
    axes = _axes(sculpt)
    turn = axes.T @ np.diag(size.factors) @ axes
    foot = _foot(sculpt, axes)

    def moved(points: np.ndarray) -> np.ndarray:
        return foot + (points - foot) @ turn.T

    return replace(
        sculpt, vertices=moved(sculpt.vertices),
        guides=tuple(replace(g, points=moved(g.points)) for g in sculpt.guides),
        markings=tuple(replace(m, points=moved(m.points)) for m in sculpt.markings),
        strips=tuple(replace(s, points=moved(s.points)) for s in sculpt.strips),
        widenings=tuple(replace(w, place=moved(w.place)) for w in sculpt.widenings),
        rods=tuple(replace(r, points=moved(r.points)) for r in sculpt.rods))


def record_at(printed: Printed, sculpt: Sculpt, now: Size, was: Size | None = None) -> Printed:
    """The record of the suit as it was made at a size, or as sculpted, as another size knows it:
    its pieces and seams where they are now, and none of its templates, since none of this size was
    printed. sculpt: at neither size. So codes and letters are the same in every size."""
    axes = _axes(sculpt)
    foot = _foot(sculpt, axes)
    grown = now.factors / (was.factors if was else 1.0)
    turn = axes.T @ np.diag(grown) @ axes
    area = float(np.prod(grown)) ** (2 / 3)

    def moved(points: np.ndarray) -> np.ndarray:
        return foot + (points - foot) @ turn.T

    return replace(
        printed,
        pieces=tuple(replace(p, places=moved(p.places), middle=moved(p.middle), area=p.area * area,
                             drawn=None, made=None, state=PLANNED) for p in printed.pieces),
        mates=tuple(replace(m, curve=moved(m.curve)) for m in printed.mates),
        digest=f"{printed.digest} {' '.join(f'{f:.9g}' for f in grown)}")


def size_for(sculpt: Sculpt, settings: Settings, name: str,
             lengths: Mapping[str, float] | None = None,
             girths: Mapping[Place, float] | None = None,
             factors: Mapping[str, float] | None = None) -> Size:
    """The size at which a sculpt reaches lengths along AXES, mm, or girths of the foam's inside at
    places (heights over the suit's lowest point, in the size that is made, and the names of the
    objects meant, none for all); of several girths the mean of what they ask. Lengths and girths
    are of the suit as it is built, at its scale.

    A girth makes the suit larger across and deep alike; `factors` hold along axes that nothing
    else is asked of, 1 where they do not tell. Raises FoamError `bad-size`.
    """
    found = dict.fromkeys(AXES, 1.0) | dict(factors or {})
    axes = _axes(sculpt)
    extent = np.ptp(sculpt.vertices[np.unique(sculpt.faces)] @ axes.T, axis=0) * settings.scale
    for axis, length in (lengths or {}).items():
        if not length > 0 or not extent[AXES.index(axis)] > 0:
            raise _bad(f"Size “{name}” cannot be {format_length(max(length, 0.0))} {axis}.",
                       "Give a length above 0 along an axis that the suit has.")
        found[axis] = length / float(extent[AXES.index(axis)])
    asked = [_for_girth(sculpt, settings, Size(name, **found), place, girth)
             for place, girth in (girths or {}).items()]
    if asked:
        found["across"] = found["deep"] = float(np.mean(asked))
    return Size(name, **found)


def inside_girth(sculpt: Sculpt, settings: Settings, height: float, objects: Sequence[str] = ()
                 ) -> float:
    """Girth of the foam's inside at a height over the suit's lowest point, mm, as a tape spans it,
    at the sculpt's scale; 0 where no foam is.

    objects: the names of those that the tape goes round, none for all of them. Raises FoamError
    `bad-size` for names that no object has, and where all of them go round several things, such as
    a trunk and arms.
    """
    points, faces, up = _inside(sculpt, settings)
    axes = _axes(sculpt)
    low = float((sculpt.vertices[np.unique(faces)] @ up).min()) * settings.scale
    names = [thing.name for thing in sculpt.objects]
    for name in objects:
        if name not in names:
            raise _bad(f"No object of the suit is called “{name}”.",
                       f"Name some of these: {', '.join(sorted(set(names)))}.")
    parts: dict[str, list[np.ndarray]] = {}
    for index, name in enumerate(names):
        if not objects or name in objects:
            own = faces[sculpt.face_object == index]
            segments = cut(points, own, points @ up - low - height) @ axes[:2].T
            if len(segments):
                parts.setdefault(name, []).append(segments)
    if not parts:
        return 0.0
    segments = np.concatenate([part for some in parts.values() for part in some])
    if not objects and len(apart := separate(segments)) > 1:
        where = {name for name, some in parts.items() if len(some)}
        raise _bad(f"{format_length(height)} over its lowest point the suit goes round "
                   f"{len(apart)} things, such as a trunk and arms.",
                   "Name the objects whose girth is meant, such as girth@300mm@Chest=104cm; there "
                   f"are {', '.join(sorted(where))}.")
    return tape(segments.reshape(-1, 2))


def _for_girth(sculpt: Sculpt, settings: Settings, size: Size, place: Place, girth: float
               ) -> float:
    """The factor across and deep at which the inside has a girth, found by halving."""
    height, objects = place if isinstance(place, tuple) else (place, ())

    def inside(factor: float) -> float:
        larger = sized(sculpt, replace(size, across=factor, deep=factor))
        return inside_girth(larger, settings, height, objects)

    if not inside_girth(sized(sculpt, size), settings, height, objects):
        raise _bad(f"No foam is {format_length(height)} over the lowest point of size "
                   f"“{size.name}”.", "Give another height for the girth.")
    low, high = LEAST, MOST
    if not inside(low) < girth < inside(high):
        raise _bad(f"Size “{size.name}” cannot have a girth of {format_length(girth)} inside.",
                   "Check the unit; it would be beyond a fifth or five times the sculpt's size.")
    for _ in range(ROUNDS):
        middle = (low + high) / 2
        off = girth - inside(middle)
        low, high = (middle, high) if off > 0 else (low, middle)
        if abs(off) < NEAR:
            break
    return (low + high) / 2


def _inside(sculpt: Sculpt, settings: Settings) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The foam's inner face at the sculpt's scale: points (n, 3), faces (m, 3); and up."""
    points = sculpt.vertices * settings.scale
    normals = mesh.vertex_normals(points, sculpt.faces, len(points))
    depth = np.zeros(len(points))
    for index, thing in enumerate(sculpt.objects):
        own = sculpt.faces[sculpt.face_object == index]
        depth[own] = (thing.stock or settings.stock).depths(thing.side or settings.side)[1]
    return points - depth[:, None] * normals, sculpt.faces, np.asarray(sculpt.up)


def _axes(sculpt: Sculpt) -> np.ndarray:
    """Unit vectors (3, 3) of AXES."""
    across = np.cross(sculpt.up, sculpt.front)
    across /= np.linalg.norm(across)
    return np.stack([across, np.cross(sculpt.up, across), sculpt.up])


def _foot(sculpt: Sculpt, axes: np.ndarray) -> np.ndarray:
    """The middle (3,) of the box round the sculpt, at its foot."""
    along = sculpt.vertices[np.unique(sculpt.faces)] @ axes.T
    low, high = along.min(axis=0), along.max(axis=0)
    return np.array([*(low + high)[:2] / 2, low[2]]) @ axes


def _bad(message: str, remedy: str) -> FoamError:
    return FoamError(Finding("bad-size", ERROR, message, remedy))
