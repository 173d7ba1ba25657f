"""How tightly a region bends: its smallest radius, bends that no foam of this thickness
can follow, and folds that carry no mark.

Radii come from the curvature of the smooth surface (see the layer), folds from its facets.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.sparse import csr_matrix

from . import mesh
from .errors import ERROR, NOTE, WARNING, Finding
from .model import TRENCH, Layer, Region
from .stock import Stock

BEND_SHARE = 0.005  # of the piece may bend more tightly: corners and noise
CREASE = math.radians(20.0)  # a fold that the maker would see
FACET = math.radians(55.0)  # nobody samples a smooth surface so coarsely
DOUBT = 3.0  # times the usual fold nearby that a fold must stand out from among short edges
ALIKE = 0.4  # share of a fold that its parallel neighbours must have to be facets of one bend


def findings(region: Region, layer: Layer, stock: Stock, side: str, code: str) -> list[Finding]:
    """What the bends of one piece give the maker to think about."""
    found = []
    edges, fold = creases(region, layer, stock)
    if len(edges):
        found.append(Finding(
            "unmarked-fold", WARNING,
            f"The surface folds by up to {math.degrees(np.abs(fold).max()):.0f}° along edges "
            "that carry no mark: trench or seam?",
            "Mark them as a trench if the foam is to fold there, or as a seam.",
            edges=region.source_vertex[edges], piece=code))
    faces = inversion(region, layer, stock, side, np.unique(edges))
    if len(faces):
        found.append(Finding(
            "tighter-than-thickness", ERROR,
            "The surface bends more tightly here than the foam is thick.",
            "Choose a thinner stock, smooth this place, or mark a trench or a seam along the bend.",
            faces=region.source_face[faces], piece=code))
    elif len(layer.bridged):
        found.append(Finding(
            "tight-spot", NOTE,
            "In a spot smaller than the foam is thick the surface bends more tightly than that; "
            "the foam will bridge it.",
            "Smooth the place if it is not meant, or leave it and add it as a detail by hand.",
            faces=region.source_face[layer.bridged], piece=code))
    return found


# --- radii -------------------------------------------------------------------


def smallest_radius(region: Region, layer: Layer, area: np.ndarray, stock: Stock, side: str
                    ) -> tuple[float, int]:
    """Inside radius of the tightest bend, and the face where it is."""
    per_face = np.maximum(inside_radius(region, layer, stock, side), 0.0)
    order = np.argsort(per_face, kind="stable")
    beyond = np.cumsum(area[order]) > BEND_SHARE * area.sum()
    index = order[int(np.argmax(beyond))]
    return float(per_face[index]), int(index)


def inside_radius(region: Region, layer: Layer, stock: Stock, side: str) -> np.ndarray:
    """Radius (m,) in mm of the face of the foam on the inside of each face's tighter bend.

    The inside of a convex bend is the back of the foam, of a concave one the front: R - back
    and R - front for a sculpt of radius R. Below 0 the offset has turned inside out.
    """
    front, back = stock.depths(side)
    with np.errstate(divide="ignore", over="ignore"):
        radius = np.abs(1 / layer.curvature) - np.where(layer.curvature > 0, back, front)
        return radius.min(axis=1)[region.leaf].mean(axis=1)


def inversion(region: Region, layer: Layer, stock: Stock, side: str,
              folded: np.ndarray = ()) -> np.ndarray:
    """Faces (k,) that bend more tightly than the foam is thick; none if they are together no
    more than a t x t spot and BEND_SHARE of the piece. Faces within t of the vertices
    `folded` are left out: there the surface has a crease, not a bend."""
    tight = inside_radius(region, layer, stock, side) < 0
    if len(folded) and tight.any():
        from scipy.spatial import cKDTree

        centre = region.vertices[region.faces[tight]].mean(axis=1)
        far, _ = cKDTree(region.vertices[folded]).query(centre)
        tight[tight] = far > stock.thickness
    area = mesh.face_normals(region.vertices, region.faces)[1]
    spared = min(stock.thickness**2, BEND_SHARE * area.sum())
    return np.flatnonzero(tight) if area[tight].sum() > spared else np.empty(0, dtype=np.int64)


# --- folds without a mark ----------------------------------------------------


def creases(region: Region, layer: Layer, stock: Stock) -> tuple[np.ndarray, np.ndarray]:
    """Edges (k, 2) of the region that fold more sharply than the sampling of a smooth surface
    explains, and their folds (k,), convex positive.

    A bend drawn with facets has folds of one kind side by side, so an edge is one of its
    facets' when a vertex opposite it has a fold of at least ALIKE times its own: folds
    count there by the square of the cosine of the angle between the edges, as in the
    curvature tensor of Cohen-Steiner and Morvan (2003). Such a bend is judged by its
    radius. A crease stands out from the folds all round it and runs for at least half a
    thickness; less is noise, where edges are short enough for it.
    """
    corner = np.empty(region.leaf.max() + 1, dtype=np.int64)
    corner[region.leaf] = region.faces
    points = layer.points if len(layer.points) else region.vertices[corner]
    edges, beside = mesh.edge_faces(region.leaf)
    if len(edges) == 0:
        return edges, np.empty(0)
    normals, _ = mesh.face_normals(points, region.leaf)
    along = points[edges[:, 1]] - points[edges[:, 0]]
    length = np.linalg.norm(along, axis=1)
    along = along / np.maximum(length, 1e-300)[:, None]
    n1, n2 = normals[beside[:, 0]], normals[beside[:, 1]]
    fold = np.arctan2(np.einsum("ij,ij->i", np.cross(n1, n2), along),
                      np.einsum("ij,ij->i", n1, n2))
    sharp = np.flatnonzero(np.abs(fold) > CREASE)
    if len(sharp):
        size = np.abs(fold[sharp])
        opposite = region.leaf[beside[sharp]].sum(axis=2) - edges[sharp].sum(axis=1)[:, None]
        at = _edges_at(edges, len(points))
        facets = _parallel_fold(at, opposite, along, fold, sharp) >= ALIKE * size
        noise = _usual_fold(at, np.concatenate([opposite, edges[sharp]], axis=1), fold)
        noise *= length[sharp] < stock.thickness / 2
        sharp = sharp[np.where(facets, size > FACET, True) & (size > CREASE + DOUBT * noise)]
    if len(sharp):
        sharp = sharp[_runs(edges[sharp], fold[sharp], length[sharp]) > stock.thickness / 2]
        sharp = sharp[~_is_trench(region, corner[edges[sharp]])]
    return corner[edges[sharp]], fold[sharp]


def _is_trench(region: Region, edges: np.ndarray) -> np.ndarray:
    """Which edges (k, 2) a trench runs along: one of a single edge parts no faces."""
    lines = [np.stack([line.vertices[:-1], line.vertices[1:]], axis=1)
             for line in region.lines if line.kind == TRENCH]
    count = len(region.vertices)
    marked = mesh.edge_keys(np.concatenate([np.empty((0, 2), dtype=np.int64), *lines]), count)
    return np.isin(mesh.edge_keys(edges, count), marked)


def _edges_at(edges: np.ndarray, count: int) -> csr_matrix:
    """The edges (columns) that meet at each of `count` vertices (rows)."""
    vertex, edge = edges.ravel(), np.repeat(np.arange(len(edges)), 2)
    return csr_matrix((np.ones(len(vertex)), (vertex, edge)), shape=(count, len(edges)))


def _parallel_fold(at, opposite, along, fold, chosen) -> np.ndarray:
    """Largest fold (k,) of the chosen edges' own sign, along them, at the vertices opposite."""
    met = at[opposite.ravel()].tocoo()
    edge = met.row // 2
    lean = np.einsum("ij,ij->i", along[chosen[edge]], along[met.col])
    value = fold[met.col] * np.sign(fold[chosen[edge]]) * lean**2
    largest = np.zeros(len(chosen))
    np.maximum.at(largest, edge, value)
    return largest


