"""What the plan says of weight, money and time."""

from __future__ import annotations

from collections.abc import Iterator

from ...core.model import Pattern
from ...core.units import format_length
from ..costs import Bill, bill, weights
from ..effort import Operation, dominant, effort, hands_on
from ..shopping import Shopping
from . import words as say
from .blocks import Block, Column, Heading, Table, Text


def budget(pattern: Pattern, buy: Shopping) -> Iterator[Block]:
    """Weight, costs as far as there are prices, and time."""
    yield from _weight(pattern, buy)
    if pattern.settings.prices:
        yield from _costs(bill(pattern, buy), pattern.settings.currency)
    yield from _time(effort(pattern, buy), pattern.settings.unit)


def _weight(pattern: Pattern, buy: Shopping) -> Iterator[Block]:
    found = weights(buy)
    yield Heading("Weight")
    parts = "; ".join(f"{stock.name} {_heavy(kg, pattern)}" for stock, kg in found)
    yield Text(f"About {_heavy(sum(kg for _, kg in found), pattern)} of foam is worn"
               + (f": {parts}." if len(found) > 1 else "."))
    yield Text(say.WEIGHT_NOTE, note=True)


def _heavy(kg: float, pattern: Pattern) -> str:
    if pattern.settings.unit == "in":
        return f"{kg / 0.45359237:.1f} lb"
    return f"{kg:.1f} kg" if kg >= 1 else f"{1000 * kg:.0f} g"


def _costs(found: Bill, currency: str) -> Iterator[Block]:
    money = lambda value: f"{value:.2f} {currency}".strip()  # noqa: E731
    yield Heading("What it costs")
    if found.lines:
        yield Table((Column("What", 6), Column("How much", 3, "end"), Column("Cost", 3, "end")), (
            *((line.thing[:1].upper() + line.thing[1:], _much(line.amount, line.unit),
               money(line.cost)) for line in found.lines), ("Together", "", money(found.total))))
    if found.unpriced:
        yield Text(f"Not counted, since no price was given: {', '.join(found.unpriced)}.")
    if found.unused:
        yield Text("Prices that were given for what this suit does not need: "
                   f"{', '.join(found.unused)}.", note=True)


def _much(amount: float, unit: str) -> str:
    if unit == "l":
        return f"{1000 * amount:.0f} ml"
    if unit == "m":
        return f"{amount:.1f} m"
    return f"{amount:g} {unit.rstrip('s') if amount == 1 else unit}"


def _time(work: tuple[Operation, ...], unit: str) -> Iterator[Block]:
    yield Heading("How long it takes")
    most = dominant(work)
    if most is None:
        yield Text("There is nothing to do.")
        return
    share = 100 * most.minutes / hands_on(work)
    yield Text(f"About {_long(hands_on(work))} of work, {share:.0f} % of it to "
               f"{most.name[:1].lower()}{most.name[1:]}.")
    yield Text(say.RATES_NOTE, note=True)
    yield Table((Column("Work", 6), Column("How much", 3, "end"), Column("Time", 3, "end")),
                tuple((one.name, _work(one, unit), _long(one.minutes)) for one in work))


def _work(one: Operation, unit: str) -> str:
    if one.unit == "m":
        return f"{one.amount * 3.28084:.0f} ft" if unit == "in" else format_length(
            1000 * one.amount) if one.amount < 1 else f"{one.amount:.1f} m"
    if one.unit == "m²":
        return f"{one.amount * 10.7639:.1f} ft²" if unit == "in" else f"{one.amount:.2f} m²"
    return f"{one.amount:g} {one.unit[:-1] if one.amount == 1 else one.unit}"


def _long(minutes: float) -> str:
    """Such as “3 h 20 min”, to five minutes from an hour on."""
    whole = round(minutes) if minutes < 60 else 5 * round(minutes / 5)
    hours, rest = divmod(whole, 60)
    if not whole:
        return "under 1 min"
    return " ".join(part for part in (f"{hours} h" * bool(hours), f"{rest} min" * bool(rest))
                    if part)
