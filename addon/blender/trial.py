"""The trial build in the file: how the suit comes out beside the sculpt, as figures and as a map.

The map is kept as meshes that no object uses, one for each object, in that object's own space, so
that it moves with it. Once the sculpt is another than it was, the map is outdated: a timer that
`live` keeps compares what it was about with what there is.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.errors import FoamError
from ..core.model import Settings
from . import changes, identity, work, write
from .read import read_scene, suit_objects
from .settings import read_settings

if TYPE_CHECKING:
    from ..core.model import Pattern, Sculpt
    from .read import Source

BESIDE = "foamwright_beside"  # of the points of a map: mm beside the sculpt
QUIET = 0.5  # seconds without a change before the sculpt is compared
AROUND = 0.25  # share of a piece that is shown to either side of its worst place
# What the pieces and how they come out depend on, besides the sculpt and the foam.
_MATTERS = ("side", "scale", "seam_angle", "fairing", "web", "score_depth", "only", "split")
_seen: tuple | None = None  # state of `changes`, and the scene, when that was done last


class FoamwrightTrialPiece(bpy.types.PropertyGroup):
    """A piece, name: its code; mm beside the sculpt. map: the place among the maps of its
    object's; worst: the point of its own space where it is furthest out; size: of the piece
    there."""

    rms: FloatProperty()
    most: FloatProperty()
    map: IntProperty(default=-1)
    worst: FloatVectorProperty(size=3)
    size: FloatProperty()


class FoamwrightTrialMap(bpy.types.PropertyGroup):
    """The map of an object, name: the object's; word: by which it is found again."""

    word: StringProperty()
    mesh: PointerProperty(type=bpy.types.Mesh)


class FoamwrightTrial(bpy.types.PropertyGroup):
    """What is asked for, and what came of it; lengths in mm."""

    quick: BoolProperty(
        name="Coarse", description="A rough answer within seconds instead of half a minute")
    in_plan: BoolProperty(
        name="Trial Build in the Plan",
        description="Also put the suit together again in thought when templates are written, and "
                    "show in the build plan how it should come out. Takes half a minute or so")
    found: BoolProperty()
    outdated: BoolProperty()
    signature: StringProperty()
    rms: FloatProperty()
    most: FloatProperty()
    unformed_rms: FloatProperty()
    unformed_most: FloatProperty()
    pieces: CollectionProperty(type=FoamwrightTrialPiece)
    maps: CollectionProperty(type=FoamwrightTrialMap)


CLASSES = (FoamwrightTrialPiece, FoamwrightTrialMap, FoamwrightTrial)


@dataclass(frozen=True, eq=False)
class Shown:
    """The map of one object: points (n, 3) in its own space, triangles (m, 3), mm beside the
    sculpt (n,)."""

    points: np.ndarray
    triangles: np.ndarray
    beside: np.ndarray


def store(scene: bpy.types.Scene, pattern: Pattern, sculpt: Sculpt, settings: Settings,
          sources: Sequence[Source]) -> None:
    """Keep what came of a trial build, in place of an earlier one. sculpt, settings: as they were
    read."""
    forget(scene)
    group, found = scene.foamwright.trial, pattern.rebuilt
    group.found, group.outdated = True, False
    group.signature = _about(sculpt, settings)
    group.rms, group.most = found.rms, found.most
    group.unformed_rms, group.unformed_most = found.unformed
    for piece in sorted(found.pieces, key=lambda p: -p.most):
        item = group.pieces.add()
        item.name, item.rms, item.most = piece.code, piece.rms, piece.most
    for source in sources:
        if source.name in scene.objects:
            _add_map(scene, pattern, source)


