"""Lines drawn across faces: curve objects that follow a sculpt, cut only when patterns are made.

A line is a child of its object, in the same space, so it moves and scales with it. Its own
transform is where it stands in the world, which the parent's is taken out of, so that it stays
in place when the object is joined into another or deleted and Blender drops the parent. Which mark
it stands for is kept on it (`foamwright.guide`), and what it is bound to on its curve (see
`anchors`); all else is an ordinary curve, which can be edited, renamed, hidden or deleted as any
other. Hidden lines still count, since hiding is for looking; one that is left out does not.
"""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np
from mathutils import Matrix

from ..core import mesh as kernels
from ..core.model import BUTT, Sculpt

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
    hang(line, item, np.array(item.matrix_world))
    set_points(line, points, closed)
    line.foamwright.guide = kind
    line.color = _COLOURS[kind]
    line.show_in_front = True
    line.hide_render = True
    collection(scene).objects.link(line)
    return line


def hang(line: bpy.types.Object, item: bpy.types.Object, world: np.ndarray) -> None:
    """Make a line a child of an object, standing in the world as a matrix (4, 4) says, also
    without the object. A skewed space it cannot stand in alone."""
    line.parent, line.parent_type = item, "OBJECT"
    line.matrix_basis = Matrix(world)
    own = np.array(line.matrix_basis)
    place = np.array(item.matrix_world)
    if min(abs(np.linalg.det(m[:3, :3])) for m in (own, place)) < 1e-12:  # flattened
        line.matrix_basis = Matrix()
        return
    line.matrix_parent_inverse = Matrix(np.linalg.inv(place) @ world @ np.linalg.inv(own))


def settle(scene: bpy.types.Scene, sculpt: Sculpt,
           items: Sequence[bpy.types.Object | None]) -> None:
    """Give the lines of a sculpt that lost their object the one they lie on, and let all stand by
    themselves where they are now, since their objects may have been moved.

    items: the objects of the sculpt, None where one is gone.
    """
    for guide in sculpt.guides:
        line = scene.objects.get(guide.name)
        if line is None or not is_guide(line) or line.library:
            continue
        world = matrix(line)
        if is_loose(line):
            if items[guide.object] is not None:
                hang(line, items[guide.object], world)
        elif not np.allclose(np.array(line.matrix_basis), world, atol=1e-5):
            hang(line, line.parent, world)


def set_points(line: bpy.types.Object, points: np.ndarray, closed: bool) -> None:
    """Lead a line through other points (k, 3) of the world."""
    back = np.linalg.inv(matrix(line))
    write(line.data, [(np.asarray(points, dtype=float) @ back[:3, :3].T + back[:3, 3], closed)])


def write(curve: bpy.types.Curve, lines: Sequence[tuple[np.ndarray, bool]]) -> None:
    """Make a curve run along polylines (k, 3) of its own space; the flag tells which are closed."""
    curve.dimensions = "3D"
    curve.splines.clear()
    for points, closed in lines:
        spline = curve.splines.new("POLY")
        spline.points.add(len(points) - 1)
        spline.points.foreach_set("co", np.column_stack([points, np.ones(len(points))]).ravel())
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


def join_of(line: bpy.types.Object) -> str:
    """How the seam along a line is held, "" for what is plainly glued or no seam."""
    chosen = line.foamwright.join
    return "" if chosen == BUTT or line.foamwright.guide != "SEAM" else chosen


def guides_of(scene: bpy.types.Scene, item: bpy.types.Object) -> list[bpy.types.Object]:
    """The lines of an object that count, by name."""
    found = [o for o in scene.objects
             if o.parent == item and is_guide(o) and not o.foamwright.leave_out]
    return sorted(found, key=lambda o: o.name)


def has_lines(scene: bpy.types.Scene, item: bpy.types.Object) -> bool:
    """Are any lines drawn on an object, also such as are left out?"""
    return any(o.parent == item and is_guide(o) for o in scene.objects)


def is_loose(line: bpy.types.Object) -> bool:
    """Does a line hang on no mesh of any scene?"""
    return (line.parent is None or line.parent.type != "MESH" or not line.parent.users_scene)


def on_parent(line: bpy.types.Object) -> np.ndarray:
    """How a line hangs on its object: the matrix (4, 4) from its own space to the object's."""
    return np.array(line.matrix_parent_inverse) @ np.array(line.matrix_basis)


def matrix(line: bpy.types.Object) -> np.ndarray:
    """Where a line stands in the world, also before Blender has worked it out."""
    return (np.array(line.parent.matrix_world) @ on_parent(line) if line.parent
            else np.array(line.matrix_basis))


def world_polylines(line: bpy.types.Object) -> list[tuple[np.ndarray, bool]]:
    """The polylines (k, 3) of a line in the world, and whether each is closed."""
    place = matrix(line)
    return [(points @ place[:3, :3].T + place[:3, 3], closed)
            for points, closed in polylines(line)]


def polylines(line: bpy.types.Object) -> list[tuple[np.ndarray, bool]]:
    """The polylines (k, 3) of a line in its own space, and whether each is closed; curves that a
    maker has rounded are followed in short steps."""
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


def collection(scene: bpy.types.Scene) -> bpy.types.Collection:
    """Where all that is drawn on sculpts is kept."""
    for found in scene.collection.children:
        if found.name.startswith(COLLECTION):
            return found
    made = bpy.data.collections.new(COLLECTION)
    scene.collection.children.link(made)
    return made
