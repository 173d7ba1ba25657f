"""Notches: ticks across both edges of a mate that can be brought together in one way only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np

from .model import Mate, Notch, Piece, PieceEdge, Settings

CLEAR = 8.0  # mm at an edge's ends without a notch, or CLEAR_SHARE of a short one
CLEAR_SHARE = 0.15
SWAY = 0.7  # the widest gap between notches is this much more than the narrowest
TELL = 3.0  # mm by which gaps should differ to be told apart at the bench
TURNED, TURNED_SHARE = 10.0, 0.22  # mm, or share of a short seam: miss when turned round
ALIKE, ALIKE_SHARE = 3.0, 0.02  # mm and share of length by which seams of one length may differ
TRIES = 250
STILL = 0.05  # mm by which a seam of the same length may differ
GOLDEN, SILVER = 0.6180339887498949, 0.4142135623730951  # spread their multiples evenly


def add_notches(pieces: Sequence[Piece], mates: Sequence[Mate], settings: Settings
                ) -> tuple[Piece, ...]:
    """The pieces with their notches, about `settings.notch_spacing` mm apart.

    A notch stands at the same fraction of the seam on both mates, under the same
    index (from 1, along the seam). Mates that share a letter share their fractions,
    so one template serves all of them; their seams must run the same way. On one
    piece no gap between neighbouring notches is repeated under another letter, and
    seams of one length have their notches in other places. Where an earlier pattern had a
    letter on a seam of this length, its notches stay, unless others would be told apart better.
    """
    by_letter: dict[str, Mate] = {}
    touched = defaultdict(set)  # letter -> codes of the pieces that carry it
    for mate in mates:
        by_letter.setdefault(mate.letter, mate)
        touched[mate.letter].update(code for code, _ in mate.edges)
    edge_of = {p.code: p.edges for p in pieces}
    seen: dict[str, list[float]] = {p.code: [] for p in pieces}  # gaps already on each piece
    rows: dict[str, list[tuple]] = {p.code: [] for p in pieces}  # and their fractions, length
    fractions: dict[str, np.ndarray] = {}
    kept = _kept(by_letter, settings)
    for letter, mate in sorted(by_letter.items(), key=lambda item: item[0] not in kept):
        length = float(np.mean(mate.lengths))
        code, k = mate.edges[0]
        ring = bool(np.allclose(edge_of[code][k].cut[0], edge_of[code][k].cut[-1]))
        others = np.concatenate([seen[code] for code in sorted(touched[letter])])
        rivals = [row for code in sorted(touched[letter]) for row, other in rows[code]
                  if abs(other - length) < ALIKE + ALIKE_SHARE * length]
        fractions[letter] = notch_fractions(length, settings.notch_spacing, others, ring, rivals,
                                            kept.get(letter))
        gaps = np.diff(fractions[letter]) * length
        for code in touched[letter]:
            seen[code].extend(gaps)
            rows[code].append((fractions[letter], length))
    return tuple(replace(piece, notches=tuple(
        notch for edge in piece.edges if edge.mate
        for notch in _notches(edge, fractions[edge.letter]))) for piece in pieces)


def _kept(mates: Mapping[str, Mate], settings: Settings) -> dict[str, np.ndarray]:
    """The fractions of the earlier pattern's notches by letter, where seams are as they were."""
    printed = settings.printed
    if printed is None or printed.notch_spacing != settings.notch_spacing:
        return {}
    return {mate.letter: mate.notches for mate in printed.mates if mate.letter in mates and abs(
        float(np.mean(mates[mate.letter].lengths)) - mate.length) <= STILL}


def notch_fractions(length: float, spacing: float, others: Sequence[float] = (),
                    ring: bool = False, rivals: Sequence[np.ndarray] = (),
                    earlier: np.ndarray | None = None) -> np.ndarray:
    """Rising fractions (k,) of a seam of `length` mm at which its notches stand.

    About `spacing` mm apart, at least one, at least three on a closed seam (ring), which
    has no ends to start from. Of TRIES uneven rows the first is taken that can be told
    from itself turned round or shifted, whose gaps differ from `others` (mm, on the same
    pieces) by TELL and a notch of which misses those of `rivals` (fractions of seams of
    this length) by as much, else the best. earlier: a row to try before all of them.
    """
    clear = min(CLEAR, CLEAR_SHARE * length) / length
    count = max(3 if ring else 1, round((1 - 2 * clear) * length / spacing))
    alike = _both_ways(rivals)
    best, most = None, -1.0
    rows = (_row(count, clear, number) for number in range(TRIES))
    for row in rows if earlier is None else chain([earlier], rows):
        worth = _distinct(row, length, np.asarray(others, dtype=float), ring, alike)
        if worth > most + 1e-9:
            best, most = row, worth
        if most >= TELL:
            break
    return best


