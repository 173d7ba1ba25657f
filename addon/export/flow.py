"""Running text, tables and pictures on pages: what is measured is what is set.

Everything is placed in mm from the lower left corner. Pages are collected first
and written at the end, so that every page knows how many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from .canvas import POINTS_PER_MM, Canvas
from .fonts import legible, text_width
from .paths import drawn_path

if TYPE_CHECKING:
    from .plan.blocks import Column

BODY, SMALL, HEAD, TITLE = 3.6, 3.1, 5.0, 9.0  # font sizes, mm
LEADING = 1.38  # line to line, of the font size
INK, SOFT, RULE = 0.0, 0.40, 0.72  # grey levels of text, side notes and thin rules


class Ink(Canvas):
    """A canvas with tones and free line widths."""

    def fill(self, rings: Sequence[np.ndarray], grey: float) -> None:
        """An area of one tone; rings inside rings are holes."""
        with drawn_path(self._pdf) as path:
            path.style.fill_color = _tone(grey)
            path.style.stroke_color = None
            path.style.intersection_rule = "evenodd"
            for ring in rings:
                self._trace(path, ring)
                path.close()

    def line(self, points: np.ndarray, width: float = 0.2, grey: float = INK,
             dashes: Sequence[float] = (),
             closed: bool = False) -> None:
        self.lines([points], width, grey, dashes, closed)

    def lines(self, lines: Sequence[np.ndarray], width: float = 0.2, grey: float = INK,
              dashes: Sequence[float] = (), closed: bool = False) -> None:
        """Several lines of one look, far faster than one by one."""
        with drawn_path(self._pdf) as path:
            path.style.stroke_width = width
            path.style.stroke_color = _tone(grey)
            path.style.stroke_dash_pattern = tuple(dashes)
            path.style.fill_color = None
            path.style.stroke_join_style = path.style.stroke_cap_style = "round"
            path.style.auto_close = False
            for points in lines:
                self._trace(path, points)
                if closed:
                    path.close()

    def words(self, x: float, y: float, text: str, size: float = BODY, bold: bool = False,
              grey: float = INK, anchor: str = "start") -> None:
        """One line of text on the baseline y."""
        words = legible(text)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
        self._pdf.set_text_color(*[round(255 * grey)] * 3)
        self._pdf.set_font("text", "B" if bold else "", size * POINTS_PER_MM)
        self._pdf.text(x - share * text_width(words, size, bold), self._height - y, words)
        self._pdf.set_text_color(0, 0, 0)

    def _trace(self, path, points) -> None:
        points = np.asarray(points, dtype=float)
        path.move_to(points[0, 0], self._height - points[0, 1])
        for x, y in points[1:].tolist():
            path.line_to(x, self._height - y)


def _tone(grey: float) -> str:
    return "#" + f"{round(255 * grey):02x}" * 3


def wrapped(text: str, width: float, size: float = BODY, bold: bool = False) -> list[str]:
    """The text in lines no wider than width mm; a word that is wider is split."""
    lines = [""]
    for word in legible(text).split():
        while text_width(word, size, bold) > width:
            kept = max(1, next(i for i in range(len(word), 0, -1)
                               if i == 1 or text_width(word[:i], size, bold) <= width))
            lines += [word[:kept]] if lines[-1] else []
            lines[-1], word = word[:kept], word[kept:]
            lines.append("")
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size, bold) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


@dataclass
class _Page:
    marks: list[Callable[[Ink], None]] = field(default_factory=list)
    bookmarks: list[tuple[str, int]] = field(default_factory=list)


class Flow:
    """A document filled from top to bottom. y: where the next thing goes, falling."""

    def __init__(self, title: str, size: tuple[float, float], margin: float = 17.0):
        self.title, self.size, self.margin = title, size, margin
        self.pages: list[_Page] = []
        self.section = ""
        self.page()

    @property
    def width(self) -> float:
        return self.size[0] - 2 * self.margin

    @property
    def bottom(self) -> float:
        return self.margin + 4.0

    def page(self) -> None:
        self.pages.append(_Page())
        self.y = self.size[1] - self.margin - (4.0 if len(self.pages) > 1 else 0.0)
        self.fresh = True
        section = self.section
        if len(self.pages) > 1:
            x, y = self.margin, self.size[1] - self.margin + 3.0
            self.draw(lambda s: (s.words(x, y, _cut_short(self.title, self.width * 0.6), SMALL,
                                         grey=SOFT),
                                 s.words(self.size[0] - x, y, section, SMALL, grey=SOFT,
                                         anchor="end")))

    def draw(self, mark: Callable[[Ink], None]) -> None:
        """Something to be drawn on the present page."""
        self.pages[-1].marks.append(mark)

    def need(self, height: float) -> None:
        """Turn the page unless this much is left, mm."""
        if self.y - height < self.bottom and not self.fresh:
            self.page()

    def space(self, height: float) -> None:
        if not self.fresh:
            self.y -= height

    def begin(self, title: str, new_page: bool = True) -> None:
        """A section with a bookmark."""
        self.section = title
        if new_page and not self.fresh:
            self.page()
        elif not new_page:
            self.space(5.0)
        self.need(30.0)
        self.pages[-1].bookmarks.append((title, 0))
        self.text(title, HEAD * 1.25, bold=True)
        self.space(1.5)

    def bookmark(self, title: str, level: int = 1) -> None:
        self.pages[-1].bookmarks.append((title, level))

    def heading(self, text: str) -> None:
        self.need(22.0)
        self.space(3.5)
        self.text(text, BODY * 1.12, bold=True)
        self.space(0.6)

    def text(self, text: str, size: float = BODY, bold: bool = False, grey: float = INK,
             x: float = 0.0, width: float | None = None, hang: str = "") -> None:
        """A paragraph; hang: a mark that stands before its first line."""
        for i, line in enumerate(wrapped(text, width or self.width - x, size, bold)):
            self.need(size * LEADING)
            self.y -= size * LEADING
            at, place = self.margin + x, self.y + 0.3 * size
            self.draw(lambda s, a=at, p=place, w=line: s.words(a, p, w, size, bold, grey))
            if hang and i == 0:
                back = text_width(hang + " ", size)
                self.draw(lambda s, a=at - back, p=place: s.words(a, p, hang, size))
            self.fresh = False

    def bullets(self, items: Sequence[str]) -> None:
        for item in items:
            self.text(item, x=5.0, hang="–")
            self.space(0.8)

    def boxes(self, items: Sequence[str]) -> None:
        """Lines with a box to tick."""
        for item in items:
            self.need(BODY * LEADING)
            x, y = self.margin, self.y - BODY * 0.85
            self.draw(lambda s, x=x, y=y - 0.7: tick_box(s, x, y, 3.2))
            self.text(item, x=6.0)
            self.space(1.2)

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> None:
        """A table; cells wrap, the head is repeated on every page."""
        total = sum(c.share for c in columns)
        widths = [c.share / total * self.width for c in columns]
        starts = [self.margin + sum(widths[:i]) for i in range(len(widths))]

        def row(cells, bold):
            lines = [wrapped(str(c), w - 3.0, SMALL, bold)
                     for c, w in zip(cells, widths, strict=True)]
            height = max(map(len, lines)) * SMALL * LEADING + 1.6
            return lines, height

        def put(lines, height, bold, width):
            for cell, x, w, column in zip(lines, starts, widths, columns, strict=True):
                at = x if column.anchor == "start" else x + w - 3.0
                for i, line in enumerate(cell):
                    y = self.y - 0.6 - SMALL * (LEADING * (i + 1) - 0.35)
                    self.draw(lambda s, a=at, y=y, t=line, c=column: s.words(
                        a, y, t, SMALL, bold, anchor=c.anchor))
            self.y -= height
            y = self.y
            self.draw(lambda s: s.line([(self.margin, y), (self.margin + self.width, y)],
                                       width, INK if bold else RULE))
            self.fresh = False

        head = row([c.title for c in columns], True)
        self.need(head[1] + 12.0)
        put(*head, True, 0.3)
        for cells in rows:
            body = row(cells, False)
            if self.y - body[1] < self.bottom:
                self.page()
                put(*head, True, 0.3)
            put(*body, False, 0.15)

    def write(self, path: str | Path) -> None:
        """Write the PDF."""
        sheet = Ink(self.title)
        for number, page in enumerate(self.pages, 1):
            sheet.page(self.size)
            for title, level in page.bookmarks:
                sheet.bookmark(title, level)
            for mark in page.marks:
                mark(sheet)
            sheet.words(self.size[0] / 2, self.margin - 6.0, f"{number} of {len(self.pages)}",
                        SMALL, grey=SOFT, anchor="middle")
        sheet.write(path)


def tick_box(sheet: Ink, x: float, y: float, side: float) -> None:
    """An empty box to tick, lower left corner at (x, y)."""
    sheet.line([(x, y), (x + side, y), (x + side, y + side), (x, y + side)], 0.3, closed=True)


def _cut_short(text: str, width: float) -> str:
    lines = wrapped(text, width, SMALL)
    return lines[0] if len(lines) == 1 else lines[0] + " …"
