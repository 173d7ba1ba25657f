"""The smooth surface behind a sculpt's facets: normals, curvature, and what is only noise.

A quadric is fitted by least squares to each small patch of the mesh (jets of order 2, Cazals
and Pouget 2005). Patches are cells of the foam's own scale, or single vertices with two rings
round them where the mesh is coarser. Where the fit says that noise hides the curvature, wider
cells are tried and kept if they fit as well: noise averages out over a wider patch, a real
shape fits it worse. Patches grow along the mesh only, so never across a seam, a trench or a rim.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix

from .. import mesh

CELLS = (1 / 3, 2 / 3, 4 / 3)  # thicknesses; a patch of 3 x 3 cells reaches 1/2, 1, 2
CERTAIN = 0.003  # error of curvature times thickness that foam does not show
STRAY = 0.77  # cosine of 40 degrees: further a fitted normal does not lie from the faces' own
GAIN, MISFIT = 0.8, 1.6  # a wider patch must make the curvature surer and fit about as well
NOISE = 0.02  # thicknesses; what strays further from a smooth surface is a shape
ENOUGH = 20  # points that a patch should have
REACH = 0.7  # of its squared size to which a patch counts


class Surface(NamedTuple):
    """Per corner of a mesh: unit normals (c, 3), principal curvatures (c, 2) in 1/mm, the
    larger first, positive where the outside is convex, and rise (c,) in mm along the normal
    from the sculpt's point to the smooth surface."""

    normals: np.ndarray
    curvature: np.ndarray
    rise: np.ndarray


def fit_surface(points: np.ndarray, faces: np.ndarray, thickness: float = 0.0) -> Surface:
    """The smooth surface through points (c, 3) and faces (m, 3), as foam `thickness` mm
    thick sees it; 0: every vertex is fitted alone.

    Clean meshes keep their points; the fit is exact on planes, spheres and cylinders.
    """
    links = _links(faces)
    normals = mesh.vertex_normals(points, faces, len(points))
    best = _fit(points, normals, links, CELLS[0] * thickness)
    unsure = best.error * thickness > CERTAIN
    rise = np.where(unsure, 0.0, best.rise)
    for cell in CELLS[1:]:
        if not unsure.any():
            break
        wide = _fit(points, normals, links, cell * thickness, unsure, best)
        take = unsure & (wide.trust > 0.5) & (wide.misfit < (NOISE * thickness)**2)
        for old, new in zip(best, wide, strict=True):
            old[take] = new[take]
        rise[take] = wide.rise[take]
        unsure &= (best.error * thickness > CERTAIN)
    # A few points, nearly in line, let a fit swing: none is believed that leaves the faces.
    swung = np.einsum("ij,ij->i", best.normals, normals) < STRAY
    best.normals[swung], best.curvature[swung], rise[swung] = normals[swung], 0.0, 0.0
    return Surface(best.normals, best.curvature, rise)


class _Fit(NamedTuple):
    """A Surface with the standard error (c,) of its curvature, the mean square misfit and
    the share of patches that may be believed."""

    normals: np.ndarray
    curvature: np.ndarray
    rise: np.ndarray
    error: np.ndarray
    misfit: np.ndarray
    trust: np.ndarray


def _links(faces: np.ndarray) -> np.ndarray:
    """Edges (k, 2) of a mesh, those inside it twice."""
    return np.stack([faces.ravel(), np.roll(faces, -1, axis=1).ravel()], axis=1)


# --- patches -----------------------------------------------------------------


class _Patches(NamedTuple):
    """Patches and their points: owner (p,) and vertex (p,) pair them, sorted by owner, each
    patch's pairs from first (k,) on; cell (c,) is the patch of each vertex or -1, own (k,)
    the number of vertices in each patch's own cell, home (p,): the vertex lies in that cell;
    near (k, k) links neighbouring patches."""

    owner: np.ndarray
    vertex: np.ndarray
    first: np.ndarray
    own: np.ndarray
    home: np.ndarray
    near: csr_matrix


