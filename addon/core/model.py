"""Every record that passes between stages. No algorithms live here.

Lengths are mm and angles radians. Arrays are float64 or int64 and read-only.
The flat of a piece is seen from the front: outside face of the foam up, so a
counter-clockwise outline has the foam on its left. A fold is the angle between
the outward normals of two faces: 0 flat, convex positive, concave negative.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from .errors import Finding
from .stock import Stock

SEAM, TRENCH, SCORE = 1, 2, 4  # bit flags of a marked edge
SMOOTH = 8  # a further flag: the edge is part of a line that was cut in, smooth as it is
OUTER, MIDDLE, INNER = "outer", "middle", "inner"  # which face of the foam the sculpt is
REFUSE, BUTT_LINE = "refuse", "butt-line"  # what becomes of a piece larger than a mat
FRONT, BACK = "front", "back"  # faces of a flat piece: front is the outside of the suit


class Frozen:
    """Base of the records: turns sequences of numbers into read-only arrays."""

    _floats: tuple[str, ...] = ()
    _ints: tuple[str, ...] = ()

    def __post_init__(self):
        for names, dtype in ((self._floats, np.float64), (self._ints, np.int64)):
            for name in names:
                array = np.array(getattr(self, name), dtype=dtype)
                array.setflags(write=False)
                object.__setattr__(self, name, array)


# --- what comes in -----------------------------------------------------------


@dataclass(frozen=True)
class SculptObject:
    """One object of the sculpt. None means: as the settings say."""

    name: str
    stock: Stock | None = None
    side: str | None = None


@dataclass(frozen=True, eq=False)
class Guide(Frozen):
    """A line on the sculpt's surface that need not follow its edges, to be cut as a mark.

    points (k, 3) mm, in order, on the surface or near it; between two of them the line is the
    shortest one in the surface. kind: SEAM, TRENCH or SCORE. closed: the last point is joined
    to the first. object: index into the sculpt's objects. name: what the maker calls it.
    """

    _floats = ("points",)

    points: np.ndarray
    kind: int = SEAM
    closed: bool = False
    object: int = 0
    name: str = ""


@dataclass(frozen=True, eq=False)
class Sculpt(Frozen):
    """The maker's surface with its marks.

    vertices (n, 3) mm; faces (m, 3) counter-clockwise seen from outside;
    edges (k, 2) the marked edges as sorted vertex pairs, kinds (k,) their flags
    (SEAM | TRENCH | SCORE, and SMOOTH); guides: further marks, which cross faces;
    face_object (m,) index into objects;
    polygon (m,) the maker's own face each triangle came from; origin (m,) the face of
    the sculpt as it was read that each face is, where some have been left out since.
    unbuilt (k,) vertices that are on no face because theirs are not to be built.
    up and front (3,) are unit vectors of the world the suit stands in.
    """

    _floats = ("vertices", "up", "front")
    _ints = ("faces", "edges", "kinds", "face_object", "polygon", "origin", "unbuilt")

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
    unbuilt: np.ndarray = ()

    def __post_init__(self):
        if self.origin is None:
            object.__setattr__(self, "origin", np.arange(len(self.faces)))
        super().__post_init__()

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
class Settings:
    """What the maker chooses for a whole pattern. Lengths mm, angles radians."""

    stock: Stock
    side: str = OUTER
    scale: float = 1.0  # of the sculpt, before thickness; printing stays 1:1
    seam_angle: float | None = None  # also seam every edge folded sharper than this
    fairing: float = 0.5  # furthest a line that zigzags along mesh edges is moved to be smooth
    web: float = 0.3  # foam left under a trench, as a fraction of the thickness
    score_depth: float = 0.4  # depth of a score line, as a fraction of the thickness
    notch_spacing: float = 70.0
    paper: str = "A4"
    margin: float = 10.0  # unprinted border of a page
    overlap: float = 10.0  # of neighbouring tiles
    unit: str = "mm"  # for what people read
    title: str = "Foamwright pattern"
    seed: int = 1
    nest_seconds: float = 4.0  # of work on each stock's mats, counted in steps, not by the clock
    offcuts: tuple[Offcut, ...] = ()  # used before new mats, in this order
    split: str = REFUSE  # a piece larger than a mat, or part it by a BUTT_LINE
    only: str | None = None  # export this piece alone


# --- between the stages ------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Border(Frozen):
    """A run of a region's boundary: one side of one seam, or a stretch of free rim.

    vertices (k,) local indices in loop order (foam on the left), ends included;
    first == last for a border that is a whole loop. half (k-1,): the half-edges that
    run along it (see mesh.half_edges). seam: index into the cut's seams or -1 for a
    rim. forward: runs along the seam's curve (else against it). faired (k, 3): the
    points of the smooth line in space, the same for both sides of the seam; empty where
    the line is that of the vertices.
    """

    _ints = ("vertices", "half")
    _floats = ("faired",)

    vertices: np.ndarray
    half: np.ndarray
    seam: int = -1
    forward: bool = True
    faired: np.ndarray = ()


@dataclass(frozen=True, eq=False)
class Line(Frozen):
    """A trench or score line on a region: vertices (k,) local, in order; left and right
    (k-1,): the half-edges along it and against it; faired (k, 3) as of a border."""

    _ints = ("vertices", "left", "right")
    _floats = ("faired",)

    vertices: np.ndarray
    left: np.ndarray
    right: np.ndarray
    kind: int
    faired: np.ndarray = ()


@dataclass(frozen=True, eq=False)
class Region(Frozen):
    """A connected part of the sculpt, cut free along its seams, not yet flat.

    vertices (n, 3), faces (m, 3) local; source_vertex (n,), source_face (m,)
    index the sculpt. loops: each boundary loop as a tuple of indices into
    borders, in order, the longest loop first. leaf (m, 3): index of each face
    corner in the mesh that is also cut along trenches (n_leaves corners).
    polygon (m,): the maker's own face each triangle came from.
    """

    _floats = ("vertices",)
    _ints = ("faces", "source_vertex", "source_face", "leaf", "polygon")

    vertices: np.ndarray
    faces: np.ndarray
    source_vertex: np.ndarray
    source_face: np.ndarray
    leaf: np.ndarray
    object: int
    borders: tuple[Border, ...]
    loops: tuple[tuple[int, ...], ...]
    lines: tuple[Line, ...]
    polygon: np.ndarray | None = None

    def __post_init__(self):
        if self.polygon is None:
            object.__setattr__(self, "polygon", np.arange(len(self.faces)))
        super().__post_init__()


@dataclass(frozen=True, eq=False)
class Seam(Frozen):
    """One seam of the cut: vertices (k,) of the sculpt in order; sides: the
    (region, border) on its left and on its right (the same region for a dart)."""

    _ints = ("vertices",)

    vertices: np.ndarray
    sides: tuple[tuple[int, int], tuple[int, int]]


@dataclass(frozen=True, eq=False)
class Cut:
    """The sculpt cut into regions, and the seams that join them."""

    regions: tuple[Region, ...]
    seams: tuple[Seam, ...]


@dataclass(frozen=True, eq=False)
class Layer(Frozen):
    """The length-keeping layer of a region.

    lengths (m, 3): rest length of each face's edge opposite its corner.
    normals (c, 3): surface normal per leaf corner, from that side alone.
    curvature (c, 2): principal curvatures per leaf corner, 1/mm, larger first;
    positive where the outside is convex. folds: per border (k,) fold to the
    other side; 0 on rims. line_folds: per line (k,). contact: per border (k-1,), the
    length of the line in which the mates touch over the border's rest length.
    points (c, 3): the leaf corners on the smooth surface, off the sculpt's noise; empty
    in a layer made without a fit.
    """

    _floats = ("lengths", "normals", "curvature", "points")

    lengths: np.ndarray
    normals: np.ndarray
    curvature: np.ndarray
    folds: tuple[np.ndarray, ...]
    line_folds: tuple[np.ndarray, ...]
    contact: tuple[np.ndarray, ...]
    points: np.ndarray = ()


@dataclass(frozen=True)
class Demand:
    """What a region asks of the foam in one state.

    u: the smallest utilisation found for a flattening of it (1 is the limit). certificate:
    what no flattening near that one goes below. bound: what none at all goes below, 0 where
    none is known.
    """

    u: float
    certificate: float = 0.0
    bound: float = 0.0


@dataclass(frozen=True, eq=False)
class Flat(Frozen):
    """A flattened region: points (n, 2); sigma (m, 2) singular values of the
    forming map flat -> layer, larger first; flipped faces have sigma[:, 1] <= 0.
    cold, heated: the least the region asks of the foam, on this or another flattening."""

    _floats = ("points", "sigma")

    points: np.ndarray
    sigma: np.ndarray
    cold: Demand
    heated: Demand


@dataclass(frozen=True)
class Ease:
    """A part of a seam whose two edges come out unlike on the flats, to be eased when glueing.

    seam: index into the cut's seams; first, last: the part, as positions on the seam's line;
    excess: length in mm by which the left edge is longer than the right one; length: of the
    part in mm, as sculpted.
    """

    seam: int
    first: int
    last: int
    excess: float
    length: float


@dataclass(frozen=True, eq=False)
class Verdict:
    """Can this piece be formed from its stock?

    kind: "flat", "bend", "heat" or "relief". cold and heated: utilisation (1 is the limit).
    cold_bound, heated_bound: what no flattening near the best one goes below; bound: what
    none at all does, heated. stretch: smallest and largest stretch of the flat piece;
    largest: its largest utilisation, heated, on any one triangle, and at: that sculpt face.
    radius: smallest inside radius of its bends, mm (inf when flat). worst: sculpt face that
    decided the verdict.
    """

    kind: str
    cold: float
    heated: float
    stretch: tuple[float, float]
    radius: float
    worst: int
    reason: str
    cold_bound: float = 0.0
    heated_bound: float = 0.0
    bound: float = 0.0
    largest: float = 0.0
    at: int = -1


# --- the pattern -------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class PieceEdge(Frozen):
    """One edge of a flat piece.

    mate: unique code of the mate, "" for a free rim; letter: what is printed.
    points (k, 2) on the line of the sculpt's own face, in loop order; cut (k, 2)
    the same on the cut line; fraction (k,) of the seam's length at each point, in
    the seam's own direction, so that both mates agree (falling on one of them);
    bevel (k,) angle from square at each point (half the fold, convex positive).
    length: of the line in which the mates touch. larger: the face that reaches
    further, FRONT or BACK, "" where square.
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
class Notch(Frozen):
    """A tick across the cut edge: point (2,) on the cut line, inward unit (2,),
    letter of the mate, index counted along the seam (equal on both mates)."""

    _floats = ("point", "inward")

    point: np.ndarray
    inward: np.ndarray
    letter: str
    index: int


