"""How the suit fits, in the file: figures, and a map of the air between foam and body."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import bpy
from bpy.props import BoolProperty, CollectionProperty, FloatProperty, StringProperty

from . import body, maps, trial
from .maps import FoamwrightMap

if TYPE_CHECKING:
    from ..core.model import Pattern, Sculpt, Settings
    from .read import Source

FAR = 40.0  # mm of air at the light end of the map: who looks for what is tight needs no more


class FoamwrightFitPiece(bpy.types.PropertyGroup):
    """A piece, name: its code; mm of air between its inner face and the body."""

    least: FloatProperty()
    mean: FloatProperty()


class FoamwrightGirth(bpy.types.PropertyGroup):
    """Round the trunk, name: where; mm. round: share of the way round that foam covers."""

    body: FloatProperty()
    inside: FloatProperty()
    wanted: FloatProperty()
    round: FloatProperty()


class FoamwrightFit(bpy.types.PropertyGroup):
    """What came of it; lengths in mm."""

    found: BoolProperty()
    outdated: BoolProperty()
    signature: StringProperty()
    spacers: StringProperty()
    pieces: CollectionProperty(type=FoamwrightFitPiece)
    girths: CollectionProperty(type=FoamwrightGirth)
    maps: CollectionProperty(type=FoamwrightMap)

    def also(self, scene: bpy.types.Scene) -> str:
        """What it depends on, besides the sculpt and the foam."""
        return body.signature(scene)


CLASSES = (FoamwrightFitPiece, FoamwrightGirth, FoamwrightFit)


def store(scene: bpy.types.Scene, pattern: Pattern, sculpt: Sculpt, settings: Settings,
          sources: Sequence[Source]) -> None:
    """Keep how a pattern fits, in place of what was known. sculpt, settings: as they were read."""
    forget(scene)
    group, found = scene.foamwright.fit, pattern.fitted
    group.found, group.outdated = True, False
    group.signature = trial.about(sculpt, settings) + group.also(scene)
    for piece in sorted(found.pieces, key=lambda p: p.least):
        item = group.pieces.add()
        item.name, item.least, item.mean = piece.code, piece.least, piece.mean
    for girth in found.girths:
        item = group.girths.add()
        item.name, item.body, item.inside = girth.name, girth.body, girth.inside
        item.wanted, item.round = girth.wanted, girth.round
    group.spacers = str(len(found.spacers)) if found.spacers else ""
    clearance = {piece.code: piece.clearance for piece in found.pieces}
    for source in sources:
        if source.name in scene.objects:
            maps.add(group.maps, scene, pattern, source, clearance, "Fit")


def forget(scene: bpy.types.Scene) -> None:
    """Throw it away."""
    group = scene.foamwright.fit
    maps.clear(group.maps)
    group.pieces.clear()
    group.girths.clear()
    group.found = group.outdated = False


def shown(scene: bpy.types.Scene) -> list[tuple[bpy.types.Object, bpy.types.Mesh]]:
    """The objects that have a map which holds, with it."""
    group = scene.foamwright.fit
    return maps.found(scene, group.maps) if group.found and not group.outdated else []
