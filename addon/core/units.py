"""Lengths and angles at the edges of the program. Inside, all is mm and radians."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from .errors import ERROR, Finding, FoamError

MM_PER = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "pt": 25.4 / 72.0}

_NUMBER = r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
_PLACE = rf"x {_NUMBER}, y {_NUMBER}, z {_NUMBER} mm\b"
_LENGTH = re.compile(r"\s*([-+]?\d*\.?\d+(?:[eE][-+]?\d+)?)\s*([a-z]*|\")\s*$")


def parse_length(text: str, default: str = "mm") -> float:
    """Length in mm from "10", "10 mm", "1.5cm" or '3/8 in' style text.

    Fractions are allowed for inches ("3/8 in", "1 1/2 in"). Raises FoamError
    `bad-length` for anything else, for a negative length and for a length that
    is not finite.
    """
    source = str(text).strip().lower().replace("\u2033", '"')
    match = re.fullmatch(r"(?:(\d+)\s+)?(\d+)/([1-9]\d*)\s*(in|\")", source)
    if match:
        whole, top, bottom, _ = match.groups()
        return (int(whole or 0) + int(top) / int(bottom)) * MM_PER["in"]
    match = _LENGTH.match(source)
    unit = (match.group(2) or default).replace('"', "in") if match else ""
    if not match or unit not in MM_PER:
        raise FoamError(Finding(
            "bad-length", ERROR, f"“{text}” is not a length.",
            "Write a number with a unit: 10 mm, 1 cm, 3/8 in."))
    value = float(match.group(1)) * MM_PER[unit]
    if not math.isfinite(value) or value < 0:
        raise FoamError(Finding(
            "bad-length", ERROR, f"The length “{text}” is negative or not finite.",
            "Write a length of zero or more."))
    return value


def parse_change(text: str, default: str = "mm") -> float:
    """A length in mm that may be less than zero, such as "-15 mm". Raises FoamError
    `bad-length`."""
    text = str(text).strip().replace("\u2212", "-")
    return -parse_length(text[1:], default) if text[:1] == "-" else parse_length(text, default)


def parse_box(text: str, default: str = "mm") -> tuple[float, float, float]:
    """Length, width and height in mm from "600x400x400", "60 x 40 x 40 cm" or the like; a unit
    after the last one holds for those without. Raises FoamError `bad-length`."""
    parts = re.split(r"\s*[x\u00d7*]\s*", str(text).strip().lower())
    if len(parts) != 3:
        raise FoamError(Finding(
            "bad-length", ERROR, f"“{text}” is not the size of a box.",
            "Write its length, width and height inside, such as 600x400x400 mm."))
    last = re.search(r'([a-z]+|")\s*$', parts[2])
    unit = last.group(1).replace('"', "in") if last else default
    length, width, height = (parse_length(part, unit) for part in parts)
    return length, width, height


def format_box(size: Iterable[float], unit: str = "mm") -> str:
    """The size of a box for a person to read."""
    return " × ".join(format_length(mm, unit) for mm in size)


def format_length(mm: float, unit: str = "mm") -> str:
    """A length for a person to read: one decimal in mm, two in inches."""
    return f"{mm / 25.4:.2f} in" if unit == "in" else f"{mm:.1f} mm".replace(".0 mm", " mm")


def in_unit(text: str, unit: str, names: Iterable[str] = ()) -> str:
    """A sentence with its lengths in mm told in another unit; names, such as "EVA 10 mm", stay.

    The stages write mm, since they do not know who reads them.
    """
    if unit == "mm":
        return text
    kept = sorted(filter(None, names), key=len, reverse=True)
    parts = "|".join([*map(re.escape, kept), _PLACE, rf"(?<![\w.]){_NUMBER} mm\b"])

    def told(match: re.Match) -> str:
        found = match.group()
        if found in kept:
            return found
        return re.sub(_NUMBER, lambda number: format_length(float(number.group()), unit),
                      found.removesuffix(" mm"))

    return re.sub(parts, told, text)


def format_angle(radians: float) -> str:
    """Whole degrees with the degree sign."""
    return f"{math.degrees(radians):.0f}\u00b0"
