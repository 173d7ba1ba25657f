"""The sculpt cut into regions: their borders, seams and the layer that keeps its length."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .finish import Finish
from .frozen import Frozen


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
    polygon (m,): the maker's own face each triangle came from. parent (m,): the face of the
    cut's `uncut` that each is a part of, empty where there is none.
    """

    _floats = ("vertices",)
    _ints = ("faces", "source_vertex", "source_face", "leaf", "polygon", "parent")

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
    parent: np.ndarray = ()

    def __post_init__(self):
        if self.polygon is None:
            object.__setattr__(self, "polygon", np.arange(len(self.faces)))
        super().__post_init__()


@dataclass(frozen=True, eq=False)
class Seam(Frozen):
    """One seam of the cut: vertices (k,) of the sculpt in order; sides: the
    (region, border) on its left and on its right (the same region for a dart). join: of JOINS,
    how the maker wants it held together; finish: how it shall look."""

    _ints = ("vertices",)

    vertices: np.ndarray
    sides: tuple[tuple[int, int], tuple[int, int]]
    join: str = ""
    finish: Finish = Finish()


@dataclass(frozen=True, eq=False)
class Uncut(Frozen):
    """The surface before lines across its faces were cut in: points (c, 3) and faces (p, 3),
    open along those of its own edges that carry a mark."""

    _floats = ("points",)
    _ints = ("faces",)

    points: np.ndarray
    faces: np.ndarray


@dataclass(frozen=True, eq=False)
class Cut:
    """The sculpt cut into regions, the seams that join them, and the surface as it was before
    lines across faces were cut in, if any were."""

    regions: tuple[Region, ...]
    seams: tuple[Seam, ...]
    uncut: Uncut | None = None


@dataclass(frozen=True, eq=False)
class Layer(Frozen):
    """The length-keeping layer of a region.

    lengths (m, 3): rest length of each face's edge opposite its corner.
    normals (c, 3): surface normal per leaf corner, from that side alone.
    curvature (c, 2): principal curvatures per leaf corner, 1/mm, larger first;
    positive where the outside is convex. folds: per border (k,) fold to the
    other side; 0 on rims. line_folds: per line (k,). contact: per border (k-1,), the
    length of the line in which the mates touch over the border's rest length.
    points (c, 3): the leaf corners without the sculpt's noise, on its facets where these are
    coarse; empty in a layer made without a fit. bridged (k,): faces of spots that turn more
    tightly than the foam is thick and are too small to matter, whose lengths stand in for that.
    """

    _floats = ("lengths", "normals", "curvature", "points")
    _ints = ("bridged",)

    lengths: np.ndarray
    normals: np.ndarray
    curvature: np.ndarray
    folds: tuple[np.ndarray, ...]
    line_folds: tuple[np.ndarray, ...]
    contact: tuple[np.ndarray, ...]
    points: np.ndarray = ()
    bridged: np.ndarray = ()
