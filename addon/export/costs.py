"""What a suit costs and weighs, as far as the maker gives prices."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ..core.model import Pattern
from ..core.stock import Stock, shipped
from .shopping import Shopping


@dataclass(frozen=True)
class Cost:
    """A line of the bill: what, how many (mats, litres, blades, metres), and what they cost."""

    thing: str
    amount: float
    unit: str
    cost: float


@dataclass(frozen=True)
class Bill:
    """lines: what has a price; unpriced: what is needed and has none; unused: names of prices
    for what this suit does not need."""

    lines: tuple[Cost, ...]
    unpriced: tuple[str, ...]
    unused: tuple[str, ...]

    @property
    def total(self) -> float:
        return sum(line.cost for line in self.lines)


def bill(pattern: Pattern, buy: Shopping) -> Bill:
    """What the shopping list costs; whole mats and blades, the rest by measure."""
    prices = {_known(price.thing): price.each for price in pattern.settings.prices}
    lines, unpriced, named = [], [], set()
    for name, amount, unit in _needed(buy):
        key = name.lower()
        named.add(key)
        if key in prices:
            lines.append(Cost(name, amount, unit, amount * prices[key]))
        else:
            unpriced.append(name)
    return Bill(tuple(lines), tuple(unpriced), tuple(
        price.thing for price in pattern.settings.prices if _known(price.thing) not in named))


def _needed(buy: Shopping) -> Iterator[tuple[str, float, str]]:
    for foam in buy.foam:
        if foam.mats:
            yield foam.stock.name, foam.mats, "mats"
    for stock, lengths in buy.rods:
        yield stock.name, sum(lengths) / 1000, "m"
    for name, amount, unit in (("cement", buy.cement, "l"), ("blade", buy.blades, "blades"),
                               ("webbing", buy.webbing / 1000, "m"),
                               ("hook-and-loop", buy.hook / 1000, "m")):
        if amount:
            yield name, amount, unit


def _known(name: str) -> str:
    """The name of a stock for its short one, else the name itself; in small letters."""
    short: dict[str, Stock] = dict(shipped())
    return (short[name.lower()].name if name.lower() in short else name).lower()


def weights(buy: Shopping) -> tuple[tuple[Stock, float], ...]:
    """Of the foam of each stock, kg: area of the pieces x thickness x density; bevels and
    trenches are not taken off, cement and fittings not added."""
    found = [(foam.stock, foam.area * foam.stock.thickness * foam.stock.density * 1e-9)
             for foam in buy.foam]
    return (*found, *((stock, sum(lengths) * math.pi / 4 * stock.thickness ** 2
                       * stock.density * 1e-9) for stock, lengths in buy.rods))
