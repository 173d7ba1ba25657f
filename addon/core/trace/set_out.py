"""Set out marks without a cut on the surface: each at its point, or in an even row along a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..errors import WARNING, Finding, FoamError
from ..model import Marking, Sculpt
from .home import OFF, Surfaces
from .line import SurfaceLine, through
from .straight_on import straight_on
from .surface import Surface

ROUND = 1e-9  # of a line's length, that is rounding


@dataclass(frozen=True, eq=False)
class Stand:
    """Where one mark stands: its marking and number from 1 in it, the object, place (3,) on the
    surface and the unit way (3,) of its row there."""

    marking: Marking
    number: int
    object: int
    place: np.ndarray
    way: np.ndarray


def set_out(sculpt: Sculpt) -> tuple[list[Stand], list[Finding]]:
    """The marks of a sculpt at its final scale, and what is wrong with them.

    A point farther than OFF from the surface of its object is looked for on the others; a
    mark that lies on none is left out with `mark-off-surface`, a row that has no room on its line
    with `row-without-room`.
    """
    stands: list[Stand] = []
    found: list[Finding] = []
    if not sculpt.markings:
        return stands, found
    surfaces = Surfaces(sculpt)
    for marking in sculpt.markings:
        for one in (marking, _image(marking, sculpt)) if marking.mirrored else (marking,):
            try:
                stands += (_row if one.row else _single)(one, surfaces, found, sculpt)
            except FoamError:
                found.append(_left_out(one, "runs over parts that do not hang together"))
    return stands, found


def _image(marking: Marking, sculpt: Sculpt) -> Marking:
    """The marking on the other side of the wearer, whose left is its right; a row that is closed
    or not keeps its order, so its inset changes sides."""
    across = np.cross(sculpt.up, sculpt.front)
    points = marking.points - 2 * (marking.points @ across)[:, None] * across
    return replace(marking, points=points, inset=-marking.inset, mirrored=False, object=-1,
                   name=f"{marking.name} mirrored")


def _left_out(marking: Marking, why: str) -> Finding:
    x, y, z = marking.points[0] if len(marking.points) else (0.0, 0.0, 0.0)
    return Finding("mark-off-surface", WARNING,
                   f"“{marking.name}”, {marking.kind}, {why}, so it was left out. It is near "
                   f"x {x:.0f}, y {y:.0f}, z {z:.0f} mm.",
                   "Move it onto the sculpt; marks farther than 5 mm from it are left out.")


def _home(marking: Marking, points: np.ndarray, surfaces: Surfaces) -> int:
    """The object that points (k, 3) lie on, their own where they do; -1 for none."""
    if 0 <= marking.object:
        own = surfaces.surface(marking.object)[0]
        if len(own.faces) and own.nearest(points).distance.max() <= OFF:
            return marking.object
    return surfaces.home(points)


def _single(marking: Marking, surfaces: Surfaces, found: list[Finding], sculpt: Sculpt
            ) -> Iterator[Stand]:
    if not len(marking.points):
        found.append(_left_out(marking, "has no point"))
    for number, point in enumerate(marking.points, 1):
        home = _home(marking, point[None], surfaces) if np.isfinite(point).all() else -1
        if home < 0:
            found.append(_left_out(replace(marking, points=point[None]), "is off the surface"))
            continue
        surface, _ = surfaces.surface(home)
        foot = surface.nearest(point[None])
        normal = mesh.face_normals(surface.vertices, surface.faces[foot.face])[0][0]
        yield Stand(marking, number, home, foot.points[0], _level(normal, sculpt.up))


def _level(normal: np.ndarray, up: np.ndarray) -> np.ndarray:
    """The unit way (3,) in a face that is level on the wearer; any, where the face is."""
    way = np.cross(up, normal)
    if np.linalg.norm(way) < 1e-6:
        way = np.eye(3)[int(np.abs(normal).argmin())]
        way = way - (way @ normal) * normal
    return way / np.linalg.norm(way)


def _row(marking: Marking, surfaces: Surfaces, found: list[Finding], sculpt: Sculpt
         ) -> Iterator[Stand]:
    points = marking.points
    sound = len(points) > 1 and np.isfinite(points).all()
    home = _home(marking, points, surfaces) if sound else -1
    if home < 0:
        found.append(_left_out(marking, "is off the surface" if sound else "has no line"))
        return
    surface, ids = surfaces.surface(home)
    line = through(surface, points, marking.closed)
    arcs = spread(line.length, marking, line.closed)
    if not len(arcs):
        x, y, z = points[0]
        found.append(Finding(
            "row-without-room", WARNING,
            f"“{marking.name}” has no room for its row: its line near x {x:.0f}, y {y:.0f}, "
            f"z {z:.0f} mm is {line.length:.0f} mm long.",
            "Set its ends closer to those of the line, or draw a longer line.",
            faces=sculpt.origin[ids[np.unique(line.across)]]))
    for number, arc in enumerate(arcs, 1):
        place, way = _beside(surface, line, arc, marking.inset)
        if place is None:
            found.append(_left_out(
                replace(marking, points=_at(line, arc)[0][None]),
                f"has its mark {number} beyond the rim, {abs(marking.inset):.0f} mm beside the "
                "line"))
            continue
        yield Stand(marking, number, home, place, way)


def spread(length: float, marking: Marking, closed: bool) -> np.ndarray:
    """Where (k,) along a line of this length the marks of a row stand, evenly: none where its
    ends leave no room."""
    first, last = np.maximum(marking.ends, 0.0)
    if closed:
        count = marking.count or max(round(length / max(marking.spacing, 1e-6)), 1)
        return (first + length * np.arange(count) / count) % length
    room = length - first - last
    if room < -ROUND * length:
        return np.empty(0)
    count = marking.count or max(round(room / max(marking.spacing, 1e-6)), 1) + 1
    if count == 1 or room <= ROUND * length:
        return np.array([first + room / 2])
    return first + room * np.arange(count) / (count - 1)


def _at(line: SurfaceLine, arc: float) -> tuple[np.ndarray, int]:
    """The place (3,) at a length along a line, and the step that holds it."""
    along = mesh.arc_length(line.points)
    step = int(np.clip(np.searchsorted(along, arc, side="right") - 1, 0, len(along) - 2))
    while step > 0 and along[step + 1] - along[step] <= 0:
        step -= 1
    share = np.clip((arc - along[step]) / max(along[step + 1] - along[step], 1e-300), 0.0, 1.0)
    return (1 - share) * line.points[step] + share * line.points[step + 1], step


def _beside(surface: Surface, line: SurfaceLine, arc: float, inset: float
            ) -> tuple[np.ndarray | None, np.ndarray]:
    """The place (3,) beside a line, None beyond the rim, and the unit way (3,) of the line."""
    place, step = _at(line, arc)
    face = int(line.across[step])
    way = line.points[step + 1] - line.points[step]
    way = way / max(np.linalg.norm(way), 1e-12)
    if inset == 0:
        return place, way
    normal = mesh.face_normals(surface.vertices, surface.faces[face:face + 1])[0][0]
    left = np.cross(normal, way)
    for side in (1.0, -1.0):
        # Along a rim there is foam on one side only, whichever way the line was drawn.
        if side > 0 or _no_foam(surface, face, place, np.sign(inset) * left):
            end = straight_on(surface, face, place, side * inset * left, abs(inset))
            if end is not None:
                return end[1], way
    return None, way


def _no_foam(surface: Surface, face: int, place: np.ndarray, way: np.ndarray) -> bool:
    return straight_on(surface, face, place, way, 0.1) is None
