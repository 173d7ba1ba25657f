"""Bring a part of the scene into view, with room around it."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Matrix, Vector

from . import legend

_ROOM = 1.15  # the radius of what is shown is multiplied by this
_LEAST = 1e-3  # Blender units; the radius of what has no size


def frame(context: bpy.types.Context, points: np.ndarray) -> bool:
    """Bring points (n, 3) of the world into the view the maker works in, or into all views of
    the window where that is none; False where there is nothing to show or no view.

    Blender's own View Selected would go as near as to a single face.
    """
    # While a file is opened the context has no window; then the first one there is.
    window = context.window or next(iter(context.window_manager.windows), None)
    if not len(points) or window is None:
        return False
    area = context.area
    areas = [area] if area is not None and area.type == "VIEW_3D" else [
        a for a in window.screen.areas if a.type == "VIEW_3D"]
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (low + high) / 2
    radius = max(float(np.linalg.norm(points - middle, axis=1).max()), _LEAST)
    for each in areas:
        region = next(r for r in each.regions if r.type == "WINDOW")
        _frame(each, region, each.spaces.active.region_3d, Vector(middle), _ROOM * radius)
    return bool(areas)


def _frame(area, region, view: bpy.types.RegionView3D, middle: Vector, radius: float) -> None:
    if view.view_perspective == "CAMERA":
        view.view_perspective = "PERSP"
    width, height = max(region.width, 1), max(region.height, 1)
    right, _ = legend.corner(region, area.regions)  # a sidebar lies over the view
    free = min(max(right / width, 0.3), 1.0)
    across, up = _halves(view.window_matrix, width, height)
    if view.is_perspective:
        half = min(across * free, up)  # tangent of half the angle of view
        view.view_distance = radius * (1 + 1 / half**2) ** 0.5
        reach = across * view.view_distance
    else:
        factor = radius / min(across * free, up)
        view.view_distance *= factor
        reach = across * factor
    aside = view.view_rotation @ Vector((1.0, 0.0, 0.0))
    view.view_location = middle + aside * reach * (1 - free)


def _halves(lens: Matrix, width: float, height: float) -> tuple[float, float]:
    """Half the width and height of what is seen: tangents of angles, or Blender units where
    there is no perspective. A view that was never drawn has no matrix yet."""
    if lens[0][0] and lens[1][1] and (lens[0][0], lens[1][1]) != (1.0, 1.0):
        return 1 / lens[0][0], 1 / lens[1][1]
    side = 0.72 / max(width, height)  # of Blender's lens of 50 mm
    return side * width, side * height


def corners_of(items: list[bpy.types.Object]) -> np.ndarray:
    """The corners (8 n, 3) of the boxes round objects, in the world."""
    found = [np.array(item.bound_box) @ np.array(item.matrix_world)[:3, :3].T
             + np.array(item.matrix_world)[:3, 3] for item in items]
    return np.concatenate(found) if found else np.empty((0, 3))
