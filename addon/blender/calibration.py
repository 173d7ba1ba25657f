"""What the maker measured on strips of foam, kept in the .blend with the scene."""

from __future__ import annotations

import bpy
from bpy.props import CollectionProperty, FloatProperty, PointerProperty, StringProperty

from ..core.calibration import Calibration, Measured, calibrate
from ..core.stock import Stock
from ..core.units import parse_length
from . import changes

PROPERTY = "foamwright_measured"
FIELDS = ("girth", "closing", "pulled", "pressed")
_VALUES = ("neutral", "stretch", "compress")
_NONE = -1.0  # not measured


class FoamwrightMeasuredFoam(bpy.types.PropertyGroup):
    """What measurements said of one foam, by the name of its stock; -1 where they said nothing."""

    foam: StringProperty()
    neutral: FloatProperty(default=_NONE)
    stretch: FloatProperty(default=_NONE)
    compress: FloatProperty(default=_NONE)


class FoamwrightMeasured(bpy.types.PropertyGroup):
    """The fields of the sidebar, and what came of them."""

    girth: StringProperty(
        name="Girth of the Tin (C)",
        description="Length round the tin, read off the paper scale, with its unit, such as 280 mm")
    closing: StringProperty(
        name="Strip That Closes (L)",
        description="Length of the strip of foam that just closes round the tin, laid flat, such "
                    "as 310 mm")
    pulled: StringProperty(
        name="Pulled To (M)",
        description="Distance of the marks, first 100 mm apart, when the heated strip had been "
                    "pulled as far as it goes, such as 130 mm")
    pressed: StringProperty(
        name="Pressed To (P)",
        description="Distance of the marks, first 100 mm apart, when the heated strip had been "
                    "pushed together until it wrinkled, such as 88 mm. Empty: not measured")
    foams: CollectionProperty(type=FoamwrightMeasuredFoam)


def applied(owner: bpy.types.ID, stock: Stock) -> Stock:
    """A stock as it was measured for a scene, or for a scene that an object is in."""
    scenes = [owner] if isinstance(owner, bpy.types.Scene) else owner.users_scene
    for scene in scenes:
        for item in getattr(scene, PROPERTY).foams:
            if item.foam == stock.name:
                return _calibration(item).applied(stock)
    return stock


def measured(scene: bpy.types.Scene, unit: str) -> Measured:
    """The fields as lengths. Raises FoamError `bad-length`."""
    group = getattr(scene, PROPERTY)
    texts = {name: getattr(group, name).strip() for name in FIELDS}
    return Measured(**{name: parse_length(text, unit) for name, text in texts.items() if text})


def update(scene: bpy.types.Scene, foam: Stock, thickness: float, unit: str) -> Calibration:
    """Take the fields over for a foam of this measured thickness, beside what it had before.

    foam: as it is named, before its thickness was changed. Raises FoamError `bad-length` or
    `bad-measurement`.
    """
    found = calibrate(measured(scene, unit), thickness)
    foams = getattr(scene, PROPERTY).foams
    item = next((item for item in foams if item.foam == foam.name), None) or foams.add()
    item.foam = foam.name
    for name in _VALUES:
        if (value := getattr(found, name)) is not None:
            setattr(item, name, value)
    changes.note()
    return _calibration(item)


def forget(scene: bpy.types.Scene, foam: Stock) -> bool:
    """Let a foam be as it is shipped or described; False where nothing was measured on it."""
    foams = getattr(scene, PROPERTY).foams
    place = next((n for n, item in enumerate(foams) if item.foam == foam.name), None)
    if place is None:
        return False
    foams.remove(place)
    changes.note()
    return True


def _calibration(item: FoamwrightMeasuredFoam) -> Calibration:
    # Blender keeps single precision; six digits are more than anyone measured.
    return Calibration(*(None if (value := getattr(item, name)) == _NONE else float(f"{value:.6g}")
                         for name in _VALUES))


_CLASSES = (FoamwrightMeasuredFoam, FoamwrightMeasured)


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)
    setattr(bpy.types.Scene, PROPERTY, PointerProperty(
        type=FoamwrightMeasured, name="Measurements",
        description="What was measured on strips of foam"))


def unregister() -> None:
    delattr(bpy.types.Scene, PROPERTY)
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
