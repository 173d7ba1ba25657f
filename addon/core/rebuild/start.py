"""Where a rebuild begins: points laid out in space by how far it is to walk between them."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import connected_components, dijkstra

from .assembly import Assembly

LANDMARKS = 80


def laid_out(assembly: Assembly) -> np.ndarray:
    """Positions (n, 3), mirrored perhaps, whose distances are like those along the glued foam.

    Classical scaling of the walking distances to a few landmarks (de Silva and Tenenbaum,
    "Sparse multidimensional scaling", 2004).
    """
    n, faces, rest = len(assembly.flat), assembly.faces, assembly.rest
    _, glued = connected_components(sp.coo_matrix(
        (np.ones(len(assembly.tie)), tuple(assembly.tie.T)), shape=(n, n)), directed=False)
    count = glued.max() + 1
    start, end = glued[faces].ravel(), glued[np.roll(faces, -1, axis=1)].ravel()
    length = np.linalg.norm(rest - np.roll(rest, -1, axis=1), axis=2).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.lexsort((length, high, low))
    new = np.append(True, (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0))
    first = order[new]
    graph = sp.csr_matrix((length[first], (low[first], high[first])), shape=(count, count))
    marks, far = [0], []
    for _ in range(min(LANDMARKS, count)):
        far.append(dijkstra(graph, directed=False, indices=marks[-1]))
        marks.append(int(np.argmax(np.min(far, axis=0))))
    far = np.array(far) ** 2
    between = far[:, marks[:-1]]
    k = len(between)
    centre = np.eye(k) - 1 / k
    size, axes = np.linalg.eigh(-0.5 * centre @ between @ centre)
    size, axes = size[::-1][:3], axes[:, ::-1][:, :3]
    place = -0.5 * (far.T - between.mean(axis=0)) @ (axes / np.sqrt(np.maximum(size, 1e-9)))
    return place[glued]
