"""How fast a maker works, and what they pay."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

from ..errors import ERROR, Finding, FoamError


@dataclass(frozen=True)
class Rates:
    """Minutes of one pair of hands for a metre, a piece or a square metre of each operation, and
    how far cement goes. Common practice, no source, but for coverage; every shop differs.

    trace, cut, bevel, trench, score, glue: a metre of line, and of seam with both its faces;
    bend, heat: a piece bent cold, formed with heat; drying: wait, for a step in which cement has
    to dry; lay: a detail glued on; fasten: a removable join; mark: a rivet, hole or patch; rod: a
    rod; strip: a metre of strip; finish: a square metre closed with heat and wiped, unpainted.
    coverage: square metres of one face that a litre of cement coats: 308 square feet a US gallon,
    on a maker's page whose author is not known. The label of the cement wins.
    """

    trace: float = 1.5
    cut: float = 2.0
    bevel: float = 5.0
    trench: float = 6.0
    score: float = 2.0
    bend: float = 2.0
    heat: float = 6.0
    glue: float = 6.0
    drying: float = 10.0
    lay: float = 8.0
    fasten: float = 15.0
    mark: float = 2.0
    rod: float = 15.0
    strip: float = 8.0
    finish: float = 20.0
    coverage: float = 7.56

    @classmethod
    def names(cls) -> tuple[str, ...]:
        return tuple(field.name for field in fields(cls))

    def changed(self, given: Iterable[tuple[str, float]]) -> Rates:
        """With these in place of the defaults. Raises FoamError `bad-rate`."""
        for name, value in (given := tuple(given)):
            if name not in self.names():
                raise FoamError(Finding(
                    "bad-rate", ERROR, f"There is no rate called “{name}”.",
                    f"Give some of these: {', '.join(self.names())}."))
            least = 0.1 if name == "coverage" else 0.0
            if not least <= value <= 1e4:  # false for NaN as well
                raise FoamError(Finding(
                    "bad-rate", ERROR, f"The rate {name} cannot be {value:g}.",
                    f"Give a number from {least:g} to 10000."))
        return replace(self, **dict(given))


@dataclass(frozen=True)
class Price:
    """What one of something costs: a mat of a foam or a metre of a rod by the name of the stock,
    a litre of cement, a blade, a metre of webbing or of hook-and-loop."""

    thing: str
    each: float

    def __post_init__(self):
        if not 0.0 <= self.each <= 1e6:
            raise FoamError(Finding(
                "bad-price", ERROR, f"The price of {self.thing} cannot be {self.each:g}.",
                "Give a number from 0 to 1000000."))