def _patches(points: np.ndarray, links: np.ndarray, size: float, wanted: np.ndarray | None
             ) -> _Patches:
    """Cells of the given size that hang together, each with its neighbours: one ring of
    cells, two where those hold few points."""
    count = len(points)
    number, cell = count, np.arange(count)
    if size > 0:
        middle = (points.max(axis=0) + points.min(axis=0)) / 2  # mirror images fare alike
        place = np.floor((points - middle) / size + 0.5)
        same = (place[links[:, 0]] == place[links[:, 1]]).all(axis=1)
        if same.any():
            number, cell = mesh.components(count, links[same])
    i, j = cell[links].T
    i, j = np.concatenate([i, j, np.arange(number)]), np.concatenate([j, i, np.arange(number)])
    near = csr_matrix((np.ones(len(i), np.float32), (i, j)), shape=(number, number))
    near.data[:] = 1
    size_of = np.bincount(cell, minlength=number)
    few = (size_of == 1) | (near @ size_of < ENOUGH)
    rows = np.arange(number)
    if wanted is not None:
        rows = np.flatnonzero(near @ np.bincount(cell, wanted, number))
    reach = near
    if few[rows].any():
        reach = near[rows] + _rows(few[rows]) @ (near[rows] @ near)
    elif wanted is not None:
        reach = near[rows]
    reach = reach.tocsr()
    # Each patch's cells, then each cell's vertices.
    order = np.argsort(cell, kind="stable")
    start = np.concatenate([[0], np.cumsum(size_of)])
    held = size_of[reach.indices]
    patch_of = np.repeat(np.arange(len(rows)), np.diff(reach.indptr))
    owner = np.repeat(patch_of, held)
    ends = np.cumsum(held)
    within = np.arange(len(owner)) - np.repeat(ends - held, held)
    vertex = order[np.repeat(start[reach.indices], held) + within]
    home = np.repeat(reach.indices == rows[patch_of], held)
    first = np.concatenate([[0], ends])[reach.indptr[:-1]]
    return _Patches(owner, vertex, first, size_of[rows], home, near[rows][:, rows])


def _rows(mask: np.ndarray) -> csr_matrix:
    from scipy.sparse import diags

    return diags(mask.astype(np.float32)).tocsr()


# --- quadrics ----------------------------------------------------------------


def _fit(points: np.ndarray, normals: np.ndarray, links: np.ndarray, size: float,
         wanted: np.ndarray | None = None, finer: _Fit | None = None) -> _Fit:
    """Quadrics over cells of the given size, blended at the vertices.

    In a frame at the patch, z up its normal, z - m z^2 / 2 = a + b x + c y + d x2 + e x y
    + f y2 is fitted. The term m z^2 / 2, with m = (k1^3 + k2^3) / (k1^2 + k2^2) from a first
    fit without it, is what a sphere and a cylinder have beyond their osculating paraboloid
    (derived: on a sphere of curvature k, z - k z^2 / 2 = k (x^2 + y^2) / 2 exactly).
    Principal curvatures are -((d + f) +- sqrt((d - f)^2 + e^2)) in the frame turned to the
    fitted normal; error^2 = var(2 d) + var(2 f) of the least squares.
    Patches about a single vertex go through it (a = 0).
    """
    patches = _patches(points, links, size, wanted)
    owner, vertex, first = patches.owner, patches.vertex, patches.first
    number, held = len(first), np.diff(np.append(first, len(owner)))
    free = patches.own > 1
    total = lambda v: np.add.reduceat(v, first, axis=0)  # noqa: E731
    centre = total(points[vertex] * patches.home[:, None]) / patches.own[:, None]
    up = _unit(total(normals[vertex] * patches.home[:, None]))
    bulge = np.zeros(number)
    for _ in range(2):
        axis_x, axis_y = _axes(up)
        offset = points[vertex] - np.repeat(centre, held, axis=0)
        x, y, z = (np.einsum("ij,ij->i", offset, np.repeat(axis, held, axis=0))
                   for axis in (axis_x, axis_y, up))
        far = x * x + y * y
        scale = np.sqrt(np.maximum(total(far) / held, 1e-300))
        lift = z - np.repeat(bulge / 2, held) * z * z
        x1, y1, z1 = (v / np.repeat(scale, held) for v in (x, y, lift))
        terms = (np.ones_like(x1), x1, y1, x1 * x1, x1 * y1, y1 * y1)
        matrix, right = np.empty((number, 6, 6)), np.empty((number, 6))
        for p, term in enumerate(terms):
            right[:, p] = total(term * z1)
            for q in range(p, 6):
                matrix[:, p, q] = matrix[:, q, p] = total(term * terms[q])
        # A trace of damping keeps patches with too few points at their averaged normal.
        damping = 1e-7 * np.trace(matrix, axis1=1, axis2=2) + 1e-12
        matrix += damping[:, None, None] * np.eye(6)
        matrix[~free, 0, 0] *= 1e12
        given = np.zeros((number, 6, 3))
        given[:, :, 0], given[:, 3, 1], given[:, 5, 2] = right, 1, 1
        solved = np.linalg.solve(matrix, given)
        fit = solved[:, :, 0]
        up_then = up
        up = _unit(up - fit[:, 1:2] * axis_x - fit[:, 2:3] * axis_y)
        centre = centre + (fit[:, 0] * scale)[:, None] * up_then
        second = -fit[:, 3:] / scale[:, None]
        mean, spread = second[:, 0] + second[:, 2], np.hypot(second[:, 0] - second[:, 2],
                                                             second[:, 1])
        bend = np.stack([mean + spread, mean - spread], axis=1)
        used = bulge
        bulge = -(bend**3).sum(axis=1) / np.maximum((bend**2).sum(axis=1), 1e-300)
    misfit = np.maximum(total(z1 * z1) - (fit * right).sum(axis=1), 0.0) * scale**2
    near = patches.near
    misfit = near @ misfit / np.maximum(near @ np.maximum(held - 5.0 - free, 0.0), 1.0)
    error = 2 * np.sqrt(np.maximum(misfit * (solved[:, 3, 1] + solved[:, 5, 2]), 0)) / scale**2
    believed = np.ones(number)
    if finer is not None:
        before = lambda v: total(v[vertex]) / held  # noqa: E731
        believed *= misfit < MISFIT * before(finer.misfit)
        believed *= error < GAIN * before(finer.error)
    return _blend(len(points), patches, held, believed, (axis_x, axis_y, up_then),
                  (x, y, z, x1, y1, far), fit, scale, used, bend, error, misfit)


