"""Which triangle is seen at each point of a picture: a depth buffer in numpy."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

_CHUNK = 1_000_000  # pixels tested at a time
_EDGE = 1e-9  # a pixel centre this little outside a triangle, in its weights, lies on its edge
HIDDEN = -1


@dataclass(frozen=True, eq=False)
class DepthMap:
    """face (h, w): the triangle in front at each pixel centre, HIDDEN where there is none;
    depth (h, w): how near it is (larger is nearer, -inf where there is none); planes (2, 3, m):
    the barycentric weights of the first two corners of every triangle at (x, y) in pixels, as
    the factors of x, y and 1."""

    face: np.ndarray
    depth: np.ndarray
    planes: np.ndarray

    @cached_property
    def seen(self) -> tuple[np.ndarray, np.ndarray]:
        """Rows (k,) and columns (k,) of the pixels that show a triangle, row by row."""
        return np.nonzero(self.face != HIDDEN)

    def weights(self) -> np.ndarray:
        """Barycentric weights (k, 3) in their triangles of the pixels that are `seen`."""
        row, column = self.seen
        right, up, start = self.planes[:, :, self.face[row, column]].transpose(1, 0, 2)
        a, b = right * (column + 0.5) + up * (row + 0.5) + start
        return np.stack([a, b, 1.0 - a - b], axis=1)

    @cached_property
    def _lowest(self) -> np.ndarray:
        """The depth (h, w) of the farthest of each pixel and the eight around it."""
        low = np.pad(self.depth, 1, mode="edge")
        low = np.minimum(np.minimum(low[:-2], low[1:-1]), low[2:])
        return np.minimum(np.minimum(low[:, :-2], low[:, 1:-1]), low[:, 2:])

    def visible(self, points: np.ndarray, slack: float) -> np.ndarray:
        """Whether points (k, 3), x and y in pixels and depth, have nothing in front of them.

        A point counts as seen when it is nearer than the farthest of the pixels around it,
        so that lines on the rim of a surface are kept. Points off the picture are not seen.
        """
        height, width = self.face.shape
        col, row = (np.floor(points[:, i]).astype(int) for i in (0, 1))
        inside = (col >= 0) & (col < width) & (row >= 0) & (row < height)
        seen = np.zeros(len(points), dtype=bool)
        seen[inside] = points[inside, 2] >= self._lowest[row[inside], col[inside]] - slack
        return seen


def depth_map(points: np.ndarray, faces: np.ndarray, shape: tuple[int, int]) -> DepthMap:
    """Rasterise triangles faces (m, 3) over points (n, 3): x right and y up in pixels
    (pixel 0 covers 0 to 1), z towards the viewer. shape: (height, width)."""
    height, width = shape
    depth = np.full(height * width, -np.inf)
    face = np.full(height * width, HIDDEN, dtype=np.int64)
    x, y, z = (np.ascontiguousarray(points[:, i])[faces.T] for i in range(3))
    planes = _planes(x, y)
    (left, right), (low, high) = _spans(x, width), _spans(y, height)
    columns, rows = right - left + 1, high - low + 1
    drawn = np.flatnonzero((columns > 0) & (rows > 0) & np.isfinite(planes).all(axis=(0, 1)))
    tested = np.cumsum(columns[drawn] * rows[drawn])
    for some in np.split(drawn, np.flatnonzero(np.diff(tested // _CHUNK)) + 1):
        count = columns[some] * rows[some]
        which = np.repeat(some, count)
        up, across = np.divmod(np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count),
                               columns[which])
        row, column = low[which] + up, left[which] + across
        a, b = (px[which] * (column + 0.5) + py[which] * (row + 0.5) + c[which]
                for px, py, c in planes)
        hit = np.flatnonzero((a >= -_EDGE) & (b >= -_EDGE) & (a + b <= 1.0 + _EDGE))
        which, pixel, a, b = which[hit], (row * width + column)[hit], a[hit], b[hit]
        near = a * z[0, which] + b * z[1, which] + (1.0 - a - b) * z[2, which]
        np.maximum.at(depth, pixel, near)
        front = np.flatnonzero(near >= depth[pixel])
        face[pixel[front]] = which[front]
    return DepthMap(face.reshape(shape), depth.reshape(shape), planes)


def _spans(at: np.ndarray, number: int) -> tuple[np.ndarray, np.ndarray]:
    """The first and the last of `number` pixels whose middles lie between the corners
    at (3, m) of each triangle; the last is before the first where there is none."""
    first = np.ceil(np.minimum(np.minimum(at[0], at[1]), at[2]) - 0.5)
    last = np.floor(np.maximum(np.maximum(at[0], at[1]), at[2]) - 0.5)
    return np.clip(first, 0, number).astype(int), np.clip(last, -1, number - 1).astype(int)


def _planes(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The weights of two corners of triangles with corners x, y (3, m) as planes (2, 3, m) over
    the picture; not finite where a triangle is seen edge-on."""
    (ax, bx, cx), (ay, by, cy) = x, y
    with np.errstate(divide="ignore", invalid="ignore"):
        double = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        right, up = np.stack([by - cy, cy - ay]) / double, np.stack([cx - bx, ax - cx]) / double
        return np.stack([right, up, -right * cx - up * cy], axis=1)
