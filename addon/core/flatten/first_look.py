"""A first look at what a region asks of the foam, long before its flat is found.

The region is searched on a coarse mesh of its `cells` alone. That is good for a map of
strain to be seen while a maker draws; no verdict rests on it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..model import Region
from ..stock import Limits
from .band import least_utilisation
from .cells import Cells
from .start import as_rigid_as_possible, conformal
from .system import Seams, System

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

STEPS, CLOSE = 30, 0.03  # of the search, and relative error at which it may stop
SHOWN = 5.0  # times as long, or as short, is all that a map shows

Rest = Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray]


def first_look(region: Region, limits: Limits, rest: Rest) -> np.ndarray | None:
    """About the singular values (m, 2) of the forming map of each face, larger first.

    rest: gives lengths (f, 3), on the layer that keeps its length, of the sides opposite the
    corners of faces (f, 3) with points and normals (c, 3). None for a region too small to be
    worth it, or with necks and holes too fine for a coarse mesh.
    """
    cells = Cells.of_region(region)
    if cells is None:
        return None
    seeds, owner, faces, of = cells.seeds, cells.owner, cells.faces, cells.of
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
    return _spread(system, system.stretch(flat), cells.graph, owner, region.faces)


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
