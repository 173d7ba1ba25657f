"""How far the wearer moves and how the parts go into a box, in the file: what was asked and what
was found."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    FloatVectorProperty,
    PointerProperty,
    StringProperty,
)

from ..core.errors import ERROR, Finding, FoamError
from ..core.units import parse_box, parse_length
from . import body, identity, poses, settings, trial
from .fields import foam_changed
from .maps import FoamwrightMap

if TYPE_CHECKING:
    from ..core.model import Pattern, Sculpt, Settings
    from .read import Source

MOVEMENTS, BOX = "reach", "transport"  # groups of the scene's


class FoamwrightMoved(bpy.types.PropertyGroup):
    """A line of what was found, name: in words. told: the figures in it; enough: nothing is amiss.
    turn (9,) and offset (3,) mm: where what moves comes to lie; objects: JSON, names and words of
    those that move as a whole; parted: JSON, names of those of which parts move."""

    told: StringProperty()
    enough: BoolProperty(default=True)
    turn: FloatVectorProperty(size=9)
    offset: FloatVectorProperty(size=3)
    objects: StringProperty()
    parted: StringProperty()


class _Asked:
    """What both groups keep: what was found, and what it was about."""

    found: BoolProperty()
    outdated: BoolProperty()
    signature: StringProperty()
    lines: CollectionProperty(type=FoamwrightMoved)
    maps: CollectionProperty(type=FoamwrightMap)  # the objects it was about, without maps
    shown: PointerProperty(
        type=bpy.types.Collection, name="Shown", description="Collection that holds what is shown")


class FoamwrightReach(_Asked, bpy.types.PropertyGroup):
    """How far the wearer can move."""

    wanted: StringProperty(
        name="Movements", update=foam_changed,
        description="Movements to try and the degrees they should get to, such as arm forward 120, "
                    "thigh forward 90. Empty: all of them, as far as people get without armour")
    in_plan: BoolProperty(
        name="Movement in the Plan",
        description="Also try the movements when templates are written, and show in the build plan "
                    "where plates meet. Takes some seconds")

    def also(self, scene: bpy.types.Scene) -> str:
        """What it depends on, besides the sculpt and the foam."""
        return f"{body.signature(scene)} {self.wanted} {scene.foamwright.wearer.stature}"


class FoamwrightTransport(_Asked, bpy.types.PropertyGroup):
    """How the parts go into a box."""

    box: StringProperty(
        name="Box", update=foam_changed,
        description="Length, width and height of the box inside, with their unit, such as "
                    "600 x 400 x 400 mm or 24 x 16 x 16 in")
    gap: StringProperty(
        name="Gap", update=foam_changed,
        description="Least distance between parts in the box, with its unit. Empty: 6 mm")
    in_plan: BoolProperty(
        name="Box in the Plan",
        description="Also pack the box when templates are written, and show in the build plan how "
                    "the parts lie in it. Takes some seconds")
    summary: StringProperty()

    def also(self, scene: bpy.types.Scene) -> str:
        """What it depends on, besides the sculpt and the foam."""
        return f"{self.box} {self.gap}"


CLASSES = (FoamwrightMoved, FoamwrightReach, FoamwrightTransport)


def wanted(scene: bpy.types.Scene) -> dict[str, float]:
    """Movements that are asked for, in degrees. Raises FoamError `bad-movement`."""
    found = {}
    for text in scene.foamwright.reach.wanted.replace(";", ",").split(","):
        if not text.strip():
            continue
        name, _, angle = text.replace("°", "").replace("=", " ").strip().rpartition(" ")
        try:
            found[" ".join(name.lower().replace("-", " ").split())] = float(angle)
        except ValueError:
            raise FoamError(Finding(
                "bad-movement", ERROR, f"“{text.strip()}” is no movement with an angle.",
                "Write it as arm forward 120, with commas between several.")) from None
    return found


def box(scene: bpy.types.Scene) -> tuple[tuple[float, float, float], float]:
    """The box and the gap that are asked for, mm. Raises FoamError `bad-box` or `bad-length`."""
    from ..core.transport import GAP

    group, unit = scene.foamwright.transport, settings.unit()
    if not group.box.strip():
        raise FoamError(Finding(
            "bad-box", ERROR, "No size of a box is given.",
            "Enter its length, width and height inside, such as 600 x 400 x 400 mm."))
    return (parse_box(group.box, unit),
            parse_length(group.gap, unit) if group.gap.strip() else GAP)


def store_reach(scene: bpy.types.Scene, pattern: Pattern, sculpt: Sculpt, settings: Settings,
                sources: Sequence[Source]) -> None:
    """Keep how far the wearer moves, in place of what was known. sculpt, settings: as they were
    read."""
    from ..core.reach import turned
    from ..export.reach_words import angle, capital, most_held_first

    group = _begun(scene, MOVEMENTS, sculpt, settings, sources)
    held = most_held_first(pattern)
    free = [m for m in pattern.reach.movements if m.meeting is None]
    for movement in (*held, *free):
        turn, offset = turned(movement)
        meets = f": {' and '.join(movement.meeting.pieces)}" if movement.meeting else ""
        _line(scene, group, pattern, capital(movement.words),
              f"{angle(movement.reached)} of {angle(movement.most)}{meets}", movement.enough,
              movement.pieces, turn, offset)


def store_transport(scene: bpy.types.Scene, pattern: Pattern, sculpt: Sculpt, settings: Settings,
                    sources: Sequence[Source]) -> None:
    """Keep how the parts go into a box, likewise."""
    from ..export.transport_words import in_words

    group, found = _begun(scene, BOX, sculpt, settings, sources), pattern.transport
    group.summary = in_words(pattern)[0]
    for number, one in enumerate(found.packed, 1):
        _line(scene, group, pattern, one.part, str(number), True, one.pieces, one.turn, one.offset)
    for part in found.left:
        _line(scene, group, pattern, part, "", False, (), np.eye(3), np.zeros(3))


def _begun(scene, name: str, sculpt, settings, sources):
    """A group that knows nothing yet but what it is about."""
    forget(scene, name)
    group = getattr(scene.foamwright, name)
    group.found = True
    group.signature = trial.about(sculpt, settings) + group.also(scene)
    for source in sources:
        if source.name in scene.objects:
            item = group.maps.add()
            item.name, item.word = source.name, identity.mark(scene, scene.objects[source.name])
    return group


def _line(scene, group, pattern, words: str, told: str, enough: bool, pieces: Iterable[str],
          turn: np.ndarray, offset: np.ndarray) -> None:
    moved, every = set(pieces), {}
    for piece in pattern.pieces:
        every.setdefault(piece.object, []).append(piece.code in moved)
    item = group.lines.add()
    item.name, item.told, item.enough = words, told, enough
    item.turn, item.offset = turn.ravel().tolist(), offset.tolist()
    item.objects = json.dumps([[name, identity.mark(scene, scene.objects[name])]
                               for name, own in every.items()
                               if all(own) and name in scene.objects])
    item.parted = json.dumps([name for name, own in every.items() if any(own) and not all(own)])


def forget(scene: bpy.types.Scene, name: str) -> None:
    """Throw away what a group knows and shows."""
    group = getattr(scene.foamwright, name)
    poses.hide(group)
    group.lines.clear()
    group.maps.clear()
    group.found = group.outdated = False
