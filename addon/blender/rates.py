"""How fast the maker works and what they pay, in the scene."""

from __future__ import annotations

import bpy
from bpy.props import FloatProperty

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Price, Rates

_METRE, _PIECE = "Minutes for a metre of {}", "Minutes for {}"
_WORDS = {
    "trace": ("Trace", _METRE.format("outline, drawn round a template")),
    "cut": ("Cut", _METRE.format("cut")),
    "bevel": ("Bevel", _METRE.format("edge that is cut askew")),
    "trench": ("Trench", _METRE.format("trench")),
    "score": ("Score", _METRE.format("score line")),
    "bend": ("Bend Cold", _PIECE.format("a piece that is bent cold")),
    "heat": ("Heat-Form", _PIECE.format("a piece that is formed with heat")),
    "glue": ("Glue", _METRE.format("seam, coated on both faces and pressed")),
    "drying": ("Drying", "Minutes of waiting for each step in which cement dries"),
    "lay": ("Lay On", _PIECE.format("a detail that is glued on")),
    "fasten": ("Fasten", _PIECE.format("a removable join")),
    "mark": ("Rivets and Holes", _PIECE.format("a rivet, a hole or a patch")),
    "rod": ("Rods", _PIECE.format("a rod that is bent and fitted")),
    "strip": ("Strips", _METRE.format("edge strip, cut and glued")),
    "finish": ("Finish", "Minutes for a square metre of surface, closed with heat and wiped"),
    "coverage": ("Coverage", "Square metres of one face that a litre of cement coats, by its "
                             "label"),
}


class FoamwrightRates(bpy.types.PropertyGroup):
    """Rates of work; what is not set is as usual."""

    __annotations__ = {
        name: FloatProperty(name=label, description=text, default=getattr(Rates(), name),
                            min=0.1 if name == "coverage" else 0.0, max=1e4, soft_max=60.0,
                            precision=2, step=50)
        for name, (label, text) in _WORDS.items()}


def read_rates(group: FoamwrightRates, default: Rates) -> Rates:
    """The rates of a scene, as far as it sets any."""
    return default.changed((name, round(getattr(group, name), 4)) for name in Rates.names()
                           if group.is_property_set(name))


def read_prices(text: str) -> tuple[Price, ...]:
    """Prices such as “eva-10=24, cement=18.5”. Raises FoamError `bad-price`."""
    found = []
    for part in filter(None, (part.strip() for part in text.replace(";", ",").split(","))):
        thing, _, value = (each.strip() for each in part.rpartition("="))
        try:
            each = float(value)
        except ValueError:
            thing = ""
        if not thing:
            raise FoamError(Finding("bad-price", ERROR, f"Prices: “{part}” is no price.",
                                    "Write them such as eva-10=24, cement=18.5, blade=0.5."))
        found.append(Price(thing, each))
    return tuple(found)
