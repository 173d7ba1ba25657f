"""A first look at what a region asks of the foam, long before its flat is found.

The region is searched on a coarse mesh alone: chosen vertices, joined where the patches of
those nearest to them along the mesh meet (the dual of geodesic Voronoi cells). It is good
for a map of strain to be seen while a maker draws; no verdict rests on it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..model import Border, Line, Region
from ..stock import Limits
from .band import least_utilisation
from .start import as_rigid_as_possible, conformal
from .system import Seams, System

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

CELLS = 350  # of the coarse mesh, about
LEAST = 4 * CELLS  # vertices below which the search itself is as quick
ALONG_LINES = 0.75  # of the spacing is theirs, so that cells meet along trenches and score lines
APART = 0.75  # of the spacing at least is kept between inner vertices, and to borders
STEPS, CLOSE = 50, 0.03  # of the search, and relative error at which it may stop
SHOWN = 5.0  # times as long, or as short, is all that a map shows

Rest = Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray]


def first_look(region: Region, limits: Limits, rest: Rest) -> np.ndarray | None:
    """About the singular values (m, 2) of the forming map of each face, larger first.

    rest: gives lengths (f, 3), on the layer that keeps its length, of the sides opposite the
    corners of faces (f, 3) with points and normals (c, 3). None for a region too small to be
    worth it, or with necks and holes too fine for a coarse mesh.
    """
    from scipy.sparse.csgraph import dijkstra

    if len(region.vertices) < LEAST:
        return None
    area = mesh.face_normals(region.vertices, region.faces)[1].sum()
    spacing = float(np.sqrt(2 / np.sqrt(3) * area / CELLS))
    graph = _edges(region)
    seeds = _seeds(region, spacing)
    _, _, nearest = dijkstra(graph, indices=seeds, min_only=True, return_predecessors=True)
    number = np.full(len(region.vertices), -1)
    number[seeds] = np.arange(len(seeds))
    owner = number[nearest]
    found = _dual(owner[region.faces], len(seeds), region)
    if found is None:
        return None
    faces, of = found
    points = region.vertices[seeds]
    lengths = rest(points[faces].reshape(-1, 3), _one_sided(region, seeds[faces], of),
                   np.arange(faces.size).reshape(-1, 3))
    if (lengths <= 0).any():
        return None
    system = System(faces, lengths, len(seeds), _seams(region, owner, faces, lengths))
    start = conformal(system, points)
    if not np.isfinite(start).all():
        return None
    start = as_rigid_as_possible(system, start, 8)
    flat = least_utilisation(system, start, limits, steps=STEPS, close=CLOSE).points
    return _spread(system, system.stretch(flat), graph, owner, region.faces)


def _edges(region: Region) -> csr_matrix:
    """The lengths (n, n) of a region's edges, both ways."""
    from scipy.sparse import csr_matrix

    i, j = region.faces.ravel(), np.roll(region.faces, -1, axis=1).ravel()
    length = np.maximum(np.linalg.norm(region.vertices[j] - region.vertices[i], axis=1), 1e-12)
    count = len(region.vertices)
    one_way = csr_matrix((length, (i, j)), shape=(count, count))
    return one_way.maximum(one_way.T).tocsr()


# --- the coarse mesh ---------------------------------------------------------


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


def _one_sided(region: Region, vertex: np.ndarray, of: np.ndarray) -> np.ndarray:
    """Normals (3 f, 3) at the corners of coarse faces, whose vertices (f, 3) and fine faces
    (f,) are given; beside a trench that of the leaf which lies most like the face."""
    source = np.empty(int(region.leaf.max()) + 1, dtype=np.int64)
    source[region.leaf] = region.faces
    normals = mesh.vertex_normals(region.vertices[source], region.leaf)
    leaf = np.empty(len(region.vertices), dtype=np.int64)
    leaf[source] = np.arange(len(source))
    found = normals[leaf[vertex]]
    several = np.bincount(source, minlength=len(region.vertices)) > 1
    if several.any():
        face = mesh.face_normals(region.vertices, region.faces)[0][of]
        for f, k in np.argwhere(several[vertex]):
            own = normals[source == vertex[f, k]]
            found[f, k] = own[np.argmax(own @ face[f])]
    return found.reshape(-1, 3)


def _seams(region: Region, owner: np.ndarray, faces: np.ndarray, lengths: np.ndarray) -> Seams:
    """The coarse edges along the region's seams, each of which keeps its length."""
    from scipy.sparse import csr_matrix

    start, end, _ = mesh.half_edges(faces)
    half = {pair: h for h, pair in enumerate(zip(start.tolist(), end.tolist(), strict=True))}
    parts, kept = [], []
    for index, border in enumerate(region.borders):
        if border.seam < 0:
            continue
        cells = owner[border.vertices]
        cells = cells[np.append(True, np.diff(cells) != 0)].tolist()
        run = [half[pair] for pair in zip(cells, cells[1:], strict=False) if pair in half]
        parts += [(border.seam, k, index) for k in range(len(run))]
        kept += run
    kept = np.array(kept, dtype=np.int64)
    rest = mesh.along(lengths, kept)
    row = np.arange(len(kept))
    along = csr_matrix((np.concatenate([-1 / rest, 1 / rest]), (
        np.tile(row, 2), np.concatenate([start[kept], end[kept]]))),
        shape=(len(kept), int(faces.max()) + 1))
    return Seams(along, rest, row, np.zeros_like(row),
                 np.array(parts, dtype=np.int64).reshape(-1, 3))


# --- back to the region ------------------------------------------------------


def _spread(system: System, sigma: np.ndarray, graph: csr_matrix, owner: np.ndarray,
            faces: np.ndarray) -> np.ndarray:
    """Singular values (f, 2) of the coarse faces on the region's own (m, 2), evened out."""
    from scipy.sparse import diags

    weight = np.repeat(system.area, 3)
    corner = system.faces.ravel()
    sigma = np.clip(sigma, 1 / SHOWN, SHOWN)
    at = np.stack([np.bincount(corner, weight * np.repeat(s, 3)) for s in sigma.T], axis=1)
    at = (at / np.bincount(corner, weight)[:, None])[owner]
    near = graph.copy()
    near.data[:] = 1.0
    mean = diags(1 / np.diff(near.indptr)) @ near
    for _ in range(max(2, round(np.sqrt(len(owner) / system.count)))):
        at = (at + mean @ at) / 2
    return at[faces].mean(axis=1)
