"""Lines drawn across faces: curve objects that follow a sculpt, cut only when patterns are made.

A line is a child of its object, in the same space, so it moves and scales with it. Which mark
it stands for is kept on it (`foamwright.guide`); all else is an ordinary curve, which can be
edited, renamed, hidden or deleted as any other. Hidden lines still count, since hiding is for
looking; one that is left out does not.
"""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np

from ..core import mesh as kernels
from ..core.errors import NOTE, Finding
from ..core.model import Guide
from .marks import KINDS

COLLECTION = "Foamwright Lines"
NAMES = {"SEAM": "Seam", "TRENCH": "Trench", "SCORE": "Score"}
_COLOURS = {"SEAM": (0.9, 0.3, 0.1, 1.0), "TRENCH": (0.1, 0.4, 0.9, 1.0),
            "SCORE": (0.7, 0.6, 0.1, 1.0)}


def add_guide(scene: bpy.types.Scene, item: bpy.types.Object, points: np.ndarray, kind: str,
              closed: bool = False, name: str = "") -> bpy.types.Object:
    """A line on an object through points (k, 3) of the world, in Blender's units.

    kind: "SEAM", "TRENCH" or "SCORE". Between its points the line is the shortest one in the
    surface, so give as many as its look needs.
    """
    name = name or f"{item.name} {NAMES[kind]}"
    curve = bpy.data.curves.new(name, "CURVE")
    line = bpy.data.objects.new(name, curve)
    line.parent = item
    set_points(line, points, closed)
    line.foamwright.guide = kind
    line.color = _COLOURS[kind]
    line.show_in_front = True
    line.hide_render = True
    _collection(scene).objects.link(line)
    return line


def set_points(line: bpy.types.Object, points: np.ndarray, closed: bool) -> None:
    """Lead a line through other points (k, 3) of the world."""
    curve = line.data
    curve.dimensions = "3D"
    curve.splines.clear()
    back = np.linalg.inv(_matrix(line))
    local = np.asarray(points, dtype=float) @ back[:3, :3].T + back[:3, 3]
    spline = curve.splines.new("POLY")
    spline.points.add(len(local) - 1)
    spline.points.foreach_set("co", np.column_stack([local, np.ones(len(local))]).ravel())
    spline.use_cyclic_u = closed


def remove(line: bpy.types.Object) -> None:
    """Delete a line and its curve."""
    curve = line.data
    bpy.data.objects.remove(line)
    if not curve.users:
        bpy.data.curves.remove(curve)


def is_guide(item: bpy.types.Object) -> bool:
    """Is this object a line drawn across faces?"""
    return item.type == "CURVE" and item.foamwright.guide != "NONE"


def guides_of(scene: bpy.types.Scene, item: bpy.types.Object) -> list[bpy.types.Object]:
    """The lines of an object that count, by name."""
    found = [o for o in scene.objects
             if o.parent == item and is_guide(o) and not o.foamwright.leave_out]
    return sorted(found, key=lambda o: o.name)


def read_guides(scene: bpy.types.Scene, item: bpy.types.Object, matrix: np.ndarray, mm: float,
                number: int) -> list[Guide]:
    """The lines of an object as the core knows them: in mm, and of the sculpt's object `number`.

    matrix (4, 4): where the object stands in the world.
    """
    return [Guide((points @ place[:3, :3].T + place[:3, 3]) * mm,
                  KINDS[line.foamwright.guide], closed, number, line.name)
            for line in guides_of(scene, item)
            for place in [matrix @ _on_parent(line)] for points, closed in _polylines(line)]


def loose(scene: bpy.types.Scene) -> list[Finding]:
    """What to say about lines that lie on no mesh."""
    return [Finding(
        "line-without-sculpt", NOTE, f"The line “{o.name}” belongs to no sculpt and was left out.",
        "Parent it to its sculpt again with Object > Parent > Object (Keep Transform), or delete "
        "it.") for o in scene.objects
        if is_guide(o) and not o.foamwright.leave_out and (o.parent is None
                                                           or o.parent.type != "MESH")]


def _on_parent(line: bpy.types.Object) -> np.ndarray:
    return np.array(line.matrix_parent_inverse) @ np.array(line.matrix_basis)


def _matrix(line: bpy.types.Object) -> np.ndarray:
    """Where a line stands in the world, also before Blender has worked it out."""
    return np.array(line.parent.matrix_world) @ _on_parent(line) if line.parent else np.array(
        line.matrix_world)


def world_polylines(line: bpy.types.Object) -> list[tuple[np.ndarray, bool]]:
    """The polylines (k, 3) of a line in the world, and whether each is closed."""
    place = _matrix(line)
    return [(points @ place[:3, :3].T + place[:3, 3], closed)
            for points, closed in _polylines(line)]


def _polylines(line: bpy.types.Object) -> list[tuple[np.ndarray, bool]]:
    """In the line's own space; curves that a maker has rounded are followed in short steps."""
    if line.data.is_editmode:
        line.update_from_editmode()
    if all(spline.type == "POLY" for spline in line.data.splines):
        return [(_points(spline.points), spline.use_cyclic_u) for spline in line.data.splines
                if len(spline.points)]
    # Only the line counts, whatever thickness it was given so that it is seen.
    curve = line.data.copy()
    curve.bevel_depth = curve.extrude = curve.offset = 0.0
    curve.bevel_object = curve.taper_object = None
    bare = bpy.data.objects.new(line.name, curve)
    try:
        mesh = bare.to_mesh()
        points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
        mesh.vertices.foreach_get("co", points)
        edges = np.empty(2 * len(mesh.edges), dtype=np.int32)
        mesh.edges.foreach_get("vertices", edges)
    finally:
        bpy.data.objects.remove(bare)
        bpy.data.curves.remove(curve)
    points = points.reshape(-1, 3).astype(np.float64)
    return [(points[chain[:-1]], True) if chain[0] == chain[-1] else (points[chain], False)
            for chain in kernels.chains(edges.reshape(-1, 2))]


def _points(points: Sequence) -> np.ndarray:
    found = np.empty(4 * len(points), dtype=np.float32)
    points.foreach_get("co", found)
    return found.reshape(-1, 4)[:, :3].astype(np.float64)


def _collection(scene: bpy.types.Scene) -> bpy.types.Collection:
    for found in scene.collection.children:
        if found.name.startswith(COLLECTION):
            return found
    made = bpy.data.collections.new(COLLECTION)
    scene.collection.children.link(made)
    return made
