"""Tape measures across open rims: how wide an opening must be held while its parts set.

Pieces that are glued to a shell with an open rim bend freely there; a few widths across the
rim, taken on the sculpt, say how far.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from . import mesh
from .locate import locate
from .model import Mate, Piece, Tape

TOUCH = 1.0  # mm: ends of rims nearer than this are one
EVERY = 80.0  # mm of rim for each place of measure
FEWEST, MOST = 8, 20  # places round a rim
LEAST = 30.0  # mm below which nothing is measured


def tapes(pieces: Sequence[Piece], mates: Sequence[Mate]) -> tuple[Tape, ...]:
    """Measures across every open rim, between places half of it apart, by name; none of pieces
    that lie flat by themselves."""
    glued = {side for mate in mates for side in mate.edges}
    joined = {code for code, _ in glued}
    runs = []
    for p, piece in enumerate(pieces):
        if piece.verdict.kind == "flat" and not piece.folds and piece.code not in joined:
            continue
        free = [e for e in range(len(piece.edges)) if (piece.code, e) not in glued]
        runs += [(p, e, run) for e, run in zip(free, _solid(piece, free), strict=True)]
    found = []
    for rim in _rims([run for *_, run in runs]):
        found += _across(pieces, _begun(pieces, [runs[k] for k in rim]))
    return tuple(replace(tape, name=f"T{number}") for number, tape in enumerate(found, 1))


def _solid(piece: Piece, edges: Sequence[int]) -> list[np.ndarray]:
    """Where the points (k, 3) of edges of a piece lie on the sculpt."""
    if not edges:
        return []
    lines = [piece.edges[e].points for e in edges]
    face, weight = locate(piece.flat, piece.faces, np.concatenate(lines))
    solid = np.einsum("ki,kij->kj", weight, piece.vertices[piece.faces[face]])
    return np.split(solid, np.cumsum([len(line) for line in lines])[:-1])


def _rims(runs: Sequence[np.ndarray]) -> list[list[int]]:
    """Runs (k, 3) in the order in which they follow one another round each rim."""
    left, rims = list(range(len(runs))), []
    while left:
        rim = [left.pop(0)]
        while left and np.linalg.norm(runs[rim[-1]][-1] - runs[rim[0]][0]) > TOUCH:
            end = runs[rim[-1]][-1]
            near = min(left, key=lambda k: np.linalg.norm(runs[k][0] - end))
            if np.linalg.norm(runs[near][0] - end) > TOUCH:
                break  # goes on along foam that is not glued here: told by what is known of it
            left.remove(near)
            rim.append(near)
        rims.append(rim)
    return rims


def _begun(pieces: Sequence[Piece], rim: list[tuple[int, int, np.ndarray]]
           ) -> list[tuple[int, int, np.ndarray]]:
    """A closed rim, begun where equal and mirrored parts would begin theirs, so that the places
    agree on the templates that they share."""
    if np.linalg.norm(rim[-1][2][-1] - rim[0][2][0]) > TOUCH:
        return rim
    told = [(pieces[p].template, round(mesh.polyline_length(run))) for p, _, run in rim]
    first = min(range(len(rim)), key=lambda k: sorted((told[k - 1], told[k])))
    return rim[first:] + rim[:first]


def _across(pieces: Sequence[Piece], rim: Sequence[tuple[int, int, np.ndarray]]) -> list[Tape]:
    arcs = [mesh.arc_length(run) for *_, run in rim]
    start = np.cumsum([0.0, *(arc[-1] for arc in arcs)])
    count = 2 * (int(np.clip(start[-1] / EVERY, FEWEST, MOST)) // 2)
    places, points = [], []
    for at in (np.arange(count) + 0.5) / count * start[-1]:
        k = min(int(np.searchsorted(start, at, side="right")) - 1, len(rim) - 1)
        p, e, run = rim[k]
        along = at - start[k]
        share = np.interp(along, arcs[k], pieces[p].edges[e].fraction)
        places.append((pieces[p].code, e, float(share)))
        points.append([np.interp(along, arcs[k], x) for x in run.T])
    half = count // 2
    width = np.linalg.norm(np.array(points[:half]) - points[half:], axis=1)
    return [Tape((places[k], places[k + half]), float(w)) for k, w in enumerate(width)
            if w > LEAST]
