"""A piece of foam as it is drawn: its edges, folds, bends and notches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stock import Stock
from .finish import EdgeFinish, Finish
from .frozen import Frozen
from .join import Join
from .marking import PointMark
from .verdict import Verdict


@dataclass(frozen=True, eq=False)
class PieceEdge(Frozen):
    """One edge of a flat piece.

    mate: unique code of the mate, "" for a free rim; letter: what is printed.
    points (k, 2) on the line of the sculpt's own face, in loop order; cut (k, 2)
    the same on the cut line; fraction (k,) of the seam's length at each point, in
    the seam's own direction, so that both mates agree (falling on one of them);
    bevel (k,) angle from square at each point (half the fold, convex positive).
    length: of the line in which the mates touch. larger: the face that reaches
    further, FRONT or BACK, "" where square. lap: mm by which it reaches over its mate, in foam
    that is cut square beyond these points; cut is then its outer line.
    """

    _floats = ("points", "cut", "fraction", "bevel")

    points: np.ndarray
    cut: np.ndarray
    fraction: np.ndarray
    bevel: np.ndarray
    mate: str = ""
    letter: str = ""
    length: float = 0.0
    larger: str = ""
    lap: float = 0.0


@dataclass(frozen=True, eq=False)
class Fold(Frozen):
    """A trench or score line on a flat piece: points (k, 2), fold (k,) at each.

    kind TRENCH or SCORE; side: the face it is cut from; depth and, for a trench,
    mouth (width at the face, widest place), mm.
    """

    _floats = ("points", "fold")

    points: np.ndarray
    fold: np.ndarray
    kind: int
    side: str
    depth: float
    mouth: float


@dataclass(frozen=True, eq=False)
class Bend(Frozen):
    """A straight line (2, 2) on a flat piece along which it is bent without a cut, and the
    angle of the bend, convex positive: the part of the piece's turning it stands for."""

    _floats = ("points",)

    points: np.ndarray
    angle: float


@dataclass(frozen=True, eq=False)
class Gauge(Frozen):
    """The curve of a piece's inner face along a straight line of its flat, for a card gauge.

    line (2, 2): its ends on the flat; profile (k, 2) mm: x along the chord from the first end,
    y towards the outside of the suit, 0 at both ends.
    """

    _floats = ("line", "profile")

    line: np.ndarray
    profile: np.ndarray


@dataclass(frozen=True, eq=False)
class Notch(Frozen):
    """A tick across the cut edge: point (2,) on the cut line, inward unit (2,),
    letter of the mate, index counted along the seam (equal on both mates)."""

    _floats = ("point", "inward")

    point: np.ndarray
    inward: np.ndarray
    letter: str
    index: int


@dataclass(frozen=True, eq=False)
class Tick(Frozen):
    """Where notch `index` of a laid-on piece comes to lie on its base: point (2,) on the flat,
    inward unit (2,) as of the notch."""

    _floats = ("point", "inward")

    point: np.ndarray
    inward: np.ndarray
    index: int


@dataclass(frozen=True, eq=False)
class Place(Frozen):
    """Where a piece is glued onto the face of this one: lines (each (k, 2)) of its outline on the
    flat, closed ones with the first point again, and ticks for its notches.

    letter: of its notches; of: codes of the pieces laid there, each on the piece of the same place
    in `on`: several where pieces that share this template carry alike ones.
    """

    lines: tuple[np.ndarray, ...]
    ticks: tuple[Tick, ...]
    letter: str
    of: tuple[str, ...]
    on: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Laid:
    """How a piece is glued onto the faces of others.

    on: codes of what it lies on, the one with most of it first; letter: of its notches; area: that
    is glued, mm². early: it is glued on while both are flat, as it comes out right that way.
    seams: codes of mates that run under it, and are glued before.
    """

    piece: str
    on: tuple[str, ...]
    letter: str
    area: float
    early: bool = False
    seams: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Piece(Frozen):
    """One piece of foam.

    vertices (n, 3) and faces (m, 3): its part of the sculpt; source_vertex (n,),
    source_face (m,) index the Sculpt; flat (n, 2) and stretch (m, 2) from Flat. strain (m, 3):
    the strain map, how far each part is stretched when it is formed, as xx, xy and yy of the
    symmetric map of the flat.
    front, back: outline of each foam face as closed rings (k, 2), first ring the
    outside, the rest holes; cut: what is cut square through the sheet (per edge
    the larger face), same layout. up (2,): direction on the flat that points up
    on the wearer, zero when the piece lies level.
    template: code of the piece whose printed template this one uses; copies and
    mirrored: how many are cut from this template as printed and turned over
    (both 0 when another piece's template is used). flipped: this piece is the
    template turned over; turn: then turned by this angle it lies as `flat` does.
    base: "body" or the code of the piece it lies on. places: where others are glued on.
    point_marks: the marks without a cut that the maker set. finishes: of its edges at seams that
    are not flush.
    gauge_of: of a gauge's card, which lies on pages like a template, the code of the piece
    or rod it is for; marks (k, 2, 2): where the start, middle and end of the gauge's line come to
    lie on it, or the ends of the rod, and the way inward there.
    """

    _floats = ("vertices", "flat", "stretch", "strain", "up", "marks")
    _ints = ("faces", "source_vertex", "source_face")

    code: str
    name: str
    object: str
    stock: Stock
    side: str
    verdict: Verdict
    vertices: np.ndarray
    faces: np.ndarray
    source_vertex: np.ndarray
    source_face: np.ndarray
    flat: np.ndarray
    stretch: np.ndarray
    front: tuple[np.ndarray, ...]
    back: tuple[np.ndarray, ...]
    cut: tuple[np.ndarray, ...]
    edges: tuple[PieceEdge, ...]
    folds: tuple[Fold, ...] = ()
    bends: tuple[Bend, ...] = ()
    gauges: tuple[Gauge, ...] = ()
    strain: np.ndarray = ()
    notches: tuple[Notch, ...] = ()
    places: tuple[Place, ...] = ()
    up: np.ndarray = (0.0, 1.0)
    area: float = 0.0
    base: str = "body"
    template: str = ""
    copies: int = 1
    mirrored: int = 0
    flipped: bool = False
    turn: float = 0.0
    point_marks: tuple[PointMark, ...] = ()
    finishes: tuple[EdgeFinish, ...] = ()
    gauge_of: str = ""
    marks: np.ndarray = ()

    @property
    def up_on_template(self) -> np.ndarray:
        """What `up` is on the template, before that is turned over or turned: (2,)."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        x, y = self.up @ np.array([[c, -s], [s, c]])
        return np.array([-x if self.flipped else x, y])


@dataclass(frozen=True, eq=False)
class Mate(Frozen):
    """Two edges that are joined: glued together unless `join` says otherwise,
    flush unless `finish` does.

    code unique, letter printed; edges: two (piece code, edge index); lengths of
    both along the line in which they touch; gap: their difference; fold (2,):
    smallest and largest; curve (k, 3): the seam on the sculpt.
    """

    _floats = ("lengths", "fold", "curve")

    code: str
    letter: str
    edges: tuple[tuple[str, int], tuple[str, int]]
    lengths: np.ndarray
    gap: float
    fold: np.ndarray
    curve: np.ndarray
    join: Join = Join()
    finish: Finish = Finish()
