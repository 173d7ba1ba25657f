"""Marks that a remesh has smeared: lines in shreds, with stubs, and bands of edges.

A tool that makes a mesh anew carries marks over to the nearest edges. A line then breaks into
shreds, throws out stubs at its sides, and doubles, so that it closes round single faces. All
three are told from what a maker marks on purpose by their size and by their number beside the
length of the line.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from . import mesh
from .errors import ERROR, WARNING, Finding
from .model import SCORE, SEAM, TRENCH, Sculpt

# Chosen on parts of the example suit, remeshed by voxels of 3 to 20 mm and by quads: 0.29 to 0.66
# flaws a seam edge, against none in the suit itself or halved by Decimate.
SHORT = 2  # edges of a stub or a shred; a dart on a mesh fit to be formed has more
STUB = 20.0  # mm; a longer cut of one or two edges is a dart on a coarse mesh
SMALL = 12.0  # mm, mean side of a face; larger ones may be marked all round on purpose
FEWEST = 8  # flaws of one kind of marks on one object
TELLING = 4  # of them shreds or faces: stubs alone may be short relief cuts
SHARE = 0.2  # of flaws beside marked edges

_NAMES = {SEAM: "seams", TRENCH: "trenches", SCORE: "score lines"}


def find(sculpt: Sculpt, rim: np.ndarray) -> Iterator[Finding]:
    """`smeared-marks` for each object and kind of mark; rim (n,): vertices at the end of the
    surface. Its edges are those of the flaws.

    For seams it is fatal: cut along them, the sculpt would fall into scraps.
    """
    object_of = np.full(len(sculpt.vertices), -1)
    object_of[sculpt.faces] = sculpt.face_object[:, None]
    there = (object_of[sculpt.edges] >= 0).all(axis=1)
    for kind in (SEAM, TRENCH, SCORE):
        marked = sculpt.edges[there & ((sculpt.kinds & kind) != 0)]
        for number in np.unique(object_of[marked[:, 0]]):
            edges = np.unique(marked[object_of[marked[:, 0]] == number], axis=0)
            if len(edges) < FEWEST:
                continue
            stubs, shreds = _loose(sculpt.vertices, edges, rim)
            faces, around = _faces(sculpt, edges)
            if kind != SEAM:
                shreds = []  # short lines that meet nothing may be ornament
            flaws = len(stubs) + len(shreds) + faces
            if (flaws >= max(FEWEST, SHARE * len(edges)) and len(shreds) + faces >= TELLING):
                yield _finding(sculpt.objects[number].name, kind, len(stubs) + len(shreds),
                               faces, np.concatenate([*stubs, *shreds, around]))


def _finding(name: str, kind: int, ends: int, faces: int, edges: np.ndarray) -> Finding:
    what = [f"{ends} stubs and shreds"] * (ends > 0) + [
        f"{faces} {'face' if faces == 1 else 'faces'} marked all round"] * (faces > 0)
    return Finding(
        "smeared-marks", ERROR if kind == SEAM else WARNING,
        f"The {_NAMES[kind]} of “{name}” are smeared, as a remesh leaves them: "
        f"{' and '.join(what)}.",
        "Lay the kept lines on the sculpt again. Where none were kept, clear these marks and mark "
        "the lines anew.", edges=np.unique(np.sort(edges, axis=1), axis=0))


def _loose(vertices: np.ndarray, edges: np.ndarray,
           rim: np.ndarray) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Stubs, which hang on a line by one end, and shreds, which hang on nothing; as edges.

    What starts from the rim is neither: relief cuts do.
    """
    met = np.bincount(edges.ravel(), minlength=len(vertices))
    free = (met == 1) & ~rim
    stubs, shreds = [], []
    for path in mesh.chains(edges):
        if len(path) - 1 > SHORT or path[0] == path[-1]:
            continue
        loose = int(free[path[0]]) + int(free[path[-1]])
        sides = np.stack([path[:-1], path[1:]], axis=1)
        if loose == 2:
            shreds.append(sides)
        elif loose == 1 and max(met[path[0]], met[path[-1]]) > 1:
            if mesh.polyline_length(vertices[path]) <= STUB:
                stubs.append(sides)
    return stubs, shreds


def _faces(sculpt: Sculpt, edges: np.ndarray) -> tuple[int, np.ndarray]:
    """How many of the maker's small faces are marked all round, and their sides (k, 2).

    A part of the surface whose every face is so was meant to be: a cut gem, say.
    """
    count = len(sculpt.vertices)
    touched = np.isin(sculpt.polygon, np.unique(sculpt.polygon[
        np.isin(sculpt.faces, edges).sum(axis=1) >= 2]))
    faces, polygon = sculpt.faces[touched], sculpt.polygon[touched]
    ends = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    owner = np.repeat(polygon, 3)
    keys = mesh.edge_keys(ends, count)
    # A side that two triangles of one polygon share is a diagonal, no edge of the maker's.
    order = np.lexsort((keys, owner))
    twice = np.flatnonzero((np.diff(keys[order]) == 0) & (np.diff(owner[order]) == 0))
    real = np.ones(len(keys), dtype=bool)
    real[order[twice]] = real[order[twice + 1]] = False
    keys, ends, owner = keys[real], ends[real], owner[real]
    size = len(sculpt.faces) and int(sculpt.polygon.max()) + 1
    sides = np.bincount(owner, minlength=size)
    marked = np.bincount(owner, np.isin(keys, mesh.edge_keys(edges, count)), size)
    length = np.bincount(owner, np.linalg.norm(
        sculpt.vertices[ends[:, 0]] - sculpt.vertices[ends[:, 1]], axis=1), size)
    full = (sides > 0) & (marked == sides) & (length <= SMALL * sides)
    full[_wholly(sculpt, full)] = False
    return int(full.sum()), ends[full[owner]]


def _wholly(sculpt: Sculpt, full: np.ndarray) -> np.ndarray:
    """Polygons of the parts of the surface in which every polygon is full."""
    if not full.any():
        return np.empty(0, dtype=np.int64)
    links = np.concatenate([sculpt.faces[:, :2], sculpt.faces[:, 1:]])
    number, part = mesh.components(len(sculpt.vertices), links)
    part = part[sculpt.faces[:, 0]]
    some = np.bincount(part, ~full[sculpt.polygon], number) > 0
    return np.unique(sculpt.polygon[~some[part]])
