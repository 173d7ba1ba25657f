"""What the maker is told of shapes that stand out of the sculpt, or lie deeper."""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import NOTE, Finding
from ..model import Sculpt
from ..stock import Stock
from ..units import format_length
from .apart import nearest_stock
from .find import Raised


def findings(sculpt: Sculpt, shapes: Sequence[Raised], stocks: Sequence[Stock]) -> list[Finding]:
    """A note for each shape; stocks: foams it may be made of."""
    return [_finding(sculpt.objects[one.object].name, one, stocks) for one in shapes]


def _finding(name: str, one: Raised, stocks: Sequence[Stock]) -> Finding:
    height = format_length(round(abs(one.height), 1))
    if one.height < 0:
        return Finding(
            "recessed-shape", NOTE,
            f"A shape on “{name}” lies {height} deeper than what is round it.",
            "As sculpted it is one piece with steep folds. Cut it free along its edges with a "
            "seam, and set it back on a shim.", faces=one.top)
    stock = nearest_stock(stocks, one.height)
    return Finding(
        "raised-shape", NOTE,
        f"A shape on “{name}” stands {height} out of what is round it. {stock.name} glued on "
        "comes nearest.",
        "Make it a piece of its own, which lets what is below go on smoothly, or leave it as it "
        "is sculpted. The command does it with --detach-raised.", faces=one.top)
