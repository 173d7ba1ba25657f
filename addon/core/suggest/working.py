"""The surface on which seams are sought: the outer skin in faces of one size, creases known.

Everything the search asks again and again is worked out here once: how each edge folds, how much
foam minds a seam there, and the lengths on the neutral layer, with normals from each side of a
crease apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..layer import raised, rest_lengths
from ..model import SEAM, TRENCH, Sculpt, Uncut
from ..seams import uncut
from ..stock import Stock
from ..trace.surface import Surface
from .creases import creases_of, folds
from .kept import Kept, opened
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
TAKEN = 5.0  # factor: where the maker wants a trench


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
    points lies from its faces. Seams that the sculpt has are open: sewn (n,) numbers the
    vertices as they were before, kept (k, 2) are these seams so numbered, and trench (e,) bool the
    edges where it has trenches, which are creases.
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
    sewn: np.ndarray
    kept: np.ndarray
    trench: np.ndarray

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
    seams, trenches = Kept(sculpt, faces, SEAM), Kept(sculpt, faces, TRENCH)
    whole = uncut(sculpt)
    if whole is not None:  # lines across facets lie on these, and not on what they stand for
        sculpt = replace(sculpt, vertices=raised(whole, sculpt))
    creases = np.concatenate([_sharp(sculpt, faces, seams.edges, whole, stock, side), seams.edges,
                              trenches.edges])
    used, own = np.unique(sculpt.faces[faces], return_inverse=True)
    points, own = sculpt.vertices[used], own.reshape(-1, 3)
    shape = Shape.of(points, own, np.searchsorted(used, creases), faces)
    shape = refined(shape, EDGE, MOST)
    off = Surface(points, own).nearest(shape.points).distance
    across = np.cross(sculpt.up, sculpt.front)
    middle = plane_of(shape, across)
    if middle is not None and not all(k.alike(across, middle) for k in (seams, trenches)):
        middle = None
    image = np.arange(len(shape.faces))
    if middle is not None:
        shape, image = mirrored(shape, across, middle, np.concatenate(
            [seams.on_plane(across, middle), trenches.on_plane(across, middle)]))
    off = float(np.quantile(off, 0.95))
    coarse = off > COARSE * stock.thickness  # facets leave kinks at their edges
    shape = evened(shape, (FINE if coarse else FINE / 2) * stock.thickness)
    total = len(shape.points)
    creases = mesh.edge_keys(shape.creases(), total)
    kept, trench = (each.on(shape, across, middle) for each in (seams, trenches))
    shape, sewn = opened(shape, kept)
    edges, _ = mesh.edge_faces(shape.faces)
    key = mesh.edge_keys(sewn[edges], total)
    marks = tuple(mesh.edge_keys(edges[np.isin(key, chosen)], len(shape.points))
                  for chosen in (creases, mesh.edge_keys(trench, total)))
    return _known(shape.points, shape.faces, *marks, shape.source, image, stock, side, web,
                  sculpt.front, off, sewn, kept)


def _sharp(sculpt: Sculpt, faces: np.ndarray, seams: np.ndarray, whole: Uncut | None, stock: Stock,
           side: str) -> np.ndarray:
    """The creases (k, 2) of some faces (f,) of a sculpt away from its seams; where lines divide
    faces, those of the faces before, which are not as narrow as their parts."""
    if whole is None:
        cut, at = mesh.cut_along(sculpt.faces[faces], seams, len(sculpt.vertices))
        return at[creases_of(sculpt.vertices[at], cut, stock, side)]
    held = np.unique(sculpt.parent[faces])
    edges, beside = mesh.edge_faces(whole.faces[held])
    found = creases_of(whole.points, whole.faces[held], stock, side)
    on = np.isin(*(mesh.edge_keys(e, len(whole.points)) for e in (edges, found)))
    pairs = mesh.edge_keys(held[beside[on]], len(whole.faces))
    edges, beside = mesh.edge_faces(sculpt.faces[faces])
    parents = sculpt.parent[faces[beside]]
    return edges[np.isin(mesh.edge_keys(parents, len(whole.faces)), pairs)
                 & (parents[:, 0] != parents[:, 1])]


def with_points(working: Working, points: np.ndarray) -> Working:
    """The working surface with its vertices elsewhere on it."""
    creases, trenches = (mesh.edge_keys(working.edges[chosen], len(points))
                         for chosen in (working.crease, working.trench))
    return _known(points, working.faces, creases, trenches, working.source, working.image,
                  working.stock, working.side, working.web, working.front, working.off,
                  working.sewn, working.kept)


def _known(points: np.ndarray, faces: np.ndarray, creases: np.ndarray, trenches: np.ndarray,
           source: np.ndarray, image: np.ndarray, stock: Stock, side: str, web: float,
           front: np.ndarray, off: float, sewn: np.ndarray, kept: np.ndarray) -> Working:
    edges, beside = mesh.edge_faces(faces)
    normals, area = mesh.face_normals(points, faces)
    key = mesh.edge_keys(edges, len(points))
    crease, trench = np.isin(key, creases), np.isin(key, trenches)
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
    dislike[trench] = TAKEN
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
                   off, sewn, kept, trench)


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
