"""The smoothest displacement of a surface that changes the lengths of sections across it.

The displacement u, a vector for each vertex, has the least energy of stretching and bending, the
integral of |grad u|^2 + b |laplace u|^2 (the linear model of a thin shell; Botsch and Sorkine 2008,
On linear variational surface deformation methods), with linear elements, among those under which
every section has its new length. Lengths are no linear function of u, so that is solved by
Newton's method: in each turn the conditions are those of the last shape.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import csc_matrix, diags
from scipy.sparse.linalg import splu

from .. import mesh
from .sections import Section

TURNS = 20
NEAR = 0.01  # mm from its length at which a section is right
BEND = 0.1  # weight of bending beside stretching, for a wave as long as the surface
STAY = 1e-3  # likewise of moving at all: it keeps what nothing holds where it is


def displaced(vertices: np.ndarray, faces: np.ndarray, held: np.ndarray,
              sections: Sequence[Section], limit: float) -> np.ndarray | None:
    """Displacement (n, 3) of the vertices, 0 on those that no face (m, 3) names and on those that
    are held (n,); None where a vertex would have to move further than limit, mm, on the way."""
    free = np.zeros(len(vertices), dtype=bool)
    free[faces] = True
    free &= ~held
    place = np.cumsum(free) - 1
    count = int(free.sum())
    if not count or not sections:
        return None
    solve = splu(_energy(vertices, faces)[free][:, free].tocsc()).solve
    first = np.array([s.length(vertices) for s in sections])
    wanted = first + [s.growth for s in sections]
    moved = np.zeros_like(vertices)
    for _ in range(TURNS):
        now = vertices + moved
        off = wanted - [s.length(now) for s in sections]
        if np.abs(off).max() < NEAR:
            return moved
        by = [_slopes(now, sections, axis, free, place, count) for axis in range(3)]
        answers = [solve(part.T.toarray()) for part in by]
        matrix = sum(part @ answer for part, answer in zip(by, answers, strict=True))
        ask = off + sum(part @ moved[free, axis] for axis, part in enumerate(by))
        # Sections from both sides of one place ask the same twice.
        matrix[np.diag_indices_from(matrix)] += 1e-9 * np.trace(matrix) / len(matrix)
        weights = np.linalg.solve(matrix, ask)
        for axis, answer in enumerate(answers):
            moved[free, axis] = answer @ weights
        if not np.linalg.norm(moved, axis=1).max() <= limit:  # false for NaN as well
            return None
    return None


def _energy(vertices: np.ndarray, faces: np.ndarray):
    """The quadratic form (n, n) of the bending energy, with a little of what keeps still."""
    count = len(vertices)
    _, area = mesh.face_normals(vertices, faces)
    # Slivers would weigh without bounds.
    cot = 1 / np.tan(np.clip(mesh.corner_angles(vertices, faces), 0.02, np.pi - 0.02)) / 2
    i = faces[:, [1, 2, 0]].ravel()  # the side opposite each corner
    j = faces[:, [2, 0, 1]].ravel()
    weight = cot.ravel()
    adjacent = csc_matrix((np.concatenate([weight, weight]),
                           (np.concatenate([i, j]), np.concatenate([j, i]))), (count, count))
    laplace = diags(np.asarray(adjacent.sum(axis=1)).ravel()) - adjacent
    mass = np.bincount(faces.ravel(), np.repeat(area / 3, 3), minlength=count)
    mass = np.maximum(mass, 1e-9 * max(area.mean(), 1e-300))
    wave = float(np.ptp(vertices[np.unique(faces)], axis=0).max()) / (2 * np.pi)
    return (laplace + BEND * wave**2 * (laplace.T @ diags(1 / mass) @ laplace)
            + diags(mass * STAY / wave**2)).tocsr()


def _slopes(vertices: np.ndarray, sections: Sequence[Section], axis: int, free: np.ndarray,
            place: np.ndarray, count: int):
    """How the length of each section grows with each free vertex along an axis: (k, count)."""
    rows, columns, values = [], [], []
    for row, section in enumerate(sections):
        steps = np.diff(section.points(vertices), axis=0)
        steps /= np.maximum(np.linalg.norm(steps, axis=1), 1e-300)[:, None]
        pull = np.zeros(len(section.ends))
        pull[1:] += steps[:, axis]
        pull[:-1] -= steps[:, axis]
        for k, share in ((0, 1 - section.share), (1, section.share)):
            own = section.ends[:, k]
            some = free[own]
            columns.append(place[own[some]])
            values.append((pull * share)[some])
            rows.append(np.full(int(some.sum()), row))
    return csc_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
                      (len(sections), count)).tocsr()
