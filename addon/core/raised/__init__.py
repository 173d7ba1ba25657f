"""Shapes that stand out of a sculpted surface, with a step all round.

    sculpt -> shapes with their steps (find) -> one let down into what lies round it (lower)
    -> the same as a piece of foam that is glued on (apart)
"""

from .apart import all_apart, apart, nearest_stock
from .find import Raised, raised
from .lower import Match, lowered, matched
from .told import findings

__all__ = ["Match", "Raised", "all_apart", "apart", "findings", "lowered", "matched",
           "nearest_stock", "raised"]
