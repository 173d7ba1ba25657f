"""Repairs of the maker's meshes with Blender's own tools. Each takes a BMesh and returns how
many elements it changed; `change` applies one to an object, whatever mode it is in.

They look for what is wrong anew instead of trusting the elements of an earlier finding,
except where a finding is a proposal of ours (lines to mark, holes to fill, crumbs).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager

import bmesh
import bpy

from ..core.errors import ERROR, Finding, FoamError
from ..core.survey.hanging import TOGETHER
from . import marks
from .own import require_own

Change = Callable[[bmesh.types.BMesh], int]


@contextmanager
def object_mode(context: bpy.types.Context, items: Sequence[bpy.types.Object]) -> Iterator[None]:
    """Object Mode inside, the maker's own mode again after.

    Edit Mode is left where the objects whose meshes change, `items`, are none or not all in it:
    an undo step of Edit Mode holds nothing but the meshes in it. Raises FoamError
    `edited-elsewhere` where one of them is in Edit Mode in another scene.
    """
    mode = context.object.mode if context.object else "OBJECT"
    edited = {item.name for item in context.objects_in_mode} if mode == "EDIT" else set()
    if mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for item in items:
        if item.type == "MESH" and item.data.is_editmode:
            raise FoamError(Finding(
                "edited-elsewhere", ERROR, f"“{item.name}” is in Edit Mode in another scene.",
                "Leave Edit Mode there first."))
    try:
        yield
    finally:
        if mode != "OBJECT" and (mode != "EDIT" or items and {i.name for i in items} <= edited):
            bpy.ops.object.mode_set(mode=mode)


def change(items: Iterable[bpy.types.Object], repair: Change, remakes: bool = True) -> int:
    """Apply a repair to the meshes of these objects in Object Mode; how much it changed in all.

    remakes: it may add or remove elements. Raises FoamError `of-another-file` or `cannot-repair`
    where that would lose something, before anything is changed.
    """
    meshes = {}
    for item in items:
        meshes.setdefault(item.data, item)
    for item in meshes.values():
        require_changeable(item, remakes)
    return sum(_changed(mesh, repair) for mesh in meshes)


def _changed(mesh: bpy.types.Mesh, repair: Change) -> int:
    bm = bmesh.new()
    try:
        bm.from_mesh(mesh)
        for elements in (bm.verts, bm.edges, bm.faces):
            elements.ensure_lookup_table()
        count = repair(bm)
        if count:
            bm.to_mesh(mesh)
            mesh.update()
        return count
    finally:
        bm.free()


def require_changeable(item: bpy.types.Object, remakes: bool) -> None:
    """Raises FoamError `of-another-file`, or `cannot-repair` where multires detail would go."""
    require_own([item])
    if remakes and any(m.type == "MULTIRES" and m.total_levels for m in item.modifiers):
        raise FoamError(Finding(
            "cannot-repair", ERROR,
            f"“{item.name}” holds multires detail, which this repair would spoil.",
            "Apply its Multiresolution modifier first, or repair the mesh it started from."))


# --- vertices ----------------------------------------------------------------


def merge(distance: float = 0.0) -> Change:
    """Merge vertices that lie closer than this, in the object's units; how many went.

    0 stands for what lies on each other as far as the size of the mesh lets tell.
    """
    def repair(bm):
        before = len(bm.verts)
        bmesh.ops.remove_doubles(bm, verts=bm.verts[:], dist=distance or _nothing(bm))
        return before - len(bm.verts)
    return repair


def delete_loose(bm: bmesh.types.BMesh) -> int:
    """Delete vertices and edges that belong to no face."""
    return _delete(bm, [v for v in bm.verts if not v.link_faces])


def delete_nowhere(bm: bmesh.types.BMesh) -> int:
    """Delete vertices with a coordinate that is not a finite number, and their faces."""
    return _delete(bm, [v for v in bm.verts if not all(map(math.isfinite, v.co))])


# --- faces -------------------------------------------------------------------


def dissolve_thin(distance: float = 0.0) -> Change:
    """Dissolve faces without area and edges shorter than this; how many faces went.

    0 as for `merge`.
    """
    def repair(bm):
        before = len(bm.faces), len(bm.edges)
        bmesh.ops.dissolve_degenerate(bm, edges=bm.edges[:], dist=distance or _nothing(bm))
        return before[0] - len(bm.faces) or before[1] - len(bm.edges)
    return repair


def delete_doubled(bm: bmesh.types.BMesh) -> int:
    """Delete all but the first of faces on the same corners."""
    seen, doubled = set(), []
    for face in bm.faces:
        corners = frozenset(v.index for v in face.verts)
        if corners in seen:
            doubled.append(face)
        seen.add(corners)
    return _delete(bm, doubled, "FACES_KEEP_BOUNDARY")


def delete_inner(bm: bmesh.types.BMesh) -> int:
    """Delete faces inside: those with three or more faces at every one of their edges."""
    return _delete(bm, [face for face in bm.faces
                        if all(len(edge.link_faces) > 2 for edge in face.edges)],
                   "FACES_KEEP_BOUNDARY")


def turn_outward(bm: bmesh.types.BMesh) -> int:
    """Make the faces of every part look one way, closed parts outward; how many turned over.

    Where a part is open the side that most of its area shows stays the outside.
    """
    before = [face.normal.copy() for face in bm.faces]
    bmesh.ops.recalc_face_normals(bm, faces=bm.faces[:])
    for part in parts(bm):
        area = sum(face.calc_area() * (1 if face.normal.dot(before[face.index]) > 0 else -1)
                   for face in part)
        if area < 0 and any(edge.is_boundary for face in part for edge in face.edges):
            bmesh.ops.reverse_faces(bm, faces=part)
    return sum(face.normal.dot(before[face.index]) < 0 for face in bm.faces)


def fill(edges: Iterable[tuple[int, int]]) -> Change:
    """Close the holes these edges (vertex pairs) go round; how many faces that took."""
    edges = list(edges)

    def repair(bm):
        before = len(bm.faces)
        rim = [edge for edge in found_edges(bm, edges) if edge.is_boundary]
        bmesh.ops.holes_fill(bm, edges=rim, sides=0)
        return len(bm.faces) - before
    return repair


def delete_parts(faces: Iterable[int]) -> Change:
    """Delete the connected parts these faces (indices) belong to; how many vertices went."""
    faces = set(faces)
    return lambda bm: _delete(bm, [
        vertex for part in parts(bm) if any(face.index in faces for face in part)
        for vertex in {v for face in part for v in face.verts}])


def parts(bm: bmesh.types.BMesh) -> list[list[bmesh.types.BMFace]]:
    """The faces of each part that hangs together along edges."""
    found, seen = [], set()
    for first in bm.faces:
        if first in seen:
            continue
        seen.add(first)
        part = [first]
        for face in part:  # grows while it is walked
            for edge in face.edges:
                fresh = [f for f in edge.link_faces if f not in seen]
                seen.update(fresh)
                part += fresh
        found.append(part)
    return found


# --- edges -------------------------------------------------------------------


def mark(edges: Iterable[tuple[int, int]], kind: int | None) -> Change:
    """Give these edges (vertex pairs) a mark, None for no mark; how many changed.

    A face that folds along its own diagonal is split there first.
    """
    edges = list(edges)

    def repair(bm):
        if kind is not None:
            _split_faces(bm, edges)
        return marks.set_marks(bm, [e.index for e in found_edges(bm, edges)], kind)
    return repair


def lacks(mesh: bpy.types.Mesh, edges: Iterable[tuple[int, int]]) -> bool:
    """Are some of the vertex pairs no edges of a mesh outside Edit Mode?"""
    known = {frozenset(ends) for ends in marks.mesh_arrays(mesh)[1].tolist()}
    return any(frozenset(pair) not in known for pair in edges)


def _split_faces(bm: bmesh.types.BMesh, edges: Iterable[tuple[int, int]]) -> None:
    """Split the faces of which these vertex pairs are diagonals."""
    count = len(bm.verts)
    pairs = [(bm.verts[a], bm.verts[b]) for a, b in edges if max(a, b) < count]
    for a, b in pairs:
        face = None if bm.edges.get((a, b)) else next(
            (face for face in a.link_faces if b in face.verts), None)
        if face:
            bmesh.utils.face_split(face, a, b)
    for elements in (bm.edges, bm.faces):
        elements.index_update()
        elements.ensure_lookup_table()


def found_edges(bm: bmesh.types.BMesh,
                edges: Iterable[tuple[int, int]]) -> list[bmesh.types.BMEdge]:
    """Those of the vertex pairs that are edges of the mesh."""
    count = len(bm.verts)
    return [edge for a, b in edges if max(a, b) < count
            and (edge := bm.edges.get((bm.verts[a], bm.verts[b])))]


def _nothing(bm: bmesh.types.BMesh) -> float:
    """A length that is nothing beside the mesh: twice the share the survey takes as together."""
    points = [vertex.co for vertex in bm.verts if all(map(math.isfinite, vertex.co))]
    size = max((max(p[i] for p in points) - min(p[i] for p in points) for i in range(3)),
               default=0.0) if points else 0.0
    return 2 * TOGETHER * size


def _delete(bm: bmesh.types.BMesh, elements: list, context: str = "VERTS") -> int:
    bmesh.ops.delete(bm, geom=elements, context=context)
    return len(elements)
