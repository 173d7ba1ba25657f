"""Thickness: the lengths that each region keeps when it is formed.

A bent sheet keeps its length on the neutral layer, `neutral * t` from the face
on the hollow side of the bend. Rest lengths are taken there edge by edge, so on
a saddle each direction bends about its own side. Normals are fitted from one
side only at seams, trenches and rims: averaging across a fold would shorten or
lengthen the foam by up to t tan(fold / 2). Lines across the faces of a coarse mesh
are the exception (see `uncut`): no fold can be told inside a facet.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .. import mesh
from ..fair import faired_lengths
from ..model import Cut, Layer, Region
from ..stock import Stock
from .folds import border_fold, fold_angle, line_fold
from .lengths import rest_lengths, trench_shift, turning
from .spots import bridged
from .surface import Surface, fit_surface
from .uncut import raised, surfaces

DAMPING = 0.05  # against splitting noise over sides that fold by less than about 20 degrees

__all__ = ["Surface", "fit_surface", "fold_angle", "layers", "raised", "rest_lengths"]


def layers(cut: Cut, stocks: list[Stock], sides: list[str], web: float,
           fit: Callable[..., Surface] = fit_surface) -> list[Layer]:
    """The length-keeping layer of every region of a cut.

    stocks and sides: per region. web: foam left under a trench, as a fraction of
    the thickness. fit: stands for `fit_surface` where a caller remembers its results.
    """
    sources = [_leaf_source(r) for r in cut.regions]
    fits, lifts = surfaces(cut, sources, stocks, fit)
    even = smooth = _smooth_points(cut, sources, fits, [f.rise for f in fits])
    if cut.uncut is not None:
        smooth = _smooth_points(cut, sources, fits,
                                [f.rise + lift for f, lift in zip(fits, lifts, strict=True)])
    result = []
    for index, (region, surface) in enumerate(zip(cut.regions, fits, strict=True)):
        line_folds = tuple(line_fold(region, line, surface.normals) for line in region.lines)
        stock, side, points = stocks[index], sides[index], smooth[index]
        moved = points + trench_shift(region, points, surface.normals, line_folds, stock, side, web)
        known = _of_seams(region)
        lengths = rest_lengths(moved, surface.normals, region.leaf, stock, side, *known)
        lengths, tight = bridged(moved, region.leaf, lengths, stock.thickness)
        folds = tuple(border_fold(cut, fits, index, b) for b in range(len(region.borders)))
        skin = rest_lengths(points, surface.normals, region.leaf, None, side, *known)
        contact = tuple(_ratio(faired_lengths(region, skin, b), faired_lengths(region, lengths, b))
                        for b in region.borders)
        result.append(Layer(lengths, surface.normals, surface.curvature, folds, line_folds, contact,
                            even[index], tight))
    return result


def _ratio(skin: np.ndarray, rest: np.ndarray) -> np.ndarray:
    return skin / np.where(rest > 0, rest, np.inf)  # what has no length is refused later


def _of_seams(region: Region) -> tuple[np.ndarray, np.ndarray]:
    """How far each edge (m, 3) may bend and its arc over its chord, where it is a seam's: as
    far and as long as the seam's line in space; else any and NaN.

    On a coarse mesh the normals fitted on one side of a seam may swing along an edge that is
    straight, and mates would differ. An arc that turns by a is a^2 / 24 longer than its chord.
    What turns within the surface is left out: the line drawn on the flat turns there too.
    """
    most, swell = np.full(region.faces.shape, np.inf), np.full(region.faces.shape, np.nan)
    angles = np.bincount(region.faces.ravel(),
                         mesh.corner_angles(region.vertices, region.faces).ravel(),
                         len(region.vertices))
    for border in region.borders:
        if border.seam >= 0:
            where = border.half // 3, (border.half + 2) % 3
            most[where], aside = turning(region.vertices[border.vertices],
                                         np.pi - angles[border.vertices])
            swell[where] = 1 + np.maximum(most[where] ** 2 - aside**2, 0.0) / 24
    return most, swell


def _leaf_source(region: Region) -> np.ndarray:
    """Region vertex (c,) of every leaf corner."""
    source = np.empty(int(region.leaf.max(initial=-1)) + 1, dtype=np.int64)
    source[region.leaf] = region.faces
    return source


def _smooth_points(cut: Cut, sources: list[np.ndarray], fits: list[Surface],
                   rises: list[np.ndarray]) -> list[np.ndarray]:
    """The leaf corners (c, 3) of every region, moved by rises (c,) onto the smooth surface.

    Corners that share a vertex of the sculpt move alike, so that mates keep one curve: by
    the move d that comes nearest to n . d = rise on each of their surfaces, damped, as
    surfaces that are nearly one cannot tell where along themselves they meet.
    """
    vertex = np.concatenate([r.source_vertex[s] for r, s in zip(cut.regions, sources, strict=True)])
    normal = np.concatenate([f.normals for f in fits])
    rise = np.concatenate(rises)
    used, group = np.unique(vertex, return_inverse=True)
    group, count = group.ravel(), len(used)
    total = lambda v: np.bincount(group, v, count)  # noqa: E731
    right = np.stack([total(rise * n) for n in normal.T], axis=1)
    outer = [[total(a * b) for b in normal.T] for a in normal.T]
    matrix = np.moveaxis(np.array(outer), 2, 0)
    shared = np.bincount(group, minlength=count) > 1
    move = right.copy()
    matrix[shared] += DAMPING * np.eye(3)
    move[shared] = np.linalg.solve(matrix[shared], right[shared][..., None])[..., 0]
    moved, first = [], 0
    for region, source in zip(cut.regions, sources, strict=True):
        moved.append(region.vertices[source] + move[group[first:first + len(source)]])
        first += len(source)
    return moved
