"""What comes in: the maker's surface with its marks, and what they choose."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..errors import Finding
from ..stock import Stock
from .finish import Finish
from .fitted import Body
from .frozen import Frozen
from .join import JoinSizes
from .kinds import APART, FINISH_BIT, FREE, JOIN_BIT, JOINS, OUTER, REFUSE, SEAM
from .marking import Marking
from .printed import Printed
from .rates import Price, Rates
from .rod import RodLine
from .strip import StripLine
from .widening import Widening


@dataclass(frozen=True)
class SculptObject:
    """One object of the sculpt. None means: as the settings say.

    lies_on: the name of the object it is glued onto, "" where it lies on none; None: as contact
    tells. worn: the part of the body it goes on, a place of core.measures; "": as its name says.
    """

    name: str
    stock: Stock | None = None
    side: str | None = None
    lies_on: str | None = None
    worn: str = ""


@dataclass(frozen=True, eq=False)
class Guide(Frozen):
    """A line on the sculpt's surface that need not follow its edges, to be cut as a mark.

    points (k, 3) mm, in order, on the surface or near it; between two of them the line is the
    shortest one in the surface. kind: SEAM, TRENCH or SCORE. closed: the last point is joined
    to the first. object: index into the sculpt's objects. name: what the maker calls it.
    join: of JOINS, how a seam is held together; finish: how it looks.
    """

    _floats = ("points",)

    points: np.ndarray
    kind: int = SEAM
    closed: bool = False
    object: int = 0
    name: str = ""
    join: str = ""
    finish: Finish = Finish()

    @property
    def marks(self) -> int:
        """The flags that an edge along it gets."""
        return (self.kind | JOINS.index(self.join) * JOIN_BIT
                | self.finish.number * FINISH_BIT)


@dataclass(frozen=True, eq=False)
class Sculpt(Frozen):
    """The maker's surface with its marks.

    vertices (n, 3) mm; faces (m, 3) counter-clockwise seen from outside;
    edges (k, 2) the marked edges as sorted vertex pairs, kinds (k,) their flags
    (SEAM | TRENCH | SCORE, and SMOOTH, from JOIN_BIT on the number in JOINS of how a seam is
    held together, and from FINISH_BIT on the number of its Finish); guides: further marks,
    which cross faces; face_object (m,) index into objects;
    polygon (m,) the maker's own face each triangle came from; origin (m,) the face of
    the sculpt as it was read that each face is, where some have been left out since.
    rods: axes of rods and tubes that go with it. markings: marks without a cut. strips:
    along edges and lines. widenings: at seams. body: the wearer, where there is one.
    unbuilt (k,) vertices that are on no face because theirs are not to be built.
    uncut (p, 3): the faces as they were before lines across them were cut in, parent (m,): the
    one of them that each face is a part of; empty where no line was.
    up and front (3,) are unit vectors of the world the suit stands in.
    """

    _floats = ("vertices", "up", "front")
    _ints = ("faces", "edges", "kinds", "face_object", "polygon", "origin", "unbuilt", "uncut",
             "parent")

    vertices: np.ndarray
    faces: np.ndarray
    edges: np.ndarray
    kinds: np.ndarray
    face_object: np.ndarray
    objects: tuple[SculptObject, ...]
    polygon: np.ndarray
    up: np.ndarray = (0.0, 0.0, 1.0)
    front: np.ndarray = (0.0, -1.0, 0.0)
    findings: tuple[Finding, ...] = ()
    origin: np.ndarray | None = None
    guides: tuple[Guide, ...] = ()
    rods: tuple[RodLine, ...] = ()
    markings: tuple[Marking, ...] = ()
    strips: tuple[StripLine, ...] = ()
    widenings: tuple[Widening, ...] = ()
    body: Body | None = None
    unbuilt: np.ndarray = ()
    uncut: np.ndarray = ()
    parent: np.ndarray = ()

    def __post_init__(self):
        if self.origin is None:
            object.__setattr__(self, "origin", np.arange(len(self.faces)))
        super().__post_init__()
        if len(self.parent) not in (0, len(self.faces)):
            raise ValueError("every face, or none, has a parent")

    def scaled(self, factor: float) -> Sculpt:
        """The sculpt with all that is drawn on it and goes with it, at another size."""
        return replace(
            self, vertices=self.vertices * factor,
            guides=tuple(replace(g, points=g.points * factor) for g in self.guides),
            rods=tuple(replace(r, points=r.points * factor, diameter=r.diameter * factor)
                       for r in self.rods),
            strips=tuple(replace(s, points=s.points * factor) for s in self.strips),
            markings=tuple(replace(m, points=m.points * factor) for m in self.markings),
            widenings=tuple(replace(w, place=w.place * factor) for w in self.widenings),
            body=self.body.scaled(factor) if self.body else None)

    @classmethod
    def plain(cls, vertices: ArrayLike, faces: ArrayLike, edges: ArrayLike = (),
              kinds: ArrayLike = (), name: str = "sculpt", **more: object) -> Sculpt:
        """A sculpt of one object with the given marks."""
        faces = np.asarray(faces, dtype=np.int64).reshape(-1, 3)
        return cls(
            vertices=np.asarray(vertices, dtype=float).reshape(-1, 3),
            faces=faces,
            edges=np.sort(np.asarray(edges, dtype=np.int64).reshape(-1, 2), axis=1),
            kinds=np.asarray(kinds, dtype=np.int64),
            face_object=np.zeros(len(faces), dtype=np.int64),
            objects=(SculptObject(name),),
            polygon=np.arange(len(faces)),
            **more,
        )


@dataclass(frozen=True)
class Offcut:
    """Leftover foam to be used before new mats. rings: its outline and holes in it, points in mm;
    stock: the name of its stock; any name that is none stands for the suit's."""

    name: str
    rings: tuple[tuple[tuple[float, float], ...], ...]
    stock: str = ""


