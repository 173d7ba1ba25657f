"""The surface on which seams are sought: the outer skin in faces of one size, creases known.

Everything the search asks again and again is worked out here once: how each edge folds, how much
foam minds a seam there, and the lengths on the neutral layer, with normals from each side of a
crease apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..layer import rest_lengths
from ..model import SEAM, Sculpt
from ..stock import Stock
from ..trace.surface import Surface
from .creases import creases_of, folds
from .refine import Shape, evened, refined
from .symmetry import mirrored, plane_of

EDGE = 15.0  # mm: length of the working edges, of the order of the foam's thickness
MOST = 12_000  # working faces
COARSE = 0.1  # thicknesses that faces may lie off the smooth surface through their corners
FINE = 0.8  # thicknesses: what is finer is not followed by the foam
LEAST = 0.05  # of its chord: no rest length is less, lest a spot spoil the arithmetic
RIDGE = np.radians(60.0)  # a fold at which a seam is as welcome as it gets
WELCOME = 0.2  # how much a seam there counts, against 1 on smooth ground
VALLEY, MIDDLE, FRONT = 0.75, 0.6, 0.4  # factors: concave, on the mirror plane, seen from the front


@dataclass(frozen=True, eq=False)
class Working:
    """points (n, 3) mm, faces (m, 3), area (m,); edges (e, 2) with the faces beside (e, 2),
    length (e,), fold (e,) over the width of the foam, convex positive, crease (e,) bool and
    dislike (e,): how much a seam there counts per mm; lengths (m, 3): on the neutral layer,
    opposite each corner, creases being seams. leaf (m, 3), normals (c, 3): of the surface cut
    open along its creases. image (m,), edge_image (e,): the mirror image of each face and edge,
    themselves where the surface is not symmetric; plane (e,) bool: edges of the mirror plane.
    source (m,): the face of the sculpt. rim_face (r,), rim_length (r,): the face at each rim edge,
    and its length. front (3,): where the wearer looks; stock and side of the
    foam, web of its trenches. off: mm within which 95 % of the smooth surface through the sculpt's
    points lies from its faces.
    """

    points: np.ndarray
    faces: np.ndarray
    area: np.ndarray
    edges: np.ndarray
    beside: np.ndarray
    length: np.ndarray
    fold: np.ndarray
    crease: np.ndarray
    dislike: np.ndarray
    lengths: np.ndarray
    leaf: np.ndarray
    normals: np.ndarray
    image: np.ndarray
    edge_image: np.ndarray
    plane: np.ndarray
    source: np.ndarray
    rim_face: np.ndarray
    rim_length: np.ndarray
    front: np.ndarray
    stock: Stock
    side: str
    web: float
    off: float

    @property
    def symmetric(self) -> bool:
        return bool(self.image[0] != 0)

    @property
    def coarse(self) -> bool:
        """Are the sculpt's faces so large that foam cannot be judged on them?"""
        return self.off > COARSE * self.stock.thickness

    @property
    def half(self) -> np.ndarray:
        """Faces (k,) of which all others are images."""
        return np.arange(len(self.faces) // 2 if self.symmetric else len(self.faces))


def working_surface(sculpt: Sculpt, faces: np.ndarray, stock: Stock, side: str,
                    web: float) -> Working:
    """The working surface of some faces (k,) of a sculpt; seams it has already stay open."""
    kept = sculpt.faces[faces]
    seams = sculpt.edges[(sculpt.kinds & SEAM) != 0]
    opened, at = mesh.cut_along(kept, seams, len(sculpt.vertices))
    points = sculpt.vertices[at]
    shape = Shape.of(points, opened, creases_of(points, opened, stock, side), faces)
    shape = refined(shape, EDGE, MOST)
    off = Surface(points, opened).nearest(shape.points).distance
    across = np.cross(sculpt.up, sculpt.front)
    middle = plane_of(shape, across)
    image = np.arange(len(shape.faces))
    if middle is not None:
        shape, image = mirrored(shape, across, middle)
    off = float(np.quantile(off, 0.95))
    coarse = off > COARSE * stock.thickness  # facets leave kinks at their edges
    shape = evened(shape, (FINE if coarse else FINE / 2) * stock.thickness)
    creases = mesh.edge_keys(shape.creases(), len(shape.points))
    return _known(shape.points, shape.faces, creases, shape.source, image, stock, side,
                  web, sculpt.front, off)


def with_points(working: Working, points: np.ndarray) -> Working:
    """The working surface with its vertices elsewhere on it."""
    creases = mesh.edge_keys(working.edges[working.crease], len(points))
    return _known(points, working.faces, creases, working.source, working.image, working.stock,
                  working.side, working.web, working.front, working.off)


def _known(points: np.ndarray, faces: np.ndarray, creases: np.ndarray, source: np.ndarray,
           image: np.ndarray, stock: Stock, side: str, web: float, front: np.ndarray,
           off: float) -> Working:
    edges, beside = mesh.edge_faces(faces)
    normals, area = mesh.face_normals(points, faces)
    key = mesh.edge_keys(edges, len(points))
    crease = np.isin(key, creases)
    sharp = folds(points, faces, edges, beside)
    wide = _wide_folds(normals, area, beside, sharp)
    fold = np.where(crease, sharp, wide)
    plane = np.zeros(len(edges), dtype=bool)
    edge_image = np.arange(len(edges))
    if image[0] != 0:
        half = len(faces) // 2
        plane = (beside[:, 0] < half) != (beside[:, 1] < half)
        pair = mesh.edge_keys(beside, len(faces))
        order = np.argsort(pair)
        edge_image = order[np.searchsorted(pair[order], mesh.edge_keys(image[beside],
                                                                       len(faces)))]
    dislike = np.clip(1 - np.abs(fold) / RIDGE, WELCOME, 1.0)
    dislike = np.where(fold < 0, VALLEY, 1.0) * np.where(plane, MIDDLE, 1.0) * dislike
    dislike *= 1 + FRONT * np.clip(normals[beside].mean(axis=1) @ front, -1.0, 1.0)
    shape = Shape.of(points, faces, edges[crease], source, stock.thickness)
    corner = np.empty(len(shape.normals), dtype=np.int64)
    corner[shape.leaf] = faces
    lengths = rest_lengths(points[corner], shape.normals, shape.leaf, stock, side)
    rim = np.flatnonzero(mesh.twins(faces) < 0)
    ends = points[faces.ravel()[rim]], points[faces.ravel()[mesh.after(rim)]]
    rim_length = np.linalg.norm(ends[1] - ends[0], axis=1)
    return Working(points, faces, area, edges, beside,
                   np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1), fold,
                   crease, dislike, at_least(lengths, points, faces), shape.leaf, shape.normals,
                   image, edge_image, plane, source, rim // 3, rim_length, front, stock, side, web,
                   off)


def at_least(lengths: np.ndarray, points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Lengths (m, 3) on the layer, none less than a share of the side itself."""
    at = points[faces]
    side = np.linalg.norm(np.roll(at, -2, axis=1) - np.roll(at, -1, axis=1), axis=2)
    return np.maximum(lengths, LEAST * side)


def _wide_folds(normals: np.ndarray, area: np.ndarray, beside: np.ndarray, sharp: np.ndarray
                ) -> np.ndarray:
    """Angle (e,) between the means of the normals two rings of faces about either side, in the
    sense of the edge's own fold: what is left of detail finer than the foam."""
    from scipy.sparse import coo_matrix, identity

    m = len(normals)
    near = coo_matrix((np.ones(len(beside)), tuple(beside.T)), shape=(m, m)).tocsr()
    near = near + near.T + identity(m, format="csr")
    mean = near @ (near @ (area[:, None] * normals))
    mean /= np.maximum(np.linalg.norm(mean, axis=1), 1e-300)[:, None]
    a, b = mean[beside[:, 0]], mean[beside[:, 1]]
    size = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("ij,ij->i", a, b))
    return 1.5 * size * np.sign(sharp)
