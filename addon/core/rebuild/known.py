"""What else is in hand beside the pieces: tapes across rims, and gauges of how they bend."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import scipy.sparse as sp

from .. import mesh
from ..locate import locate
from ..model import Gauge, Pattern
from .assembly import Assembly
from .holding import Measures
from .shell import Shell

POINTS = 9  # of each gauge, between all of which distances are known


def measures(pattern: Pattern, assembly: Assembly) -> Measures:
    """Widths across open rims, and chords of the gauges' curves."""
    rows = [*_tapes(pattern, assembly), *_chords(pattern, assembly)]
    count = len(assembly.flat)
    if not rows:
        return Measures.none(count)
    first, second, depth, lengths = zip(*rows, strict=True)
    return Measures(_weights(first, count), _weights(second, count), np.array(depth),
                    np.array(lengths))


def _weights(places, count: int) -> sp.csr_matrix:
    vertices, weights = zip(*places, strict=True)
    row = np.repeat(np.arange(len(vertices)), [len(v) for v in vertices])
    return sp.csr_matrix((np.concatenate(weights), (row, np.concatenate(vertices))),
                         shape=(len(vertices), count))


def _tapes(pattern: Pattern, assembly: Assembly):
    number = {piece.code: p for p, piece in enumerate(pattern.pieces)}
    for tape in pattern.tapes:
        if all(code in number for code, *_ in tape.ends):
            one, other = (_on_edge(assembly, number[code], edge, at)
                          for code, edge, at in tape.ends)
            yield one, other, [assembly.lift[p[0][0]] for p in (one, other)], tape.length


def _on_edge(assembly: Assembly, p: int, e: int, at: float) -> tuple[np.ndarray, np.ndarray]:
    halves, places = assembly.edges[p][e]
    if places[0] > places[-1]:
        halves, places = halves[::-1, ::-1], places[::-1]
    k = int(np.clip(np.searchsorted(places, at) - 1, 0, len(halves) - 1))
    share = np.clip((at - places[k]) / (places[k + 1] - places[k]), 0.0, 1.0)
    return halves[k], np.array([1 - share, share])


def _chords(pattern: Pattern, assembly: Assembly):
    for p, piece in enumerate(pattern.pieces):
        own = np.flatnonzero(assembly.of_face == p)
        for gauge in piece.gauges:
            chosen = np.unique(np.linspace(0, len(gauge.profile) - 1, POINTS).astype(int))
            share = chosen / (len(gauge.profile) - 1)
            points = gauge.line[0] + share[:, None] * (gauge.line[1] - gauge.line[0])
            face, weight = locate(assembly.flat, assembly.faces[own], points)
            corner = assembly.faces[own[face]]
            inner = -piece.stock.thickness / 2
            at = gauge.profile[chosen]
            for i, j in combinations(range(len(chosen)), 2):
                yield ((corner[i], weight[i]), (corner[j], weight[j]), (inner, inner),
                       float(np.linalg.norm(at[i] - at[j])))


def mould(pattern: Pattern, assembly: Assembly, shell: Shell) -> np.ndarray:
    """Angle (h,) by which each hinge bends, beside its own fold, as the gauges say.

    A hinge across a direction c stands for c . S c times the width of foam beside it, S being
    the sum of k d d^T over the gauges of the piece there, with d the direction and k the
    curvature of each at the place of it that is nearest.
    """
    angle, hinge = np.zeros(len(assembly.hinge)), assembly.hinge
    for ends, high in ((hinge[:, [0, 1]], shell.high_left), (hinge[:, [4, 3]], shell.high_right)):
        start, end = (assembly.flat[ends[:, k]] for k in (0, 1))
        along = (end - start) / np.maximum(np.linalg.norm(end - start, axis=1), 1e-12)[:, None]
        across = np.stack([along[:, 1], -along[:, 0]], axis=1)
        for p, piece in enumerate(pattern.pieces):
            own = assembly.of_vertex[ends[:, 0]] == p
            for gauge in piece.gauges:
                length = np.linalg.norm(gauge.line[1] - gauge.line[0])
                direction = (gauge.line[1] - gauge.line[0]) / length
                at = ((start[own] + end[own]) / 2 - gauge.line[0]) @ direction
                turning = (across[own] @ direction) ** 2 * _curvature(gauge, at / length)
                angle[own] += turning * high[own] / 3
    return angle


def _curvature(gauge: Gauge, share: np.ndarray) -> np.ndarray:
    """How much a gauge's curve turns per mm of the flat, at shares (k,) of it."""
    step = np.diff(gauge.profile, axis=0)
    heading = -np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    count = len(heading)
    window = max(1, count // 8)
    smooth = np.convolve(np.pad(heading, window, mode="reflect", reflect_type="odd"),
                         np.ones(2 * window + 1) / (2 * window + 1), mode="valid")
    length = mesh.polyline_length(gauge.line)
    turning = np.gradient(smooth) * count / length
    return np.interp(np.clip(share, 0, 1) * count - 0.5, np.arange(count), turning)
