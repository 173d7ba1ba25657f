"""Lines go where their surface goes: as they are read, and their curves with the next check."""

from __future__ import annotations

from collections.abc import Iterable

import bpy
import numpy as np

from ..core.errors import FoamError
from . import anchors, guides

_SAME = 1e-5  # of the largest coordinate: single precision, there and back


def taken(line: bpy.types.Object, ground: anchors.Ground
          ) -> list[tuple[np.ndarray, bool]] | None:
    """A line in mm of the world where the surface that it is bound to has taken it; None where
    it is not bound, or is no more."""
    bond = anchors.load(line.data)
    if bond is None:
        return None
    polylines = guides.polylines(line)
    kept = bond.kept(ground, polylines, guides.on_parent(line))
    points = bond.now(ground) if kept is not None and kept.any() else None
    if points is None:
        return None
    place = ground.matrix @ guides.on_parent(line)
    if not kept.all():
        # The maker has moved some points: these count as they stand, the others go along.
        own = np.concatenate([part for part, _ in polylines])
        at = np.where(kept[:, None], points[bond.shown], own @ place[:3, :3].T + place[:3, 3])
        parts = np.split(at, bond.stops[:-1])
    elif bond.moved(ground, points):
        parts = np.split(points, bond.ends[:-1])
    else:
        parts = bond.as_drawn(place)
    return list(zip(parts, (ring for _, ring in polylines), strict=True))


def follow(scene: bpy.types.Scene, item: bpy.types.Object, ground: anchors.Ground,
           most: int | None = None) -> None:
    """Let the curves of an object's lines go where its surface has taken them, and bind those
    that were drawn, edited or laid on other polygons since.

    ground: the object's surface as it was just read. most: how many lines are bound now, which
    takes a while on a large mesh; None: all.
    """
    for line in scene.objects:
        if line.parent == item and guides.is_guide(line) and not _is_held(line):
            if not _led(line, ground) and most != 0 and _bind(line, ground) and most:
                most -= 1


def on_bare_mesh(line: bpy.types.Object, mm: float) -> list[tuple[np.ndarray, bool]]:
    """A line in mm of the world where it runs on its object's mesh without modifiers, if it is
    bound to that; else where it is."""
    item = line.parent
    matrix = np.diag([mm, mm, mm, 1.0]) @ np.array(item.matrix_world)
    there = taken(line, anchors.bare(item.data, matrix))
    return there if there is not None else [
        (points * mm, closed) for points, closed in guides.world_polylines(line)]


def bind(scene: bpy.types.Scene, items: Iterable[bpy.types.Object]) -> None:
    """Bind the lines of objects to their surfaces as these are now."""
    from .read import read_scene
    from .settings import read_settings

    for item in items:
        try:
            _, (source,) = read_scene(scene, [item], read_settings(scene), bind=True)
        except FoamError:  # told by the next check, after which the lines are bound as well
            continue
        if source.ground is not None:
            follow(scene, item, source.ground)


def _is_held(line: bpy.types.Object) -> bool:
    """Is the curve of a line not ours to change now? One that several lines share is bound by the
    first, and never led."""
    curve = line.data
    shared = curve.users > 1 and anchors.load(curve) is not None
    return bool(line.library or curve.library or curve.is_editmode or shared
                or not curve.splines)


def _led(line: bpy.types.Object, ground: anchors.Ground) -> bool:
    """Lead the curve of a line where its surface has taken it; False where it has to be bound
    first."""
    on_parent, polylines = guides.on_parent(line), guides.polylines(line)
    if not polylines or abs(np.linalg.det(on_parent[:3, :3])) < 1e-12:
        return True  # a flattened line cannot be led anywhere
    place = ground.matrix @ on_parent
    bond = anchors.load(line.data)
    kept = bond.kept(ground, polylines, on_parent) if bond else None
    points = bond.now(ground) if kept is not None and kept.all() else None
    if points is None:
        return False
    if bond.moved(ground, points):
        shown = bond.shape(points, ground.scale)
        parts = [points[part] for part in bond.parts(shown)]
    else:
        shown, parts = bond.drawn, bond.as_drawn(place)
    if _lead(line, polylines, place, parts):
        anchors.store(line.data, bond.on_curve(shown, guides.polylines(line)))
    return True


def _bind(line: bpy.types.Object, ground: anchors.Ground) -> bool:
    """Bind a line where it lies on the surface; False where it does not."""
    on_parent, polylines = guides.on_parent(line), guides.polylines(line)
    place = ground.matrix @ on_parent
    there = taken(line, ground)
    if there is not None and _lead(line, polylines, place, [points for points, _ in there]):
        polylines = guides.polylines(line)
    world = [(points @ place[:3, :3].T + place[:3, 3], ring) for points, ring in polylines]
    bond = anchors.bind(ground, world, polylines, on_parent)
    if bond is not None:
        anchors.store(line.data, bond)
    return bond is not None


def _lead(line: bpy.types.Object, polylines: anchors.Polylines, place: np.ndarray,
          world: list[np.ndarray]) -> bool:
    """Lead the curve of a line through points (k, 3) in mm of the world, for each of its
    polylines, unless it runs there; False where it stays. A rounded curve is the maker's own.

    place (4, 4): from the line's own space to mm of the world.
    """
    if line.data.users > 1 or any(spline.type != "POLY" for spline in line.data.splines):
        return False
    back = np.linalg.inv(place)
    local = [points @ back[:3, :3].T + back[:3, 3] for points in world]
    before, after = np.concatenate([points for points, _ in polylines]), np.concatenate(local)
    if before.shape == after.shape and np.abs(before - after).max() <= _SAME * np.abs(after).max():
        return False
    guides.write(line.data, [(points, ring) for points, (_, ring)
                             in zip(local, polylines, strict=True)])
    return True
