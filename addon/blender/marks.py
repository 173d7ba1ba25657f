"""Marks on edges: where they are kept in a mesh, and how they are set and read.

A seam is Blender's own seam flag. Trench and score line are boolean edge
attributes, which Blender carries through copies, joins, undo and most
modifiers. An edge carries one mark at most.
"""

from __future__ import annotations

from collections.abc import Iterable

import bmesh
import bpy
import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import (
    FINISH_BIT,
    JOIN_BIT,
    SCORE,
    SEAM,
    TRENCH,
    finish_numbers,
    join_numbers,
)
from . import finishes, joins

ATTRIBUTES = {TRENCH: "foamwright_trench", SCORE: "foamwright_score"}
# What seams tell besides that they are some, in an attribute each, and how it is read from flags.
TOLD = {joins.ATTRIBUTE: join_numbers, finishes.ATTRIBUTE: finish_numbers}
KINDS = {"SEAM": SEAM, "TRENCH": TRENCH, "SCORE": SCORE}
SEAM_ATTRIBUTE = "uv_seam"
_NAMES = {SEAM: SEAM_ATTRIBUTE, **ATTRIBUTES}


def read_marks(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Marked edges of a mesh outside Edit Mode: vertex pairs (k, 2) and their flags (k,), with
    how seams are held."""
    flags = read_flags(mesh)
    marked = np.flatnonzero(flags)
    return _ends(mesh)[marked], flags[marked]


def read_flags(mesh: bpy.types.Mesh) -> np.ndarray:
    """The flags (e,) of every edge of a mesh outside Edit Mode, and how seams are held and look."""
    flags = read_kinds(mesh)
    more = joins.read_joins(mesh) * JOIN_BIT + finishes.read_finishes(mesh) * FINISH_BIT
    return flags + np.where((flags & SEAM) != 0, more, 0)


def read_kinds(mesh: bpy.types.Mesh) -> np.ndarray:
    """The flags (e,) of every edge of a mesh outside Edit Mode, 0 for no mark."""
    flags = np.zeros(len(mesh.edges), dtype=np.int64)
    for kind, name in _NAMES.items():
        attribute = mesh.attributes.get(name)
        # Tools can turn an attribute into another type; then it says nothing about edges.
        if attribute and attribute.domain == "EDGE" and attribute.data_type == "BOOLEAN":
            marked = np.empty(len(flags), dtype=bool)
            attribute.data.foreach_get("value", marked)
            flags[marked] |= kind
    return flags


def write_kinds(mesh: bpy.types.Mesh, kinds: np.ndarray) -> None:
    """Give every edge of a mesh outside Edit Mode the mark in kinds (e,), 0 for none.

    Raises FoamError `attribute-taken`, before anything is changed.
    """
    for kind in ATTRIBUTES:
        if (kinds == kind).any():
            require_room(mesh, kind)
    for kind, name in _NAMES.items():
        chosen, attribute = kinds == kind, mesh.attributes.get(name)
        if attribute is None and chosen.any():
            attribute = mesh.attributes.new(name, "BOOLEAN", "EDGE")
        if attribute and (attribute.domain, attribute.data_type) == ("EDGE", "BOOLEAN"):
            attribute.data.foreach_set("value", chosen)
    mesh.update()


def mesh_arrays(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Positions (n, 3) and ends of edges (e, 2) of a mesh outside Edit Mode."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    if len(points):  # an empty mesh has no such attribute
        mesh.attributes["position"].data.foreach_get("vector", points)
    return points.reshape(-1, 3).astype(np.float64), _ends(mesh)


def rim(mesh: bpy.types.Mesh) -> np.ndarray:
    """The vertices (r,) of a mesh outside Edit Mode at which its surface ends."""
    sides = np.empty(len(mesh.loops), dtype=np.int32)
    if len(sides):
        mesh.attributes[".corner_edge"].data.foreach_get("value", sides)
    faces = np.bincount(sides, minlength=len(mesh.edges))
    return np.unique(_ends(mesh)[faces == 1])


def normals(mesh: bpy.types.Mesh) -> np.ndarray:
    """Unit normals (n, 3) of the vertices of a mesh outside Edit Mode."""
    found = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertex_normals.foreach_get("vector", found)
    return found.reshape(-1, 3).astype(np.float64)


def _ends(mesh: bpy.types.Mesh) -> np.ndarray:
    pairs = np.empty(2 * len(mesh.edges), dtype=np.int32)
    if len(pairs):
        mesh.attributes[".edge_verts"].data.foreach_get("value", pairs)
    return pairs.reshape(-1, 2).astype(np.int64)


def require_room(mesh: bpy.types.Mesh, kind: int | None) -> None:
    """Raises FoamError `attribute-taken` where the mesh cannot hold marks of this kind, since
    something else in it bears their name."""
    attribute = mesh.attributes.get(ATTRIBUTES.get(kind, ""))
    if attribute and (attribute.domain, attribute.data_type) != ("EDGE", "BOOLEAN"):
        raise FoamError(Finding(
            "attribute-taken", ERROR,
            f"“{mesh.name}” has an attribute called “{attribute.name}” that is no mark on edges.",
            "Rename or delete it in Object Data properties > Attributes, then mark again."))


def layer(bm: bmesh.types.BMesh, kind: int,
          create: bool = False) -> bmesh.types.BMLayerItem | None:
    """The edge layer of TRENCH or SCORE, None where the mesh has none yet."""
    layers, name = bm.edges.layers.bool, ATTRIBUTES[kind]
    found = layers.get(name)
    return layers.new(name) if found is None and create else found


def set_marks(bm: bmesh.types.BMesh, chosen: Iterable[int], kind: int | None) -> int:
    """Give the chosen edges (indices) the mark `kind`, None for no mark; how many changed."""
    # Adding a layer invalidates the references to elements, so layers come first.
    if kind in ATTRIBUTES:
        layer(bm, kind, create=True)
    wanted = [(found, k == kind) for k in ATTRIBUTES if (found := layer(bm, k)) is not None]
    bm.edges.ensure_lookup_table()
    edges, seam, changed = bm.edges, kind == SEAM, 0
    for index in chosen:
        edge = edges[index]
        differs = edge.seam != seam
        if differs:
            edge.seam = seam
        for found, value in wanted:
            if edge[found] != value:
                edge[found] = value
                differs = True
        changed += differs
    return changed


def marked(bm: bmesh.types.BMesh, kind: int) -> list[int]:
    """Indices of the edges with this mark."""
    if kind == SEAM:
        return [e.index for e in bm.edges if e.seam]
    found = layer(bm, kind)
    return [] if found is None else [e.index for e in bm.edges if e[found]]


def edit_arrays(item: bpy.types.Object) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Positions (n, 3), ends of edges (e, 2) and marks (e,), 0 for none, of a mesh in Edit Mode,
    numbered as in its BMesh: much faster than a look at every element. Marks of seams tell how
    these are held."""
    item.update_from_editmode()
    mesh = item.data.copy()  # what the session holds is hidden in the original
    try:
        return *mesh_arrays(mesh), read_flags(mesh)
    finally:
        bpy.data.meshes.remove(mesh)


def select(bm: bmesh.types.BMesh, chosen: Iterable[int]) -> int:
    """Select the chosen edges (indices) as well; how many they are."""
    bm.edges.ensure_lookup_table()
    found = [bm.edges[i] for i in chosen]
    for edge in found:
        edge.select_set(True)
    bm.select_flush_mode()
    return len(found)


def sharp(bm: bmesh.types.BMesh, angle: float, flagged: bool = False) -> list[int]:
    """Indices of the edges between two faces folded by more than `angle` radians; `flagged`:
    and of those between two faces that were marked sharp by hand."""
    return [e.index for e in bm.edges if e.is_manifold
            and (e.calc_face_angle() > angle or flagged and not e.smooth)]
