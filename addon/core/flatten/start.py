"""Flattenings to start from: conformal, then as rigid as possible, else embedded in a circle.

A large region is laid flat by its cells first: one complex system of a few hundred unknowns,
where that of all its vertices would take longer than the search itself.
"""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..model import Region
from .cells import Cells
from .system import System, no_seams, unit


def start_of(system: System, region: Region, quick: bool = False) -> np.ndarray | None:
    """A flattening without flipped faces to start from, or None.

    Rather one in which no faces are wound twice round a vertex, as that would stay. quick:
    try only what is found at once.
    """
    wound = None
    ways = [lambda: _by_cells(system, region), lambda: conformal(system, region.vertices),
            lambda: _embedded(system, region)]
    for way in ways[:2] if quick else ways:
        points = way()
        if points is None or not np.isfinite(points).all():
            continue
        for steps in (8, 0):
            candidate = as_rigid_as_possible(system, points, steps)
            if (system.singular(system.gradient @ candidate)[1] > 0).all():
                if _winds_once(candidate, region):
                    return candidate
                wound = candidate if wound is None else wound
    return wound


def _winds_once(points: np.ndarray, region: Region) -> bool:
    """Do the faces round each inner vertex fill one turn there, not two or more?

    Thin faces can be wound several times round a vertex without one of them flipping.
    """
    corner = points[region.faces]
    ahead, behind = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    turn = np.bincount(region.faces.ravel(), np.angle(behind * np.conj(ahead)).ravel(),
                       minlength=len(points))
    for border in region.borders:
        turn[border.vertices] = 0.0
    return bool((turn < 3 * np.pi).all())


def _scaled(system: System, points):
    upper, lower = system.singular(system.gradient @ points)
    return points / np.sqrt(max((system.weight * np.abs(upper * lower)).sum(), 1e-300))


def conformal(system: System, vertices: np.ndarray) -> np.ndarray:
    """The least-squares conformal map (n,) of vertices (n, 3), the two furthest ones held."""
    import scipy.sparse as sp

    m = len(system.faces)
    anti = system.gradient[m:]
    energy = (anti.conj().T @ sp.diags(system.weight) @ anti).tocsc()
    a = int(np.argmax(((vertices - vertices.mean(axis=0)) ** 2).sum(axis=1)))
    b = int(np.argmax(((vertices - vertices[a]) ** 2).sum(axis=1)))
    free = np.setdiff1d(np.arange(system.count), [a, b])
    points = np.zeros(system.count, complex)
    points[b] = np.linalg.norm(vertices[a] - vertices[b])
    if len(free):
        from scipy.sparse.linalg import splu

        right = -(energy[free][:, [b]] @ points[[b]])
        points[free] = splu(energy[free][:, free].tocsc(), permc_spec="MMD_AT_PLUS_A",
                            diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve(right)
    return _scaled(system, points)


def _by_cells(system: System, region: Region) -> np.ndarray | None:
    """The conformal map of the region's cells, carried to its vertices (n,): each lies as far
    from the middle of its cell as the map of the cells about that tells, linear in space."""
    cells = Cells.of_region(region)
    if cells is None:
        return None
    points = region.vertices[cells.seeds]
    side = points[np.roll(cells.faces, -2, axis=1)] - points[np.roll(cells.faces, -1, axis=1)]
    coarse = System(cells.faces, np.linalg.norm(side, axis=2), len(points), no_seams(len(points)))
    flat = as_rigid_as_possible(coarse, conformal(coarse, points), 8)
    start, end, key = mesh.half_edges(cells.faces)
    _, first = np.unique(key, return_index=True)
    i, j = np.concatenate([start[first], end[first]]), np.concatenate([end[first], start[first]])
    step, moved = points[j] - points[i], flat[j] - flat[i]
    total = lambda v: np.stack([np.bincount(i, x, len(points)) for x in v.T], axis=1)  # noqa: E731
    outer = total(np.einsum("ka,kb->kab", step, step).reshape(-1, 9)).reshape(-1, 3, 3)
    right = np.einsum("ka,k->ka", step, moved)
    outer += 1e-6 * np.einsum("kaa->k", outer)[:, None, None] * np.eye(3)
    slope = np.linalg.solve(outer, (total(right.real) + 1j * total(right.imag))[..., None])[..., 0]
    own = cells.owner
    away = region.vertices - points[own]
    return _scaled(system, flat[own] + np.einsum("ka,ka->k", slope[own], away))


def _embedded(system: System, region: Region):
    """Tutte's embedding on a circle, holes closed by a fan: never flips (Tutte 1963)."""
    import scipy.sparse as sp
    from scipy.sparse.linalg import spsolve

    loops = [np.concatenate([region.borders[b].vertices[:-1] for b in ring])
             for ring in region.loops]
    faces, count = [region.faces], system.count
    for loop in loops[1:]:
        faces.append(np.stack([np.roll(loop, -1), loop, np.full(len(loop), count)], axis=1))
        count += 1
    start, end, _ = mesh.half_edges(np.concatenate(faces))
    ring = sp.csr_matrix((np.ones(len(start)), (start, end)), shape=(count, count))
    ring = ((ring + ring.T) > 0).astype(float)
    laplace = (sp.diags(np.asarray(ring.sum(axis=1)).ravel()) - ring).tocsr()
    outer = loops[0]
    if len(np.unique(outer)) != len(outer):
        return None  # a loop that passes twice through a vertex fits no circle
    step = np.linalg.norm(region.vertices[np.roll(outer, -1)] - region.vertices[outer], axis=1)
    turn = 2 * np.pi * (np.cumsum(step) - step) / step.sum()
    points = np.zeros(count, complex)
    points[outer] = np.exp(1j * turn)
    free = np.setdiff1d(np.arange(count), outer)
    if len(free):
        points[free] = spsolve(laplace[free][:, free].tocsc(),
                               -(laplace[free][:, outer] @ points[outer]))
    return _scaled(system, points[:system.count])


def as_rigid_as_possible(system: System, points: np.ndarray, steps: int) -> np.ndarray:
    """The map (n,) after some steps that turn each face's Jacobian to the nearest rotation."""
    m = len(system.faces)
    for _ in range(steps):
        jacobian = system.gradient @ points
        target = np.zeros_like(jacobian)
        size = np.abs(jacobian[:m])
        target[:m] = np.where(size > 0, jacobian[:m] / np.maximum(size, 1e-300), 1.0)
        points = system.solve(target, unit(system.along @ points))
    return points
