"""A UV map at true scale: every piece lies in it as it lies flat, upright and never mirrored."""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np

from ..core.model import Pattern, Placement
from .read import Source, mm_per_unit

LAYER = "Foamwright"
LENGTH = "foamwright_uv_mm"  # on the mesh: millimetres in one UV unit
_SIZE = "foamwright_uv_edges"  # on the mesh: length in mm of some of its edges at that time
_SAMPLE = 32  # edges that tell whether an object has been made larger or smaller since


def loop_uvs(pattern: Pattern, source: Source, placements: Sequence[Placement], length: float,
             loop_face: np.ndarray, loop_vertex: np.ndarray
             ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places (k, 2) of the face corners of one object; which of them (k,) belong to a piece; and
    its own faces that a seam crosses, which lie with the piece that has most of them.

    The object's elements are its own (source.same). length: mm in one UV unit. loop_face and
    loop_vertex (k,): face and vertex of each corner.
    """
    sculpt = pattern.sculpt
    stride = len(source.vertices) + 1
    keys, places, owners, crossed = [], [], [], {}
    for number, placement in enumerate(placements):
        piece = pattern.piece(placement.piece)
        face = sculpt.polygon[piece.source_face] - source.polygons.start
        mine = (face >= 0) & (face < len(source.polygons))
        if not mine.any():
            continue
        corner = piece.faces[mine]
        vertex = piece.source_vertex[corner] - source.vertices.start
        flat = placement.apply(piece.flat) / length
        # A line drawn across faces adds vertices, which the object itself does not have.
        own = (vertex >= 0) & (vertex < len(source.vertices))
        keys.append((face[mine][:, None] * stride + vertex)[own])
        places.append(flat[corner[own]])
        owners.append(np.full(int(own.sum()), number))
        for index in np.flatnonzero(mine)[~own.all(axis=1)]:
            crossed.setdefault(int(face[index]), []).append((number, index))
    uv = np.zeros((len(loop_face), 2))
    found = np.zeros(len(loop_face), dtype=bool)
    if keys:
        keys, first = np.unique(np.concatenate(keys), return_index=True)
        wanted = loop_face * stride + loop_vertex
        at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
        found = keys[at] == wanted
        uv[found] = np.concatenate(places)[first][at[found]]
    for face, parts in crossed.items():
        loops = np.flatnonzero(loop_face == face)
        points = sculpt.vertices[source.vertices.start + loop_vertex[loops]]
        uv[loops] = _extended(pattern, placements, parts, points) / length
        found[loops] = True
    return uv, found, np.array(sorted(crossed), dtype=np.int64)


def _extended(pattern: Pattern, placements: Sequence[Placement],
              parts: list[tuple[int, int]], points: np.ndarray) -> np.ndarray:
    """Flat places (k, 2) of points (k, 3) of one face, as its largest triangle goes on."""
    best, size = None, -1.0
    for number, triangle in parts:
        piece = pattern.piece(placements[number].piece)
        a, b, c = piece.vertices[piece.faces[triangle]]
        area = float(np.linalg.norm(np.cross(b - a, c - a)))
        if area > size:
            best, size = (piece, placements[number], piece.faces[triangle]), area
    piece, placement, corner = best
    a, b, c = piece.vertices[corner]
    weights = np.linalg.lstsq(np.stack([b - a, c - a], axis=1), (points - a).T, rcond=None)[0].T
    p, q, r = placement.apply(piece.flat[corner])
    return p + weights @ np.stack([q - p, r - p])


def is_outdated(scene: bpy.types.Scene, item: bpy.types.Object) -> bool:
    """Has an object with a map been made larger or smaller by 1 % or more since it was written?"""
    then = item.data.get(_SIZE)
    return then is not None and abs(_size(scene, item) - then) > 0.01 * then


def _size(scene: bpy.types.Scene, item: bpy.types.Object) -> float:
    """Length of some edges of an object as it goes into the foam, mm."""
    mesh, place = item.data, item.matrix_world.to_3x3()
    step = max(1, len(mesh.edges) // _SAMPLE)
    ends = ([mesh.vertices[v].co for v in mesh.edges[i].vertices]
            for i in range(0, len(mesh.edges), step))
    return sum((place @ (b - a)).length for a, b in ends) * mm_per_unit(
        scene) * scene.foamwright.scale


def write(scene: bpy.types.Scene, item: bpy.types.Object, pattern: Pattern, source: Source,
          placements: Sequence[Placement], length: float) -> np.ndarray | None:
    """Write the map on an object in Object Mode; its own faces that a seam crosses.

    None where the mesh has no room for another UV map. Corners of faces that are not built
    lie at the origin.
    """
    mesh = item.data
    layer = mesh.uv_layers.get(LAYER) or mesh.uv_layers.new(name=LAYER, do_init=False)
    if layer is None:
        return None
    vertex = np.empty(len(mesh.loops), dtype=np.int32)
    mesh.attributes[".corner_vert"].data.foreach_get("value", vertex)
    totals = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", totals)
    face = np.repeat(np.arange(len(totals)), totals)
    uv, _, crossed = loop_uvs(pattern, source, placements, length, face, vertex.astype(np.int64))
    layer.uv.foreach_set("vector", uv.astype(np.float32).ravel())
    mesh.uv_layers.active = mesh.uv_layers[LAYER]
    mesh[LENGTH], mesh[_SIZE] = length, _size(scene, item)
    mesh.update()
    return crossed