def _blend(count, patches, held, believed, axes, local, fit, scale, bulge, bend, error,
           misfit) -> _Fit:
    """The patches' quadrics at the vertices, each counting less towards its own end."""
    far = local[5]
    own = patches.own[patches.owner]
    reach = np.repeat(np.maximum.reduceat(far, patches.first), held)
    weight = np.maximum(1 - far / np.maximum(REACH * reach, 1e-300), 0.0)**2
    weight = np.where(patches.home, np.maximum(weight, 1e-6), weight)
    alone = np.zeros(count, dtype=bool)
    alone[patches.vertex[patches.home & (own == 1)]] = True
    weight[~patches.home & ((own == 1) | alone[patches.vertex])] = 0.0
    # The surer a patch is of its curvature, down to rounding, the more it counts.
    weight /= np.repeat(error**2 + (0.1 * np.median(error))**2 + (1e-6 / scale)**2, held)
    everyone = np.bincount(patches.vertex, weight, count)
    weight *= believed[patches.owner]
    on = np.flatnonzero(weight > 0)
    owner, vertex, weight = patches.owner[on], patches.vertex[on], weight[on]
    x, y, z, x1, y1, _ = (v[on] for v in local)
    a, b, c, d, e, f = fit[owner].T
    k = bulge[owner]
    q = (a + b * x1 + c * y1 + d * x1 * x1 + e * x1 * y1 + f * y1 * y1) * scale[owner]
    root = np.sqrt(np.maximum(1 - 2 * k * q, 0.01))
    height = 2 * q / (1 + root)  # solves height - k height^2 / 2 = q
    slope_x, slope_y = (b + 2 * d * x1 + e * y1) / root, (c + e * x1 + 2 * f * y1) / root
    axis_x, axis_y, up = (axis[owner] for axis in axes)
    normal = _unit(up - slope_x[:, None] * axis_x - slope_y[:, None] * axis_y)
    total = lambda v: np.bincount(vertex, weight * v, count)  # noqa: E731
    whole = np.maximum(np.bincount(vertex, weight, count), 1e-300)
    normals = np.stack([total(normal[:, k]) for k in range(3)], axis=1)
    mean = lambda v: total(v) / whole  # noqa: E731
    return _Fit(_unit(normals), np.stack([mean(bend[owner, 0]), mean(bend[owner, 1])], axis=1),
                mean(height - z), mean(error[owner]), mean(misfit[owner]),
                whole / np.maximum(everyone, 1e-300))


def _axes(up: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two unit vectors (k, 3) square to each of the unit vectors and to each other."""
    x = np.where(np.abs(up[:, :1]) < 0.8, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
    x = _unit(np.cross(up, x))
    return x, np.cross(up, x)


def _unit(vectors: np.ndarray) -> np.ndarray:
    length = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    return vectors / np.maximum(length, 1e-300)[:, None]
