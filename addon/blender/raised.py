"""Detach a raised shape from the maker's mesh: its walls go, it is let down, and lies on top again
as an object of its own. UV maps, materials and attributes stay on the faces that stay."""

from __future__ import annotations

from collections.abc import Collection

import bmesh
import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Sculpt, Settings
from ..core.raised import Raised, matched, nearest_stock, raised
from ..core.soundness import faults
from ..core.stock import shipped
from . import details
from .read import mm_per_unit
from .triangles import triangles
from .write import places_of

_TOP = "foamwright_top"  # of faces, while one is detached
_LEFT = "foamwright_as_sculpted"  # of faces of shapes that the maker wants to stay as they are
CODES = ("raised-shape", "recessed-shape")


def detach(item: bpy.types.Object, scene: bpy.types.Scene, settings: Settings,
           faces: Collection[int] = (), stock: str = "") -> list[bpy.types.Object]:
    """Detach the raised shapes that have some of these faces, or all of them where none are named;
    the new objects. stock: short name of their foam, "" for that nearest to each step.

    Outside Edit Mode. Raises FoamError `not-lowered`, `no-raised-shape` and `sculpt-has-faults`;
    those that were detached before stay so.
    """
    short = {foam: name for name, foam in shipped().items()}
    wanted, made = set(faces), []
    while True:  # what was under another is found only then
        sculpt, _, polygon = _read(item, scene, settings)
        chosen = [one for one in _shapes(item, sculpt)
                  if not wanted or wanted & set(polygon[one.top].tolist())]
        for one in chosen:
            matched(sculpt, one)  # before anything is changed
        for middle in [_middle(sculpt, one) for one in chosen]:
            sculpt, matrix, polygon = _read(item, scene, settings)
            one = min(_shapes(item, sculpt),
                      key=lambda one: np.linalg.norm(_middle(sculpt, one) - middle))  # noqa: B023
            foam = stock or short[nearest_stock(list(short), one.height)]
            made.append(_detached(item, scene, settings, sculpt, one, matrix, polygon, foam))
        if not chosen or wanted:
            break
    if wanted and not made:
        raise FoamError(Finding(
            "no-raised-shape", ERROR, f"The mesh of “{item.name}” has no raised shape there.",
            "Where a modifier makes it, apply that first; else look the sculpt over again."))
    return made


def leave(item: bpy.types.Object, faces: Collection[int]) -> int:
    """Note that these faces stay as they are sculpted; how many did not yet. Outside Edit Mode."""
    layer = item.data.attributes.get(_LEFT) or item.data.attributes.new(_LEFT, "BOOLEAN", "FACE")
    fresh = [face for face in faces if not layer.data[face].value]
    for face in fresh:
        layer.data[face].value = True
    return len(fresh)


def forget_left(scene: bpy.types.Scene) -> None:
    """Take findings of shapes that stay as they are off the list."""
    findings = scene.foamwright.findings
    for place in reversed(range(len(findings))):
        if findings[place].code in CODES and _is_left(scene, findings[place]):
            findings.remove(place)


def _is_left(scene: bpy.types.Scene, finding: bpy.types.PropertyGroup) -> bool:
    places, _, _ = places_of(scene, finding)
    for name, found in places.items():
        mesh = scene.objects[name].data
        layer = mesh.attributes.get(_LEFT)
        if layer is None or layer.domain != "FACE" or layer.data_type != "BOOLEAN" or any(
                face >= len(layer.data) or not layer.data[face].value
                for face in found.get("faces", ())):
            return False
    return bool(places)


def _shapes(item: bpy.types.Object, sculpt: Sculpt) -> list[Raised]:
    fault = next((f for f in faults(sculpt) if f.severity == ERROR
                  and f.code != "implausible-size"), None)
    if fault is not None:
        raise FoamError(Finding(
            "sculpt-has-faults", ERROR, f"“{item.name}” has faults that keep its shapes from "
            f"being told. {fault.message}", "Look the sculpt over and mend them first."))
    return [one for one in raised(sculpt) if one.height > 0]


def _middle(sculpt: Sculpt, one: Raised) -> np.ndarray:
    return sculpt.vertices[sculpt.faces[one.top]].mean(axis=(0, 1))


def _read(item: bpy.types.Object, scene: bpy.types.Scene, settings: Settings
          ) -> tuple[Sculpt, np.ndarray, np.ndarray]:
    """The mesh without its modifiers in mm of the suit as built, the matrix (4, 4) to there, and
    the face (m,) each triangle is of."""
    mesh = item.data
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    divided = triangles(mesh)
    matrix = np.array(item.matrix_world, dtype=float)
    matrix[:3] *= mm_per_unit(scene) * settings.scale
    faces = divided.vertices
    if np.linalg.det(matrix[:3, :3]) < 0:
        faces = faces[:, ::-1]
    placed = points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]
    return Sculpt.plain(placed, faces, name=item.name), matrix, divided.polygon


def _detached(item: bpy.types.Object, scene: bpy.types.Scene, settings: Settings, sculpt: Sculpt,
              one: Raised, matrix: np.ndarray, polygon: np.ndarray, stock: str
              ) -> bpy.types.Object:
    match = matched(sculpt, one)
    back = np.linalg.inv(matrix)
    places = match.vertices @ back[:3, :3].T + back[:3, 3]
    bm = bmesh.new()
    try:
        bm.from_mesh(item.data)
        for elements in (bm.verts, bm.faces):
            elements.ensure_lookup_table()
        verts = list(bm.verts)
        top = bm.faces.layers.bool.new(_TOP)
        faces = list(bm.faces)
        for face in np.unique(polygon[one.top]).tolist():
            faces[face][top] = True
        for vertex in np.unique(sculpt.faces[one.top]).tolist():
            verts[vertex].co = places[vertex]
        bmesh.ops.delete(bm, geom=[faces[f] for f in np.unique(polygon[one.walls]).tolist()],
                         context="FACES")
        on_rim = set(np.unique(sculpt.faces[one.top]).tolist())
        becomes = {verts[a]: verts[b] for a, b in match.becomes.items()}
        for (a, b), corners in match.splits.items():
            for new, corner in zip(_split(bm, verts[a], verts[b], [verts[v] for v in corners]),
                                   corners, strict=True):
                if a in on_rim:
                    becomes[new] = verts[corner]
                else:
                    becomes[verts[corner]] = new
        bmesh.ops.weld_verts(bm, targetmap=becomes)
        made = bm.copy()
        try:
            layer = made.faces.layers.bool[_TOP]
            bmesh.ops.delete(made, geom=[f for f in made.faces if not f[layer]], context="FACES")
            made.faces.layers.bool.remove(layer)
            found = details.laid_on(item, made, scene, settings, stock)
        finally:
            made.free()
        bm.faces.layers.bool.remove(bm.faces.layers.bool[_TOP])
        bm.to_mesh(item.data)
        item.data.update()
        return found
    finally:
        bm.free()


def _split(bm: bmesh.types.BMesh, a: bmesh.types.BMVert, b: bmesh.types.BMVert,
           corners: list[bmesh.types.BMVert]) -> list[bmesh.types.BMVert]:
    """New vertices on the edge from a to b, where these corners lie, in order."""
    found = []
    for corner in corners:
        _, new = bmesh.utils.edge_split(bm.edges.get((a, b)), a, 0.5)
        new.co = corner.co
        found.append(new)
        a = new
    return found
