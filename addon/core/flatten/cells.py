"""A coarse mesh of a region in space: chosen vertices, joined where the patches of those nearest
to them along the mesh meet (the dual of geodesic Voronoi cells)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..model import Border, Line, Region

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

CELLS = 350  # of the coarse mesh, about
LEAST = 4 * CELLS  # vertices below which a region is coarse enough itself
ALONG_LINES = 0.75  # of the spacing is theirs, so that cells meet along trenches and score lines
APART = 0.75  # of the spacing at least is kept between inner vertices, and to borders


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells of a region about seeds (c,), its vertices: owner (n,) of each vertex, a seed's
    number; faces (f, 3) where three meet, with a face (f,) of the region in each; graph (n, n):
    lengths of the region's edges, both ways."""

    seeds: np.ndarray
    owner: np.ndarray
    faces: np.ndarray
    of: np.ndarray
    graph: csr_matrix

    @classmethod
    def of_region(cls, region: Region) -> Cells | None:
        """The cells of a region; None where it is small, or has necks, holes
        and cuts too fine."""
        from scipy.sparse.csgraph import dijkstra

        if len(region.vertices) < LEAST:
            return None
        area = mesh.face_normals(region.vertices, region.faces)[1].sum()
        graph = _edges(region)
        seeds = _seeds(region, float(np.sqrt(2 / np.sqrt(3) * area / CELLS)))
        _, _, nearest = dijkstra(graph, indices=seeds, min_only=True, return_predecessors=True)
        number = np.full(len(region.vertices), -1)
        number[seeds] = np.arange(len(seeds))
        owner = number[nearest]
        found = _dual(owner[region.faces], len(seeds), region)
        if found is None or not _sides(region.vertices[seeds], found[0]).all():
            return None
        return cls(seeds, owner, *found, graph)


def _sides(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    return np.linalg.norm(points[np.roll(faces, -1, axis=1)] - points[faces], axis=2)


def _edges(region: Region) -> csr_matrix:
    """The lengths (n, n) of a region's edges, both ways."""
    from scipy.sparse import csr_matrix

    i, j = region.faces.ravel(), np.roll(region.faces, -1, axis=1).ravel()
    length = np.maximum(np.linalg.norm(region.vertices[j] - region.vertices[i], axis=1), 1e-12)
    count = len(region.vertices)
    one_way = csr_matrix((length, (i, j)), shape=(count, count))
    return one_way.maximum(one_way.T).tocsr()


def _seeds(region: Region, spacing: float) -> np.ndarray:
    """Vertices (c,) evenly spread: along borders and lines, then between them."""
    from scipy.spatial import cKDTree

    points = region.vertices
    fixed = np.unique(np.concatenate(
        [_every(points, border, spacing) for border in region.borders]
        + [_every(points, line, ALONG_LINES * spacing) for line in region.lines]))
    place = np.floor(points / (APART * spacing))
    _, place = np.unique(place @ (1.0, 1e5, 1e10), return_inverse=True)
    middle = np.stack([np.bincount(place, x) for x in points.T], axis=1)
    middle /= np.bincount(place)[:, None]
    off = ((points - middle[place]) ** 2).sum(axis=1)
    order = np.lexsort((off, place))
    first = order[np.append(True, np.diff(place[order]) > 0)]
    clear = cKDTree(points[fixed]).query(points[first])[0] > APART * spacing
    first = first[clear]
    dropped = np.zeros(len(first), dtype=bool)
    for a, b in sorted(cKDTree(points[first]).query_pairs(APART * spacing)):
        dropped[b] |= not dropped[a]
    return np.concatenate([fixed, first[~dropped]])


def _every(points: np.ndarray, line: Border | Line, spacing: float) -> np.ndarray:
    """The vertices of a line nearest to equal steps of about the spacing, its ends included."""
    arc = mesh.arc_length(points[line.vertices])
    least = 3 if line.vertices[0] == line.vertices[-1] else 1
    steps = np.linspace(0.0, arc[-1], max(least, round(arc[-1] / spacing)) + 1)
    after = np.clip(np.searchsorted(arc, steps), 1, len(arc) - 1)
    return line.vertices[after - (steps - arc[after - 1] < arc[after] - steps)]


def _dual(corner: np.ndarray, count: int, region: Region) -> tuple[np.ndarray, np.ndarray] | None:
    """Coarse faces (f, 3) and a fine face (f,) in each, where three cells meet; corner (m, 3):
    cell of each fine face's corners. None where they are no mesh like the region."""
    of = np.flatnonzero((corner != np.roll(corner, -1, axis=1)).all(axis=1))
    faces = corner[of]
    turn = faces.argmin(axis=1)
    faces = faces[np.arange(len(faces))[:, None], (turn[:, None] + np.arange(3)) % 3]
    faces, first = np.unique(faces, axis=0, return_index=True)
    if len(np.unique(faces)) < count:
        return None
    start, end, key = mesh.half_edges(faces)
    one_way = start * count + end
    if len(np.unique(one_way)) < len(one_way):
        return None
    bound = start[~np.isin(one_way, end * count + start)]
    euler = count - len(np.unique(key)) + len(faces)
    own = np.unique(mesh.half_edges(region.faces)[2])
    if len(np.unique(bound)) < len(bound) or euler != (
            len(region.vertices) - len(own) + len(region.faces)):
        return None
    # A coarse face of one turning keeps the way the first fine face's corners run.
    return faces, of[first]
