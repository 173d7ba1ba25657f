"""The sizes of a suit that are wanted, kept in the .blend: a row for each, with what it asks in
the words that a table of sizes takes as well."""

from __future__ import annotations

import re
from collections.abc import Iterable

import bpy
from bpy.props import StringProperty

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Pattern
from ..core.sizing import AXES
from ..files.sizes import Asked, asked, is_name
from . import settings

_GIRTH = re.compile(r"(.+?)\s+at\s+(.+?)(?:\s+of\s+(.+))?", re.IGNORECASE)
_REMEDY = ("Enter factors such as 1.05, lengths such as 65 cm, and girths such as 104 cm at "
           "300 mm; or remove that size.")


def _forget(self, context):
    self.told = ""


def _axis(name: str, what: str):
    return StringProperty(
        name=name, update=_forget,
        description=f"{what}: a length of the whole suit with its unit, such as 65 cm or 26 in, or "
                    "a factor without one, such as 1.05. Empty: as sculpted, or as girths ask")


class FoamwrightSize(bpy.types.PropertyGroup):
    """A size that is wanted; name: it, and that of its folder. told: what came of writing it."""

    name: StringProperty(
        name="Size", update=_forget,
        description="Name of the size, such as M or Anna; its templates go to a folder of this "
                    "name")
    across: _axis("Across", "From side to side")
    deep: _axis("Deep", "From front to back")
    tall: _axis("Tall", "From bottom to top")
    girths: StringProperty(
        name="Girths", update=_forget,
        description="Girths of the foam's inside at heights over the suit's lowest point, such as "
                    "104 cm at 300 mm, or of objects by name, such as 104 cm at 300 mm of Breast + "
                    "Back. Commas between several, of which the mean holds")
    told: StringProperty(options={"HIDDEN"})


def wanted(scene: bpy.types.Scene) -> list[Asked]:
    """The sizes with what each asks. Raises FoamError `bad-sizes` for all rows that make no sense,
    or where there are none."""
    found: list[Asked] = []
    problems = []
    for row in scene.foamwright.sizes:
        try:
            found.append(_read(row, [name for name, _ in found]))
        except (ValueError, FoamError) as error:
            why = error.finding.message if isinstance(error, FoamError) else f"{error}."
            problems.append(Finding("bad-sizes", ERROR, f"Size “{row.name}”: {why}", _REMEDY))
    if not found and not problems:
        problems.append(Finding("bad-sizes", ERROR, "No sizes are listed.",
                                "Add a size, or load a table of sizes."))
    if problems:
        raise FoamError(*problems)
    return found


def problem(row: FoamwrightSize) -> str:
    """What is wrong with a row, "" where nothing is."""
    try:
        _read(row, [other.name for other in row.id_data.foamwright.sizes if other != row])
    except FoamError as error:
        return error.finding.message
    except ValueError as error:
        return f"{str(error)[:1].upper()}{str(error)[1:]}."
    return ""


def _read(row: FoamwrightSize, others: Iterable[str]) -> Asked:
    if not is_name(row.name):
        raise ValueError(f"“{row.name}” is no name for a size and its folder")
    if row.name.lower() in [other.lower() for other in others]:
        raise ValueError(f"there are two sizes “{row.name}”")
    unit = settings.unit()
    parts = [(axis, text) for axis in AXES if (text := getattr(row, axis).strip())]
    for text in row.girths.replace(";", ",").split(","):
        if not text.strip():
            continue
        match = _GIRTH.fullmatch(text.strip())
        if match is None:
            raise ValueError(f"“{text.strip()}” is no girth at a height")
        girth, height, names = match.groups()
        parts.append((f"girth@{height}" + (f"@{names}" if names else ""), girth))
    return row.name, asked(parts, unit)


def store(scene: bpy.types.Scene, table: Iterable[Asked]) -> None:
    """List the sizes of a table in place of those that were listed."""
    group = scene.foamwright
    group.sizes.clear()
    for name, told in table:
        row = group.sizes.add()
        row.name = name
        for axis, factor in told["factors"].items():
            setattr(row, axis, f"{factor:g}")
        for axis, length in told["lengths"].items():
            setattr(row, axis, f"{length:g} mm")
        row.girths = ", ".join(_girth(place, girth) for place, girth in told["girths"].items())
    group.size = 0


def _girth(place, girth: float) -> str:
    height, names = place if isinstance(place, tuple) else (place, ())
    return f"{girth:g} mm at {height:g} mm" + (f" of {' + '.join(names)}" if names else "")


def keep(scene: bpy.types.Scene, patterns: Iterable[Pattern]) -> None:
    """Note beside each size what came of writing it."""
    rows = {row.name: row for row in scene.foamwright.sizes}
    for pattern in patterns:
        row = rows.get(pattern.settings.size.name)
        if row is not None:
            amiss = sum(f.severity == ERROR for f in pattern.findings)
            row.told = (f"{_plural(len(pattern.pieces), 'piece')}, "
                        f"{_plural(len(pattern.mats), 'mat')}"
                        + (f", to put right: {amiss}" if amiss else ""))


def _plural(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