@dataclass(frozen=True, eq=False)
class Piece(Frozen):
    """One piece of foam.

    vertices (n, 3) and faces (m, 3): its part of the sculpt; source_vertex (n,),
    source_face (m,) index the Sculpt; flat (n, 2) and stretch (m, 2) from Flat.
    front, back: outline of each foam face as closed rings (k, 2), first ring the
    outside, the rest holes; cut: what is cut square through the sheet (per edge
    the larger face), same layout. up (2,): direction on the flat that points up
    on the wearer, zero when the piece lies level.
    template: code of the piece whose printed template this one uses; copies and
    mirrored: how many are cut from this template as printed and turned over
    (both 0 when another piece's template is used). flipped: this piece is the
    template turned over; turn: then turned by this angle it lies as `flat` does.
    base: "body" or the code of the piece it lies on.
    """

    _floats = ("vertices", "flat", "stretch", "up")
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
    notches: tuple[Notch, ...] = ()
    up: np.ndarray = (0.0, 1.0)
    area: float = 0.0
    base: str = "body"
    template: str = ""
    copies: int = 1
    mirrored: int = 0
    flipped: bool = False
    turn: float = 0.0

    @property
    def up_on_template(self) -> np.ndarray:
        """What `up` is on the template, before that is turned over or turned: (2,)."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        x, y = self.up @ np.array([[c, -s], [s, c]])
        return np.array([-x if self.flipped else x, y])


@dataclass(frozen=True, eq=False)
class Mate(Frozen):
    """Two edges that are glued together.

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
    outline: of an offcut, rings (k, 2) in the rectangle of that size; else empty.
    """

    kind: str
    name: str
    size: tuple[float, float]
    placements: tuple[Placement, ...]
    stock: Stock | None = None
    tile: tuple[str, int, int, int, int] | None = None
    outline: tuple[np.ndarray, ...] = ()


@dataclass(frozen=True)
class Step:
    """One step of the build. kind: "cut", "line", "bevel", "heat", "dart", "join",
    "close" or "finish"; pieces and mates: codes; text: whole sentences. part: the
    sub-assembly this belongs to, "" for a step that concerns the whole suit."""

    number: int
    kind: str
    title: str
    text: tuple[str, ...]
    pieces: tuple[str, ...] = ()
    mates: tuple[str, ...] = ()
    part: str = ""


@dataclass(frozen=True, eq=False)
class Pattern:
    """All of it. mats and pages are empty for a check.

    sculpt: as it was read, at its scale, but with the marks of lines that were cut into it as
    well, and their vertices after its own.
    """

    settings: Settings
    sculpt: Sculpt
    pieces: tuple[Piece, ...]
    mates: tuple[Mate, ...]
    findings: tuple[Finding, ...] = ()
    mats: tuple[Sheet, ...] = ()
    pages: tuple[Sheet, ...] = ()
    steps: tuple[Step, ...] = ()
    index: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self):
        object.__setattr__(self, "index", {p.code: i for i, p in enumerate(self.pieces)})

    def piece(self, code: str) -> Piece:
        return self.pieces[self.index[code]]

    @property
    def templates(self) -> tuple[Piece, ...]:
        """The pieces that are printed: one for each set of equal or mirrored ones."""
        return tuple(p for p in self.pieces if p.template == p.code)


@dataclass(frozen=True, eq=False)
class Glance:
    """The pieces of a check as far as it has come, to be shown meanwhile.

    sculpt: scaled, as it was cut; codes and stocks: per region of the cut. Empty until they are
    known: sigma, per region the singular values (m, 2) of Flat; verdicts, per region; letters,
    per seam of the cut.
    """

    sculpt: Sculpt
    cut: Cut
    codes: tuple[str, ...]
    stocks: tuple[Stock, ...]
    sigma: tuple[np.ndarray, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    letters: tuple[str, ...] = ()
