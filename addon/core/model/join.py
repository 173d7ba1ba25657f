"""How pieces hold together, and how parts come on and off."""

from __future__ import annotations

from dataclasses import dataclass

from .kinds import BUTT, REMOVABLE


@dataclass(frozen=True)
class JoinSizes:
    """What the maker chooses for joins that are no plain butt seams; mm.

    lap: width by which one piece of an overlap covers the other. patch: length along the seam and
    width of a patch of hook-and-loop; webbing: width of a strap; tail: length of strap fixed on
    each side of the seam; slack: what goes through the buckle and is pulled tight; spacing:
    furthest that two patches or straps are apart; spacer: height of a spacer.
    """

    lap: float = 20.0
    patch: tuple[float, float] = (50.0, 25.0)
    webbing: float = 25.0
    tail: float = 60.0
    slack: float = 120.0
    spacing: float = 150.0
    spacer: float = 15.0


@dataclass(frozen=True)
class Join:
    """How the two edges of a seam are held together.

    kind: of JOINS. over: of an overlap or on a spacer, the code of the piece that lies outside,
    reaching `lap` mm over the other, `lift` mm further out than the sculpt and so `longer` mm
    along the seam. gap: which a spacer keeps free between the two, mm.
    count: patches of hook-and-loop, or straps, in an even row along the seam; patch: length along
    the seam and width across it of each patch (a hook and a loop one), or of what is fixed of a
    strap on each side; webbing: length of all of it together, mm, and width: of it.
    """

    kind: str = BUTT
    over: str = ""
    lap: float = 0.0
    lift: float = 0.0
    longer: float = 0.0
    gap: float = 0.0
    count: int = 0
    patch: tuple[float, float] = (0.0, 0.0)
    webbing: float = 0.0
    width: float = 0.0

    @property
    def removable(self) -> bool:
        """Whether it is undone to take the suit off."""
        return self.kind in REMOVABLE


@dataclass(frozen=True)
class Part:
    """What glue holds together: it comes off as one.

    name: its objects, and its pieces where an object has several parts. way: unit vector along
    which it is taken off once the earlier parts are, None where something holds it. turn: its
    place in the order in which parts come off, from 1; the same for parts that come off in any
    order. joins: codes of the removable mates that hold it.
    """

    name: str
    pieces: tuple[str, ...]
    way: tuple[float, float, float] | None = None
    turn: int = 1
    joins: tuple[str, ...] = ()


@dataclass(frozen=True)
class Move:
    """What is brought in at a step, one for each join that is made in it.

    pieces: codes of what comes in, empty where a loop is closed. mates: what is glued. way: unit
    vector along which what comes in would be taken away again, so it is brought in against it;
    None where nothing comes in. squeeze: it passes through what stands, or no hand reaches the
    seam, so foam has to give. press: sides from which a hand reaches the whole seam, of OUTSIDE
    and INSIDE.
    """

    pieces: tuple[str, ...]
    mates: tuple[str, ...]
    way: tuple[float, float, float] | None = None
    squeeze: bool = False
    press: tuple[str, ...] = ()
