"""Sheet material: a foam with its thickness, limits and sheet, and the shipped table.

A maker's own foam is described in a TOML file (see docs/stock.md). The shipped
limits are starting points, not measurements: calibrate with your own foam.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from .errors import ERROR, Finding, FoamError

DEFAULT = "eva-10"  # short name of the foam most suits are made of
LEAST = 1e-3  # of its length: stretch that nobody could hold a foam to, nor measure


@dataclass(frozen=True)
class Limits:
    """What the foam takes in one state. compress and stretch: fractions of length
    (0.05 is 5 %), at least LEAST: a foam said to take none is held to that; radius:
    smallest inside radius of a bend, in thicknesses."""

    compress: float
    stretch: float
    radius: float

    def __post_init__(self):
        for name in ("compress", "stretch"):
            object.__setattr__(self, name, max(getattr(self, name), LEAST))

    def utilisation(self, sigma: np.ndarray) -> np.ndarray:
        """Utilisation (m,) of faces with singular values sigma (m, 2), larger first, of the
        forming map: 1 where the stretch just reaches a limit, infinite where flipped."""
        u = np.maximum((sigma[:, 0] - 1) / self.stretch, (1 - sigma[:, 1]) / self.compress)
        return np.where(sigma[:, 1] > 0, np.maximum(u, 0.0), np.inf)


@dataclass(frozen=True)
class Stock:
    """A sheet material. thickness, sheet (width, height), kerf and gap in mm;
    neutral: the layer that keeps its length, as a fraction of the thickness
    from the hollow side of a bend; density kg/m3; grain: direction matters;
    origin: where the values come from. name is what people read on labels."""

    name: str
    thickness: float
    sheet: tuple[float, float] = (600.0, 600.0)
    neutral: float = 0.5
    cold: Limits = Limits(0.02, 0.03, 5.0)
    heated: Limits = Limits(0.05, 0.10, 2.0)
    kerf: float = 0.0
    gap: float = 3.0
    density: float = 100.0
    grain: bool = False
    origin: str = "given by hand"

    def depths(self, side: str) -> tuple[float, float]:
        """Distance in mm from the sculpt's face outward to the front of the foam and inward
        to its back. side: which face of the foam the sculpt is."""
        out = {"outer": 0.0, "inner": self.thickness}.get(side, self.thickness / 2)
        return out, self.thickness - out

    def with_kerf(self, kerf: float) -> Stock:
        """The same foam cut by another cutter, which takes `kerf` mm of it.

        Raises FoamError `bad-stock` for a width that no cutter has.
        """
        low, high, allowed = _NUMBERS["kerf"]
        if not low <= kerf <= high:
            raise _bad(f"A kerf cannot be {kerf:g} mm wide.", f"Use {allowed}.")
        return replace(self, kerf=float(kerf))

    def with_thickness(self, thickness: float) -> Stock:
        """The same foam in another thickness, in mm; a thickness in its name follows.

        Raises FoamError `bad-stock` for a thickness that foam cannot have.
        """
        low, high, allowed = _NUMBERS["thickness"]
        if not low <= thickness <= high:  # false for NaN as well
            raise _bad(f"Foam cannot be {thickness:g} mm thick.", f"Use {allowed}.")
        # The old number where it stands alone, not as a part of a longer one.
        old = rf"(?<![\d.]){re.escape(f'{self.thickness:g}')}(?![\d.])"
        name, found = re.subn(old, f"{thickness:g}", self.name, count=1)
        return replace(self, thickness=float(thickness),
                       name=name if found else f"{name} {thickness:g} mm")


# --- the shipped table -------------------------------------------------------

# Where each shipped value comes from. docs/stock.md prints the same sentences.
SOURCES: Mapping[str, str] = MappingProxyType({
    "thickness": "Sold thicknesses of craft foam, sheet and floor mats; suppliers' pages, "
                 "author not known. The real thickness differs by about 0.8 mm, by 1.6 mm in "
                 "thick foam: measure yours.",
    "sheet": "600 x 600 mm is the usual mat; the teeth of floor mats lose about 15 mm an edge, "
             "which leaves 570 x 570 mm. Common practice, no source.",
    "neutral": "0.5 is the middle of a homogeneous sheet (beam theory). Foam that is softer in "
               "compression than in tension has more; one strip bent round a tin tells.",
    "compress": "2 % cold, 5 % heated: from memory, no published value.",
    "stretch": "3 % cold, 10 % heated: from memory, no published value. The 275 % that foam "
               "makers print is the elongation at break (JIS K 6767), not a forming limit.",
    "radius": "5 thicknesses cold, 2 heated: from memory; 3 heated is printed for expanded PVC, "
              "a different foam.",
    "kerf": "0 for a knife. A laser takes 0.5 to 1 mm from 5 to 10 mm foam; from memory.",
    "gap": "3 mm between pieces, so that a knife has room. Common practice, no source.",
    "density": "150 kg/m3 for craft foam (up to 250 is sold), 70 for floor mats (70 and more); "
               "suppliers' pages, author not known. 100 for sheet: from memory.",
})

_SHIPPED = "shipped starting values, to be calibrated"
_MAT = (570.0, 570.0)
_TABLE: Mapping[str, Stock] = MappingProxyType({
    "eva-2": Stock("EVA craft foam 2 mm", 2.0, density=150.0, origin=_SHIPPED),
    "eva-4": Stock("EVA craft foam 4 mm", 4.0, density=150.0, origin=_SHIPPED),
    "eva-6": Stock("EVA craft foam 6 mm", 6.0, density=150.0, origin=_SHIPPED),
    "eva-10": Stock("EVA sheet 10 mm", 10.0, origin=_SHIPPED),
    "mat-10": Stock("EVA floor mat 10 mm", 10.0, _MAT, density=70.0, origin=_SHIPPED),
    "mat-12": Stock("EVA floor mat 12 mm", 12.0, _MAT, density=70.0, origin=_SHIPPED),
    "mat-15": Stock("EVA floor mat 15 mm", 15.0, _MAT, density=70.0, origin=_SHIPPED),
})


def shipped() -> Mapping[str, Stock]:
    """The stocks that come with Foamwright, each under the short name that finds it."""
    return _TABLE


def find_stock(name_or_path: str | Path = DEFAULT, thickness: float | None = None) -> Stock:
    """A shipped stock by its name, or the stock in a TOML file; thickness in mm wins.

    Raises FoamError `bad-stock`.
    """
    text = str(name_or_path)
    if text.lower() in _TABLE:
        stock = _TABLE[text.lower()]
    elif Path(text).suffix.lower() == ".toml" or len(Path(text).parts) > 1 or Path(text).is_file():
        stock = read_stock(Path(text))
    else:
        raise _bad(f"There is no stock named “{text}”.{_did_you_mean(text, _TABLE)}",
                   f"Use one of {', '.join(_TABLE)}, or the path of a TOML file that "
                   "describes your foam.")
    return stock if thickness is None else stock.with_thickness(thickness)


# --- the file ----------------------------------------------------------------

# Key -> (lowest, highest, what is allowed); the ends are allowed where they stand.
_NUMBERS = {
    "thickness": (0.1, 100.0, "millimetres from 0.1 to 100"),
    "kerf": (0.0, 20.0, "millimetres from 0 to 20"),
    "gap": (0.0, 100.0, "millimetres from 0 to 100"),
    "neutral": (0.0, 1.0, "a fraction of the thickness from 0 to 1"),
    "density": (1.0, 2000.0, "kilograms per cubic metre from 1 to 2000"),
}
_SIDE = (10.0, 100_000.0, "two lengths in millimetres from 10 to 100000, such as [600, 600]")
_LIMITS = {
    "compress": (0.0, 0.99, "a fraction of the length from 0 to 0.99; 0.05 is 5 %"),
    "stretch": (0.0, 1.0, "a fraction of the length from 0 to 1; 0.05 is 5 %"),
    "radius": (0.0, 1000.0, "a number of thicknesses from 0 to 1000"),
}
_STATES = ("cold", "heated")
_REQUIRED = ("name", "thickness", "sheet", "neutral", *_STATES)
_OPTIONAL = ("kerf", "gap", "grain", "density")


def read_stock(path: str | Path) -> Stock:
    """The stock in a TOML file, as docs/stock.md describes it.

    Raises FoamError `bad-stock` that names the file, the key and what is allowed.
    """
    path = Path(path)
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise _bad(f"The stock file {path} cannot be read: {error.strerror}.",
                   "Check the path and that you may read the file.") from error
    except ValueError as error:  # not TOML, or not UTF-8
        raise _bad(f"The stock file {path} is not a TOML file: {error}.",
                   "Compare it with the example in docs/stock.md.") from error
    return _Reader(path).stock(data)


class _Reader:
    """Checks the values of one file; every complaint names the file and the key."""

    def __init__(self, path: Path):
        self.path = path

    def stock(self, data: dict) -> Stock:
        self.keys(data, _REQUIRED, _OPTIONAL)
        name = self.text(data, "name")
        values = {key: self.number(data[key], key, _NUMBERS[key])
                  for key in _NUMBERS if key in data}
        if "grain" in data:
            values["grain"] = self.flag(data, "grain")
        limits = {state: self.limits(data[state], state) for state in _STATES}
        self.heat_helps(**limits)
        return Stock(name=name, sheet=self.sheet(data["sheet"]), **values, **limits,
                     origin=f"read from {self.path.name}")

    def complain(self, key: str, what: str, allowed: str) -> FoamError:
        return _bad(f"In the stock file {self.path}, `{key}` {what}.",
                    f"`{key}` must be {allowed}.")

    def keys(self, table: dict, required: Iterable[str], optional: Iterable[str] = (),
             prefix: str = "") -> None:
        known = (*required, *optional)
        for key in table:
            if key not in known:
                raise _bad(f"In the stock file {self.path}, `{prefix}{key}` is not a known "
                           f"key.{_did_you_mean(key, known)}",
                           f"Known keys here are {', '.join(known)}.")
        missing = [prefix + key for key in required if key not in table]
        if missing:
            raise _bad(f"The stock file {self.path} lacks `{'`, `'.join(missing)}`.",
                       "Add what is missing; docs/stock.md has a complete example.")

    def text(self, data: dict, key: str) -> str:
        value = data[key]
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            raise self.complain(key, f"is {value!r}", "a text of one line, in quotes")
        return value.strip()

    def flag(self, data: dict, key: str) -> bool:
        if not isinstance(data[key], bool):
            raise self.complain(key, f"is {data[key]!r}", "true or false")
        return data[key]

    def number(self, value: object, key: str, rule: tuple[float, float, str]) -> float:
        low, high, allowed = rule
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.complain(key, f"is {value!r}", allowed)
        if not low <= value <= high:  # false for NaN as well
            raise self.complain(key, f"is {value:g}", allowed)
        return float(value)

    def sheet(self, value: object) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise self.complain("sheet", f"is {value!r}", _SIDE[2])
        return self.number(value[0], "sheet", _SIDE), self.number(value[1], "sheet", _SIDE)

    def limits(self, table: object, state: str) -> Limits:
        names = tuple(f.name for f in fields(Limits))
        if not isinstance(table, dict):
            raise self.complain(state, f"is {table!r}",
                                f"a section [{state}] with {', '.join(names)}")
        self.keys(table, names, prefix=f"{state}.")
        return Limits(**{n: self.number(table[n], f"{state}.{n}", _LIMITS[n]) for n in names})

    def heat_helps(self, cold: Limits, heated: Limits) -> None:
        for key in ("compress", "stretch"):
            if getattr(heated, key) < getattr(cold, key):
                raise self.complain(f"heated.{key}", f"is smaller than `cold.{key}`",
                                    f"at least `cold.{key}`, since heat softens foam")
        if heated.radius > cold.radius:
            raise self.complain("heated.radius", "is larger than `cold.radius`",
                                "at most `cold.radius`, since heat softens foam")


def _did_you_mean(word: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(word.lower(), list(known), n=1)
    return f" Did you mean “{close[0]}”?" if close else ""


def _bad(message: str, remedy: str) -> FoamError:
    return FoamError(Finding("bad-stock", ERROR, message, remedy))
