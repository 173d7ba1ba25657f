"""Array kernels shared by the stages, on vertices (n, 3) and triangles (m, 3)."""

from __future__ import annotations

import numpy as np


def face_normals(vertices: np.ndarray, faces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (m, 3) and areas (m,), of (b - a) x (c - a), which is twice the area long.

    Faces without area get a zero normal.
    """
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a)
    double = np.linalg.norm(cross, axis=1)
    return cross / np.where(double > 0, double, 1.0)[:, None], double / 2


def corner_angles(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Angle (m, 3) at each corner of each face, radians: atan2(|u x v|, u . v) of the sides u, v,
    which keeps its digits at small and flat angles, unlike the arc cosine."""
    angles = np.empty(faces.shape)
    for i in range(3):
        p = vertices[faces[:, i]]
        u, v = vertices[faces[:, (i + 1) % 3]] - p, vertices[faces[:, (i + 2) % 3]] - p
        cross = np.linalg.norm(np.cross(u, v), axis=1)
        angles[:, i] = np.arctan2(cross, np.einsum("ij,ij->i", u, v))
    return angles


def vertex_normals(vertices: np.ndarray, faces: np.ndarray, count: int | None = None) -> np.ndarray:
    """Angle-weighted unit normals (n, 3): sum of angle * face normal, which does not depend on
    how a flat face is triangulated (Thuermer and Wuethrich 1998)."""
    normals, _ = face_normals(vertices, faces)
    angles = corner_angles(vertices, faces)
    count = len(vertices) if count is None else count
    total = np.stack([
        np.bincount(faces.ravel(), (angles * normals[:, k, None]).ravel(), minlength=count)
        for k in range(3)], axis=1)
    length = np.linalg.norm(total, axis=1)
    return total / np.where(length > 0, length, 1.0)[:, None]


def half_edges(faces: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Half-edges in face order: start (3m,), end (3m,) and key (3m,) of the edge.

    Half-edge 3 f + i runs from corner i to corner i + 1 of face f. Keys are equal
    for the two half-edges of one undirected edge.
    """
    start = faces.ravel()
    end = np.roll(faces, -1, axis=1).ravel()
    return start, end, edge_keys(np.stack([start, end], axis=1), int(faces.max(initial=-1)) + 1)


def after(half: np.ndarray) -> np.ndarray:
    """The next half-edge (k,) round the same face."""
    return half - half % 3 + (half + 1) % 3


def along(lengths: np.ndarray, half: np.ndarray) -> np.ndarray:
    """Lengths (k,) of half-edges (k,), of lengths (m, 3) opposite each face's corners."""
    return lengths[half // 3, (half + 2) % 3]


def edge_keys(edges: np.ndarray, count: int) -> np.ndarray:
    """One integer (k,) per undirected edge (k, 2) of a mesh with `count` vertices."""
    edges = np.asarray(edges, dtype=np.int64).reshape(-1, 2)
    a, b = edges[:, 0], edges[:, 1]  # much faster than a minimum over the short axis
    return np.minimum(a, b) * count + np.maximum(a, b)


def twins(faces: np.ndarray) -> np.ndarray:
    """Opposite half-edge (3m,) of every half-edge, -1 on the boundary.

    Needs a mesh whose edges have at most two faces, wound alike.
    """
    _, _, key = half_edges(faces)
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    twin = np.full(len(key), -1, dtype=np.int64)
    twin[order[:-1][same]] = order[1:][same]
    twin[order[1:][same]] = order[:-1][same]
    return twin


def edge_faces(faces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Inner edges (k, 2) and the two faces (k, 2) beside each; manifold meshes only."""
    twin = twins(faces)
    half = np.flatnonzero(twin > np.arange(len(twin)))
    start, end, _ = half_edges(faces)
    return (np.stack([start[half], end[half]], axis=1),
            np.stack([half // 3, twin[half] // 3], axis=1))


def components(count: int, links: np.ndarray) -> tuple[int, np.ndarray]:
    """Number of connected groups of `count` things joined by links (k, 2), and labels."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    links = np.asarray(links, dtype=np.int64).reshape(-1, 2)
    graph = coo_matrix((np.ones(len(links), dtype=np.int8), (links[:, 0], links[:, 1])),
                       shape=(count, count))
    number, labels = connected_components(graph, directed=False)
    return number, labels.astype(np.int64)


def cut_along(faces: np.ndarray, edges: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Cut a mesh open along edges (k, 2).

    Returns faces (m, 3) over new vertices and source (n',) the old vertex of each
    new one. A vertex is split into one per fan of faces that still hang together
    around it, so a cut that ends inside leaves its tip whole. The mesh may have
    `count` vertices; unused ones are dropped.
    """
    twin = twins(faces)
    start, end, _ = half_edges(faces)
    key = edge_keys(np.stack([start, end], axis=1), count)
    kept = (twin >= 0) & ~np.isin(key, edge_keys(edges, count))
    half = np.flatnonzero(kept & (twin > np.arange(len(twin))))
    other = twin[half]
    # Half-edge h starts at corner h and ends at the next corner of the same face.
    links = np.concatenate([np.stack([half, after(other)], axis=1),
                            np.stack([after(half), other], axis=1)])
    number, corner = components(len(start), links)
    source = np.empty(number, dtype=np.int64)
    source[corner] = start
    # Number the new vertices in the order of the old ones, so that an uncut mesh keeps its order.
    order = np.argsort(source, kind="stable")
    rank = np.empty(number, dtype=np.int64)
    rank[order] = np.arange(number)
    return rank[corner].reshape(-1, 3), source[order]


def boundary_loops(faces: np.ndarray) -> list[np.ndarray]:
    """Boundary loops as arrays of half-edges in order, foam on the left.

    Follows each boundary half-edge to the next one by turning about its end
    vertex, so loops that touch in a vertex are told apart.
    """
    twin = twins(faces)
    bound = np.flatnonzero(twin < 0)
    following = {}
    for h in bound:
        n = after(h)
        while twin[n] >= 0:
            n = after(twin[n])
        following[h] = n
    loops, seen = [], set()
    for h in bound:
        if h in seen:
            continue
        loop = []
        while h not in seen:
            seen.add(h)
            loop.append(h)
            h = following[h]
        loops.append(np.array(loop, dtype=np.int64))
    return loops


def polyline_length(points: np.ndarray) -> float:
    """Length of a polyline (k, d)."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def arc_length(points: np.ndarray) -> np.ndarray:
    """Distance (k,) along a polyline (k, d) from its first point."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def chains(edges: np.ndarray) -> list[np.ndarray]:
    """Polylines of vertices that run through edges (k, 2), split where not two edges meet.

    A ring starts and ends at its lowest vertex. The order is that of each
    polyline's lowest edge, so equal input gives equal output.
    """
    edges = np.sort(np.asarray(edges, dtype=np.int64).reshape(-1, 2), axis=1)
    edges = np.unique(edges, axis=0)
    around: dict[int, list[int]] = {}
    for i, (a, b) in enumerate(edges.tolist()):
        around.setdefault(a, []).append(i)
        around.setdefault(b, []).append(i)
    used = np.zeros(len(edges), dtype=bool)

    def walk(vertex: int, edge: int) -> np.ndarray:
        path = [vertex]
        while True:
            used[edge] = True
            a, b = edges[edge]
            vertex = int(b if a == vertex else a)
            path.append(vertex)
            onward = [e for e in around[vertex] if not used[e]]
            if len(around[vertex]) != 2 or not onward:
                return np.array(path, dtype=np.int64)
            edge = onward[0]

    ends = sorted(v for v, es in around.items() if len(es) != 2)
    paths = [walk(v, e) for v in ends for e in around[v] if not used[e]]
    paths += [walk(int(edges[i, 0]), i) for i in range(len(edges)) if not used[i]]
    return paths


def corners(points: np.ndarray, window: float, limit: float) -> np.ndarray:
    """Indices of inner points (k, d) where a polyline turns by more than `limit`.

    The turn is measured between chords `window` long on either side, so the small
    steps of a line that follows mesh edges are not corners; of several close
    together only the sharpest counts.
    """
    along = arc_length(points)
    if len(points) < 3 or along[-1] <= 0:
        return np.empty(0, dtype=np.int64)
    sample = lambda s: np.stack([np.interp(s, along, x) for x in points.T], axis=1)  # noqa: E731
    # A chord never ends short of the neighbouring point, else a coarse line has no turns.
    back = np.minimum(along - window, np.concatenate([[0.0], along[:-1]]))
    ahead = np.maximum(along + window, np.concatenate([along[1:], along[-1:]]))
    u = points - sample(np.maximum(back, 0.0))
    v = sample(np.minimum(ahead, along[-1])) - points
    length = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
    cosine = np.einsum("ij,ij->i", u, v) / np.where(length > 0, length, 1.0)
    turn = np.where(length > 0, np.arccos(np.clip(cosine, -1.0, 1.0)), 0.0)
    turn[[0, -1]] = 0.0
    found = []
    for i in np.argsort(-turn, kind="stable"):
        if turn[i] <= limit:
            break
        if all(abs(along[i] - along[j]) > window for j in found):
            found.append(int(i))
    return np.array(sorted(found), dtype=np.int64)


def nearest_weights(corners: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Barycentric coordinates (k, 3) of the point of triangles (k, 3, 3) nearest to places (k, 3).

    Inside where the foot falls inside, else the nearest of the points nearest on the sides.
    """
    a, b, c = (corners[:, i] for i in range(3))
    u, v, w = b - a, c - a, places - a
    dot = lambda p, q: np.einsum("ij,ij->i", p, q)  # noqa: E731
    uu, uv, vv, uw, vw = dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w)
    scale = uu * vv - uv**2
    with np.errstate(divide="ignore", invalid="ignore"):
        second, third = (vv * uw - uv * vw) / scale, (uu * vw - uv * uw) / scale
    inside = (scale > 0) & (second >= 0) & (third >= 0) & (second + third <= 1)
    best = np.stack([1 - second - third, second, third], axis=1)
    away = np.full(len(corners), np.inf)
    for i in np.arange(3) if not inside.all() else ():
        p, q = corners[:, i], corners[:, (i + 1) % 3]
        side = q - p
        t = np.clip(dot(places - p, side) / np.maximum(dot(side, side), 1e-300), 0.0, 1.0)
        gap = np.linalg.norm(p + t[:, None] * side - places, axis=1)
        nearer = ~inside & (gap < away)
        away[nearer] = gap[nearer]
        best[nearer] = 0.0
        best[nearer, i], best[nearer, (i + 1) % 3] = 1 - t[nearer], t[nearer]
    return best


def largest_but(values: np.ndarray, area: np.ndarray, spared: float) -> float:
    """Largest of the faces' values once the largest ones, together at most `spared` in area,
    are left out."""
    order = np.argsort(-values, kind="stable")
    beyond = np.cumsum(area[order]) > spared
    return float(values[order[np.argmax(beyond)]]) if beyond.any() else 0.0


def largest_but_spots(values: np.ndarray, area: np.ndarray, faces: np.ndarray, spared: float,
                      spot: float) -> float:
    """Largest of the faces' values once the `spots` are left out; 0 when all are."""
    left = np.delete(values, spots(values, area, faces, spared, spot))
    return float(left.max()) if len(left) else 0.0


def spots(values: np.ndarray, area: np.ndarray, faces: np.ndarray, spared: float, spot: float
          ) -> np.ndarray:
    """The faces (k,) of the largest values that are together at most `spared` in area, and at
    most `spot` in one place (faces that hang together at vertices)."""
    order = _largest(values, area, spared)
    most = int(np.searchsorted(np.cumsum(area[order]), spared, side="right"))
    # Patches only grow and join as faces are added, largest value first: a union-find.
    parent: dict[int, int] = {}
    size: dict[int, float] = {}
    for k, (corners, own) in enumerate(zip(faces[order[:most]].tolist(),
                                           area[order[:most]].tolist(), strict=True)):
        roots = set()
        for corner in corners:
            while (above := parent.get(corner, corner)) != corner:
                parent[corner] = corner = parent.get(above, above)
            roots.add(corner)
        together = own + sum(size.pop(root, 0.0) for root in roots)
        if together > spot:
            return order[:k]
        first = min(roots)
        parent.update(dict.fromkeys(roots, first))
        size[first] = together
    return order[:most]


def _largest(values: np.ndarray, area: np.ndarray, wanted: float) -> np.ndarray:
    """Faces (k,) in falling order of their values, lower numbers first where these are equal; as
    many as have more than the wanted area together, or all."""
    count = max(64, int(2 * wanted / max(float(area.mean()), 1e-300)))
    if 4 * count < len(values):
        least = np.partition(values, len(values) - count)[len(values) - count]
        some = np.flatnonzero(values >= least)
        if area[some].sum() > wanted:
            return some[np.argsort(-values[some], kind="stable")]
    return np.argsort(-values, kind="stable")
