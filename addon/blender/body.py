"""The wearer in the scene: objects that are marked as the body, read as one mesh, in mm."""

from __future__ import annotations

import hashlib

import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Body
from .triangles import triangles


def is_able(item: bpy.types.Object) -> bool:
    """Can this object be the wearer's body? A flat piece of the preview cannot."""
    return item.type == "MESH" and not item.foamwright.piece


def parts(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The objects that make up the body."""
    return [o for o in scene.objects if is_able(o) and o.foamwright.body]


def signature(scene: bpy.types.Scene) -> str:
    """Digest of where the body's objects stand and how large their meshes are."""
    told = [(o.name, [round(x, 6) for row in o.matrix_world for x in row], len(o.data.vertices))
            for o in parts(scene)]
    return hashlib.blake2b(repr(told).encode(), digest_size=8).hexdigest()


def read(scene: bpy.types.Scene, mm: float) -> Body | None:
    """The body, before the suit's scale, as its modifiers and pose show it; None without one.

    mm: millimetres in a unit of the scene. Raises FoamError `body-without-faces`.
    """
    items = parts(scene)
    if not items:
        return None
    graph = bpy.context.evaluated_depsgraph_get()
    points, faces, count = [], [], 0
    for item in items:
        shown = item.evaluated_get(graph)
        mesh = shown.to_mesh()
        try:
            own = np.empty(3 * len(mesh.vertices), dtype=np.float32)
            mesh.vertices.foreach_get("co", own)
            corners = triangles(mesh).vertices
        finally:
            shown.to_mesh_clear()
        place = np.array(shown.matrix_world, dtype=np.float64)
        points.append((own.reshape(-1, 3) @ place[:3, :3].T + place[:3, 3]) * mm)
        faces.append((corners[:, ::-1] if np.linalg.det(place[:3, :3]) < 0 else corners) + count)
        count += len(points[-1])
    found = Body(np.concatenate(points), np.concatenate(faces),
                 items[0].name if len(items) == 1 else "body")
    if not len(found.faces):
        raise FoamError(Finding(
            "body-without-faces", ERROR, f"The body “{found.name}” has no faces.",
            "Mark a mesh of the wearer as the body, or add a figure."))
    return found