def _add_map(scene: bpy.types.Scene, pattern: Pattern, source: Source) -> None:
    group = scene.foamwright.trial
    own = [(piece, found) for piece, found in zip(pattern.pieces, pattern.rebuilt.pieces,
                                                  strict=True) if piece.object == source.name]
    if not own:
        return
    start = np.cumsum([0, *(len(piece.vertices) for piece, _ in own)])
    points = write.in_own_space(np.concatenate([piece.vertices for piece, _ in own]),
                                pattern.settings, source)
    faces = np.concatenate([piece.faces + s for (piece, _), s in zip(own, start, strict=False)])
    item = group.maps.add()
    item.name, item.word = source.name, identity.mark(scene, scene.objects[source.name])
    item.mesh = write.triangle_mesh(f"{source.name} Trial Build", points, faces)
    beside = np.concatenate([np.linalg.norm(found.moved, axis=1) for _, found in own])
    item.mesh.attributes.new(BESIDE, "FLOAT", "POINT").data.foreach_set(
        "value", beside.astype(np.float32))
    for (piece, _), first, last in zip(own, start, start[1:], strict=False):
        mine, told = points[first:last], group.pieces[piece.code]
        told.map = len(group.maps) - 1
        told.worst = mine[np.argmax(beside[first:last])]
        told.size = float(np.ptp(mine, axis=0).max())


def forget(scene: bpy.types.Scene) -> None:
    """Throw the trial away."""
    group = scene.foamwright.trial
    for item in group.maps:
        if item.mesh is not None and item.mesh.users <= 1:
            bpy.data.meshes.remove(item.mesh)
    group.maps.clear()
    group.pieces.clear()
    group.found = group.outdated = False


def maps(scene: bpy.types.Scene) -> list[tuple[bpy.types.Object, bpy.types.Mesh]]:
    """The objects that have a map which holds, with it."""
    group = scene.foamwright.trial
    if not group.found or group.outdated:
        return []
    found = [(identity.find(scene, item.name, item.word), item.mesh) for item in group.maps]
    return [(item, mesh) for item, mesh in found if item is not None and mesh is not None]


def worst_place(scene: bpy.types.Scene, code: str) -> np.ndarray:
    """Points (8, 3) of the world round the place where a piece is furthest out, none where it is
    gone."""
    group = scene.foamwright.trial
    piece = group.pieces.get(code)
    if piece is None or not 0 <= piece.map < len(group.maps):
        return np.empty((0, 3))
    home = group.maps[piece.map]
    item = identity.find(scene, home.name, home.word)
    if item is None:
        return np.empty((0, 3))
    corners = np.array(list(product((-AROUND, AROUND), repeat=3)))
    points = np.array(piece.worst) + piece.size * corners
    place = np.array(item.matrix_world)
    return points @ place[:3, :3].T + place[:3, 3]


def read(mesh: bpy.types.Mesh) -> Shown:
    """The map in a mesh that `store` made."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    corner = np.empty(len(mesh.loops), dtype=np.int32)
    beside = np.empty(len(mesh.vertices), dtype=np.float32)
    mesh.attributes["position"].data.foreach_get("vector", points)
    mesh.attributes[".corner_vert"].data.foreach_get("value", corner)
    mesh.attributes[BESIDE].data.foreach_get("value", beside)
    return Shown(points.reshape(-1, 3), corner.reshape(-1, 3), beside)


def look(scene: bpy.types.Scene, layer: bpy.types.ViewLayer) -> bool:
    """Compare the sculpt with what the trial was about, where something changed and the maker has
    paused; did it become outdated, or right again?"""
    global _seen
    group, now = scene.foamwright.trial, (changes.epoch, changes.count, scene.session_uid)
    if (not group.found or _seen == now or work.running() is not None
            or time.monotonic() - changes.last < QUIET):
        return False
    _seen = now
    outdated = _as_it_is(scene, layer) != group.signature
    if outdated == group.outdated:
        return False
    group.outdated = outdated
    return True


def _as_it_is(scene: bpy.types.Scene, layer: bpy.types.ViewLayer) -> str:
    """What a trial would be about now; empty where there is nothing to build."""
    known = [identity.find(scene, item.name, item.word) for item in scene.foamwright.trial.maps]
    try:
        with changes.ours(layer):
            settings = read_settings(scene)
            objects = suit_objects(scene) or [item for item in known if item is not None]
            return _about(read_scene(scene, objects, settings)[0], settings)
    except FoamError:
        return ""


def _about(sculpt: Sculpt, settings: Settings) -> str:
    matters = {name: getattr(settings, name) for name in _MATTERS}
    return changes.signature(sculpt, Settings(settings.stock, **matters)).hex()
