"""Measures of the body, to tell whether a sculpt can be as large as it says.

The figures are those of ANSUR II, the anthropometric survey of US Army personnel of 2012
(public-use data of 1986 women and 4082 men; Gordon and others, Technical Report
NATICK/TR-15/007): the 5th, 50th and 95th percentiles in mm. Soldiers are no costume makers,
and the limits drawn from them here are wide: they find a wrong unit, not a bad fit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

# Words; percentiles 5, 50 and 95 of women; of men.
MEASURES: dict[str, tuple[str, tuple[float, ...], tuple[float, ...]]] = {
    "stature": ("a person's height", (1525, 1626, 1740), (1648, 1755, 1870)),
    "waist height": ("the height of a waist", (900, 977.5, 1064), (972, 1055, 1144.9)),
    "shoulders": ("the breadth of shoulders", (406, 450, 499), (459, 509, 567)),
    "knee height": ("the height of a knee", (408, 448, 493), (443, 487, 536)),
    "back length": ("the length of a back, neck to waist", (384, 424.5, 470), (433, 477, 524)),
    "upper arm length": ("the length of an upper arm", (307, 334, 363), (334, 363, 394)),
    "forearm length": ("the length of a forearm", (218, 240.5, 268), (244, 267, 295)),
    "head length": ("the depth of a head", (178, 190, 202), (188, 200, 211)),
    "head breadth": ("the breadth of a head", (140, 147, 156), (146, 154, 163)),
    "head": ("round the head", (532, 560, 597), (548, 574, 601)),
    "neck": ("round the neck", (302, 328, 363), (360, 395, 443)),
    "chest": ("round the chest", (824.2, 940, 1094), (922, 1056, 1207)),
    "waist": ("round the waist", (710, 852, 1040), (768, 937, 1130.9)),
    "hips": ("round the hips", (901.2, 1018.5, 1155.8), (899, 1017, 1149)),
    "upper arm": ("round the upper arm", (259, 304, 360), (303, 357, 418)),
    "forearm": ("round the forearm", (235, 263, 296), (275, 310, 347.9)),
    "wrist": ("round the wrist", (142.2, 154, 168), (162, 176, 191)),
    "thigh": ("round the thigh", (527, 613, 711), (532, 624, 723)),
    "calf": ("round the calf", (328, 372, 423), (346, 392, 443)),
}
LENGTHS = tuple(name for name, (words, *_) in MEASURES.items() if not words.startswith("round"))

# Where a piece of armour is worn: the girth it goes round and the length it covers.
ANYWHERE = "anywhere"
WORN: dict[str, tuple[str, str]] = {
    "head": ("head", "head length"),
    "neck": ("neck", "shoulders"),
    "torso": ("chest", "back length"),
    "hips": ("hips", "knee height"),
    "shoulder": ("upper arm", "upper arm length"),
    "upper arm": ("upper arm", "upper arm length"),
    "forearm": ("forearm", "forearm length"),
    "thigh": ("thigh", "knee height"),
    "lower leg": ("calf", "knee height"),
}
# Words in the names of objects that tell where they are worn; the first that fits.
NAMED = {
    "head": ("helm", "mask", "visor", "cowl", "head", "crown"),
    "neck": ("gorget", "collar", "neck"),
    "shoulder": ("pauldron", "spaulder", "shoulder"),
    "upper arm": ("rerebrace", "upper arm", "upper_arm", "bicep"),
    "forearm": ("bracer", "vambrace", "forearm", "gauntlet", "wrist"),
    "lower leg": ("greave", "shin", "calf", "lower leg", "lower_leg"),
    "thigh": ("cuisse", "thigh"),
    "hips": ("tasset", "belt", "hip", "fauld"),
    "torso": ("breast", "chest", "torso", "cuirass", "backplate", "back plate", "vest"),
}
LEAST = 0.5  # of the diameter of what a piece goes round: a smaller one would not reach round it
MOST = 2.5  # times the length it covers: horns and wings aside, nothing is larger
OVERALL = 1.5  # times a person's height, for what may be worn anywhere

# What a number may have been multiplied by, and how that happened; the likeliest first.
MISTAKES = (
    (0.001, "millimetres were read as metres"),
    (1000.0, "metres were read as millimetres"),
    (0.01, "centimetres were read as metres"),
    (100.0, "metres were read as centimetres"),
    (0.0254, "inches were read as metres"),
    (25.4, "inches were read as millimetres"),
    (1 / 25.4, "millimetres were read as inches"),
    (10.0, "centimetres were read as millimetres"),
    (0.1, "millimetres were read as centimetres"),
    (2.54, "inches were read as centimetres"),
    (1000 / 25.4, "metres were read as inches"),
    (0.3048, "feet were read as metres"),
)


@dataclass(frozen=True)
class Mistake:
    """A mistake that would explain a size: factor to multiply by, size in mm it gives, words."""

    factor: float
    size: float
    words: str


def span(name: str, wearer: Mapping[str, float] | None = None) -> tuple[float, float]:
    """Least and most, in mm, of a measure: the wearer's own, else of nine people in ten."""
    own = (wearer or {}).get(name, 0.0)
    if own:
        return own, own
    _, women, men = MEASURES[name]
    return min(women[0], men[0]), max(women[2], men[2])


