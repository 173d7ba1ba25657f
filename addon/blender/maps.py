"""Maps of lengths on the sculpt, kept in the file: a mesh for each object, in that object's own
space, that no object uses, so that it moves with its object.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import PointerProperty, StringProperty

from . import identity, write

if TYPE_CHECKING:
    from ..core.model import Pattern
    from .read import Source

VALUE = "foamwright_beside"  # of the points of a map: mm


class FoamwrightMap(bpy.types.PropertyGroup):
    """The map of an object, name: the object's; word: by which it is found again."""

    word: StringProperty()
    mesh: PointerProperty(type=bpy.types.Mesh)


@dataclass(frozen=True, eq=False)
class Shown:
    """The map of one object: points (n, 3) in its own space, triangles (m, 3), mm (n,)."""

    points: np.ndarray
    triangles: np.ndarray
    beside: np.ndarray


def add(maps: bpy.types.CollectionProperty, scene: bpy.types.Scene, pattern: Pattern,
        source: Source, values: Mapping[str, np.ndarray], title: str
        ) -> list[tuple[str, np.ndarray, np.ndarray]]:
    """Keep the map of one object. values: of the pieces that have any, code -> mm at the
    piece's vertices.

    Returns, of each piece of the object, its code, points (n, 3) in the object's own space and
    values (n,).
    """
    own = [(piece, values[piece.code]) for piece in pattern.pieces
           if piece.object == source.name and piece.code in values]
    if not own:
        return []
    start = np.cumsum([0, *(len(piece.vertices) for piece, _ in own)])
    points = write.in_own_space(np.concatenate([piece.vertices for piece, _ in own]),
                                pattern.settings, source)
    faces = np.concatenate([piece.faces + s for (piece, _), s in zip(own, start, strict=False)])
    item = maps.add()
    item.name, item.word = source.name, identity.mark(scene, scene.objects[source.name])
    item.mesh = write.triangle_mesh(f"{source.name} {title}", points, faces)
    whole = np.concatenate([value for _, value in own])
    item.mesh.attributes.new(VALUE, "FLOAT", "POINT").data.foreach_set(
        "value", whole.astype(np.float32))
    return [(piece.code, points[a:b], whole[a:b])
            for (piece, _), a, b in zip(own, start, start[1:], strict=False)]


def clear(maps: bpy.types.CollectionProperty) -> None:
    """Throw maps away."""
    for item in maps:
        if item.mesh is not None and item.mesh.users <= 1:
            bpy.data.meshes.remove(item.mesh)
    maps.clear()


def found(scene: bpy.types.Scene, maps: bpy.types.CollectionProperty
          ) -> list[tuple[bpy.types.Object, bpy.types.Mesh]]:
    """The objects that are still there, with their maps."""
    there = [(identity.find(scene, item.name, item.word), item.mesh) for item in maps]
    return [(item, mesh) for item, mesh in there if item is not None and mesh is not None]


def read(mesh: bpy.types.Mesh) -> Shown:
    """The map in a mesh that `add` made."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    corner = np.empty(len(mesh.loops), dtype=np.int32)
    beside = np.empty(len(mesh.vertices), dtype=np.float32)
    mesh.attributes["position"].data.foreach_get("vector", points)
    mesh.attributes[".corner_vert"].data.foreach_get("value", corner)
    mesh.attributes[VALUE].data.foreach_get("value", beside)
    return Shown(points.reshape(-1, 3), corner.reshape(-1, 3), beside)
