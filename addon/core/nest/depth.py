"""How deep two shapes lie in each other, for every offset of one from the other on a lattice."""

from __future__ import annotations

import math

import numpy as np

from .convex import Form
from .raster import fill, rings_of

FINER = 2  # cells to a step of the lattice
KEPT = 200e6  # bytes of depths that are kept rather than made again


class Depths:
    """Depths of penetration between forms whose lower left corners lie on a lattice.

    The offsets at which two forms overlap are found by correlating their cells; the depth of one
    is its distance to the nearest offset at which they are free, in steps of the lattice ("raster
    penetration map": Sato, Martins, Gomes and Tsuzuki, European J. of Operational Research 279,
    2019). It is exact to about half a step, which whoever uses it must make good.
    gap: least distance of two forms, mm; step: of the lattice, mm.
    """

    def __init__(self, forms: list[Form], gap: float, step: float):
        self.forms, self.gap, self.step = forms, gap, step
        self.work = 0  # cells correlated so far
        self._cells: dict[int, np.ndarray] = {}
        self._maps: dict[tuple[int, int], tuple[np.ndarray, int, int]] = {}
        self._bytes = 0

    def between(self, a: int, b: int) -> tuple[np.ndarray, int, int]:
        """Depths (rows, columns) of form b in form a by the offset of their corners, and the row
        and column of offset 0."""
        found = self._maps.get((a, b))
        if found is None:
            if self._bytes > KEPT:
                self._maps.clear()
                self._bytes = 0
            found = self._find(a, b)
            depth, row, column = found
            self._maps[a, b] = found
            self._maps[b, a] = (depth[::-1, ::-1], depth.shape[0] - 1 - row,
                                depth.shape[1] - 1 - column)
            self._bytes += depth.nbytes
        return found

    def _find(self, a: int, b: int) -> tuple[np.ndarray, int, int]:
        from scipy.fft import irfft2, next_fast_len, rfft2
        from scipy.ndimage import distance_transform_edt

        one, other = self._cells_of(a), self._cells_of(b)
        size = [next_fast_len(m + n, real=True)
                for m, n in zip(one.shape, other.shape, strict=True)]
        met = irfft2(rfft2(one, s=size) * np.conj(rfft2(other, s=size)), s=size)
        self.work += 3 * met.size
        at, zero = [], []
        for m, n in zip(one.shape, other.shape, strict=True):
            # One step beyond the last offset at which they can meet, on both sides.
            low, high = -(-n // FINER), -(-m // FINER)
            at.append(np.arange(-low, high + 1) * FINER)
            zero.append(low)
        met = met[np.ix_(at[0] % size[0], at[1] % size[1])] > 0.5
        for axis in (0, 1):
            out = (at[axis] <= -other.shape[axis]) | (at[axis] >= one.shape[axis])
            met[(slice(None),) * axis + (out,)] = False
        depth = distance_transform_edt(met).astype(np.float32)
        return depth, zero[0], zero[1]

    def _cells_of(self, k: int) -> np.ndarray:
        """Cells of a form grown by half the gap."""
        if k not in self._cells:
            form, cell = self.forms[k], self.step / FINER
            beyond = math.ceil(self.gap / 2 / cell)
            grown = form.shape.buffer(self.gap / 2, quad_segs=4) if self.gap else form.shape
            columns, rows = (math.ceil(d / cell) + 2 * beyond for d in form.size)
            self._cells[k] = fill([ring / cell + beyond for ring in rings_of(grown)],
                                  max(rows, 1), max(columns, 1))
        return self._cells[k]
