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

from ..core.model import SCORE, SEAM, TRENCH

ATTRIBUTES = {TRENCH: "foamwright_trench", SCORE: "foamwright_score"}
KINDS = {"SEAM": SEAM, "TRENCH": TRENCH, "SCORE": SCORE}
SEAM_ATTRIBUTE = "uv_seam"


def read_marks(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Marked edges of a mesh outside Edit Mode: vertex pairs (k, 2) and their flags (k,)."""
    flags = np.zeros(len(mesh.edges), dtype=np.int64)
    for kind, name in ((SEAM, SEAM_ATTRIBUTE), *ATTRIBUTES.items()):
        attribute = mesh.attributes.get(name)
        # Tools can turn an attribute into another type; then it says nothing about edges.
        if attribute and attribute.domain == "EDGE" and attribute.data_type == "BOOLEAN":
            marked = np.empty(len(flags), dtype=bool)
            attribute.data.foreach_get("value", marked)
            flags[marked] |= kind
    pairs = np.empty(2 * len(flags), dtype=np.int32)
    mesh.attributes[".edge_verts"].data.foreach_get("value", pairs)
    marked = np.flatnonzero(flags)
    return pairs.reshape(-1, 2)[marked].astype(np.int64), flags[marked]


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
    layers = {k: found for k in ATTRIBUTES if (found := layer(bm, k)) is not None}
    bm.edges.ensure_lookup_table()
    changed = 0
    for index in chosen:
        edge = bm.edges[index]
        before = (edge.seam, *(edge[found] for found in layers.values()))
        edge.seam = kind == SEAM
        for k, found in layers.items():
            edge[found] = k == kind
        changed += before != (edge.seam, *(edge[found] for found in layers.values()))
    return changed


def marked(bm: bmesh.types.BMesh, kind: int) -> list[int]:
    """Indices of the edges with this mark."""
    if kind == SEAM:
        return [e.index for e in bm.edges if e.seam]
    found = layer(bm, kind)
    return [] if found is None else [e.index for e in bm.edges if e[found]]


def sharp(bm: bmesh.types.BMesh, angle: float) -> list[int]:
    """Indices of the edges between two faces folded by more than `angle` radians."""
    return [e.index for e in bm.edges if e.is_manifold and e.calc_face_angle() > angle]
