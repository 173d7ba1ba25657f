"""A plain figure that stands in for a wearer: lofted rings, as large as the measures that matter.

It is no one's body scan. Its proportions are near the means of ANSUR II (see core.measures); its
height and girths are what is asked for, and all else follows its height. Front is -y, up is +z, mm;
it stands on the floor about the origin, its arms a little out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..measures import MEASURES
from ..model import Body
from ..units import format_length
from .loft import girths, loft
from .tables import GIRTHS, HEAD, JOINTS, LIMBS, STATURE, TRUNK

__all__ = ["Figure", "figure", "own_measures"]

LEAST, MOST = 0.6, 1.6  # of the figure's own measure that can be asked for


@dataclass(frozen=True, eq=False)
class Figure:
    """parts: closed meshes, by name, which overlap where they join; joints (3,) in mm, by name:
    neck, waist, and left and right shoulder, elbow, wrist, hip, knee and ankle."""

    parts: Mapping[str, Body]
    joints: Mapping[str, np.ndarray]

    @property
    def body(self) -> Body:
        """All parts as one mesh."""
        parts = list(self.parts.values())
        starts = np.cumsum([0, *(len(part.vertices) for part in parts)])
        return Body(np.concatenate([part.vertices for part in parts]),
                    np.concatenate([p.faces + s for p, s in zip(parts, starts, strict=False)]),
                    "Figure")


@dataclass(frozen=True, eq=False)
class _Rings:
    """Rings of one part: centres (k, 3), sizes (k, 3), slant (k,) of its axis, how many sides and
    rings its mesh has."""

    centres: np.ndarray
    sizes: np.ndarray
    slant: np.ndarray
    count: tuple[int, int]

    @classmethod
    def of(cls, centres: np.ndarray, sizes: np.ndarray, count: tuple[int, int]) -> _Rings:
        way = np.gradient(centres, axis=0)
        return cls(centres, sizes, way[:, 2] / np.hypot(way[:, 0], way[:, 2]), count)

    def girth(self, ring: int) -> float:
        """Girth of a ring as a tape goes round it, at right angles to the axis, mm."""
        return float(girths(self.sizes[ring:ring + 1], self.slant[ring])[0])


def figure(measures: Mapping[str, float] | None = None) -> Figure:
    """A figure of some measures, mm, by their names in core.measures: "stature" and girths of the
    trunk, head and limbs; what is not given follows the height.

    Raises FoamError `bad-measure` for what the figure has not, or cannot be.
    """
    wanted = dict(measures or {})
    _require(wanted)
    tall = wanted.get("stature", STATURE) / STATURE
    parts: dict[str, Body] = {}
    for name, rings in _shape(tall).items():
        given = {ring: wanted[measure] / rings.girth(ring)
                 for measure, ring in GIRTHS[name].items() if measure in wanted}
        sizes = rings.sizes * _factors(rings, given, list(GIRTHS[name].values()))[:, None]
        vertices, faces = loft(rings.centres, sizes, *rings.count)
        if name in LIMBS:
            parts[f"{name} left"] = Body(vertices, faces, f"{name} left")
            parts[f"{name} right"] = Body(vertices * (-1.0, 1.0, 1.0), faces[:, ::-1],
                                          f"{name} right")
        else:
            parts[name] = Body(vertices, faces, name)
    return Figure(parts, _joints(tall))


def own_measures() -> dict[str, float]:
    """The measures of the figure where none is given, mm."""
    return {"stature": STATURE, **{measure: rings.girth(ring)
                                   for name, rings in _shape(1.0).items()
                                   for measure, ring in GIRTHS[name].items()}}


def _shape(tall: float) -> dict[str, _Rings]:
    found = {}
    for name, table, rings in (("Trunk", TRUNK, 90), ("Head", HEAD, 40)):
        rows = np.array(table) * tall
        centres = np.zeros((len(rows), 3))
        centres[:, 2] = rows[:, 0]
        found[name] = _Rings.of(centres, rows[:, 1:], (64, rings))
    for name, (points, sizes) in LIMBS.items():
        found[name] = _Rings.of(np.array(points) * tall, np.array(sizes) * tall, (40, 72))
    return found


def _factors(rings: _Rings, given: Mapping[int, float], places: list[int]) -> np.ndarray:
    """By how much each ring (k,) is widened: as given at some places, not at all at the others,
    and what lies between gently from one to the next."""
    from scipy.interpolate import PchipInterpolator

    if not given:
        return np.ones(len(rings.sizes))
    along = mesh.arc_length(rings.centres)
    at = sorted(places)
    factor = [given.get(ring, 1.0) for ring in at]
    if len(at) == 1:
        return np.full(len(along), factor[0])
    found = PchipInterpolator(along[at], factor)(np.clip(along, along[at[0]], along[at[-1]]))
    return np.asarray(found)


def _joints(tall: float) -> dict[str, np.ndarray]:
    found = {}
    for name, place in JOINTS.items():
        at = np.array(place) * tall
        if not at[0]:
            found[name] = at
        else:
            found |= {f"{name} left": at, f"{name} right": at * (-1.0, 1.0, 1.0)}
    return found


def _require(wanted: Mapping[str, float]) -> None:
    own = own_measures()
    for name, size in wanted.items():
        if name not in own:
            raise FoamError(Finding(
                "bad-measure", ERROR, f"The figure has no measure “{name}”.",
                f"Give some of these: {', '.join(sorted(own))}."))
        least, most = LEAST * own[name], MOST * own[name]
        if not least <= size <= most:  # false for NaN as well
            raise FoamError(Finding(
                "bad-measure", ERROR,
                f"The figure cannot measure {format_length(size)} for {MEASURES[name][0]}.",
                f"Give from {format_length(least)} to {format_length(most)}; check the unit."))
