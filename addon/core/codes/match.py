"""Which pieces and seams of a cut were there before, found by where they lie on the sculpt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..fair import curve
from ..model import Cut, Printed, PrintedPiece, Region
from . import turn
from .place import Ground

STEPS = 16  # of a seam's curve
OFF, OFF_SHARE = 5.0, 0.15  # mm and share of its length that a seam between the same pieces moves
CLEARLY = 0.1  # of one piece that must fit better where an object is taken to have moved
COINCIDE, COINCIDE_SHARE = 1.0, 0.01  # the same of one that has only one piece in common


@dataclass(frozen=True, eq=False)
class Found:
    """For each region of a cut the earlier piece it is, and for each seam the earlier mate, as
    indices or -1; and the cut, in which those seams run as they did."""

    cut: Cut
    pieces: list[int]
    mates: list[int]


def find(cut: Cut, names: Sequence[str], printed: Printed, scale: float) -> Found:
    """names: of each region's object. scale: by which the sculpt was enlarged."""
    ground = Ground(cut.regions, names, scale)
    printed = turn.follow(printed, ground)
    pieces = _pieces(ground, printed.pieces)
    mates, cut = _mates(cut, pieces, printed, ground, scale)
    return Found(cut, pieces, mates)


# --- pieces ------------------------------------------------------------------


def _pieces(ground: Ground, printed: Sequence[PrintedPiece]) -> list[int]:
    shares = ground.alike(printed)
    for name in sorted({piece.object for piece in printed} & set(ground.names)):
        # The object as a whole may have been moved, or have grown.
        rows = [i for i, piece in enumerate(printed) if piece.object == name]
        own = ground.names == name
        moved = ground.alike(turn.shifted([printed[i] for i in rows], ground, own)) * own
        if moved.max(axis=1).sum() > shares[rows].max(axis=1).sum() + CLEARLY:
            shares[rows] = moved
    of = [-1] * shares.shape[1]
    for flat in np.argsort(-shares, axis=None, kind="stable"):
        piece, region = divmod(int(flat), shares.shape[1])
        if shares[piece, region] <= 0:
            break
        if of[region] < 0 and piece not in of:
            of[region] = piece
    return of


# --- seams -------------------------------------------------------------------


def _mates(cut: Cut, pieces: list[int], printed: Printed, ground: Ground, scale: float
           ) -> tuple[list[int], Cut]:
    """The earlier mate of each seam, and the cut with those seams run as they did."""
    of = [-1] * len(cut.seams)
    rank = []
    moved = {printed.pieces[i].code: ground.middle[r] - printed.pieces[i].middle
             for r, i in enumerate(pieces) if i >= 0}
    curves = [_curve(cut, s) / scale for s in range(len(cut.seams))]
    for s, seam in enumerate(cut.seams):
        own = sorted(printed.pieces[i].code if (i := pieces[r]) >= 0 else ""
                     for r, _ in seam.sides)
        for m, mate in enumerate(printed.mates):
            common = sorted(set(own) & set(mate.pieces))
            both = own == sorted(mate.pieces)
            if not common or mate.closed != _closed(curves[s]):
                continue
            distance = min(_way(curves[s], mate.closed, mate.curve + step)[0] for step in (
                0.0, np.mean([moved[code] for code in common], axis=0)))
            length = mesh.polyline_length(mate.curve)
            if distance <= (OFF + OFF_SHARE * length if both
                            else COINCIDE + COINCIDE_SHARE * length):
                rank.append((not both, distance, s, m))
    for _, _, s, m in sorted(rank):
        if of[s] < 0 and m not in of:
            of[s] = m
    regions, seams = list(cut.regions), list(cut.seams)
    for s, m in enumerate(of):
        if m >= 0:
            mate = printed.mates[m]
            step = np.mean([moved[code] for code in mate.pieces if code in moved], axis=0)
            _, backward, start = min(_way(curves[s], mate.closed, mate.curve + shift)
                                     for shift in (0.0, step))
            _run(regions, seams, s, backward, start)
    return of, replace(cut, regions=tuple(regions), seams=tuple(seams))


def seam_curve(points: np.ndarray) -> np.ndarray:
    """A curve (k, 3) at STEPS + 1 equal steps along it."""
    return _at(points, np.linspace(0.0, 1.0, STEPS + 1))


def _at(points: np.ndarray, fraction: np.ndarray) -> np.ndarray:
    along = mesh.arc_length(points)
    return np.stack([np.interp(fraction * along[-1], along, x) for x in points.T], axis=1)


def _curve(cut: Cut, index: int) -> np.ndarray:
    """The curve (k, 3) of a seam in its own direction."""
    r, b = cut.seams[index].sides[0]
    border = cut.regions[r].borders[b]
    points = curve(cut.regions[r], border)
    return points if border.forward else points[::-1]


def _closed(points: np.ndarray) -> bool:
    return len(points) > 3 and bool(np.linalg.norm(points[0] - points[-1]) < 1e-6)


def _way(points: np.ndarray, closed: bool, earlier: np.ndarray) -> tuple[float, bool, int]:
    """Mean distance of a curve (k, 3) from an earlier one at equal steps, whether it runs
    against it, and, where it is closed, the point at which that begins."""
    start = 0
    if closed:
        start = int(np.argmin(np.linalg.norm(points[:-1] - earlier[0], axis=1)))
        points = np.concatenate([points[start:-1], points[:start + 1]])
    own = seam_curve(points)
    ahead, back = (float(np.linalg.norm(way - earlier, axis=1).mean())
                   for way in (own, own[::-1]))
    return min(ahead, back), back < ahead, start


def _run(regions: list[Region], seams: list, index: int, backward: bool, start: int) -> None:
    """Turn a seam of the lists round, or begin a closed one at another of its points."""
    seam = seams[index]
    vertices = seam.vertices
    if start:
        vertices = np.concatenate([vertices[start:-1], vertices[:start + 1]])
    if backward:
        vertices = vertices[::-1]
    sides = seam.sides[::-1] if backward else seam.sides
    for r, b in seam.sides:
        borders = list(regions[r].borders)
        border = borders[b]
        if start:
            first = start if border.forward else len(border.half) - start
            around = lambda x, k=first: np.concatenate([x[k:-1], x[:k + 1]])  # noqa: E731
            border = replace(border, vertices=around(border.vertices),
                             half=np.roll(border.half, -first),
                             faired=around(border.faired) if len(border.faired) else ())
        borders[b] = replace(border, forward=border.forward != backward)
        regions[r] = replace(regions[r], borders=tuple(borders))
    seams[index] = replace(seam, vertices=vertices, sides=sides)
