"""Bevels that no knife cuts: too steep, round a bend too tight, or twisting too fast."""

from __future__ import annotations

import math

import numpy as np

from .. import mesh
from ..errors import WARNING, Finding
from ..model import Border, Piece, PieceEdge, Region
from ..units import format_angle, format_length

STEEP = math.radians(60.0)  # a blade so flat tears the foam; common practice, no source
SLIGHT = math.radians(10.0)  # a bevel below this is cut almost square and follows any line
CORNER = math.radians(45.0)  # a line that turns by less in all is cut in two straight strokes
SHARP = 0.25  # thicknesses of radius below which a bend is a corner for a knife; common practice
TWIST = math.radians(30.0)  # per thickness, 3 degrees per mm in 10 mm foam; common practice
STEP = 0.05  # spacing, in thicknesses, at which a cut line is looked at


def steep_bevels(piece: Piece, region: Region) -> list[Finding]:
    """`steep-bevel`: edges that are bevelled by more than STEEP."""
    steep = [(border, edge) for border, edge in zip(region.borders, piece.edges, strict=True)
             if np.abs(edge.bevel).max() > STEEP]
    if not steep:
        return []
    path = np.concatenate([_edges(region, border) for border, _ in steep])
    worst = max(float(np.abs(edge.bevel).max()) for _, edge in steep)
    return [Finding(
        "steep-bevel", WARNING,
        f"An edge must be bevelled by up to {format_angle(worst)}; more than "
        f"{format_angle(STEEP)} is hard to cut.",
        "Move the seam, soften the fold, or glue a wedge of scrap into the joint.",
        edges=path, piece=piece.code)]


def tight_turns(piece: Piece, region: Region) -> list[Finding]:
    """`bevel-turns`: a bevel that would have to cut into itself round a bend.

    A bevel b takes t tan(b) from the cut line to the smaller face. The offset of a
    curve by more than its radius turns over (derived), so where the foam lies on the
    hollow side of a bend of smaller radius the smaller face has no outline.
    """
    found = []
    t = piece.stock.thickness
    for border, edge in zip(region.borders, piece.edges, strict=True):
        if np.abs(edge.bevel).max() <= SLIGHT or len(edge.cut) < 3:
            continue
        at, bevel, sample = _walk(edge, t)
        inset = t * np.tan(np.abs(bevel))
        window = inset / 2  # a bend of radius `inset` turns by 0.5 rad from chord to chord
        before, here, after = (sample(at + k * window) for k in (-1, 0, 1))
        turn = _turn(here - before, after - here)
        tight = (np.abs(bevel) > SLIGHT) & (turn > 0.5)
        for run in _runs(tight):
            ends = at[run[[0, -1]]] + np.array([-1, 1]) * window[run[[0, -1]]]
            worst = run[np.argmax(turn[run] / window[run])]
            radius = float(window[worst] / turn[worst])
            if radius < SHARP * t or _bend(sample, *ends, step=STEP * t) < CORNER:
                continue
            found.append(Finding(
                "bevel-turns", WARNING,
                f"A bevel of {format_angle(abs(bevel[worst]))} goes round a bend of radius "
                f"{format_length(radius)}. Its smaller face needs at least "
                f"{format_length(float(inset[worst]))}; the cut would run into itself.",
                "Round the bend more gently, soften the fold there, or end the seam in a corner.",
                edges=_stretch(region, border, edge, at[run]), piece=piece.code))
    return found


def twists(piece: Piece, region: Region) -> list[Finding]:
    """`bevel-turns`: a bevel whose angle changes faster than a hand turns the knife."""
    found = []
    t = piece.stock.thickness
    for border, edge in zip(region.borders, piece.edges, strict=True):
        if np.abs(edge.bevel).max() <= SLIGHT or mesh.polyline_length(edge.cut) < t:
            continue
        along = mesh.arc_length(edge.cut)
        at = np.arange(0.0, along[-1] - t, STEP * t)
        change = np.abs(np.interp(at + t, along, edge.bevel) - np.interp(at, along, edge.bevel))
        for run in _runs(change > TWIST):
            worst = run[np.argmax(change[run])]
            found.append(Finding(
                "bevel-turns", WARNING,
                f"The angle of a bevel changes by {format_angle(float(change[worst]))} within "
                f"{format_length(t)} of the edge, faster than a knife can follow.",
                "Let the fold change over a longer stretch, or end the seam there and begin "
                "another.",
                edges=_stretch(region, border, edge, at[run] + t / 2), piece=piece.code))
    return found


def _walk(edge: PieceEdge, t: float):
    """Places (k,) along the cut line, the bevel (k,) there, and the line as a function.

    A line that does not close is left out of account beyond its ends, where it runs on
    straight; one that closes goes round.
    """
    along = mesh.arc_length(edge.cut)
    total = along[-1]
    at = np.linspace(0.0, total, max(int(total / (STEP * t)), 8))
    ring = np.linalg.norm(edge.cut[0] - edge.cut[-1]) < 1e-6 * total

    def sample(s: np.ndarray) -> np.ndarray:
        inside = np.mod(s, total) if ring else s
        points = np.stack([np.interp(inside, along, x) for x in edge.cut.T], axis=-1)
        if not ring:
            first, last = _unit(edge.cut[1] - edge.cut[0]), _unit(edge.cut[-1] - edge.cut[-2])
            points = (points + np.minimum(s, 0.0)[..., None] * first
                      + np.maximum(s - total, 0.0)[..., None] * last)
        return points

    return at, np.interp(at, along, edge.bevel), sample


def _bend(sample, start: float, end: float, step: float) -> float:
    """Angle by which a line turns to the left in all from one place to another."""
    points = sample(np.linspace(start, end, max(int((end - start) / step), 4)))
    chord = np.diff(points, axis=0)
    return float(_turn(chord[:-1], chord[1:]).sum())


def _turn(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Angle (k,) from one direction to the next, positive to the left, where the foam is."""
    return np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], np.einsum("ij,ij->i", u, v))


def _unit(v: np.ndarray) -> np.ndarray:
    return v / max(float(np.linalg.norm(v)), 1e-300)


def _runs(flags: np.ndarray) -> list[np.ndarray]:
    """Indices of each unbroken run of True."""
    hit = np.flatnonzero(flags)
    return np.split(hit, np.flatnonzero(np.diff(hit) > 1) + 1) if len(hit) else []


def _edges(region: Region, border: Border) -> np.ndarray:
    """The border's edges (k, 2) on the sculpt."""
    source = region.source_vertex[border.vertices]
    return np.stack([source[:-1], source[1:]], axis=1)


def _stretch(region: Region, border: Border, edge: PieceEdge, at: np.ndarray) -> np.ndarray:
    """Edges (k, 2) of the sculpt along a part of a border, from places on its cut line."""
    where = np.interp(at, mesh.arc_length(edge.cut), edge.fraction)
    along = mesh.arc_length(region.vertices[border.vertices])
    fraction = along / along[-1]
    if not border.forward:
        fraction = 1.0 - fraction
    low = np.minimum(fraction[:-1], fraction[1:])
    high = np.maximum(fraction[:-1], fraction[1:])
    return _edges(region, border)[(high >= where.min()) & (low <= where.max())]
