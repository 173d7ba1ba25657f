"""From what the maker entered to the core's Settings and Stock."""

from __future__ import annotations

from dataclasses import replace

import bpy

from ..core.model import Settings
from ..core.stock import DEFAULT, Stock, find_stock
from ..core.units import parse_length
from . import preferences


def read_settings(scene: bpy.types.Scene) -> Settings:
    """The settings of this scene; what it leaves open comes from the preferences.

    Raises FoamError `bad-stock` or `bad-length`.
    """
    mine = preferences.get()
    stock = find_stock(_path(mine.stock_file) if mine and mine.stock_file else DEFAULT)
    settings = Settings(stock=stock, paper=mine.paper, unit=mine.unit) if mine else Settings(stock)
    return replace(settings, **overrides(scene, settings))


def overrides(scene: bpy.types.Scene, default: Settings | None = None) -> dict[str, object]:
    """The fields of Settings that this scene itself decides, ready for `dataclasses.replace`."""
    default = default or Settings(find_stock())
    group = scene.foamwright
    found: dict[str, object] = {
        name: getattr(group, name) for name in ("side", "scale", "title")
        if group.is_property_set(name)}
    if group.paper != "PREFERENCES":
        found["paper"] = group.paper
    if group.stock.strip() or group.thickness.strip():
        found["stock"] = _stock(group, default)
    return found


def object_stock(item: bpy.types.Object, settings: Settings) -> Stock | None:
    """The stock of one object, None where it is the suit's."""
    group = item.foamwright
    return _stock(group, settings) if group.stock.strip() or group.thickness.strip() else None


def object_side(item: bpy.types.Object) -> str | None:
    """The face chosen on one object, None where it was left open."""
    side = item.foamwright.side
    return None if side == "AUTO" else side


def _stock(group, default: Settings) -> Stock:
    name, thickness = group.stock.strip(), group.thickness.strip()
    stock = find_stock(_path(name)) if name else default.stock
    return stock.with_thickness(parse_length(thickness, default.unit)) if thickness else stock


def _path(text: str) -> str:
    """Blender writes "//" for the folder of the .blend file."""
    return bpy.path.abspath(text) if text.startswith("//") else text
