"""Copies of objects that show a pose, or the packed box beside the suit; never made of foam."""

from __future__ import annotations

import json
from collections.abc import Sequence

import bpy
import numpy as np
from mathutils import Matrix, Vector

from . import identity
from .read import mm_per_unit

EDGES = ((0, 1), (1, 3), (3, 2), (2, 0), (4, 5), (5, 7), (7, 6), (6, 4), (0, 4), (1, 5), (2, 6),
         (3, 7))  # of a box


def hide(group: bpy.types.PropertyGroup) -> None:
    """Remove the copies that a group shows."""
    home, group.shown = group.shown, None
    if home is None:
        return
    for item in list(home.objects):
        data = item.data
        bpy.data.objects.remove(item)
        if data is not None and not data.users:
            bpy.data.meshes.remove(data)
    bpy.data.collections.remove(home)


def show_pose(scene: bpy.types.Scene, index: int) -> list[str]:
    """Show copies of what moves in one movement where it gets to, and give the names of the objects
    of which only parts move, so that they are left out."""
    group = scene.foamwright.reach
    line = group.lines[index]
    home = _shown(scene, group, "Pose")
    _copies(scene, home, line, np.zeros(3))
    return json.loads(line.parted)


def show_box(scene: bpy.types.Scene, size: Sequence[float]) -> list[str]:
    """Show copies of the packed parts and their box, size (3,) mm, to the left of the suit,
    likewise."""
    group = scene.foamwright.transport
    known = [identity.find(scene, item.name, item.word) for item in group.maps]
    corners = np.array([item.matrix_world @ Vector(corner)
                        for item in known if item is not None for corner in item.bound_box])
    per = mm_per_unit(scene)
    aside = (np.array([corners[:, 0].max(), corners[:, 1].min(), corners[:, 2].min()])
             + (200.0 / per, 0.0, 0.0)) if len(corners) else np.zeros(3)
    home = _shown(scene, group, "Packed Box")
    mesh = bpy.data.meshes.new("Box")
    points = np.array([(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)])
    mesh.from_pydata((points * np.array(size) / per + aside).tolist(), EDGES, [])
    _add(home, bpy.data.objects.new("Box", mesh))
    parted = []
    for line in group.lines:
        _copies(scene, home, line, aside)
        parted += json.loads(line.parted)
    return sorted(set(parted))


def _shown(scene, group, title: str) -> bpy.types.Collection:
    hide(group)
    group.shown = bpy.data.collections.new(title)
    scene.collection.children.link(group.shown)
    return group.shown


def _add(home: bpy.types.Collection, item: bpy.types.Object) -> None:
    item.foamwright.leave_out = True  # never made of foam
    home.objects.link(item)


def _copies(scene, home, line, aside: np.ndarray) -> None:
    """Copies of the objects of a line, as their modifiers show them, where it says."""
    graph = bpy.context.evaluated_depsgraph_get()
    # The suit's scale is counted in mm, and is not that of the objects.
    shift = np.array(line.offset) / (mm_per_unit(scene) * scene.foamwright.scale)
    place = Matrix.Translation((shift + aside).tolist()) @ Matrix(
        np.array(line.turn).reshape(3, 3).tolist()).to_4x4()
    for name, word in json.loads(line.objects):
        item = identity.find(scene, name, word)
        if item is None:
            continue
        mesh = bpy.data.meshes.new_from_object(item.evaluated_get(graph))
        copy = bpy.data.objects.new(f"{name} moved", mesh)
        copy.color = (0.35, 0.55, 0.75, 1.0)
        _add(home, copy)
        copy.matrix_world = place @ item.matrix_world
