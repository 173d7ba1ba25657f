"""Sculpt -> regions: cut the surface along its seams and say which edges belong together."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from . import mesh
from .errors import ERROR, Finding, FoamError
from .fair import fair
from .model import (
    JOIN_BIT,
    JOINS,
    SCORE,
    SEAM,
    SMOOTH,
    TRENCH,
    Border,
    Cut,
    Finish,
    Line,
    Region,
    Sculpt,
    Seam,
    Uncut,
    finish_numbers,
    join_numbers,
)
from .openings import propose_opening

CORNER = math.radians(45.0)  # a seam that turns more sharply ends there and another begins
CORNER_WINDOW = 8.0  # mm over which that turn is measured, less on very small parts


def marked(sculpt: Sculpt, kind: int) -> np.ndarray:
    """The edges (k, 2) of the sculpt that carry a mark. A seam overrides other marks."""
    flags = (sculpt.kinds & kind) != 0
    if kind != SEAM:
        flags &= (sculpt.kinds & SEAM) == 0
    return sculpt.edges[flags]


def with_sharp_seams(sculpt: Sculpt, angle: float) -> Sculpt:
    """The sculpt with seams also on every inner edge folded by more than `angle` (radians)."""
    normals, _ = mesh.face_normals(sculpt.vertices, sculpt.faces)
    edges, beside = mesh.edge_faces(sculpt.faces)
    n1, n2 = normals[beside[:, 0]], normals[beside[:, 1]]
    fold = np.arctan2(np.linalg.norm(np.cross(n1, n2), axis=1), np.einsum("ij,ij->i", n1, n2))
    sharp = np.sort(edges[fold > angle], axis=1)
    return replace(sculpt, edges=np.concatenate([sculpt.edges, sharp]),
                   kinds=np.concatenate([sculpt.kinds, np.full(len(sharp), SEAM)]))


def cut(sculpt: Sculpt, fairing: float = 0.0) -> Cut:
    """Cut the sculpt along its seams.

    Every region is one connected part of the surface; a seam that ends inside a
    region opens it there (a dart). Regions are numbered by their lowest face. Lines
    that zigzag along mesh edges are faired, no point by more than `fairing` mm.
    Raises FoamError `closed-without-seam` where a region has no edge to open at, with the
    edges where it could be parted.
    """
    count = len(sculpt.vertices)
    opened, source = mesh.cut_along(sculpt.faces, marked(sculpt, SEAM), count)
    start, end, _ = mesh.half_edges(opened)
    _, label = mesh.components(len(source), np.stack([start, end], axis=1))
    _, first, region_of = np.unique(label[opened[:, 0]], return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))
    region_of = rank[region_of.ravel()]

    loops = mesh.boundary_loops(opened)
    _refuse_closed(sculpt, opened, source, region_of, loops)
    runs, run_of = _runs(sculpt, loops)
    return _assemble(sculpt, opened, source, region_of, loops, runs, run_of, fairing)


def _refuse_closed(sculpt: Sculpt, opened: np.ndarray, source: np.ndarray,
                   region_of: np.ndarray, loops: list[np.ndarray]) -> None:
    open_regions = {int(region_of[loop[0] // 3]) for loop in loops}
    closed = [r for r in range(int(region_of.max(initial=-1)) + 1) if r not in open_regions]
    if closed:
        raise FoamError(*(_closed(sculpt, opened, source, region_of == r) for r in closed))


def _closed(sculpt: Sculpt, opened: np.ndarray, source: np.ndarray, part: np.ndarray) -> Finding:
    used, faces = np.unique(opened[part], return_inverse=True)
    line = propose_opening(sculpt.vertices[source[used]], faces.reshape(-1, 3),
                           sculpt.polygon[part])
    return Finding(
        "closed-without-seam", ERROR,
        "This part of the sculpt is closed all round and cannot be laid flat.",
        "Mark seams that open it, for instance along its sharpest edges; the proposed line is "
        "selected.", edges=source[used[line]])


@dataclass(frozen=True)
class _Run:
    """Boundary half-edges in loop order that form one border."""

    half: np.ndarray
    seam: int
    forward: bool
    ring: bool  # closes on itself without a corner


def _runs(sculpt: Sculpt, loops: list[np.ndarray]) -> tuple[list[_Run], np.ndarray]:
    """Split all boundary loops into borders; also the run (3m,) of each half-edge.

    A seam is found from the side met first, cut at its corners, and handed to the
    other side reversed, so that both mates always break at the same vertices.
    """
    start, end, _ = mesh.half_edges(sculpt.faces)
    twin = mesh.twins(sculpt.faces)
    join = joins(sculpt)
    onward = np.full(len(start), -1, dtype=np.int64)
    for loop in loops:
        onward[loop] = np.roll(loop, -1)
    runs: list[_Run] = []
    run_of = np.full(len(start), -1, dtype=np.int64)
    seams = 0

    def add(half: np.ndarray, seam: int, forward: bool, ring: bool) -> None:
        run_of[half] = len(runs)
        runs.append(_Run(half, seam, forward, ring))

    for loop in loops:
        mate, after = twin[loop], twin[np.roll(loop, -1)]
        same_seam = ((mate >= 0) & (after >= 0) & (onward[after] == mate)
                     & (mate != np.roll(loop, -1)) & (join[loop] == join[np.roll(loop, -1)]))
        breaks = np.flatnonzero(~(same_seam | ((mate < 0) & (after < 0))))
        for half in _split_ring(loop, breaks):
            if run_of[half[0]] >= 0:
                continue  # the other side of a seam that was met before
            parts, smooth = _split_at_corners(half, start, end, sculpt.vertices, len(breaks) == 0)
            ring = smooth and len(breaks) == 0
            for part in parts:
                if twin[part[0]] < 0:
                    add(part, -1, True, ring)
                else:
                    add(part, seams, True, ring)
                    add(twin[part][::-1], seams, False, ring)
                    seams += 1
    return runs, run_of


def joins(sculpt: Sculpt) -> np.ndarray:
    """How the seam along each half-edge is held together and looks (3m,): its flags from JOIN_BIT
    on, 0 where plainly glued and flush."""
    start, end, _ = mesh.half_edges(sculpt.faces)
    count = len(sculpt.vertices)
    chosen = np.flatnonzero((sculpt.kinds >= JOIN_BIT) & ((sculpt.kinds & SEAM) != 0))
    if not len(chosen):
        return np.zeros(len(start), dtype=np.int64)
    keys, first = np.unique(mesh.edge_keys(sculpt.edges[chosen], count), return_index=True)
    mine = mesh.edge_keys(np.stack([start, end], axis=1), count)
    place = np.minimum(np.searchsorted(keys, mine), len(keys) - 1)
    return np.where(keys[place] == mine, sculpt.kinds[chosen[first]][place] // JOIN_BIT * JOIN_BIT,
                    0)


def _split_ring(loop: np.ndarray, breaks: np.ndarray) -> list[np.ndarray]:
    """Pieces of a cyclic sequence, split after each index in `breaks`."""
    if len(breaks) == 0:
        return [loop]
    turned = np.roll(loop, -(breaks[-1] + 1))
    return np.split(turned, np.sort((breaks - breaks[-1] - 1) % len(loop)) + 1)[:len(breaks)]


def _split_at_corners(half, start, end, vertices, ring) -> tuple[list[np.ndarray], bool]:
    """Split a run of half-edges where its curve turns sharply; also whether it is a ring
    without a corner.

    ring: the run is a whole loop. One that only comes back to where it began, such as the
    rim of a tube that is slit there, has its two ends at the slit.
    """
    points = vertices[np.append(start[half], end[half[-1]])]
    window = min(CORNER_WINDOW, mesh.polyline_length(points) / 10)
    if not ring:
        return np.split(half, mesh.corners(points, window, CORNER)), False
    # Walk the ring one and a half times so that its seamless start is looked at too.
    half = np.roll(half, -int(np.argmin(start[half])))
    n = len(half)
    thrice = vertices[start[np.concatenate([half, half, half, half[:1]])]]
    found = mesh.corners(thrice, window, CORNER)
    found = np.unique(found[(found >= n) & (found < 2 * n)] - n)
    if len(found) == 0:
        return [half], True
    return _split_ring(half, (found - 1) % n), False


def _assemble(sculpt, opened, source, region_of, loops, runs, run_of, fairing) -> Cut:
    start, end, _ = mesh.half_edges(sculpt.faces)
    curve = {run.seam: np.append(start[run.half], end[run.half[-1]])
             for run in runs if run.seam >= 0 and run.forward}
    join = joins(sculpt)
    held = {run.seam: int(join[run.half[0]]) for run in runs if run.seam >= 0 and run.forward}
    smooth = mesh.edge_keys(sculpt.edges[(sculpt.kinds & SMOOTH) != 0], len(sculpt.vertices))
    key = mesh.edge_keys(np.stack([start, end], axis=1), len(sculpt.vertices))
    faired = {run.seam: _faired(sculpt.vertices[curve[run.seam]], run.ring, fairing,
                                np.isin(key[run.half], smooth))
              for run in runs if run.seam >= 0 and run.forward}
    loops_of: dict[int, list[np.ndarray]] = {}
    for loop in loops:
        loops_of.setdefault(int(region_of[loop[0] // 3]), []).append(loop)
    edge_marks = [(kind, mesh.edge_keys(marked(sculpt, kind), len(sculpt.vertices)))
                  for kind in (TRENCH, SCORE)]
    by_region = np.argsort(region_of, kind="stable")
    bounds = np.searchsorted(region_of[by_region], np.arange(len(loops_of) + 1))
    sides: dict[int, list] = {}
    regions = []
    for r in range(len(loops_of)):
        face_ids = by_region[bounds[r]:bounds[r + 1]]
        used, local = np.unique(opened[face_ids], return_inverse=True)
        faces = local.reshape(-1, 3)
        borders, rings = [], []
        for loop in sorted(loops_of[r], key=lambda loop: -_length(sculpt, loop)):
            ring = []
            starts = [h for h in loop if runs[run_of[h]].half[0] == h]
            for h in starts:
                run = runs[run_of[h]]
                ring.append(len(borders))
                if run.seam >= 0:
                    sides.setdefault(run.seam, [None, None])[0 if run.forward else 1] = (
                        r, len(borders))
                corner = opened.ravel()[np.append(run.half, mesh.after(run.half[-1]))]
                half = 3 * np.searchsorted(face_ids, run.half // 3) + run.half % 3
                smooth = faired.get(run.seam, ())
                borders.append(Border(np.searchsorted(used, corner), half, run.seam, run.forward,
                                      smooth if run.forward else smooth[::-1]))
            rings.append(tuple(ring))
        lines = tuple(
            line for kind, keys in edge_marks
            for line in _lines(sculpt.faces, faces, face_ids, keys, len(sculpt.vertices), kind,
                               sculpt.vertices[source[used]], fairing, smooth))
        trenches = [np.stack([ln.vertices[:-1], ln.vertices[1:]], axis=1)
                    for ln in lines if ln.kind == TRENCH]
        leaf, _ = mesh.cut_along(faces, np.concatenate(trenches or [np.empty((0, 2), int)]),
                                 len(used))
        regions.append(Region(
            vertices=sculpt.vertices[source[used]], faces=faces, source_vertex=source[used],
            source_face=sculpt.origin[face_ids], leaf=leaf,
            object=int(sculpt.face_object[face_ids[0]]), borders=tuple(borders),
            loops=tuple(rings), lines=lines, polygon=sculpt.polygon[face_ids],
            parent=sculpt.parent[face_ids] if len(sculpt.parent) else ()))
    return Cut(tuple(regions),
               tuple(Seam(curve[s], tuple(sides[s]), JOINS[join_numbers(held[s])],
                          Finish.of(finish_numbers(held[s]))) for s in range(len(curve))),
               uncut(sculpt))


def uncut(sculpt: Sculpt) -> Uncut | None:
    """The surface without the lines across its faces, open along all other marks: those of its
    edges that a mark follows for more than half. None where it has no such lines."""
    if not len(sculpt.parent):
        return None
    count = len(sculpt.vertices)
    edges, beside = mesh.edge_faces(sculpt.faces)
    marks = mesh.edge_keys(marked(sculpt, SEAM | TRENCH), count)
    along = np.isin(mesh.edge_keys(edges, count), marks)
    one, two = sculpt.parent[beside[along]].T
    size = lambda a, b: np.linalg.norm(sculpt.vertices[b] - sculpt.vertices[a], axis=1)  # noqa: E731
    start, end, _ = mesh.half_edges(sculpt.uncut)
    twin = mesh.twins(sculpt.uncut)
    face = np.arange(len(twin)) // 3
    pair = lambda a, b: np.minimum(a, b) * np.int64(len(face)) + np.maximum(a, b)  # noqa: E731
    between, which = np.unique(pair(one, two), return_inverse=True)
    followed = np.append(np.bincount(which.ravel(), size(*edges[along].T), len(between)), 0.0)
    mine = pair(face, face[twin])
    place = np.searchsorted(between, mine)
    on = np.append(between, -1)[place] == mine
    split = (twin >= 0) & on & (2 * followed[place] > size(start, end))
    faces, source = mesh.cut_along(
        sculpt.uncut, np.stack([start[split], end[split]], axis=1), count)
    return Uncut(sculpt.vertices[source], faces)


def _length(sculpt: Sculpt, loop: np.ndarray) -> float:
    corner = sculpt.faces.ravel()[loop]
    return mesh.polyline_length(sculpt.vertices[np.append(corner, corner[:1])])


def _faired(points: np.ndarray, ring: bool, fairing: float, smooth: np.ndarray) -> np.ndarray:
    """The smooth line (k, 3) of a run, a ring with its first point again; empty if it is that
    of the points. smooth (k-1,): which steps are smooth as they are."""
    still = np.append(smooth[-1:] & ring, smooth) | np.append(smooth, smooth[:1] & ring)
    if still.all():
        return np.empty((0, 3))
    line = points[:-1] if ring else points
    faired = fair(line, ring, fairing, still[:len(line)])
    if np.array_equal(faired, line):
        return np.empty((0, 3))
    return np.append(faired, faired[:1], axis=0) if ring else faired


def _lines(all_faces, faces, face_ids, keys, count, kind, vertices, fairing, smooth
           ) -> list[Line]:
    """Marked edges of one kind inside a region, as polylines split at their corners."""
    part = all_faces[face_ids]
    key = mesh.edge_keys(np.stack([part.ravel(), np.roll(part, -1, axis=1).ravel()], axis=1),
                         count)
    start, end, _ = mesh.half_edges(faces)
    twin = mesh.twins(faces)
    inner = np.flatnonzero(np.isin(key, keys) & (twin >= 0))
    half_of = dict(zip(zip(start[inner].tolist(), end[inner].tolist(), strict=True),
                       inner.tolist(), strict=True))
    found = []
    for path in mesh.chains(np.stack([start[inner], end[inner]], axis=1)):
        left = np.array([half_of[pair] for pair in zip(path.tolist(), path[1:].tolist(),
                                                       strict=False)])
        cuts = mesh.corners(vertices[path], CORNER_WINDOW, CORNER)
        ends = [0, *cuts.tolist(), len(path) - 1]
        ring = path[0] == path[-1] and len(cuts) == 0 and not len(
            mesh.corners(vertices[np.roll(path[:-1], len(path) // 2)], CORNER_WINDOW, CORNER))
        found += [Line(path[a:b + 1], left[a:b], twin[left[a:b]], kind,
                       _faired(vertices[path[a:b + 1]], ring, fairing,
                               np.isin(key[left[a:b]], smooth)))
                  for a, b in zip(ends, ends[1:], strict=False)]
    return found
