"""Sizes in words: what each asks of the suit, and tables of them."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

from ..core.errors import ERROR, Finding, FoamError
from ..core.sizing import AXES
from ..core.units import parse_length

Asked = tuple[str, dict[str, dict]]  # a name, and what `size_for` is told

# What every file system takes and tells from others: Windows drops blanks and stops at the end, and
# keeps some names for devices.
_NAME = re.compile(r'(?!(?:con|prn|aux|nul|com\d|lpt\d)(?:\.|$))'
                   r'(?!.*[\s.]$)[^\s/\\:.*?"<>|\x00-\x1f][^/\\:*?"<>|\x00-\x1f]{0,79}',
                   re.IGNORECASE)
_TABLE = ("Give a table with a column “name” and columns such as factor, across, tall or "
          "girth@300mm, the latter with units: 104cm.")


def is_name(text: str) -> bool:
    """Can a size, and the folder it is written to, be called this?"""
    return _NAME.fullmatch(text) is not None


def asked(parts: list[tuple[str, str]], unit: str = "mm") -> dict[str, dict]:
    """What `size_for` is told by names and values; unit: of lengths that name none. Raises
    ValueError, and FoamError `bad-length`."""
    found: dict[str, dict] = {"factors": {}, "lengths": {}, "girths": {}}
    for what, value in parts:
        what, value = what.strip(), value.strip()
        if not value:
            what, value = "factor", what
        factor = _number(value)
        if what == "factor" and factor is not None:
            found["factors"] |= dict.fromkeys(AXES, factor)
        elif what in AXES and factor is not None:
            found["factors"][what] = factor
        elif what in AXES:
            found["lengths"][what] = parse_length(value, unit)
        elif what.startswith("girth@"):
            height, _, names = what.removeprefix("girth@").partition("@")
            place = parse_length(height, unit)
            if names:
                place = place, tuple(name.strip() for name in names.split("+"))
            found["girths"][place] = parse_length(value, unit)
        else:
            raise ValueError(f"“{what}” is no column for a size")
    return found


def table(path: Path) -> list[Asked]:
    """The sizes in a file: CSV with a heading, or JSON, a list of objects; each with a name, and
    what `asked` takes as further columns, empty ones left out.

    Raises FoamError `bad-sizes` with all rows that make no sense, by their numbers.
    """
    found: list[Asked] = []
    problems = []
    for where, row in _rows(path):
        try:
            cells = {str(key).strip(): str(value).strip() for key, value in row.items()
                     if key is not None and value is not None}
            if None in row:
                raise ValueError("it has more cells than the heading")
            name = cells.pop("name", "")
            if not is_name(name):
                raise ValueError(f"“{name}” is no name for a size and its folder")
            if name in [other for other, _ in found]:
                raise ValueError(f"there are two sizes “{name}”")
            found.append((name, asked([(k, v) for k, v in cells.items() if v])))
        except (ValueError, FoamError) as error:
            why = error.finding.message if isinstance(error, FoamError) else f"{error}."
            problems.append(Finding("bad-sizes", ERROR, f"{path.name}, {where}: {why}", _TABLE))
    if not found and not problems:
        problems.append(Finding("bad-sizes", ERROR, f"{path.name} holds no sizes.", _TABLE))
    if problems:
        raise FoamError(*problems)
    return found


def _rows(path: Path) -> list[tuple[str, dict]]:
    """The rows of a table, each with where it stands."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise FoamError(Finding("bad-sizes", ERROR, f"{path} cannot be read: {error.strerror}.",
                                "Check the name and the folder.")) from error
    except UnicodeDecodeError as error:
        raise FoamError(Finding("bad-sizes", ERROR, f"{path} is not a text in UTF-8.",
                                _TABLE)) from error
    if path.suffix.lower() == ".json":
        try:
            rows = json.loads(text)
        except ValueError as error:
            raise FoamError(Finding("bad-sizes", ERROR, f"{path.name} is no JSON: {error}.",
                                    _TABLE)) from error
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise FoamError(Finding("bad-sizes", ERROR, f"{path.name} is no list of objects.",
                                    _TABLE))
        return [(f"entry {n}", row) for n, row in enumerate(rows, 1)]
    head = text.partition("\n")[0]
    split = max(",;\t", key=head.count)  # tables of many countries have semicolons
    reader = csv.DictReader(io.StringIO(text), delimiter=split)
    return [(f"line {reader.line_num}", row) for row in reader
            if any(value for value in row.values())]


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
