"""From what the maker entered to the core's Settings and Stock."""

from __future__ import annotations

from dataclasses import replace

import bpy

from ..core.errors import ERROR, Finding, FoamError
from ..core.mock_up import THICK
from ..core.model import Settings
from ..core.stock import DEFAULT, Stock, find_stock
from ..core.units import format_length, parse_length
from ..files.offcuts import read_offcuts
from . import calibration, preferences, printed, rates

# Lengths that a scene may decide, with the least and the greatest that make sense, mm.
LENGTHS = {"fairing": (0.0, 10.0), "contact": (0.0, 20.0), "notch_spacing": (10.0, 1000.0),
           "margin": (0.0, 50.0),
           "overlap": (0.0, 50.0), "roll": (100.0, 2000.0), "allowance": (0.0, 50.0), "card": THICK,
           "kerf": (0.0, 20.0), "mat_gap": (0.0, 100.0), "mat_margin": (0.0, 200.0)}
# Lengths of joins: fields of JoinSizes, the parts of a patch one by one.
JOIN_LENGTHS = {"lap": (1.0, 200.0), "patch_length": (5.0, 500.0), "patch_width": (5.0, 200.0),
                "webbing": (5.0, 200.0), "tail": (5.0, 500.0), "slack": (0.0, 1000.0),
                "spacing": (20.0, 1000.0), "spacer": (1.0, 200.0)}
PATCH = ("patch_length", "patch_width")
PERCENTAGES = ("web", "score_depth")
_PLAIN = ("side", "scale", "title", "seed", "split", "turns", "together", "holes", "nest_seconds",
          "gauges", "back_side", "text_outlines", "currency")


def read_settings(scene: bpy.types.Scene) -> Settings:
    """The settings of this scene; what it leaves open comes from the preferences.

    Raises FoamError `bad-stock`, `bad-length` or `bad-price`.
    """
    settings = defaults()
    return replace(settings, **overrides(scene, settings))


def defaults() -> Settings:
    """What holds where a scene decides nothing. Raises FoamError `bad-stock`."""
    mine = preferences.get()
    stock = find_stock(path(mine.stock_file) if mine and mine.stock_file else DEFAULT)
    return Settings(stock=stock, paper=mine.paper, unit=mine.unit) if mine else Settings(stock)


def unit() -> str:
    """The unit of the lengths a maker reads, "mm" or "in"."""
    mine = preferences.get()
    return mine.unit if mine else "mm"


def suit_stock(scene: bpy.types.Scene) -> Stock:
    """The stock of the suit. Raises FoamError `bad-stock` or `bad-length`."""
    settings = defaults()
    return _stock(scene.foamwright, settings) or settings.stock


def overrides(scene: bpy.types.Scene, default: Settings | None = None) -> dict[str, object]:
    """The fields of Settings that this scene itself decides, ready for `dataclasses.replace`."""
    default = default or Settings(find_stock())
    group = scene.foamwright
    found: dict[str, object] = {
        name: getattr(group, name) for name in _PLAIN
        if group.is_property_set(name)}
    found |= {name: getattr(group, name) / 100 for name in PERCENTAGES
              if group.is_property_set(name)}
    found |= {name: length for name in LENGTHS
              if (length := own_length(group, name, default.unit)) is not None}
    if sizes := {name: length for name in JOIN_LENGTHS
                 if (length := own_length(group, name, default.unit)) is not None}:
        patch = tuple(sizes.pop(name, size) for name, size in zip(
            PATCH, default.joins.patch, strict=True))
        found["joins"] = replace(default.joins, patch=patch, **sizes)
    if own := measures(scene):
        found["measures"] = tuple(own.items())
    if heights := group.girth_heights.replace(";", ",").strip(" ,"):
        found["girth_heights"] = tuple(parse_length(text, default.unit)
                                       for text in heights.split(",") if text.strip())
    if (own := rates.read_rates(group.rates, default.rates)) != default.rates:
        found["rates"] = own
    if prices := rates.read_prices(group.prices):
        found["prices"] = prices
    if group.paper != "PREFERENCES":
        found["paper"] = group.paper
    if group.offcuts.strip():
        found["offcuts"] = read_offcuts(path(group.offcuts.strip()))
    if stock := _stock(group, default):
        found["stock"] = stock
    if earlier := printed.of_scene(scene):
        found["printed"] = earlier
    if made := printed.made(scene):
        found["made"] = made
    return found


def measures(scene: bpy.types.Scene) -> dict[str, float]:
    """The wearer's own measures in mm, by their names in core.measures; only those entered.

    Raises FoamError `bad-length`.
    """
    group = scene.foamwright.wearer
    return {name.replace("_", " "): parse_length(text, unit())
            for name in type(group).__annotations__
            if (text := getattr(group, name).strip())}


def own_length(group: bpy.types.PropertyGroup, name: str, default_unit: str) -> float | None:
    """One of LENGTHS or JOIN_LENGTHS in mm, None where it was left open.

    Raises FoamError `bad-length`.
    """
    text = getattr(group, name).strip()
    if not text:
        return None
    length = parse_length(text, default_unit)
    least, most = (LENGTHS.get(name) or JOIN_LENGTHS[name])
    if not least <= length <= most:
        label = group.bl_rna.properties[name].name
        raise FoamError(Finding(
            "bad-length", ERROR, f"{label}: “{text}” makes no sense.",
            f"Choose a length from {format_length(least, default_unit)} to "
            f"{format_length(most, default_unit)}."))
    return length


def length_problem(group: bpy.types.PropertyGroup, name: str) -> Finding | None:
    """What is wrong with one of LENGTHS or JOIN_LENGTHS as it was entered, if anything is."""
    try:
        own_length(group, name, unit())
    except FoamError as error:
        return error.finding
    return None


def object_stock(item: bpy.types.Object, settings: Settings) -> Stock | None:
    """The stock of one object, None where it is the suit's."""
    return _stock(item.foamwright, settings)


def object_side(item: bpy.types.Object) -> str | None:
    """The face chosen on one object, None where it was left open."""
    side = item.foamwright.side
    return None if side == "AUTO" else side


def named_stock(scene: bpy.types.Scene) -> Stock:
    """The stock of the suit as it is shipped or described, before measurements and thickness.
    Raises FoamError `bad-stock`."""
    name = scene.foamwright.stock.strip()
    return find_stock(path(name)) if name else defaults().stock


def _stock(group, default: Settings) -> Stock | None:
    name, thickness = group.stock.strip(), group.thickness.strip()
    stock = calibration.applied(
        group.id_data, find_stock(path(name)) if name else default.stock)
    if not name and not thickness:
        return None if stock == default.stock else stock
    return stock.with_thickness(parse_length(thickness, default.unit)) if thickness else stock


def path(text: str) -> str:
    """Blender writes "//" for the folder of the .blend file."""
    return bpy.path.abspath(text) if text.startswith("//") else text
