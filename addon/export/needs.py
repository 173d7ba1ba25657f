"""What a suit takes of material, money and time, as a part of report.json."""

from __future__ import annotations

from typing import Any

from ..core.model import Pattern
from .costs import bill, weights
from .effort import dominant, effort, hands_on
from .shopping import shopping

_PLACES = 4


def needs(pattern: Pattern) -> dict[str, Any]:
    """Areas in mm2, lengths in mm, cement in litres, weight in kg, time in minutes."""
    buy = shopping(pattern)
    heavy = dict(weights(buy))
    number = lambda value: round(float(value), _PLACES)  # noqa: E731
    work, costs = effort(pattern, buy), bill(pattern, buy)
    most = dominant(work)
    return {
        "foam": [{"stock": foam.stock.name, "pieces": foam.pieces, "mats": foam.mats,
                  "counted": foam.counted, "offcuts": foam.offcuts, "area": number(foam.area),
                  "sheet_area": number(foam.sheet_area), "weight": number(heavy[foam.stock])}
                 for foam in buy.foam],
        "rods": [{"stock": stock.name, "lengths": [number(length) for length in lengths],
                  "weight": number(heavy[stock])} for stock, lengths in buy.rods],
        "glue_area": number(buy.glue_area), "cement": number(buy.cement), "cut": number(buy.cut),
        "blades": buy.blades, "hook_and_loop": number(buy.hook), "webbing": number(buy.webbing),
        "small": [{"thing": thing, "count": count} for thing, count in buy.small],
        "weight": number(sum(heavy.values())),
        "work": [{"rate": one.rate, "name": one.name, "amount": number(one.amount),
                  "unit": one.unit, "minutes": number(one.minutes)} for one in work],
        "minutes": number(hands_on(work)), "dominant": most.rate if most else None,
        "costs": [{"thing": line.thing, "amount": number(line.amount), "unit": line.unit,
                   "cost": number(line.cost)} for line in costs.lines],
        "cost": number(costs.total), "unpriced": list(costs.unpriced),
        "unused_prices": list(costs.unused),
    }
