"""How the kinds of lines on the sculpt look, and their dashes: pure numpy, without Blender."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..core import mesh
from . import colours

Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Style:
    """How a kind of line looks: width in points, colour, and lengths of ink and gap in mm on a
    sculpt 500 mm across (they grow with the root of its size); edge: colour beside it, if any."""

    width: float
    colour: Colour
    pattern: tuple[float, ...] = ()
    edge: Colour | None = colours.PAPER


# Told apart by their dashes alone, as on the templates: ISO 128's long-dash double-dot for a
# trench, dots for a score line. What is only proposed is light with dark edges, like chalk.
_DASHES = {"SEAM": (), "TRENCH": (16.0, 3.5, 3.0, 3.5, 3.0, 3.5), "SCORE": (3.0, 4.0)}
STYLES = {
    "rim": Style(1.2, colours.INK, edge=None),
    "score": Style(3.0, colours.SCORE_INK, _DASHES["SCORE"]),
    "trench": Style(2.6, colours.TRENCH_INK, _DASHES["TRENCH"]),
    "seam": Style(2.6, colours.INK),
}
PROPOSED = {kind: f"proposed {kind.lower()}" for kind in _DASHES}
STYLES |= {PROPOSED[kind]: Style(3.0, colours.PAPER, dashes or (9.0, 4.0), colours.INK)
           for kind, dashes in _DASHES.items()}
# In the order of the key.
NAMES = {"seam": "Seam", "trench": "Trench", "score": "Score line",
         PROPOSED["SEAM"]: "Proposed seam", PROPOSED["TRENCH"]: "Proposed trench",
         PROPOSED["SCORE"]: "Proposed score"}


def dash_length(points: np.ndarray) -> float:
    """Millimetres in one mm of a pattern, on a sculpt of these points (n, 3) in mm."""
    size = float(np.linalg.norm(np.ptp(points, axis=0)))
    return max(0.5, math.sqrt(size / 500.0))


def inked(kind: str, curves: Iterable[np.ndarray], dash: float) -> np.ndarray:
    """Ends (2 k, 3) of the straight parts of polylines in the dashes of a kind of line, float32.
    dash: length of one mm of the pattern."""
    pattern = dash * np.array(STYLES[kind].pattern)
    parts = [dashed(curve, pattern) for curve in curves]
    found = np.concatenate(parts or [np.empty((0, 2, 3))]).reshape(-1, 3)
    return np.ascontiguousarray(found, dtype=np.float32)


def dashed(points: np.ndarray, pattern: Sequence[float]) -> np.ndarray:
    """The inked straight parts (k, 2, d) of a polyline under lengths of ink and gap in turn; the
    pattern is stretched a little so that the line ends with ink."""
    arc = mesh.arc_length(points)
    at = arc
    if len(pattern) and arc[-1] > 0:
        period, first = float(np.sum(pattern)), float(pattern[0])
        times = max(round((arc[-1] - first) / period), 0)
        steps = np.cumsum(pattern) * (arc[-1] / (times * period + first))
        breaks = (np.arange(times + 1)[:, None] * steps[-1] + steps).ravel()
        at = np.unique(np.concatenate([arc, breaks[breaks < arc[-1]]]))
    line = np.stack([np.interp(at, arc, x) for x in points.T], axis=1)
    parts = np.stack([line[:-1], line[1:]], axis=1)
    if at is arc:
        return parts
    middle = (at[:-1] + at[1:]) / 2 % steps[-1]
    return parts[np.searchsorted(steps, middle, side="right") % 2 == 0]
