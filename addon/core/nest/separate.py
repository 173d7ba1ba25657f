"""Shapes that overlap in some rectangles, moved one by one until none does."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from .depth import Depths

STALL = 60  # rounds without a better layout after which the search is given up
ADD = 450  # work of adding one map of depths, besides its cells


class Crowd:
    """Shapes on the lattices of equal rectangles, which may overlap.

    depths: between the forms; turns: per shape the numbers of the forms it may take; size
    (width, height) of the rectangles; bound: per shape, whether it stays in its rectangle.
    form, bin (n,), place (n, 2): form, rectangle, and row and column of each shape's lower left
    corner; kept as lists.
    """

    def __init__(self, depths: Depths, turns: Sequence[Sequence[int]], size: np.ndarray,
                 bound: np.ndarray, form: np.ndarray, bin: np.ndarray, place: np.ndarray):
        self.depths, self.turns, self.bound = depths, turns, bound
        steps = [(size - form.size) / depths.step + 1e-6 for form in depths.forms]
        self.grid = [(int(np.floor(h)) + 1, int(np.floor(w)) + 1) for w, h in steps]
        self.form, self.bin, self.bins = form.tolist(), bin.tolist(), int(bin.max()) + 1
        last = np.array([self.grid[k] for k in form]) - 1
        # Plain numbers: they are looked at one by one, over and over.
        self.place = [tuple(p) for p in np.clip(place, 0, np.maximum(last, 0)).tolist()]
        n = len(form)
        self.weight = np.ones((n, n), dtype=np.float32)
        self.depth = np.zeros((n, n), dtype=np.float32)
        self.work = 0.0
        for i in range(n):
            self._measure(i)

    def separate(self, rng: np.random.Generator, go_on: Callable[[], bool]) -> bool:
        """Move shapes until none overlaps; False, and the layout with the least overlap, where
        that was not found before the search stalled or should not go on.

        Each that overlaps goes to where its weighted depths are least. Where that mends nothing,
        the pairs that overlap gain weight, in proportion to their depth ("guided local search":
        Egeblad, Nielsen and Odgaard, European J. of Operational Research 183, 2007).
        """
        best, since, more = self._state(), 0, go_on()
        while more and best[0] > 0 and since < STALL:
            for i in rng.permutation(np.flatnonzero(self.depth.any(axis=1))):
                if more and self.depth[i].any():
                    self._move(i, rng)
                    more = go_on()
            state = self._state()
            best, since = (state, 0) if state[0] < best[0] - 1e-6 else (best, since + 1)
            if state[0] > 0:
                self.weight += self.depth * (0.5 / self.depth.max())
        if best[0] < self._state()[0]:
            _, self.form, self.bin, self.place = best
            for i in range(len(self.form)):
                self._measure(i)
        return best[0] <= 0

    def _state(self) -> tuple[float, list[int], list[int], list[tuple[int, int]]]:
        return float(self.depth.sum()), self.form.copy(), self.bin.copy(), self.place.copy()

    def _move(self, i: int, rng: np.random.Generator) -> None:
        """Put a shape where it costs least, if that is less than where it is."""
        least = float(self.weight[i] @ self.depth[i]) - 1e-6
        bins = [self.bin[i]] if self.bound[i] else range(self.bins)
        found = None
        for k in self.turns[i]:
            if min(self.grid[k]) < 1:
                continue
            for b in bins:
                cost = self.cost(i, k, b)
                low = float(cost.min())
                if low < least:
                    least = low - 1e-6
                    found = k, b, cost, low
        if found is None:
            return
        k, b, cost, low = found
        spots = np.flatnonzero(cost.ravel() <= low + 1e-6)
        self.form[i], self.bin[i] = k, b
        self.place[i] = divmod(int(spots[rng.integers(len(spots))]), cost.shape[1])
        self._measure(i)

    def cost(self, i: int, k: int, b: int) -> np.ndarray:
        """Weighted depths of shape i in form k at every place (rows, columns) of a rectangle."""
        rows, columns = self.grid[k]
        cost = np.zeros((rows, columns), dtype=np.float32)
        weight = self.weight[i].tolist()
        between, form, cells, count = self.depths.between, self.form, 0, 0
        for j, place in enumerate(self.place):
            if self.bin[j] != b or j == i:
                continue
            depth, row, column = between(form[j], k)
            r, c = place[0] - row, place[1] - column
            height, width = depth.shape
            if r < 0 or c < 0 or r + height > rows or c + width > columns:
                r0, c0 = max(r, 0), max(c, 0)
                depth = depth[r0 - r : rows - r, c0 - c : columns - c]
                r, c = r0, c0
                height, width = depth.shape
            cost[r : r + height, c : c + width] += weight[j] * depth
            cells += height * width
            count += 1
        self.work += cost.size + ADD * count + 0.3 * cells
        return cost

    def _measure(self, i: int) -> None:
        """Bring the depths of a shape in all others up to date."""
        found = [0.0] * len(self.form)
        b, k, (row, column) = self.bin[i], self.form[i], self.place[i]
        for j, place in enumerate(self.place):
            if self.bin[j] != b or j == i:
                continue
            depth, r, c = self.depths.between(self.form[j], k)
            r += row - place[0]
            c += column - place[1]
            if 0 <= r < depth.shape[0] and 0 <= c < depth.shape[1]:
                found[j] = depth[r, c]
        self.depth[i] = self.depth[:, i] = found
