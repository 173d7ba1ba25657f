"""The trial build in the file: how the suit comes out beside the sculpt, as figures and as a map.

Once the sculpt is another than it was, the map is outdated: a timer that `live` keeps compares what
it was about with what there is.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
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
    StringProperty,
)

from ..core.errors import FoamError
from ..core.model import Settings
from . import changes, identity, maps, work
from .maps import FoamwrightMap
from .read import read_scene, suit_objects
from .settings import read_settings

if TYPE_CHECKING:
    from ..core.model import Pattern, Sculpt
    from .read import Source

QUIET = 0.5  # seconds without a change before the sculpt is compared
AROUND = 0.25  # share of a piece that is shown to either side of its worst place
# What the pieces and how they come out depend on, besides the sculpt and the foam.
_MATTERS = ("side", "scale", "contact", "seam_angle", "fairing", "web", "score_depth", "only",
            "split")
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
    maps: CollectionProperty(type=FoamwrightMap)

    def also(self, scene: bpy.types.Scene) -> str:
        """What it depends on, besides the sculpt and the foam."""
        return ""


CLASSES = (FoamwrightTrialPiece, FoamwrightTrial)


def store(scene: bpy.types.Scene, pattern: Pattern, sculpt: Sculpt, settings: Settings,
          sources: Sequence[Source]) -> None:
    """Keep what came of a trial build, in place of an earlier one. sculpt, settings: as they were
    read."""
    forget(scene)
    group, found = scene.foamwright.trial, pattern.rebuilt
    group.found, group.outdated = True, False
    group.signature = about(sculpt, settings)
    group.rms, group.most = found.rms, found.most
    group.unformed_rms, group.unformed_most = found.unformed
    for piece in sorted(found.pieces, key=lambda p: -p.most):
        item = group.pieces.add()
        item.name, item.rms, item.most = piece.code, piece.rms, piece.most
    beside = {piece.code: np.linalg.norm(piece.moved, axis=1) for piece in found.pieces}
    for source in sources:
        if source.name in scene.objects:
            for code, points, values in maps.add(group.maps, scene, pattern, source, beside,
                                                 "Trial Build"):
                told = group.pieces[code]
                told.map = len(group.maps) - 1
                told.worst = points[np.argmax(values)]
                told.size = float(np.ptp(points, axis=0).max())


def forget(scene: bpy.types.Scene) -> None:
    """Throw the trial away."""
    group = scene.foamwright.trial
    maps.clear(group.maps)
    group.pieces.clear()
    group.found = group.outdated = False


def shown(scene: bpy.types.Scene) -> list[tuple[bpy.types.Object, bpy.types.Mesh]]:
    """The objects that have a map which holds, with it."""
    group = scene.foamwright.trial
    return maps.found(scene, group.maps) if group.found and not group.outdated else []


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


def look(scene: bpy.types.Scene, layer: bpy.types.ViewLayer) -> bool:
    """Compare the sculpt with what the trial, the fit and the like were about, where something
    changed and the maker has paused; did one become outdated, or right again?"""
    global _seen
    root, now = scene.foamwright, (changes.epoch, changes.count, scene.session_uid)
    groups = [group for group in (root.trial, root.fit, root.reach, root.transport)
              if group.found]
    if (not groups or _seen == now or work.running() is not None
            or time.monotonic() - changes.last < QUIET):
        return False
    _seen = now
    changed = False
    for group in groups:
        outdated = as_it_is(scene, layer, group) + group.also(scene) != group.signature
        changed |= outdated != group.outdated
        group.outdated = outdated
    return changed


def as_it_is(scene: bpy.types.Scene, layer: bpy.types.ViewLayer,
             group: bpy.types.PropertyGroup) -> str:
    """What a trial, or another group with maps, would be about now; empty where there is nothing
    to build."""
    known = [identity.find(scene, item.name, item.word) for item in group.maps]
    try:
        with changes.ours(layer):
            settings = read_settings(scene)
            objects = suit_objects(scene) or [item for item in known if item is not None]
            return about(read_scene(scene, objects, settings)[0], settings)
    except FoamError:
        return ""


def about(sculpt: Sculpt, settings: Settings) -> str:
    """Digest of what a trial depends on."""
    matters = {name: getattr(settings, name) for name in _MATTERS}
    return changes.signature(sculpt, Settings(settings.stock, **matters)).hex()