def plausible(worn: str = ANYWHERE, wearer: Mapping[str, float] | None = None
              ) -> tuple[float, float]:
    """Least and most, in mm, that the longest side of a piece of armour can measure.

    worn: a name of WORN, or ANYWHERE. wearer: own measures in mm by their names.
    """
    if worn == ANYWHERE:
        return LEAST * span("wrist", wearer)[0] / math.pi, OVERALL * span("stature", wearer)[1]
    girth, length = WORN[worn]
    low, high = span(girth, wearer)
    return LEAST * low / math.pi, MOST * max(high / math.pi, span(length, wearer)[1])


def guessed(name: str) -> str:
    """Where an object of this name is likely worn: a name of WORN, or ANYWHERE."""
    small = name.lower()
    return next((place for place, words in NAMED.items()
                 if any(word in small for word in words)), ANYWHERE)


def mistakes(size: float, limits: tuple[float, float]) -> tuple[Mistake, ...]:
    """What would bring a size (mm) between the limits, the one nearest to their middle first.

    Middle and nearness are of ratios. Empty where the size lies between them already.
    """
    low, high = limits
    if not size > 0 or not math.isfinite(size) or low <= size <= high:
        return ()
    middle = math.sqrt(low * high)
    found = [Mistake(factor, size * factor, words) for factor, words in MISTAKES
             if low <= size * factor <= high]
    return tuple(sorted(found, key=lambda m: abs(math.log(m.size / middle))))


def size_text(mm: float) -> str:
    """A size in words that may be out of all measure: 4 digits, in metres from 10 m on."""
    return f"{mm / 1000:.4g} m" if mm >= 10_000 else f"{mm:.4g} mm"


def explanation(size: float, limits: tuple[float, float]) -> str:
    """The likeliest mistake as a sentence; empty where none would explain the size."""
    found = mistakes(size, limits)
    if not found:
        return ""
    return f"Perhaps {found[0].words}; it would then measure {size_text(found[0].size)}."


def likeness(size: float) -> str:
    """A length in mm beside something a maker knows, such as “about a person's height”."""
    middle = {name: sum(group[1] for group in MEASURES[name][1:]) / 2 for name in LENGTHS}
    if size > 1.25 * middle["stature"]:
        return f"{_times(size / middle['stature'])} {MEASURES['stature'][0]}"
    if size < 0.75 * middle["head breadth"]:
        return f"{_percent(size / middle['head breadth'])} of {MEASURES['head breadth'][0]}"
    nearest = min(LENGTHS, key=lambda name: abs(math.log(size / middle[name])))
    ratio = size / middle[nearest]
    words = MEASURES[nearest][0]
    return f"about {words}" if 0.9 <= ratio <= 1.1 else f"{_times(ratio)} {words}"


def _times(ratio: float) -> str:
    return f"{ratio:.1f} times" if ratio < 10 else f"{ratio:.0f} times"


def _percent(ratio: float) -> str:
    percent = 100 * ratio
    return f"{percent:.0f} %" if percent >= 1 else f"{percent:.1g} %"