def _usual_fold(at, vertices, fold) -> np.ndarray:
    """Median (k,) of the folds' sizes at vertices (k, 4)."""
    met = at[vertices.ravel()].tocoo()
    row, size = met.row // 4, np.abs(fold[met.col])
    size = size[np.lexsort((size, row))]
    number = np.bincount(row, minlength=len(vertices))
    return size[np.cumsum(number) - number + number // 2]


def _runs(edges, fold, length) -> np.ndarray:
    """Length (k,) of the connected run of edges of one sign that each edge belongs to."""
    ends = 2 * edges + (fold[:, None] > 0)
    _, label = mesh.components(int(ends.max()) + 1, ends)
    run = label[ends[:, 0]]
    return np.bincount(run, length)[run]


# --- direction ---------------------------------------------------------------


def shape_operator(region: Region, layer: Layer, corners: np.ndarray, some: np.ndarray
                   ) -> np.ndarray:
    """(m, 2, 2) of the faces `some` (a mask or indices), whose corners lie flat at (m, 3, 2).

    Symmetric, 1/mm of the flat, positive where the outside is convex: S = Rᵀ dN with dN the
    change of the normal over the flat and R the rotation in the polar decomposition of the map
    from the flat to the formed face, both linear on each face.
    """
    leaf = region.leaf[some]
    normals, solid = layer.normals[leaf], smooth_points(region, layer)[leaf]
    base = np.linalg.inv(np.stack([corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]],
                                  axis=2))
    edge = lambda v: np.stack([v[:, 1] - v[:, 0], v[:, 2] - v[:, 0]], axis=2) @ base  # noqa: E731
    left, _, right = np.linalg.svd(edge(solid), full_matrices=False)
    shape = np.swapaxes(left @ right, 1, 2) @ edge(normals)
    return (shape + np.swapaxes(shape, 1, 2)) / 2


def smooth_points(region: Region, layer: Layer) -> np.ndarray:
    """The leaf corners (c, 3) of a region, off the sculpt's noise where the layer was fitted."""
    if len(layer.points):
        return layer.points
    source = np.empty(int(region.leaf.max()) + 1, dtype=np.int64)
    source[region.leaf] = region.faces
    return region.vertices[source]
