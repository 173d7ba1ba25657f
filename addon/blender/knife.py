"""Lines cut into the maker's own mesh: new vertices and edges, the rest as it was.

The core says how the triangles of the mesh are divided; every polygon that a line touches is
built anew from its parts, with all data between corners interpolated by Blender, and where it
is flat put together again along all edges but the line's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import bmesh
import bpy
import numpy as np

from ..core import trace
from ..core.errors import ERROR, Finding, FoamError
from ..core.model import SMOOTH, Guide, Sculpt
from . import edge_numbers, marks
from .own import require_own
from .read import mm_per_unit, require_scale
from .triangles import triangles

_NORMAL = "foamwright_normal"  # on working copies only: custom normals, as directions
_FLAT = 1e-5  # of its size: a polygon this flat is one plane
_STRAIGHT = 1e-3  # sine of a turn that is none


@dataclass(frozen=True)
class Plan:
    """How lines divide the mesh of an object; nothing is changed before it is applied."""

    item: bpy.types.Object
    sculpt: Sculpt
    laid: Sculpt
    places: np.ndarray

    def apply(self) -> int:
        """Cut the mesh, which is in Object Mode; how many edges were marked."""
        mesh = self.item.data
        normals = _corner_normals(mesh)
        bm = bmesh.new()
        try:
            bm.from_mesh(mesh)
            if normals is not None:
                _write_normals(bm, normals)
            done = _Rebuild(bm, self.sculpt, self.laid, self.places).run()
            bm.to_mesh(mesh)
        finally:
            bm.free()
        if normals is not None:
            _restore_normals(mesh)
        mesh.update()
        return done


def plan(scene: bpy.types.Scene, item: bpy.types.Object, lines: Sequence[Guide]) -> Plan:
    """How lines (mm, world) would be cut into the mesh of an object.

    Raises FoamError where the mesh cannot be cut or a line is not on it.
    """
    require_own([item])
    require_scale(item.name, item.matrix_world)
    if any(m.type == "MULTIRES" for m in item.modifiers):
        raise FoamError(Finding(
            "multires-not-cut", ERROR, f"“{item.name}” has a Multires modifier, whose sculpted "
            "detail would be lost if the mesh were cut.",
            "Leave the lines as they are: patterns follow them all the same."))
    matrix = np.diag([mm_per_unit(scene)] * 3 + [1.0]) @ np.array(item.matrix_world)
    sculpt = _sculpt(item.data, matrix, lines)
    scale = scene.foamwright.scale  # by which the suit is larger than the world shows it
    laid = trace.lay(sculpt.scaled(scale)).scaled(1 / scale)
    lost = [f for f in laid.findings if f.code == "guide-off-surface"]
    if lost:
        raise FoamError(*lost)
    back = np.linalg.inv(matrix)
    places = laid.vertices[len(sculpt.vertices):] @ back[:3, :3].T + back[:3, 3]
    return Plan(item, sculpt, laid, places)


def _sculpt(mesh: bpy.types.Mesh, matrix: np.ndarray, lines: Sequence[Guide]) -> Sculpt:
    """The mesh without its modifiers, in mm and in its own winding."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.attributes["position"].data.foreach_get("vector", points)
    divided = triangles(mesh)
    edges, kinds = marks.read_marks(mesh)
    return Sculpt(
        vertices=points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3],
        faces=divided.vertices, edges=np.sort(edges, axis=1), kinds=kinds,
        face_object=np.zeros(len(divided.polygon)), objects=(), polygon=divided.polygon,
        guides=tuple(lines))


