"""Marks that an object's modifiers lose are kept as they lie on its own mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import bpy

from ..core.model import Sculpt
from . import lines, marks
from .read import Source, read_scene
from .settings import read_settings


def keep(scene: bpy.types.Scene, sculpt: Sculpt, sources: Sequence[Source]) -> dict[str, int]:
    """Keep the lines of the objects that have marks, but none in the sculpt as it was read.

    Returns how many lines of each are kept. `lines.keep` leaves these objects alone, so this is
    all that is left of their marks once such a modifier is applied.
    """
    found = {}
    for source in sources:
        item = scene.objects.get(source.name)
        inside = (sculpt.edges >= source.vertices.start) & (sculpt.edges < source.vertices.stop)
        if item is None or inside.any():
            continue
        # In Edit Mode the mesh does not tell before it is read.
        if not item.data.is_editmode and not marks.read_kinds(item.data).any():
            continue
        bare = item.copy()
        try:
            bare.modifiers.clear()
            own, (place,) = read_scene(scene, [bare], read_settings(scene))
        finally:
            bpy.data.objects.remove(bare)
        if len(own.edges):
            found |= lines.keep(scene, own, [replace(place, name=source.name)])[0]
    return found
