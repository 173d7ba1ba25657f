"""The areas that a mask of pixels covers, as rings."""

from __future__ import annotations

import numpy as np
import shapely


def areas(mask: np.ndarray) -> list[tuple[np.ndarray, ...]]:
    """The areas that a mask (h, w) covers, each as rings (k, 2) in pixels, the first its outside,
    with the stairs smoothed; specks of no more than 4 pixels are left out."""
    rings = outlines(mask)
    if not rings:
        return []
    whole = _with_holes(rings).simplify(0.9).buffer(0)
    return [tuple(np.array(ring.coords)[:-1] for ring in (area.exterior, *area.interiors))
            for area in shapely.get_parts(whole) if area.area > 4.0]


def outlines(mask: np.ndarray) -> list[np.ndarray]:
    """The rings (k, 2) between a mask (h, w) and the rest, the mask on their left; corners only,
    none of them twice in a ring. Pixels that share a corner only do not hang together."""
    start, way, end = _runs(mask)
    if not len(start):
        return []
    # On to the run that turns left where there is one, so that it stays at the same pixel.
    known = 4 * start + way
    order = np.argsort(known)
    known = known[order]
    left, right = (4 * end + (way + turn) % 4 for turn in (1, 3))
    at = np.minimum(np.searchsorted(known, left), len(known) - 1)
    onward = np.where(known[at] == left, order[at], order[np.minimum(
        np.searchsorted(known, right), len(known) - 1)]).tolist()
    corner = start.tolist()
    used, rings = [False] * len(corner), []
    for first in range(len(corner)):
        path, at_path = [], {}
        run = first
        while not used[run]:
            used[run] = True
            if corner[run] in at_path:  # a ring that touches itself is two
                cut = at_path[corner[run]]
                rings.append(path[cut:])
                for passed in path[cut:]:
                    del at_path[passed]
                del path[cut:]
            at_path[corner[run]] = len(path)
            path.append(corner[run])
            run = onward[run]
        if path:
            rings.append(path)
    across = mask.shape[1] + 1
    return [np.stack(np.divmod(ring, across)[::-1], axis=1).astype(float) for ring in rings]


def _runs(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The straight runs between a mask (h, w) and the rest: numbers (k,) of the grid points where
    they start and end, and which way they go: 0 right, 1 up, 2 left, 3 down."""
    solid, across = np.pad(mask, 1).astype(np.int8), mask.shape[1] + 1
    found = []
    for level in (True, False):
        # Along each grid line, where the mask begins (1) and ends (-1) when one steps over it.
        step = np.diff(solid if level else solid.T, axis=0)
        line, at = np.nonzero(np.diff(step, axis=1))
        before, after = step[line, at], step[line, at + 1]
        here = at + across * line if level else line + across * at
        low, high, sign = here[after != 0], here[before != 0], after[after != 0]
        forth = sign > 0 if level else sign < 0
        way = np.where(forth, 0, 2) + (0 if level else 1)
        found.append((np.where(forth, low, high), way, np.where(forth, high, low)))
    return tuple(np.concatenate(part) for part in zip(*found, strict=True))


def _with_holes(rings: list[np.ndarray]) -> shapely.MultiPolygon:
    """Rings about areas and about holes, told apart by which way round they run."""
    sizes = [float(np.sum(r[:, 0] * np.roll(r[:, 1], -1) - r[:, 1] * np.roll(r[:, 0], -1)))
             for r in rings]
    shells = [r for r, size in zip(rings, sizes, strict=True) if size > 0]
    holes = [r for r, size in zip(rings, sizes, strict=True) if size < 0]
    bodies = np.array([shapely.Polygon(r) for r in shells])
    inside: list[list[np.ndarray]] = [[] for _ in shells]
    if holes:
        # Areas lie inside holes of others: a hole belongs to the smallest that holds it.
        which, held = shapely.STRtree(bodies).query(
            [shapely.Polygon(r) for r in holes], predicate="within")
        sizes = shapely.area(bodies)
        for hole in range(len(holes)):
            around = held[which == hole]
            inside[around[np.argmin(sizes[around])]].append(holes[hole])
    return shapely.MultiPolygon([shapely.Polygon(r, within)
                                 for r, within in zip(shells, inside, strict=True)])
