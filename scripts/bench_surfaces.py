"""Surfaces of wearable size that the benchmark measures: vertices (n, 3) mm, triangles (m, 3)."""

from __future__ import annotations

import numpy as np

from addon.core import mesh
from addon.core.model import SEAM, Sculpt
from tests.shapes import cap, grid, surface

BANDS, GORES = 4, 10  # of the torso: 40 pieces


MESHINGS = ("grid", "oblong grid", "scattered points")


def breastplate(count: int, meshing: str = MESHINGS[0]) -> tuple[np.ndarray, np.ndarray]:
    """A breastplate of about `count` triangles, 300 mm wide: domed, keeled, with two pectorals,
    a narrow waist and a round neck. meshing: one of MESHINGS."""
    side = round(np.sqrt(count / 2)) + 1

    def place(s, h):
        x = s * (110 + 40 * np.sin(np.pi * h**0.8))
        y = -160 + h * (340 - 60 * np.exp(-((s / 0.4) ** 2)))
        dome = 75 * np.exp(-(x**2) / (2 * 130**2) - (y - 10) ** 2 / (2 * 150**2))
        breast = sum(14 * np.exp(-((x - a) ** 2 + (y - 60) ** 2) / (2 * 45**2)) for a in (-70, 70))
        keel = 12 * np.sqrt(1 + (x / 20) ** 2)
        return x, y, dome + breast - keel - x**2 / 500

    if meshing == MESHINGS[2]:
        return _scattered(place, side)
    oblong = 1.0 if meshing == MESHINGS[0] else 1.4  # twice as many columns as rows
    return surface(place, np.linspace(-1, 1, round(side * oblong)),
                   np.linspace(0, 1, round(side / oblong)))


def _scattered(place, side: int) -> tuple[np.ndarray, np.ndarray]:
    """Delaunay triangles between points moved at random from a grid, those of the rim along it."""
    from scipy.spatial import Delaunay

    at = np.stack(np.meshgrid(np.linspace(-1, 1, side), np.linspace(-1, 1, side)), axis=-1)
    inner = np.abs(at) < 1 - 1e-9
    at = (at + inner * np.random.default_rng(1).uniform(-0.7, 0.7, at.shape) / side).reshape(-1, 2)
    faces = Delaunay(at).simplices.astype(np.int64)
    u, v = (at[faces[:, k]] - at[faces[:, 0]] for k in (1, 2))
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    faces = np.where(double[:, None] < 0, faces[:, ::-1], faces)[np.abs(double) > 1e-9]
    return np.stack(place(at[:, 0], (at[:, 1] + 1) / 2), axis=1), faces


def round_cap(degrees: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """A spherical cap of radius 150 mm and polar angle `degrees`, at least `count` triangles."""
    return cap(150.0, np.radians(degrees), int(np.ceil(np.sqrt(count / 6))))


def torso(count: int) -> Sculpt:
    """A torso of about `count` triangles, 600 mm tall, its two halves alike, with seams on a grid
    that part it into BANDS x GORES pieces."""
    rows = BANDS * max(2, round(np.sqrt(count / 4) / BANDS))
    around = GORES * max(2, round(count / (2 * rows) / GORES))

    def place(turn, h):
        front = np.maximum(-np.sin(turn), 0.0)
        waist = 1 - 0.16 * np.exp(-((h - 0.35) / 0.2) ** 2)
        x = 165 * waist * np.cos(turn) * (1 - 0.15 * h**4)
        y = 115 * waist * np.sin(turn) * (1 + 0.15 * front**2 * np.exp(-((h - 0.7) / 0.18) ** 2))
        return x, y, 600 * h

    turn = np.linspace(-np.pi / 2, 1.5 * np.pi, around + 1)
    vertices, _ = surface(place, turn[:-1], np.linspace(0, 1, rows + 1))
    row, column = np.divmod(grid(around + 1, rows + 1), around + 1)
    faces = row * around + column % around  # the last column is the first one
    index = np.arange(len(vertices)).reshape(rows + 1, around)
    upright = index[:, ::around // GORES]
    level = index[rows // BANDS:-1:rows // BANDS]
    edges = np.concatenate([
        np.stack([upright[:-1], upright[1:]], axis=-1).reshape(-1, 2),
        np.stack([level, np.roll(level, -1, axis=1)], axis=-1).reshape(-1, 2)])
    return Sculpt.plain(vertices, faces, edges, np.full(len(edges), SEAM), name="Torso")


def bare(shape: tuple[np.ndarray, np.ndarray]) -> Sculpt:
    """A sculpt of one piece without marks."""
    return Sculpt.plain(*shape, name="Patch")


def area(shape: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """Area (m,) of each triangle."""
    return mesh.face_normals(*shape)[1]
