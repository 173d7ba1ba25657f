"""Curves and empties that set marks without a cut -> the core's markings, in mm.

A curve is a row of marks along each of its lines; an empty is one mark where it stands. Both are
children of the sculpt they are set on, so that they move and scale with it.
"""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np

from ..core.errors import ERROR, WARNING, Finding, FoamError
from ..core.model import Marking, StripLine
from ..core.stock import find_stock
from ..core.units import parse_length
from . import guides
from .marking_properties import LENGTHS
from .settings import path

SIZE = 0.006  # metres; how large an empty is shown
NAMES = {"RIVET": "Rivets", "HOLE": "Holes", "DRILL": "Drill Points", "CIRCLE": "Circles",
         "PATCH": "Patches", "STRIP": "Edge Strip"}
WIDTH = 15.0  # mm, of a strip
_USUAL = {"spacing": 25.0}
_MOST = 5000.0  # mm


def is_marking(item: bpy.types.Object) -> bool:
    """Does this object set marks without a cut?"""
    return item.type in ("CURVE", "EMPTY") and item.foamwright.marking.kind != "NONE"


def read_markings(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object], mm: float,
                  unit: str) -> tuple[list[Marking], list[StripLine], list[Finding]]:
    """The markings and strips on these objects, and those that belong to none, before the suit's
    scale, and what is wrong with them.

    mm: millimetres in a unit of the scene; unit: of lengths without one.
    """
    found, strips, told = [], [], []
    number = {item: i for i, item in enumerate(objects)}
    for item in sorted((o for o in scene.objects if is_marking(o)), key=lambda o: o.name):
        on = item.parent if item.parent and item.parent.type == "MESH" else None
        if item.foamwright.leave_out or (on is not None and on not in number):
            continue
        group = item.foamwright.marking
        strip = group.kind == "STRIP"
        try:
            made = (_strip_entered if strip else _entered)(group, unit)
        except FoamError as error:
            told.append(Finding(
                "strip-unreadable" if strip else "mark-unreadable", WARNING,
                f"“{item.name}” was left out: {error.finding.message}",
                f"Select it and put its sizes right in the sidebar. {error.finding.remedy}"))
            continue
        for n, (points, row, closed) in enumerate(_lines(item), 1):
            name, home = item.name if n == 1 else f"{item.name} {n}", number.get(on, -1)
            if strip:
                strips.append(StripLine(points * mm, name=name, closed=closed, object=home, **made))
            else:
                found.append(Marking(group.kind.lower(), points * mm, name, row, closed,
                                     object=home, **made))
    return found, strips, told


def _lines(item: bpy.types.Object) -> list[tuple[np.ndarray, bool, bool]]:
    """Points (k, 3) in the world, whether they are a line, and whether it is closed."""
    if item.type == "EMPTY":
        return [(guides.matrix(item)[None, :3, 3], False, False)]
    return [(points, len(points) > 1, closed) for points, closed in guides.world_polylines(item)
            ] or [(np.empty((0, 3)), True, False)]


def _entered(group: bpy.types.PropertyGroup, unit: str) -> dict[str, object]:
    """What was entered, as fields of Marking. Raises FoamError `bad-length`."""
    mm = {name: _length(group, name, unit) for name in LENGTHS}
    size = mm["length"], mm["width"] if group.width.strip() else mm["length"]
    return {"count": group.count, "spacing": max(mm["spacing"], 1.0),
            "ends": (mm["first"], mm["last"]), "inset": mm["inset"], "size": size,
            "stock": group.stock.strip(), "mirrored": group.mirrored}


def _strip_entered(group: bpy.types.PropertyGroup, unit: str) -> dict[str, object]:
    """What was entered, as fields of StripLine. Raises FoamError `bad-length` or `bad-stock`."""
    stock = group.stock.strip()
    return {"width": _length(group, "width", unit) or WIDTH, "lies": group.lies,
            "corners": group.corners, "mirrored": group.mirrored,
            "stock": find_stock(path(stock)) if stock else None}


def _length(group: bpy.types.PropertyGroup, name: str, unit: str) -> float:
    text = getattr(group, name).strip()
    if not text:
        return _USUAL.get(name, 0.0)
    sign = -1.0 if name == "inset" and text[0] in "-−" else 1.0
    length = sign * parse_length(text[1:] if sign < 0 else text, unit)
    if not abs(length) <= _MOST or (length < 0 and name != "inset"):
        label = group.bl_rna.properties[name].name
        raise FoamError(Finding("bad-length", ERROR, f"{label}: “{text}” makes no sense.",
                                "Choose a length up to 5 m."))
    return length


def add_row(scene: bpy.types.Scene, item: bpy.types.Object, lines: Sequence[tuple],
            kind: str) -> bpy.types.Object:
    """A curve that sets rows of marks along lines of the world, each points (k, 3) and closed."""
    made = bpy.data.objects.new(f"{item.name} {NAMES[kind]}",
                                bpy.data.curves.new(NAMES[kind], "CURVE"))
    guides.hang(made, item, np.array(item.matrix_world))
    back = np.linalg.inv(guides.matrix(made))
    guides.write(made.data, [(points @ back[:3, :3].T + back[:3, 3], closed)
                             for points, closed in lines])
    return _linked(scene, made, kind)


def add_point(scene: bpy.types.Scene, item: bpy.types.Object, point: np.ndarray, kind: str
              ) -> bpy.types.Object:
    """An empty that sets one mark at a point (3,) of the world."""
    made = bpy.data.objects.new(f"{item.name} {NAMES[kind]}", None)
    made.empty_display_type = "SPHERE"
    metres = scene.unit_settings.scale_length if scene.unit_settings.system != "NONE" else 1.0
    made.empty_display_size = SIZE / metres
    place = np.eye(4)
    place[:3, 3] = point
    guides.hang(made, item, place)
    return _linked(scene, made, kind)


def _linked(scene: bpy.types.Scene, made: bpy.types.Object, kind: str) -> bpy.types.Object:
    made.foamwright.marking.kind = kind
    made.show_in_front, made.hide_render = True, True
    made.color = (0.2, 0.75, 0.45, 1.0)
    guides.collection(scene).objects.link(made)
    return made
