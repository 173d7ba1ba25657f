"""What a plane cuts out of a surface."""

from __future__ import annotations

import numpy as np

RING = 0.75  # of a tape that foam covers where it goes round by itself


def cut(vertices: np.ndarray, faces: np.ndarray, height: np.ndarray) -> np.ndarray:
    """The segments (k, 2, 3) in which triangles meet a plane. height (n,): of the vertices over
    it; those that lie in it count as above."""
    above = height >= 0
    corner = above[faces]
    some = corner.any(axis=1) & ~corner.all(axis=1)
    faces, corner = faces[some], corner[some]
    # The corner that is alone on its side; the segment joins its two edges.
    alone = np.argmax(corner == (corner.sum(axis=1) == 1)[:, None], axis=1)
    row = np.arange(len(faces))
    tip = faces[row, alone]
    ends = []
    for k in (1, 2):
        other = faces[row, (alone + k) % 3]
        t = height[tip] / (height[tip] - height[other])
        ends.append(vertices[tip] + t[:, None] * (vertices[other] - vertices[tip]))
    return np.stack(ends, axis=1) if len(faces) else np.empty((0, 2, 3))


def bodies(segments: np.ndarray) -> list:
    """The areas that segments (k, 2, 2) enclose, as shapely polygons without holes, the largest
    first; those that touch or overlap are one. Gaps as wide as a thousandth of it all close."""
    import shapely

    if not len(segments):
        return []
    close = max(float(np.ptp(segments.reshape(-1, 2), axis=0).max()) * 1e-6, 1e-9)
    lines = shapely.set_precision(shapely.linestrings(segments), close)
    parts = shapely.get_parts(shapely.polygonize([shapely.union_all(lines)]))
    whole = shapely.union_all([shapely.Polygon(part.exterior) for part in parts])
    found = [shapely.Polygon(part.exterior) for part in shapely.get_parts(whole)
             if part.geom_type == "Polygon"]
    return sorted(found, key=lambda part: -part.area)


def separate(segments: np.ndarray) -> list[np.ndarray]:
    """The segments (k, 2, 2) of a section, parted by the things that they go round.

    A ring goes round by itself: it covers most of the tape round it. So do rings whose tapes do
    not overlap. What is no ring, such as the halves of a breastplate, goes round one thing with
    all that is no ring either, unless it lies within a tape round a ring.
    """
    import shapely
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    if not len(segments):
        return []
    near = max(float(np.ptp(segments.reshape(-1, 2), axis=0).max()) * 1e-6, 1e-9)
    _, place = np.unique(np.round(segments.reshape(-1, 2) / near), axis=0, return_inverse=True)
    ends = place.reshape(-1, 2)
    count = int(ends.max()) + 1
    linked = coo_matrix((np.ones(len(ends)), ends.T), (count, count))
    chain = connected_components(linked, directed=False)[1][ends[:, 0]]
    chains = [segments[chain == k] for k in np.unique(chain)]
    hulls = [shapely.MultiPoint(c.reshape(-1, 2)).convex_hull for c in chains]
    rings: list[tuple[object, list[int]]] = []
    loose = []
    for k in sorted(range(len(chains)), key=lambda k: -hulls[k].area):
        within = next((ring for ring in rings if ring[0].intersects(hulls[k])), None)
        length = float(np.linalg.norm(chains[k][:, 1] - chains[k][:, 0], axis=1).sum())
        if within:
            within[1].append(k)
        elif hulls[k].geom_type == "Polygon" and length >= RING * hulls[k].length:
            rings.append((hulls[k], [k]))
        else:
            loose.append(k)
    groups = [ring[1] for ring in rings] + [loose] * bool(loose)
    return [np.concatenate([chains[k] for k in group]) for group in groups]


def tape(points: np.ndarray) -> float:
    """Length of a tape round points (k, 2): it spans hollows (ISO 8559-1 measures girths so;
    from memory)."""
    import shapely

    hull = shapely.MultiPoint(points).convex_hull
    return float(hull.length if hull.geom_type == "Polygon" else 2 * hull.length)
