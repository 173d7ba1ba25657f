"""Marks without a cut as they are drawn on templates, and what is written beside them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from ..core.model import CIRCLE, DRILL, HOLE, PATCH, RIVET, Pattern, Piece, PointMark
from ..core.point_marks import outline
from ..core.units import format_length
from .strokes import Stroke

ARM = 2.5  # mm, half the size of the cross at a drill point
CENTRE = 2  # of the points of a cross


@dataclass(frozen=True, eq=False)
class MarkNote:
    """What is written once for the marks of a row: point (2,) of the one in its middle, how far
    (mm) words keep off it, and the words."""

    point: np.ndarray
    reach: float
    word: str

    def spots(self, extent: np.ndarray) -> list[np.ndarray]:
        """Places for the middle of its word, of extent (2,), nearest first."""
        turn = np.radians(np.arange(0, 360, 45))
        ways = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        return [self.point + ways[k] * (self.reach + gap + np.abs(ways[k]) @ extent / 2)
                for gap in (1.2, 2.5, 4.5, 8.0) for k in (2, 6, 0, 4, 1, 3, 5, 7)]


def cross(point: np.ndarray, along: np.ndarray) -> np.ndarray:
    """A cross as one line (5, 2), with its centre at CENTRE."""
    side = np.array((-along[1], along[0]))
    return np.array([point - along * ARM, point + along * ARM, point, point + side * ARM,
                     point - side * ARM])


def strokes(piece: Piece, place: Callable[[np.ndarray], np.ndarray], kerf: float
            ) -> list[Stroke]:
    """The marks of a template where it lies: holes on a layer that is cut, `kerf` smaller; drill
    points as crosses; what is laid on as its outline."""
    found = []
    for mark in piece.point_marks:
        hole = mark.kind == HOLE
        smaller = replace(mark, size=np.maximum(mark.size - kerf, 0.0)) if hole else mark
        ring = outline(smaller)
        if len(ring):
            found.append(Stroke("hole" if hole else "outline", place(ring), True, hole))
        if mark.kind in (RIVET, DRILL):
            found.append(Stroke("drill", place(cross(mark.point, mark.along))))
    return found


def absent(pieces: Iterable[Piece]) -> set[str]:
    """The layers of marks that none of the pieces has."""
    kinds = {mark.kind for mark in _marks(pieces)}
    uses = {"hole": {HOLE}, "drill": {RIVET, DRILL}, "outline": {RIVET, CIRCLE, PATCH}}
    return {layer for layer, own in uses.items() if not own & kinds}


def notes(piece: Piece, place: Callable[[np.ndarray], np.ndarray], unit: str) -> list[MarkNote]:
    """One for each row or single mark of a template."""
    rows: dict[tuple, list[PointMark]] = {}
    for mark in piece.point_marks:
        rows.setdefault((mark.name, mark.kind), []).append(mark)
    found = []
    for marks in rows.values():
        mark = marks[len(marks) // 2]
        many = f"{len(marks)} × " if len(marks) > 1 else ""
        reach = max(float(mark.size.max()) / 2, ARM if mark.kind in (RIVET, DRILL) else 0.0)
        found.append(MarkNote(place(mark.point[None])[0], reach, many + word(mark, unit)))
    return found


def word(mark: PointMark, unit: str) -> str:
    """Such as “rivet Ø 12 mm”."""
    length, width = (format_length(float(x), unit) for x in mark.size)
    round_ = length if mark.size[0] > 0 else ""
    size = f"Ø {round_}" if round_ else ""
    if mark.kind == CIRCLE and mark.stock:
        size += f", {mark.stock}"
    if mark.kind == PATCH:
        return f"hook-and-loop {length} × {width}"
    if mark.kind == HOLE and mark.size[0] != mark.size[1]:
        return f"slot {length} × {width}"
    name = {RIVET: "rivet", DRILL: "drill", HOLE: "hole", CIRCLE: "circle"}[mark.kind]
    return f"{name} {size}".strip()


def bought(pattern: Pattern) -> list[tuple[str, int]]:
    """What the marks of a pattern take, and how many: domes, circles by diameter and stock, and
    patches. Holes and drill points take nothing."""
    unit = pattern.settings.unit
    wanted = Counter(_thing(mark, unit) for mark in _marks(pattern.pieces)
                     if mark.kind in (RIVET, CIRCLE, PATCH))
    return sorted(wanted.items())


def _thing(mark: PointMark, unit: str) -> str:
    if mark.kind == RIVET:
        size = f", Ø {format_length(float(mark.size[0]), unit)}" if mark.size[0] > 0 else ""
        return f"domes for rivets{size}"
    if mark.kind == PATCH:
        length, width = (format_length(float(x), unit) for x in mark.size)
        return f"patches of hook-and-loop, {length} × {width}, both halves"
    return word(mark, unit).replace("circle", "circles", 1)


def _marks(pieces: Iterable[Piece]) -> Iterable[PointMark]:
    return (mark for piece in pieces for mark in piece.point_marks)


def punched(pieces: Iterable[Piece]) -> float:
    """Length, mm, of the cuts round all holes."""
    rings = [outline(mark) for mark in _marks(pieces) if mark.kind == HOLE]
    return float(sum(np.hypot(*(ring - np.roll(ring, 1, axis=0)).T).sum()
                     for ring in rings if len(ring)))
