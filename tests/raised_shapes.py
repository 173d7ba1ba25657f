"""Plates with a shape that is raised or pressed in, as one sculpted surface."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

SIDE, CELLS = 200.0, 40


def square(i: int, j: int) -> bool:
    """10 x 13 cells: 50 mm along the bend, 65 mm across."""
    return 12 <= i < 22 and 15 <= j < 28


def disc(i: int, j: int) -> bool:
    return (i - 20) ** 2 + (j - 20) ** 2 < 64


def frame(i: int, j: int) -> bool:
    return 8 < i < 30 and 8 < j < 30 and not (15 < i < 22 and 15 < j < 22)


def to_the_rim(i: int, j: int) -> bool:
    return i < 10


def plate(height: float, inside: Callable[[int, int], bool] = square, radius: float = 150.0,
          finer: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """A plate bent round y, 200 mm of arc by 200 mm, its cells `inside` higher by `height`.

    finer: the top of the shape has edges half as long as the plate.
    """
    def at(i, j, up):
        a = (np.asarray(i) * SIDE / CELLS - SIDE / 2) / radius
        return np.stack([(radius + up) * np.sin(a), np.asarray(j) * SIDE / CELLS + 0.0 * a,
                         (radius + up) * np.cos(a)], axis=-1)

    points: dict[tuple, int] = {}
    places: list[np.ndarray] = []

    def vertex(i, j, up=0.0):
        key = (round(float(i), 6), round(float(j), 6), round(up, 6))
        if key not in points:
            points[key] = len(places)
            places.append(at(i, j, up))
        return points[key]

    def rises(i, j):
        return 0 <= i < CELLS and 0 <= j < CELLS and inside(i, j)

    faces = []

    def polygon(*corners):
        faces.extend((corners[0], b, c) for b, c in zip(corners[1:-1], corners[2:], strict=True))

    for i in range(CELLS):
        for j in range(CELLS):
            corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
            beyond = [(i, j - 1), (i + 1, j), (i, j + 1), (i - 1, j)]
            if not rises(i, j):
                polygon(*(vertex(*c) for c in corners))
                continue
            if finer:
                for u in (0.0, 0.5):
                    for v in (0.0, 0.5):
                        polygon(*(vertex(i + u + p, j + v + q, height) for p, q in
                                  ((0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5))))
            else:
                polygon(*(vertex(*c, height) for c in corners))
            for side, cell in enumerate(beyond):
                if rises(*cell):
                    continue
                (a, b), (c, d) = corners[side], corners[(side + 1) % 4]
                if finer:
                    polygon(vertex(a, b), vertex(c, d), vertex(c, d, height),
                            vertex((a + c) / 2, (b + d) / 2, height), vertex(a, b, height))
                else:
                    polygon(vertex(a, b), vertex(c, d), vertex(c, d, height),
                            vertex(a, b, height))
    return np.array(places), np.array(faces)