@dataclass(frozen=True)
class Size:
    """A size of the suit: factors on the sculpt from side to side, from front to back and upwards,
    before its scale; the foam stays as thick as it is."""

    name: str
    across: float = 1.0
    deep: float = 1.0
    tall: float = 1.0

    @property
    def factors(self) -> np.ndarray:
        """(3,): across, deep, tall."""
        return np.array([self.across, self.deep, self.tall])


@dataclass(frozen=True)
class Settings:
    """What the maker chooses for a whole pattern. Lengths mm, angles radians."""

    stock: Stock
    side: str = OUTER
    scale: float = 1.0  # of the sculpt, before thickness; printing stays 1:1
    seam_angle: float | None = None  # also seam every edge folded sharper than this
    fairing: float = 0.5  # furthest a line that zigzags along mesh edges is moved to be smooth
    web: float = 0.3  # foam left under a trench, as a fraction of the thickness
    score_depth: float = 0.4  # depth of a score line, as a fraction of the thickness
    contact: float = 1.5  # furthest that a detail may float over what it lies on, or sink in
    notch_spacing: float = 70.0
    paper: str = "A4"
    margin: float = 10.0  # unprinted border of a page
    overlap: float = 10.0  # of neighbouring tiles
    roll: float = 610.0  # width of the paper where it comes off a roll
    allowance: float = 0.0  # templates also show a line this far outside the cut line
    gauges: bool = True  # also print cards by which bent pieces are formed
    back_side: bool = False  # also draw, mirrored, what is cut on the back
    text_outlines: bool = False  # words on mats as outlines, for cutters that know no typefaces
    mock_up: str = ""  # instead of the suit a mock-up of HALF or a THIRD of its size, in card
    card: float = 1.5  # thickness of the card for a mock-up
    joins: JoinSizes = JoinSizes()
    unit: str = "mm"  # for what people read
    title: str = "Foamwright pattern"
    seed: int = 1
    nest_seconds: float = 4.0  # of work on each mat, counted in steps, not by the clock
    turns: str = FREE  # of pieces on mats: any, by QUARTER turns, or along the GRAIN
    together: str = APART  # on one mat: MIRRORED copies of a template, or two MATES
    holes: bool = True  # small pieces may lie in the holes of large ones
    kerf: float | None = None  # width that a cutter takes from the foam; None: as the stock says
    mat_gap: float | None = None  # least distance of two pieces on a mat; None: as the stock says
    mat_margin: float | None = None  # from a piece to the mat's rim; None: half the gap
    offcuts: tuple[Offcut, ...] = ()  # used before new mats, in this order
    split: str = REFUSE  # a piece larger than a mat, or part it by a BUTT_LINE
    widen: tuple[tuple[str, tuple[float, float]], ...] = ()  # letters of mates, and low and high
    # of Widening
    held: tuple[tuple[str, str], ...] = ()  # letters of mates and of JOINS what holds them
    finishes: tuple[tuple[str, Finish], ...] = ()  # letters of mates and how they look
    measures: tuple[tuple[str, float], ...] = ()  # the wearer's own, by names of core.measures
    rates: Rates = Rates()  # of work
    prices: tuple[Price, ...] = ()
    currency: str = ""  # as it stands after a price
    girth_heights: tuple[float, ...] = ()  # over the wearer's soles, at which girths are told too
    size: Size | None = None  # the one of a set of sizes that the sculpt was made
    only: str | None = None  # export this piece alone
    made: tuple[tuple[str, str], ...] = ()  # codes of pieces and how far each is made, of STATES
    printed: Printed | None = None  # an earlier pattern, whose codes and letters are kept
