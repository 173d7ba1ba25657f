"""Where a cut would help a piece that the foam cannot be formed into.

    piece -> ground (an even mesh of its layer) -> places that ask most -> ways to the rims
          -> guessed -> tried roughly -> smooth lines -> the engine's verdict -> proposals

Proposals prefer valleys, sharp edges, undersides, the back and the middle of the suit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ...errors import NOTE, Finding, FoamError
from ...model import Guide, Sculpt, Settings
from ...stopping import stoppable
from .search import DART, SEAM, SPLIT, Search
from .site import Suit

__all__ = ["DART", "SEAM", "SPLIT", "Relief", "relieve"]

Progress = Callable[[float, str], None]


@dataclass(frozen=True, eq=False)
class Relief:
    """A proposal to relieve one piece.

    kind: DART, after which the piece is still one, SEAM, which divides it, or SPLIT, an existing
    seam moved; guides: its lines, in the sculpt's own units; before: the heated utilisation now;
    cold, heated: of each piece it leaves, of a SPLIT the neighbour too; passes: all of them can
    be formed; length: mm of seam that are added; visibility: 0 hidden to 1 in plain sight, and
    where that is in words.
    cleared (k, 2): edges of the sculpt that are seams no more. alone: why there are no
    proposals of another kind, in words, or "".
    """

    kind: str
    guides: tuple[Guide, ...]
    before: float
    cold: tuple[float, ...]
    heated: tuple[float, ...]
    passes: bool
    length: float
    visibility: float
    where: str
    cleared: np.ndarray = ()
    alone: str = ""

    @property
    def worst(self) -> float:
        """Heated utilisation of the piece that asks the most."""
        return max(self.heated)


@stoppable
def relieve(sculpt: Sculpt, settings: Settings, faces: Sequence[int],
            progress: Progress | None = None) -> tuple[Relief, ...]:
    """Up to three proposals to relieve the piece that has the given faces (k,) of the sculpt,
    best first: those that let it be formed, then the shortest and least seen.

    progress is told the share done and what is being done; it may raise Cancelled. Raises
    FoamError `no-relief-needed` for a piece that can be formed as it is, `no-relief-found`
    where nothing tried helps, and whatever keeps the sculpt from being cut into pieces.
    """
    say = progress or (lambda share, text: None)
    say(0.0, "Cutting along the seams")
    suit = Suit.of(sculpt, settings, faces)
    site = suit.site()
    say(0.1, "Looking for the worst place")
    before = site.now()
    if before.passes:
        raise FoamError(Finding(
            "no-relief-needed", NOTE,
            f"This piece can be formed as it is: it takes {before.worst:.2f} of what the foam "
            "stands heated.", "Choose a piece that needs relief.", faces=faces[:1]))
    search = Search(suit, site, before, say)
    found = search.proposals()
    if not found:
        raise FoamError(Finding(
            "no-relief-found", NOTE, "No dart or seam that was tried helps this piece enough.",
            "Divide the piece by hand where it is most curved, or choose a thinner or softer "
            "stock.", faces=faces[:1]))
    alone = search.alone(found)
    say(1.0, "Done")
    return tuple(Relief(
        each.kind,
        tuple(Guide(line / settings.scale, object=site.region.object) for line in each.lines),
        before.worst, tuple(v.cold for v in each.outcome.verdicts),
        tuple(v.heated for v in each.outcome.verdicts), each.outcome.passes, each.length,
        each.visibility, each.where, each.cleared, alone) for each in found)
