"""A layout made better: on fewer rectangles, and with less of the last one used.

A rectangle less is tried by crowding its shapes into the others, a shorter one by moving its end
inwards; then the overlaps are searched away on a lattice (`separate`) and the rest is moved
exactly (`compact`). Whatever that finds is kept only where the distances are right.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np

from .compact import compact
from .convex import convex_parts, forms, simple
from .depth import Depths
from .separate import Crowd

STEPS = (60, 120)  # of the lattice across a rectangle's shorter side, at least and at most
ACROSS = 8.0  # steps across a shape of middling size
COARSE = 2e-4  # of the shorter side: how far outlines of many corners may be simplified
GIVE_UP = 25  # attempts in a row that failed
SHARE = 0.06  # of the work for each attempt
FIRST, LEAST, MOST = 0.03, 0.003, 0.05  # share of the length taken away at once


@dataclass
class Effort:
    """Work in cells: all of it, what may be done for now, what is done. ask is told the share
    done now and then; where it returns True it has been enough."""

    total: float
    ask: Callable[[float], bool | None] = lambda share: None
    done: float = 0.0
    most: float = math.inf
    enough: bool = False

    def over(self) -> bool:
        """Has enough been done?"""
        self.enough = self.enough or bool(self.ask(min(self.done / max(self.total, 1.0), 1.0)))
        return self.enough or self.done >= min(self.most, self.total)


@dataclass(eq=False)
class Layout:
    """form, bin (n,) and lower left corner (n, 2) of every shape."""

    form: np.ndarray
    bin: np.ndarray
    corner: np.ndarray

    def copy(self) -> Layout:
        return Layout(self.form.copy(), self.bin.copy(), self.corner.copy())


class Squeezer:
    """Shapes (shapely polygons) and the turns each may take, for rectangles of one height.

    gap: least distance of two shapes; height: of the rectangles within their margin. bound (n,):
    shapes that stay in the rectangle they are in. Work is counted in `effort`.
    """

    def __init__(self, shapes: Sequence, angles: Sequence[Sequence[float]], gap: float,
                 height: float, bound: np.ndarray, effort: Effort):
        self.gap, self.height, self.bound, self.effort = gap, height, bound, effort
        self.coarse = COARSE * height
        known: dict[tuple[int, float], int] = {}
        parts: dict[int, list[np.ndarray]] = {}
        plain = {}
        for shape in shapes:
            if id(shape) not in parts:
                plain[id(shape)] = simple(shape, self.coarse)
                parts[id(shape)] = convex_parts(plain[id(shape)])
        most = max(len(part) for each in parts.values() for part in each)
        found, self.turns = [], []
        for shape, turns in zip(shapes, angles, strict=True):
            new = [a for a in dict.fromkeys(turns) if (id(shape), a) not in known]
            known |= {(id(shape), a): len(found) + n for n, a in enumerate(new)}
            found += forms(plain[id(shape)], new, most, parts[id(shape)])
            self.turns.append([known[id(shape), a] for a in dict.fromkeys(turns)])
        size = np.sqrt([shape.area for shape in shapes])
        step = np.clip(np.median(size) / ACROSS, height / STEPS[1], height / STEPS[0])
        self.depths = Depths(found, gap, float(step))

    def layout(self, angles: Sequence[float], bin: Sequence[int],
               offset: Sequence[Sequence[float]]) -> Layout:
        """A layout by the turn, rectangle and move after the turn of every shape."""
        form = [next(k for k in turns if self.depths.forms[k].angle == angle)
                for turns, angle in zip(self.turns, angles, strict=True)]
        low = np.array([self.depths.forms[k].low for k in form])
        return Layout(np.array(form), np.array(bin), np.array(offset, dtype=float) + low)

    def fewer(self, layout: Layout, width: float, units: Sequence[Sequence[int]], least: int,
              rng: np.random.Generator) -> Layout:
        """The layout on fewer rectangles of this width, if they were found; not below `least`.

        units: shapes that go together from one rectangle into another.
        """
        while not self.effort.over() and (count := int(layout.bin.max()) + 1) > least:
            start = self._crowded(layout, width, units, count, rng)
            start, wrong = self._freed(start, width, rng)
            while len(wrong) and not self.effort.over():
                start, wrong = self._freed(self._swapped(start, wrong, rng), width, rng)
            if len(wrong):
                break
            layout = start
        return layout

    def shorter(self, layout: Layout, rng: np.random.Generator) -> tuple[Layout, float]:
        """The layout of one rectangle on the least length found, and that length."""
        best, length = layout.copy(), self.length(layout)
        pushed = self._pushed(best)
        if pushed and pushed[1] < length - 4 * self.coarse:  # not only as outlines are simplified
            best, length = pushed
        share, start, failed = FIRST, best, 0
        while failed < GIVE_UP and not self.effort.over():
            found, wrong = self._freed(start, (1 - share) * length, rng)
            failed = failed + 1 if len(wrong) else 0
            if len(wrong):
                share = max(0.7 * share, LEAST)
                start = self._swapped(best, wrong, rng)
                continue
            best, length = found, self.length(found)
            pushed = self._pushed(best)
            if pushed and pushed[1] < length:
                best, length = pushed
            share, start = min(1.2 * share, MOST), best
        return best, length

    def last_shorter(self, layout: Layout, rng: np.random.Generator) -> Layout:
        """The layout with the rectangle of which least is used as the last one, and that one on
        the least length found."""
        layout, last = layout.copy(), int(layout.bin.max())
        right = layout.corner[:, 0] + [self.depths.forms[k].size[0] for k in layout.form]
        gone = int(np.argmin([right[layout.bin == b].max() for b in range(last + 1)]))
        layout.bin[:] = np.where(layout.bin == gone, last,
                                 np.where(layout.bin == last, gone, layout.bin))
        here = np.flatnonzero(layout.bin == last)
        part = copy(self)
        part.turns, part.bound = [self.turns[i] for i in here], self.bound[here]
        found, _ = part.shorter(
            Layout(layout.form[here], np.zeros(len(here), dtype=int), layout.corner[here]), rng)
        layout.form[here], layout.corner[here] = found.form, found.corner
        return layout

    def _area(self, layout: Layout) -> np.ndarray:
        """Of the boxes of the shapes (n,)."""
        return np.array([self.depths.forms[k].size.prod() for k in layout.form])

    def length(self, layout: Layout) -> float:
        """How far a layout of one rectangle reaches to the right."""
        return max(x + self.depths.forms[k].size[0]
                   for k, x in zip(layout.form, layout.corner[:, 0], strict=True))

    def _crowded(self, layout: Layout, width: float, units: Sequence[Sequence[int]], count: int,
                 rng: np.random.Generator) -> Layout:
        """A layout without the rectangle that holds the least, what lay in it on the others."""
        area = self._area(layout)
        gone = int(np.argmin(np.bincount(layout.bin, area, minlength=count)))
        start = layout.copy()
        start.bin[layout.bin > gone] -= 1
        homeless = [unit for unit in units if layout.bin[unit[0]] == gone]
        for unit in homeless:
            start.bin[list(unit)] = -1
        for unit in sorted(homeless, key=lambda unit: -area[list(unit)].sum()):
            load = np.bincount(np.maximum(start.bin, 0), area * (start.bin >= 0),
                               minlength=count - 1)
            start.bin[list(unit)] = int(np.argmin(load + rng.random(count - 1)))
            for i in unit:
                room = np.maximum([width, self.height] - self.depths.forms[start.form[i]].size, 0)
                start.corner[i] = rng.random(2) * room
        return start

    def _swapped(self, layout: Layout, wrong: np.ndarray, rng: np.random.Generator) -> Layout:
        """One of the shapes that lay wrong has changed places with another, large ones more
        often."""
        area, start = self._area(layout), layout.copy()
        i = rng.choice(wrong, p=area[wrong] / area[wrong].sum())
        others = np.flatnonzero(
            (layout.bin == layout.bin[i]) | ~(self.bound | self.bound[i]))
        others = others[others != i]
        if len(others):
            j = rng.choice(others, p=area[others] / area[others].sum())
            start.corner[[i, j]] = start.corner[[j, i]]
            start.bin[[i, j]] = start.bin[[j, i]]
        return start

    def _freed(self, start: Layout, width: float,
               rng: np.random.Generator) -> tuple[Layout, np.ndarray]:
        """The layout on rectangles of this width with no overlaps, or few, and the shapes in
        the rectangles where some were left."""
        step, effort = self.depths.step, self.effort
        place = np.round(start.corner[:, ::-1] / step).astype(int)
        crowd = Crowd(self.depths, self.turns, np.array([width, self.height]), self.bound,
                      start.form, start.bin, place)
        begun, spent = effort.done, self.depths.work
        most = begun + SHARE * effort.total

        def go_on() -> bool:
            effort.done = begun + crowd.work + self.depths.work - spent
            return not effort.over() and effort.done < most

        crowd.separate(rng, go_on)
        go_on()
        found = Layout(np.array(crowd.form), np.array(crowd.bin),
                       np.array(crowd.place)[:, ::-1] * step)
        wrong = []
        for b in range(crowd.bins):
            here = np.flatnonzero(found.bin == b)
            apart = self._compact(found.form[here], found.corner[here], width)
            if apart is not None:
                found.corner[here] = apart[0]
            if apart is None or apart[1] > 1e-8 * self.height or not self.is_sound(
                    Layout(found.form[here], np.zeros(len(here), int), found.corner[here]), width):
                wrong.append(here)
        return found, np.concatenate(wrong) if wrong else np.empty(0, dtype=int)

    def _pushed(self, layout: Layout) -> tuple[Layout, float] | None:
        """The layout of one rectangle pushed together, and its length."""
        found = self._compact(layout.form, layout.corner, None)
        if found is None:
            return None
        pushed = Layout(layout.form, layout.bin, found[0])
        length = self.length(pushed)
        return (pushed, length) if self.is_sound(pushed, length) else None

    def _compact(self, form: np.ndarray, corner: np.ndarray,
                 width: float | None) -> tuple[np.ndarray, float] | None:
        shapes = [self.depths.forms[k] for k in form]
        self.effort.done += 3e4 * sum(len(shape.box) for shape in shapes)
        return compact(shapes, corner, self.height, self.gap, 2 * self.depths.step, width)

    def is_sound(self, layout: Layout, width: float) -> bool:
        """Are all shapes within the rectangles and nowhere nearer than the gap?"""
        import shapely

        forms = [self.depths.forms[k] for k in layout.form]
        slack = 1e-9 * self.height
        high = layout.corner + [form.size for form in forms]
        if layout.corner.min() < -slack or (high > [width + slack, self.height + slack]).any():
            return False
        for b in range(int(layout.bin.max()) + 1):
            shapes = [shapely.transform(forms[i].shape, lambda p, i=i: p + layout.corner[i])
                      for i in np.flatnonzero(layout.bin == b)]
            near = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=self.gap)
            for i, j in near.T:
                if i < j and (shapes[i].distance(shapes[j]) < self.gap - slack
                              or shapes[i].intersection(shapes[j]).area > slack * self.height):
                    return False
        return True
