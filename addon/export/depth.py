"""Which triangle is seen at each point of a picture: a depth buffer in numpy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_CHUNK = 1_000_000  # pixels tested at a time
HIDDEN = -1


@dataclass(frozen=True, eq=False)
class DepthMap:
    """face (h, w): the triangle in front at each pixel centre, HIDDEN where there is
    none; depth (h, w): how near it is (larger is nearer, -inf where there is none);
    weights (h, w, 3): barycentric weights there."""

    face: np.ndarray
    depth: np.ndarray
    weights: np.ndarray

    def visible(self, points: np.ndarray, slack: float) -> np.ndarray:
        """Whether points (k, 3), x and y in pixels and depth, have nothing in front of them.

        A point counts as seen when it is nearer than the farthest of the pixels around it,
        so that lines on the rim of a surface are kept. Points off the picture are not seen.
        """
        height, width = self.face.shape
        col, row = (np.floor(points[:, i]).astype(int) for i in (0, 1))
        inside = (col >= 0) & (col < width) & (row >= 0) & (row < height)
        around = np.pad(self.depth, 1, mode="edge")
        lowest = np.min([around[i:i + height, j:j + width] for i in range(3) for j in range(3)],
                        axis=0)
        seen = np.zeros(len(points), dtype=bool)
        seen[inside] = points[inside, 2] >= lowest[row[inside], col[inside]] - slack
        return seen


def depth_map(points: np.ndarray, faces: np.ndarray, shape: tuple[int, int]) -> DepthMap:
    """Rasterise triangles faces (m, 3) over points (n, 3): x right and y up in pixels
    (pixel 0 covers 0 to 1), z towards the viewer. shape: (height, width)."""
    height, width = shape
    depth = np.full(height * width, -np.inf)
    face = np.full(height * width, HIDDEN, dtype=np.int64)
    weights = np.zeros((height * width, 3))
    corners = points[faces]
    low = np.clip(np.ceil(corners[..., :2].min(1) - 0.5), 0, (width, height)).astype(int)
    high = np.clip(np.floor(corners[..., :2].max(1) - 0.5), -1,
                   (width - 1, height - 1)).astype(int)
    extent = (high - low + 1).max(axis=1, initial=0)
    drawn = np.flatnonzero((high >= low).all(axis=1))
    for size in sorted(set(_next_power(extent[drawn]).tolist())):
        group = drawn[_next_power(extent[drawn]) == size]
        step = max(1, _CHUNK // (size * size))
        for some in (group[i:i + step] for i in range(0, len(group), step)):
            x = low[some, 0, None, None] + np.arange(size)[None, None, :]
            y = low[some, 1, None, None] + np.arange(size)[None, :, None]
            bary = _barycentric(corners[some], x + 0.5, y + 0.5)
            hit = ((bary >= -1e-9).all(axis=0)
                   & (x <= high[some, 0, None, None]) & (y <= high[some, 1, None, None]))
            which, rows, cols = np.nonzero(hit)
            pixel = (low[some[which], 1] + rows) * width + low[some[which], 0] + cols
            found = bary[:, which, rows, cols].T
            z = np.einsum("ij,ij->i", found, corners[some[which], :, 2])
            np.maximum.at(depth, pixel, z)
            front = z >= depth[pixel]
            face[pixel[front]], weights[pixel[front]] = some[which[front]], found[front]
    return DepthMap(face.reshape(shape), depth.reshape(shape), weights.reshape(*shape, 3))


def _next_power(sizes: np.ndarray) -> np.ndarray:
    return (2 ** np.ceil(np.log2(np.maximum(sizes, 1)))).astype(int)


def _barycentric(corners: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Weights (3, n, s, s) of pixel centres in triangles (n, 3, 3); NaN where edge-on."""
    (ax, bx, cx), (ay, by, cy) = (corners[:, :, i].T[:, :, None, None] for i in (0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        double = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        first = ((bx - x) * (cy - y) - (cx - x) * (by - y)) / double
        second = ((cx - x) * (ay - y) - (ax - x) * (cy - y)) / double
        return np.stack([first, second, 1 - first - second])
