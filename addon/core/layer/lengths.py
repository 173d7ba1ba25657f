"""Rest lengths on the neutral layer, and what a trench takes from them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..model import TRENCH, Line, Region
from ..stock import Stock
from .folds import line_corners


def rest_lengths(points: np.ndarray, normals: np.ndarray, faces: np.ndarray,
                 stock: Stock | None, side: str, turn: np.ndarray | None = None,
                 swell: np.ndarray | None = None) -> np.ndarray:
    """Lengths (m, 3) of the edges opposite each corner, on the neutral layer.

    points, normals (c, 3). Between two surface points whose normals differ by the
    angle a in the plane of the edge, the surface is taken as an arc: its length is
    chord * (a/2) / sin(a/2), and at height h above it (a signed) that + h a: the
    bend allowance a (R + h) of sheet-metal handbooks. h is measured from the
    sculpt's face to the neutral layer and depends on the side to which the edge
    bends. Twist adds h times the part of the normals' difference across the edge.
    stock None: the sculpt's own face, h = 0. An edge that bends more tightly than
    the foam is thick comes out with length <= 0.

    turn (m, 3): most that a may be. swell (m, 3): arc over chord of edges where that is
    known, else NaN.
    """
    lengths = np.empty(faces.shape)
    out = stock.depths(side)[0] if stock else 0.0
    for corner in range(3):
        i, j = faces[:, (corner + 1) % 3], faces[:, (corner + 2) % 3]
        d, dn = points[j] - points[i], normals[j] - normals[i]
        chord = np.linalg.norm(d, axis=1)
        along = np.einsum("ij,ij->i", d, dn) / np.where(chord > 0, chord, 1.0)
        angle = 2 * np.arcsin(np.clip(along / 2, -1.0, 1.0))
        if turn is not None:
            angle = np.clip(angle, -turn[:, corner], turn[:, corner])
        half = np.abs(angle) / 2
        arc = chord * np.where(half > 1e-9, half / np.sin(np.maximum(half, 1e-9)), 1.0)
        if swell is not None:
            arc = np.where(np.isnan(swell[:, corner]), arc, chord * swell[:, corner])
        if stock is None:
            lengths[:, corner] = arc
            continue
        hollow = stock.neutral * stock.thickness
        h = out - np.where(angle >= 0, stock.thickness - hollow, hollow)
        bent = arc + h * angle
        across2 = np.maximum(np.einsum("ij,ij->i", dn, dn) - along**2, 0.0)
        lengths[:, corner] = np.sign(bent) * np.sqrt(bent**2 + h**2 * across2)
    return lengths


def turning(points: np.ndarray, aside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far a curve through points (k, 3) turns on each of its segments (k-1,), radians: in
    space, and within the surface, where its direction turns by aside (k,) at the points.

    The mean of the curvature at both ends times the length; a curve that ends has at its end
    the curvature of the point before. Its normal curvature on a surface cannot exceed that in
    space (Meusnier's theorem).
    """
    step = np.diff(points, axis=0)
    length = np.maximum(np.linalg.norm(step, axis=1), 1e-300)
    along = step / length[:, None]
    if len(points) > 3 and np.allclose(points[0], points[-1]):
        length = np.concatenate([length[-1:], length, length[:1]])
        along = np.concatenate([along[-1:], along, along[:1]])
    else:
        aside = aside[1:-1]
    bend = np.concatenate([np.diff(along, axis=0), aside[:, None]], axis=1)
    bend /= ((length[:-1] + length[1:]) / 2)[:, None]
    if not len(bend):
        return np.zeros(len(step)), np.zeros(len(step))
    if len(bend) < len(points):
        bend = np.concatenate([bend[:1], bend, bend[-1:]])
    bend = (bend[:-1] + bend[1:]) / 2 * np.linalg.norm(step, axis=1)[:, None]
    return np.linalg.norm(bend[:, :3], axis=1), np.abs(bend[:, 3])


def trench_shift(region: Region, points: np.ndarray, normals: np.ndarray,
                 line_folds: Sequence[np.ndarray], stock: Stock, side: str, web: float
                 ) -> np.ndarray:
    """Move (c, 3) of the leaf corners beside trenches that gives the flat its length.

    Across a convex trench of fold f: flat = outer face - 2 web tan(f/2) + k web f,
    the tip of the V being the pivot and the web bending round it; across a concave
    one, cut from the front, the same with the inner face. Half of it belongs to
    each side, and fades out over a short band beside the trench.
    """
    shift = np.zeros_like(points)
    front, back = stock.depths(side)
    remain = web * stock.thickness
    centre = np.stack([np.bincount(region.leaf.ravel(), w, minlength=len(points)) for w in
                       np.repeat(points[region.leaf].mean(axis=1), 3, axis=0).T], axis=1)
    centre /= np.bincount(region.leaf.ravel(), minlength=len(points))[:, None]
    for line, fold in zip(region.lines, line_folds, strict=True):
        if line.kind != TRENCH or len(fold) == 0:
            continue
        half = np.abs(fold) / 2
        inward = remain * (np.tan(half) - stock.neutral * half)
        inward -= np.where(fold > 0, front, back) * np.tan(half)
        for corner_ids, position in _banks(region, line):
            _fade(shift, points, normals, centre, corner_ids, inward[position])
    return shift


def _banks(region: Region, line: Line):
    """The leaf corners along each bank of a trench, with their place on the path."""
    for bank in line_corners(region, line):
        ids = np.concatenate([bank[:, 0], bank[-1:, 1]])
        yield ids, np.arange(len(ids))


def _fade(shift, points, normals, centre, bank, inward) -> None:
    """Add to `shift` a move away from the bank that is full there and fades to nothing."""
    from scipy.spatial import cKDTree

    tangent = np.gradient(points[bank], axis=0)
    across = np.cross(normals[bank], tangent)
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-12)[:, None]
    toward = np.einsum("ij,ij->i", centre[bank] - points[bank], across)
    across *= np.where(toward < 0, -1.0, 1.0)[:, None]
    step = np.linalg.norm(np.diff(points[bank], axis=0), axis=1).mean()
    reach = max(3 * np.abs(inward).max(), 1.5 * step)
    far, near = cKDTree(points[bank]).query(points, distance_upper_bound=2 * reach)
    hit = np.flatnonzero(np.isfinite(far))
    near = near[hit]
    depth = np.einsum("ij,ij->i", points[hit] - points[bank[near]], across[near])
    own = np.isin(hit, bank)
    fade = np.where(own, 1.0, np.clip(1 - depth / reach, 0, 1) * (depth > 1e-9))
    shift[hit] += (fade * inward[near])[:, None] * across[near]