@dataclass
class _Rebuild:
    """Polygons of a bmesh replaced by the parts that the core has divided them into."""

    bm: bmesh.types.BMesh
    sculpt: Sculpt
    laid: Sculpt
    places: np.ndarray

    def run(self) -> int:
        bm, laid = self.bm, self.laid
        kinds = {tuple(e): k for e, k in zip(laid.edges.tolist(), laid.kinds.tolist(), strict=True)
                 if k & SMOOTH}
        for kind in marks.ATTRIBUTES:
            if any(k & kind for k in kinds.values()):
                marks.layer(bm, kind, create=True)  # before elements are looked up
        for name, numbers in marks.TOLD.items():
            if any(numbers(k) for k in kinds.values()):
                edge_numbers.layer(bm, name, create=True)
        for sequence in (bm.verts, bm.edges, bm.faces):
            sequence.ensure_lookup_table()
        old = {tuple(sorted(v.index for v in e.verts)): e for e in bm.edges}
        verts = list(bm.verts) + [None] * len(self.places)
        count, flat = len(bm.verts), []
        stale, split = [], []
        touched = [(number, bm.faces[number]) for number in self._touched(kinds, old)]
        for number, face in touched:
            parts = laid.faces[laid.polygon == number].tolist()
            self._add_vertices(verts, parts, face, count)
            for part in parts:
                self._add_face(verts, part, face)
            split += self._copy_edges(verts, parts, face, old)
            stale.append(face)
            if _is_flat(face):
                flat.append(parts)
        for face in stale:
            bm.faces.remove(face)
        for edge in set(split):
            if edge.is_valid and not edge.link_faces:
                bm.edges.remove(edge)
        lined = self._mark(verts, kinds)
        self._join(verts, flat, kinds)
        bm.normal_update()
        return lined

    def _touched(self, kinds, old) -> list[int]:
        """Polygons with a divided triangle, or with a line along a diagonal."""
        laid = self.laid
        times = np.bincount(laid.origin, minlength=len(self.sculpt.faces))
        touched = set(self.sculpt.polygon[np.flatnonzero(times > 1)].tolist())
        inner = {e for e in kinds if e not in old and max(e) < len(self.sculpt.vertices)}
        if inner:
            sides = np.sort(np.stack([laid.faces, np.roll(laid.faces, -1, axis=1)], axis=2), axis=2)
            for (a, b) in inner:
                on = ((sides == (a, b)).all(axis=2)).any(axis=1)
                touched |= set(laid.polygon[on].tolist())
        return sorted(touched)

    def _add_vertices(self, verts, parts, face, count) -> None:
        for number in sorted({v for part in parts for v in part if verts[v] is None}):
            verts[number] = self.bm.verts.new(self.places[number - count])
            verts[number].copy_from_face_interp(face)

    def _add_face(self, verts, part, face) -> None:
        made = self.bm.faces.new([verts[v] for v in part], face)
        corners = {loop.vert: loop for loop in face.loops}
        for loop in made.loops:
            if loop.vert in corners:
                loop.copy_from(corners[loop.vert])
            else:
                loop.copy_from_face_interp(face, False, False)
        made.normal_update()
        made.select_set(face.select)
        made.hide_set(face.hide)

    def _copy_edges(self, verts, parts, face, old) -> list[bmesh.types.BMEdge]:
        """Give parts of a polygon's edges what the edges had; those that were divided."""
        sides = {(p[i], p[(i + 1) % 3]) for p in parts for i in range(3)}
        onward = {a: b for a, b in sides if (b, a) not in sides}
        split = []
        for loop in face.loops:
            here, goal = loop.vert.index, loop.link_loop_next.vert.index
            edge = old[min(here, goal), max(here, goal)]
            if onward.get(here) == goal:
                continue
            split.append(edge)
            while here != goal:
                beyond = onward[here]
                self.bm.edges.get((verts[here], verts[beyond])).copy_from(edge)
                here = beyond
        return split

    def _mark(self, verts, kinds) -> int:
        layers = {kind: marks.layer(self.bm, kind) for kind in marks.ATTRIBUTES}
        told = [(edge_numbers.layer(self.bm, name), numbers)
                for name, numbers in marks.TOLD.items()]
        for (a, b), kind in kinds.items():
            edge = self.bm.edges.get((verts[a], verts[b]))
            edge.seam = bool(kind & marks.SEAM)
            for flag, found in layers.items():
                if found is not None:
                    edge[found] = bool(kind & flag) and not kind & marks.SEAM
            for found, numbers in told:
                if found is not None:
                    edge[found] = int(numbers(kind)) if kind & marks.SEAM else 0
        return len(kinds)

    def _join(self, verts, flat, kinds) -> None:
        """Put flat polygons together again along edges that are neither theirs nor a line's."""
        degree: dict[int, int] = {}
        for edge in kinds:
            for v in edge:
                degree[v] = degree.get(v, 0) + 1
        gone, straight = [], []
        for parts in flat:
            sides = {(p[i], p[(i + 1) % 3]) for p in parts for i in range(3)}
            rim = {a for a, b in sides if (b, a) not in sides}
            inside = {v for p in parts for v in p} - rim
            if any(degree.get(v, 0) < 2 for v in inside):
                continue  # a line ends inside, and needs an edge on to the rim
            gone += [self.bm.edges.get((verts[a], verts[b])) for a, b in sides
                     if a < b and (b, a) in sides and (a, b) not in kinds]
            straight += [verts[v] for v in inside if degree[v] == 2]
        bmesh.ops.dissolve_edges(self.bm, edges=[e for e in gone if e is not None],
                                 use_verts=False, use_face_split=False)
        bmesh.ops.dissolve_verts(
            self.bm, verts=[v for v in straight if v.is_valid and _is_straight(v)])


def _is_flat(face: bmesh.types.BMFace) -> bool:
    points = np.array([v.co for v in face.verts])
    away = (points - points.mean(axis=0)) @ np.array(face.normal)
    return bool(np.abs(away).max() <= _FLAT * np.ptp(points, axis=0).max())


def _is_straight(vert: bmesh.types.BMVert) -> bool:
    if len(vert.link_edges) != 2:
        return False
    one, two = ((e.other_vert(vert).co - vert.co).normalized() for e in vert.link_edges)
    return one.dot(two) < 0 and one.cross(two).length < _STRAIGHT


# --- custom normals ------------------------------------------------------------


def _corner_normals(mesh: bpy.types.Mesh) -> np.ndarray | None:
    """Directions (l, 3) of the corners where the mesh has its own normals, else None."""
    if not mesh.has_custom_normals:
        return None
    found = np.empty(3 * len(mesh.loops), dtype=np.float32)
    mesh.corner_normals.foreach_get("vector", found)
    return found.reshape(-1, 3)


def _write_normals(bm: bmesh.types.BMesh, normals: np.ndarray) -> None:
    layer = bm.loops.layers.float_vector.new(_NORMAL)
    for face in bm.faces:
        for loop in face.loops:
            loop[layer] = normals[loop.index]


def _restore_normals(mesh: bpy.types.Mesh) -> None:
    attribute = mesh.attributes[_NORMAL]
    found = np.empty(3 * len(mesh.loops), dtype=np.float32)
    attribute.data.foreach_get("vector", found)
    mesh.attributes.remove(attribute)
    mesh.normals_split_custom_set(found.reshape(-1, 3))
