"""The wearer's own measures, where a piece is worn, and what a look over the sculpt found."""

from __future__ import annotations

import bpy
from bpy.props import FloatVectorProperty, StringProperty

from ..core.measures import ANYWHERE, WORN
from . import changes

AUTO = "AUTO"
PLACES = (
    (AUTO, "As Its Name Says", "A helmet on the head, a bracer on the forearm; anywhere where "
                               "the object's name tells nothing"),
    (ANYWHERE, "Anywhere", "Of no certain size, such as a strap or a wing"),
    *((place, place.title(), f"Goes on the {place}") for place in WORN),
)


def _changed(self: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    changes.note()  # no update of the scene tells of it


def _measure(name: str, how: str):
    return StringProperty(name=name, update=_changed, description=(
        f"{how}, with its unit, such as 570 mm or 22 in. Empty: what nine people in ten measure"))


class FoamwrightWearer(bpy.types.PropertyGroup):
    """Measures of the one who wears the suit; text such as "570 mm"."""

    stature: _measure("Height", "The wearer's height without shoes")
    head: _measure("Head", "Round the wearer's head, above the ears")
    neck: _measure("Neck", "Round the wearer's neck")
    chest: _measure("Chest", "Round the wearer's chest, where it is widest")
    hips: _measure("Hips", "Round the wearer's hips, where they are widest")
    upper_arm: _measure("Upper Arm", "Round the wearer's upper arm, bent")
    forearm: _measure("Forearm", "Round the wearer's forearm, where it is widest")
    wrist: _measure("Wrist", "Round the wearer's wrist")
    thigh: _measure("Thigh", "Round the wearer's thigh, where it is widest")
    calf: _measure("Calf", "Round the wearer's calf, where it is widest")


class FoamwrightSurvey(bpy.types.PropertyGroup):
    """What one object of the sculpt was found to be; its name is that of the object."""

    size: FloatVectorProperty(size=3)  # mm
    kind: StringProperty()


def worn(items: list[bpy.types.Object]) -> dict[str, str]:
    """Where objects are worn, by their names; those that leave it to their names are not told."""
    return {item.name: item.foamwright.worn for item in items if item.foamwright.worn != AUTO}
