"""The whole pattern: pieces on sheets, the steps of the build, or a glance at a check."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ..errors import Finding
from ..stock import Stock
from .fitted import Fitted
from .frozen import Frozen
from .join import Move, Part
from .piece import Laid, Mate, Piece
from .reach import Reach
from .rebuilt import Rebuilt
from .region import Cut
from .rod import Rod
from .sculpt import Sculpt, Settings
from .strip import Strip
from .transport import Transport
from .verdict import Verdict
from .widening import Widened


@dataclass(frozen=True, eq=False)
class Placement(Frozen):
    """A piece on a sheet: the points of its template are mirrored in x first where
    `mirrored`, then turned by angle, then moved by offset (2,). piece: its code."""

    _floats = ("offset",)

    piece: str
    angle: float
    offset: np.ndarray
    mirrored: bool = False

    def apply(self, points: np.ndarray) -> np.ndarray:
        """Points (k, 2) of the piece on the sheet."""
        points = np.asarray(points, dtype=float)
        if self.mirrored:
            points = points * (-1.0, 1.0)
        c, s = np.cos(self.angle), np.sin(self.angle)
        return points @ np.array([[c, s], [-s, c]]) + self.offset


@dataclass(frozen=True, eq=False)
class Sheet:
    """A mat of stock or a page of paper with what lies on it; origin bottom left.

    kind "mat" or "page"; size (w, h); name such as "EVA 10 mm, mat 1" or
    "page 3"; tile: (code of the piece, row, column, rows, columns) on a page
    that shows a part of a larger piece, whose placement then runs off the page.
    back: the sheet is seen from behind, every piece turned over, for what is cut on the back.
    outline: of an offcut, rings (k, 2) in the rectangle of that size; else empty.
    """

    kind: str
    name: str
    size: tuple[float, float]
    placements: tuple[Placement, ...]
    stock: Stock | None = None
    tile: tuple[str, int, int, int, int] | None = None
    outline: tuple[np.ndarray, ...] = ()
    back: bool = False


@dataclass(frozen=True)
class Step:
    """One step of the build. kind: "cut", "line", "bevel", "heat", "dart", "join",
    "close", "lay", "fasten" or "finish"; pieces and mates: codes; text: whole sentences. part: the
    sub-assembly this belongs to, "" for a step that concerns the whole suit. moves: how what is
    new comes in, of a "join" or "close". cautions: titles of those that apply."""

    number: int
    kind: str
    title: str
    text: tuple[str, ...]
    pieces: tuple[str, ...] = ()
    mates: tuple[str, ...] = ()
    part: str = ""
    moves: tuple[Move, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Tape:
    """A measure straight across an open rim, taken on the sculpt's face: between two places, each
    a piece's code, which of its edges, and the share of that edge's `fraction`; length in mm.
    name: such as T1, whose ends are T1a and T1b."""

    ends: tuple[tuple[str, int, float], tuple[str, int, float]]
    length: float
    name: str = ""


@dataclass(frozen=True, eq=False)
class Block:
    """A mounting block under a removable join whose faces are not parallel, or stand apart.

    piece: what is cut for it; its copies count all layers of all that are alike. mates: the
    removable joins, and on: the pieces they are glued to, one of each for every row of blocks.
    length along the seam, width across it, and heights of its two sides that run along the seam,
    mm, from the side nearer to the seam on; angle: of its upper face to the lower one. layers:
    how many of its stock lie in each.
    """

    piece: Piece
    mates: tuple[str, ...]
    on: tuple[str, ...]
    length: float
    width: float
    heights: tuple[float, float]
    angle: float
    layers: int = 1


@dataclass(frozen=True, eq=False)
class Pattern:
    """All of it. mats and pages are empty for a check.

    sculpt: as it was read, at its scale, but with the marks of lines that were cut into it as
    well, and their vertices after its own. beyond: of a pattern of one piece alone, its mates
    with pieces that are left out. cards: of the gauges of pieces and rods, on the pages with
    the templates. parts: what comes off as one, in the order in which it is taken off. blocks:
    mounting blocks, and strips: of edges and lines, both cut from foam with the pieces. laid:
    pieces that are glued on the faces of others, what is under another before that. widened:
    seams at which the sculpt was made wider. rebuilt: what came of putting it together again;
    fitted: how it fits a body; reach: how far its wearer can move; transport: its parts in a box;
    each None where it was not asked.
    """

    settings: Settings
    sculpt: Sculpt
    pieces: tuple[Piece, ...]
    mates: tuple[Mate, ...]
    findings: tuple[Finding, ...] = ()
    tapes: tuple[Tape, ...] = ()
    mats: tuple[Sheet, ...] = ()
    pages: tuple[Sheet, ...] = ()
    steps: tuple[Step, ...] = ()
    cards: tuple[Piece, ...] = ()
    beyond: tuple[Mate, ...] = ()
    rods: tuple[Rod, ...] = ()
    parts: tuple[Part, ...] = ()
    blocks: tuple[Block, ...] = ()
    laid: tuple[Laid, ...] = ()
    strips: tuple[Strip, ...] = ()
    widened: tuple[Widened, ...] = ()
    rebuilt: Rebuilt | None = None
    fitted: Fitted | None = None
    reach: Reach | None = None
    transport: Transport | None = None
    index: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self):
        object.__setattr__(self, "index", {
            p.code: i for i, p in enumerate(self._all)})

    def piece(self, code: str) -> Piece:
        """The piece of foam, mounting block, or card of a gauge, of this code."""
        return self._all[self.index[code]]

    def without_laid(self) -> Pattern:
        """The pattern without the pieces that are glued on the faces of others."""
        on_top = {one.piece for one in self.laid}
        if not on_top:
            return self
        return replace(
            self, pieces=tuple(p for p in self.pieces if p.code not in on_top), laid=(),
            mates=tuple(m for m in self.mates if not {code for code, _ in m.edges} & on_top),
            tapes=tuple(t for t in self.tapes if t.ends[0][0] not in on_top))

    @property
    def _all(self) -> tuple[Piece, ...]:
        return (*self.pieces, *self.cards, *(block.piece for block in self.blocks),
                *(strip.piece for strip in self.strips))

    @property
    def templates(self) -> tuple[Piece, ...]:
        """The pieces that are printed: one for each set of equal or mirrored ones."""
        return tuple(p for p in self.pieces if p.template == p.code)


@dataclass(frozen=True, eq=False)
class Glance:
    """The pieces of a check as far as it has come, to be shown meanwhile.

    sculpt: scaled, as it was cut; codes and stocks: per region of the cut. Empty until they are
    known: sigma, per region the singular values (m, 2) of Flat, before it is flat as a first look
    tells them, None where that tells nothing; verdicts, per region; letters,
    per seam of the cut.
    """

    sculpt: Sculpt
    cut: Cut
    codes: tuple[str, ...]
    stocks: tuple[Stock, ...]
    sigma: tuple[np.ndarray | None, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    letters: tuple[str, ...] = ()
