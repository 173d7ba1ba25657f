"""Curves with a round bevel that are part of the suit -> the axes of rods, in mm."""

from __future__ import annotations

import bpy
import numpy as np

from ..core.errors import NOTE, Finding
from ..core.model import RodLine
from ..core.units import format_length
from . import guides
from .read_object import mean_scale

TAPER = 1.05  # of the thickest to the thinnest place, which shows


def is_rod(item: bpy.types.Object) -> bool:
    """Can this object be a rod of foam? A line that is drawn on a sculpt cannot."""
    return (item.type == "CURVE" and not guides.is_guide(item)
            and item.foamwright.marking.kind == "NONE" and item.data.bevel_mode == "ROUND"
            and item.data.bevel_depth > 0 and item.data.extrude == 0)


def rods_of(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The rods of the suit: those that were added to it."""
    return [o for o in scene.objects
            if is_rod(o) and o.foamwright.include and not o.foamwright.leave_out]


def read_rods(scene: bpy.types.Scene, mm: float) -> tuple[list[RodLine], list[Finding]]:
    """The axes of the suit's rods as the core knows them, before the suit's scale, one for each
    spline; and what to say about them. mm: millimetres in a unit of the scene."""
    lines, found = [], []
    for item in rods_of(scene):
        place = np.array(item.matrix_world, dtype=np.float64)
        radii = np.concatenate([np.ones(0), *(_radii(s) for s in item.data.splines)])
        diameter = 2 * item.data.bevel_depth * mm * mean_scale(item) * float(
            radii.mean() if len(radii) else 1.0)
        # A curve without a line in it is passed on, to be told of.
        drawn = guides.polylines(item) or [(np.empty((0, 3)), False)]
        for n, (points, closed) in enumerate(drawn, 1):
            lines.append(RodLine((points @ place[:3, :3].T + place[:3, 3]) * mm, diameter, closed,
                                 item.name if n == 1 else f"{item.name} {n}"))
        if len(radii) and radii.max() > TAPER * radii.min():
            found.append(Finding(
                "rod-tapers", NOTE, f"“{item.name}” is not of one thickness; foam rods are, so "
                f"{format_length(diameter)} were taken.",
                "Grind it to its taper after it is bent, or set the radius of all its points to "
                "1 in the sidebar of Edit Mode."))
    return lines, found


def _radii(spline: bpy.types.Spline) -> np.ndarray:
    points = spline.bezier_points if spline.type == "BEZIER" else spline.points
    radii = np.empty(len(points), dtype=np.float32)
    points.foreach_get("radius", radii)
    return radii.astype(np.float64)
