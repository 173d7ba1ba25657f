"""Marks that a remesh has smeared: lines in shreds, with stubs, and doubled into ladders.

A tool that makes a mesh anew carries marks over to the nearest edges. A line then breaks into
shreds, throws out stubs at its sides, and runs twice or three times beside itself, with rungs
between. All three are told from what a maker marks on purpose by their size, and by their number
beside the lines that are whole.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from . import mesh
from .errors import ERROR, WARNING, Finding
from .model import SCORE, SEAM, TRENCH, Sculpt

# Chosen on parts of the example suit, remeshed by voxels of 3 to 20 mm and by quads: 0.6 and more
# of their seams' runs are flaws, against none in the suit itself or thinned out by Decimate.
SHORT = 2  # edges of a stub or a shred; a dart on a mesh fit to be formed has more
STUB = 20.0  # mm; a longer cut of one or two edges is a dart on a coarse mesh
TINY = 8.0  # mm; shorter than any dart
RUNG = {SEAM: 16.0, TRENCH: 8.0, SCORE: 8.0}  # mm; a piece with such sides is no piece of foam
FEWEST = 8  # flaws of one kind of marks on one object
TELLING = 4  # shreds, and loops that rungs make: stubs and short runs may be relief cuts
SHARE = 0.3  # of flaws among all runs of marks from one end or junction to the next
MEANT = 0.5  # of the edges of a part of the surface: so many are marked on purpose

_NAMES = {SEAM: "seams", TRENCH: "trenches", SCORE: "score lines"}


def find(sculpt: Sculpt, rim: np.ndarray) -> Iterator[Finding]:
    """`smeared-marks` for each object and kind of mark; rim (n,): vertices at the end of the
    surface. Its edges are those of the flaws.

    For seams it is fatal: cut along them, the sculpt would fall into scraps.
    """
    object_of = np.full(len(sculpt.vertices), -1)
    object_of[sculpt.faces] = sculpt.face_object[:, None]
    there = (object_of[sculpt.edges] >= 0).all(axis=1)
    parts: list[_Parts] = []
    for kind in (SEAM, TRENCH, SCORE):
        marked = sculpt.edges[there & ((sculpt.kinds & kind) != 0)]
        for number in np.unique(object_of[marked[:, 0]]):
            edges = np.unique(marked[object_of[marked[:, 0]] == number], axis=0)
            runs = mesh.chains(edges)
            stubs, shreds, rungs = _flaws(sculpt.vertices, edges, runs, rim, RUNG[kind])
            if kind != SEAM:
                shreds = []  # short lines that meet nothing may be ornament
            rungs, loops = _ladders(rungs)
            if len(shreds) + loops < TELLING:
                continue
            parts = parts or [_Parts(sculpt)]
            rungs, loops = _ladders(parts[0].not_marked_all_over(rungs, edges))
            flaws = len(stubs) + len(shreds) + len(rungs)
            if len(shreds) + loops >= TELLING and flaws >= max(FEWEST, SHARE * len(runs)):
                yield _finding(sculpt.objects[number].name, kind, len(stubs) + len(shreds),
                               len(rungs), [*stubs, *shreds, *rungs])


def _finding(name: str, kind: int, ends: int, rungs: int, flaws: list[np.ndarray]) -> Finding:
    what = [f"{ends} stray ends"] * (ends > 0) + [
        f"{rungs} short lines between doubled ones"] * (rungs > 0)
    return Finding(
        "smeared-marks", ERROR if kind == SEAM else WARNING,
        f"The {_NAMES[kind]} of “{name}” are smeared, as a remesh leaves them: "
        f"{' and '.join(what)}.",
        "Lay the kept lines on the sculpt again. Where none were kept, clear these marks and mark "
        "the lines anew.",
        edges=np.sort(np.concatenate([np.stack([run[:-1], run[1:]], axis=1) for run in flaws])))


def _flaws(vertices: np.ndarray, edges: np.ndarray, runs: list[np.ndarray], rim: np.ndarray,
           rung: float) -> tuple[list[np.ndarray], list[np.ndarray], list[np.ndarray]]:
    """Runs that are stubs, which hang on a junction by one end, shreds, which hang on nothing,
    and rungs, which lead from junction to junction.

    What starts from the rim is none of them: relief cuts do.
    """
    met = np.bincount(edges.ravel(), minlength=len(vertices))
    free, junction = (met == 1) & ~rim, met > 2
    stubs, shreds, rungs = [], [], []
    for run in runs:
        ends = run[[0, -1]]
        length = mesh.polyline_length(vertices[run])
        short = len(run) - 1 <= SHORT
        if free[ends].all() and (short or length <= TINY):
            shreds.append(run)
        elif free[ends].any() and junction[ends].any() and (
                length <= (STUB if short else TINY)):
            stubs.append(run)
        elif junction[ends].all() and length <= rung:
            rungs.append(run)
    return stubs, shreds, rungs


def _ladders(rungs: list[np.ndarray]) -> tuple[list[np.ndarray], int]:
    """The rungs that hang together in loops, and how many loops: those of a line with side
    lines close together make none."""
    if not rungs:
        return [], 0
    ends, links = np.unique([run[[0, -1]] for run in rungs], return_inverse=True)
    links = links.reshape(-1, 2)
    number, group = mesh.components(len(ends), links)
    mine = group[links[:, 0]]
    # Euler: as many independent loops as edges less vertices plus one, in each group.
    loops = np.bincount(mine, minlength=number) - np.bincount(group, minlength=number) + 1
    return [run for run, g in zip(rungs, mine, strict=True) if loops[g]], int(loops.sum())


class _Parts:
    """The connected parts of a surface: that of each vertex (n,), and how many edges each has."""

    def __init__(self, sculpt: Sculpt):
        count = len(sculpt.vertices)
        sides = np.concatenate([sculpt.faces[:, [i, (i + 1) % 3]] for i in range(3)])
        keys = np.unique(mesh.edge_keys(sides, count))
        number, self.part = mesh.components(count, np.stack([keys // count, keys % count], axis=1))
        self.edges = np.bincount(self.part[keys // count], minlength=number)

    def not_marked_all_over(self, runs: list[np.ndarray], edges: np.ndarray) -> list[np.ndarray]:
        """Those of the runs that lie on no part most of whose edges are marked, as on a cut gem."""
        marked = np.bincount(self.part[edges[:, 0]], minlength=len(self.edges))
        over = marked >= MEANT * self.edges
        return [run for run in runs if not over[self.part[run[0]]]]
