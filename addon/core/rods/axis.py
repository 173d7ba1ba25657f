"""The axis of a rod as a smooth curve: its length, and how tightly it bends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import mesh

STEP = 0.1  # diameters between the points at which a bend is looked at
REPEATED = 1e-6  # of its length: points as near as this are one


@dataclass(frozen=True, eq=False)
class Axis:
    """Points (k, 3) of a smooth curve, evenly spread, tangents (k, 3), radii (k,) of curvature,
    inward (k, 3): unit vectors to the centre of the bend."""

    points: np.ndarray
    tangents: np.ndarray
    radii: np.ndarray
    inward: np.ndarray

    @property
    def length(self) -> float:
        return mesh.polyline_length(self.points)


def axis(points: np.ndarray, diameter: float, closed: bool) -> Axis:
    """The cubic spline through points (n, 3) by the length of their chords (de Boor 1978),
    at least two of them apart."""
    from scipy.interpolate import CubicSpline

    if closed:
        points = np.concatenate([points, points[:1]])
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    kept = np.append(True, steps > REPEATED * steps.sum())
    points = points[kept]
    if closed:
        points[-1] = points[0]
    along = mesh.arc_length(points)
    if len(points) == 2:
        points = np.stack([points[0], points.mean(axis=0), points[1]])
        along = np.array([0.0, along[-1] / 2, along[-1]])
    spline = CubicSpline(along, points, bc_type="periodic" if closed else "not-a-knot")
    at = np.linspace(0.0, along[-1], max(65, int(np.ceil(along[-1] / (STEP * diameter))) + 1))
    first, second = spline(at, 1), spline(at, 2)
    speed = np.linalg.norm(first, axis=1)
    tangents = first / speed[:, None]
    bend = (second - (second * tangents).sum(axis=1)[:, None] * tangents) / speed[:, None] ** 2
    size = np.linalg.norm(bend, axis=1)
    return Axis(spline(at), tangents, 1 / np.maximum(size, 1e-12),
                bend / np.maximum(size, 1e-12)[:, None])