def _row(count: int, clear: float, number: int) -> np.ndarray:
    """The number-th uneven row of notches, fractions (count,)."""
    stride = (number + 1) * GOLDEN % 1.0
    gaps = 1.0 + SWAY * ((np.arange(count + 1) * stride + number * SILVER) % 1.0)
    # One end is wider, so that a lone notch does not lie in the middle.
    gaps[-1 if number % 2 else 0] += 0.5 if count > 1 else 1.5
    return clear + (1 - 2 * clear) * np.cumsum(gaps)[:-1] / gaps.sum()


def _both_ways(rivals: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Rows of fractions, and the same turned round, as one array (r, k) for each number k."""
    by_count = defaultdict(list)
    for rival in rivals:
        by_count[len(rival)] += [rival, 1 - rival]
    return [np.unique(rows, axis=0) for rows in by_count.values()]


def _distinct(row: np.ndarray, length: float, others: np.ndarray, ring: bool,
              rivals: Sequence[np.ndarray]) -> float:
    """How well a row can be told from itself and others, mm, at most TELL.

    The least of: the largest miss of a notch when one edge is turned round (shifted as
    well it misses by half of that, and the ends by the other half); the least
    difference of any two distances within the row (a shifted row would match two
    notches where distances repeat); of neighbours' distances from others; the largest
    miss beside each rival (see `_both_ways`); on a ring, beside itself turned. Short rows
    cannot do better than a share of their length.
    """
    turned = _miss(row, 1 - row) * length
    scale = min(1.0, length / 40.0)
    measures = [turned * TELL / min(TURNED, TURNED_SHARE * length) * scale]
    first, second = np.triu_indices(len(row), k=1)
    distances = np.sort((row[second] - row[first]) * length)
    if len(distances) > 1:
        # Many notches have many distances: ask only for what fits into the seam.
        room = min(TELL, length / len(distances) / 4)
        measures.append(np.diff(distances).min() * TELL / room)
        gaps = np.sort(np.diff(row)) * length
        measures.append(np.diff(gaps).min() if len(gaps) > 1 else TELL)
    if len(row) > 1 and len(others):
        measures.append(np.abs(np.diff(row)[:, None] * length - others).min())
    for rows in rivals:
        apart = np.abs(row[None, :, None] - rows[:, None, :])
        miss = np.maximum(apart.min(axis=2).max(axis=1), apart.min(axis=1).max(axis=1))
        measures.append(miss.min() * length)
    if ring:
        measures.append(_ring_miss(row) * length)
    return float(min(min(measures) / scale, TELL))


def _miss(row: np.ndarray, other: np.ndarray) -> float:
    """The farthest that a notch of a row lies from the nearest of another."""
    return float(np.abs(row[:, None] - other[None, :]).min(axis=1).max())


def _ring_miss(row: np.ndarray) -> float:
    """The least that a notch of a ring misses when one edge is put on the wrong way round,
    turned as it fits best."""
    turns = np.linspace(0.0, 1.0, 200, endpoint=False)
    apart = row[None, :, None] - (turns[:, None, None] - row)
    apart = np.abs((apart + 0.5) % 1.0 - 0.5)
    return float(np.maximum(apart.min(axis=1).max(axis=1), apart.min(axis=2).max(axis=1)).min())


def _notches(edge: PieceEdge, fractions: np.ndarray) -> list[Notch]:
    """The notches of one edge, in the seam's order whichever way the edge runs."""
    falling = edge.fraction[0] > edge.fraction[-1]
    order = slice(None, None, -1) if falling else slice(None)
    known, line = edge.fraction[order], edge.cut[order]
    steps = np.hypot(*np.diff(line, axis=0).T)
    step = 1.5 / max(steps.sum(), 3.0)  # the tick stands square on a chord of 3 mm

    def at(places):
        return np.stack([np.interp(places, known, x) for x in line.T], axis=1)

    along = (at(fractions + step) - at(fractions - step)) * (-1 if falling else 1)
    along /= np.linalg.norm(along, axis=1)[:, None]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    return [Notch(p, n, edge.letter, k + 1)
            for k, (p, n) in enumerate(zip(at(fractions), inward, strict=True))]
