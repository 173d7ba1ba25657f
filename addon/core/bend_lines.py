"""Where a piece bends about one axis: lines on its flat along which to bend it, without a cut.

The shape operator S of the formed piece, expressed on the flat, tells how its normal turns
from place to place. Where one of its principal curvatures is small beside the other all
over, the piece is rolled rather than domed, and the lines along which it stays straight
(the rulings of a cylinder or cone) are what the maker bends along.
"""

from __future__ import annotations

import numpy as np

from . import mesh
from .bends import shape_operator
from .model import Bend, Layer, Region

STEP = np.radians(45.0)  # the most that one line stands for
LEAST = np.radians(15.0)  # a part that turns by less is not worth a line
ROLLED = 0.35  # the second curvature may be this share of the first, as root mean squares
SHORTEST = 30.0  # mm of line, below which it says little
MOST = 800  # faces looked at


def bend_lines(region: Region, layer: Layer, flat: np.ndarray) -> tuple[Bend, ...]:
    """The bend lines of a region laid flat at points (n, 2); none where it is flat or domed.

    Each part between trenches is looked at by itself. Its turning is shared out evenly
    among as few lines as keep each at STEP or less.
    """
    _, part = mesh.components(int(region.leaf.max()) + 1, np.concatenate(
        [region.leaf[:, [0, 1]], region.leaf[:, [1, 2]]]))
    part = part[region.leaf[:, 0]]
    bends: list[Bend] = []
    for number in np.unique(part):
        some = part == number
        corners = flat[region.faces[some]]
        area = _cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2
        if not np.all(area > 0):
            continue
        tried = np.linspace(0, len(area) - 1, min(len(area), MOST)).astype(int)
        shape = shape_operator(region, layer, corners[tried], np.flatnonzero(some)[tried])
        bends += _of_part(corners[tried].mean(axis=1),
                          area[tried] * area.sum() / area[tried].sum(), shape,
                          flat[_rim(region, some)])
    return tuple(bends)


def _of_part(middle: np.ndarray, area: np.ndarray, shape: np.ndarray, rim: np.ndarray
             ) -> list[Bend]:
    """Faces by their middle (m, 2), area (m,) and shape operators (m, 2, 2); rim segments
    (k, 2, 2)."""
    axis, ratio = _direction(np.einsum("m,mij,mjk->ik", area, shape, shape) / area.sum())
    if ratio > ROLLED:
        return []
    field = _Rulings(middle, area, shape)
    across, along = field.at(middle)
    length = _chord(middle, along, rim)
    # Faces are told apart by where their ruling meets a line across the part.
    centre = area @ middle / area.sum()
    place = _cross(along, middle - centre) / np.where(
        np.abs(steep := _cross(along, axis)) < 0.2, 0.2, steep)
    order = np.argsort(place, kind="stable")
    place = place[order]
    # All over a ruling the normal turns by one angle: ∫∫ k dA / length adds each up once.
    turning = (np.einsum("mi,mij,mj->m", across, shape, across) * area / length)[order]
    size = np.cumsum(np.abs(turning))
    if size[-1] < LEAST:
        return []
    signed = np.concatenate([[0.0], np.cumsum(turning)])
    count = int(np.ceil(size[-1] / STEP - 0.02))
    shares = np.interp(np.linspace(0, size[-1], count + 1), np.append(0.0, size), signed)
    places = np.interp((np.arange(count) + 0.5) / count * size[-1],
                       size - np.abs(turning) / 2, place)
    bends = []
    for angle, at in zip(np.diff(shares), places, strict=True):
        if abs(angle) < size[-1] / count / 2:
            continue  # it bends one way and back again
        point = centre + at * axis
        bends += [Bend(line, float(angle))
                  for line in _clipped(point, field.at(point[None])[1][0], rim)]
    return bends


class _Rulings:
    """The directions on the flat across and along the rulings, smooth over a part: S² of its
    faces, whose larger eigenvector points across, fitted by quadratics in place."""

    def __init__(self, middle: np.ndarray, area: np.ndarray, shape: np.ndarray):
        self.centre, self.size = middle.mean(axis=0), np.ptp(middle, axis=0).max() / 2 + 1e-9
        weight = np.sqrt(area)
        square = np.einsum("mij,mjk->mik", shape, shape)
        size = np.einsum("mii->m", square)[:, None, None]  # so that tight places do not prevail
        square = (square / np.maximum(np.sqrt(size), 1e-12)).reshape(-1, 4)
        self.fit = np.linalg.lstsq(weight[:, None] * self._terms(middle),
                                   weight[:, None] * square, rcond=1e-6)[0]

    def _terms(self, points: np.ndarray) -> np.ndarray:
        x, y = ((points - self.centre) / self.size).T
        return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)

    def at(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Unit vectors (k, 2) across and along at points (k, 2)."""
        across = np.linalg.eigh((self._terms(points) @ self.fit).reshape(-1, 2, 2))[1][:, :, 1]
        return across, np.stack([-across[:, 1], across[:, 0]], axis=1)


def _direction(square: np.ndarray) -> tuple[np.ndarray, float]:
    """Of a mean S² (2, 2): the direction (2,) in which faces turn most, and how much they turn
    across it as a share of that, as root mean squares."""
    values, vectors = np.linalg.eigh(square)
    return vectors[:, 1], float(np.sqrt(max(values[0], 0.0) / max(values[1], 1e-30)))


def _rim(region: Region, some: np.ndarray) -> np.ndarray:
    """Vertices (k, 2) of the half-edges round the faces `some`, trenches included."""
    leaf = region.leaf[some]
    start, end, _ = mesh.half_edges(region.faces[some])
    free = mesh.twins(leaf) < 0
    return np.stack([start[free], end[free]], axis=1)


def _crossings(points: np.ndarray, along: np.ndarray, rim: np.ndarray) -> np.ndarray:
    """Where lines through points (m, 2) along unit vectors (m, 2) cross rim segments (k, 2, 2):
    distances (m, k) from the points, NaN where they do not."""
    first, second = (_cross(along[:, None], rim[None, :, i] - points[:, None]) for i in (0, 1))
    cut = (first > 0) != (second > 0)
    share = np.where(cut, first, np.nan) / np.where(cut, first - second, 1.0)
    near = np.einsum("mki,mi->mk", rim[None, :, 0] - points[:, None], along)
    step = np.einsum("ki,mi->mk", rim[:, 1] - rim[:, 0], along)
    return near + share * step


def _chord(points: np.ndarray, along: np.ndarray, rim: np.ndarray) -> np.ndarray:
    """Length (m,) of the line through each point inside the part that it lies in."""
    at = _crossings(points, along, rim)
    ahead = np.where(at > 0, at, np.inf).min(axis=1)
    behind = np.where(at <= 0, -at, np.inf).min(axis=1)
    chord = ahead + behind
    return np.where(np.isfinite(chord), chord, np.inf)


def _clipped(point: np.ndarray, along: np.ndarray, rim: np.ndarray) -> list[np.ndarray]:
    """The stretches (2, 2) of a line inside a rim of segments (k, 2, 2)."""
    at = np.sort(_crossings(point[None], along[None], rim)[0])
    at = at[np.isfinite(at)]
    return [point + np.outer(pair, along) for pair in at[:len(at) // 2 * 2].reshape(-1, 2)
            if pair[1] - pair[0] >= SHORTEST]


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
