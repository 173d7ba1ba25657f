"""Blocks of drawing set one below another in columns, over as many pages as they need."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .flow import wrapped
from .labels import ASCENT
from .strokes import MIN_SIZE, Drawing, Text, combined

LEADING = 1.35  # distance of lines of running text, in font sizes
COLUMN = 170.0  # least width of a column, mm
GUTTER = 12.0

Window = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Block:
    """A drawing whose upper left corner is the origin (so y is negative in it), its height,
    the space below it, and whether it must stay with the block that follows."""

    drawing: Drawing
    height: float
    space: float = 4.0
    keep: bool = False


def set_blocks(blocks: Iterable[Block], window: Window) -> list[Drawing]:
    """One drawing per page; window (x0, y0, x1, y1) is the part of a page that is used.

    Blocks must be no wider than `column_width(window)`.
    """
    x0, y0, _, y1 = window
    width, columns = column_width(window), _columns(window)
    pages: list[list[Drawing]] = [[]]
    column, y, waiting = 0, y1, []
    for block in blocks:
        waiting.append(block)
        if block.keep:
            continue
        tall = sum(b.height + b.space for b in waiting) - block.space
        if y - tall < y0 - 1e-6 and y < y1:
            column, y = column + 1, y1
            if column == columns:
                pages.append([])
                column = 0
        for b in waiting:
            pages[-1].append(b.drawing.moved((x0 + column * (width + GUTTER), y)))
            y -= b.height + b.space
        waiting = []
    return [combined(page) for page in pages]


def column_width(window: Window) -> float:
    """Width of the columns that `set_blocks` makes of a window, mm."""
    count = _columns(window)
    return (window[2] - window[0] - (count - 1) * GUTTER) / count


def _columns(window: Window) -> int:
    return max(1, int((window[2] - window[0] + GUTTER) // (COLUMN + GUTTER)))


def paragraph(words: str, width: float, size: float = MIN_SIZE, bold: bool = False,
              space: float = 2.2, keep: bool = False, hang: str = "") -> Block:
    """Running text as a block; hang: a mark that stands before the first line."""
    indent = 5.0 if hang else 0.0
    lines = wrapped(words, width - indent, size, bold)
    texts = [Text("text", line, (indent, -ASCENT * size - n * LEADING * size), size,
                  anchor="start", bold=bold) for n, line in enumerate(lines)]
    if hang:
        texts.append(Text("text", hang, (0.0, -ASCENT * size), size, anchor="start", bold=bold))
    return Block(Drawing((), tuple(texts)), size * (1 + LEADING * (len(lines) - 1)), space, keep)


def heading(words: str, width: float) -> Block:
    """A heading that stays with what follows it."""
    return paragraph(words, width, 5.5, True, 3.0, keep=True)


def beside(left: Block, right: Block, shift: float) -> Block:
    """Two blocks next to each other, the right one moved by shift mm."""
    return Block(left.drawing + right.drawing.moved((shift, 0.0)),
                 max(left.height, right.height), max(left.space, right.space))


def stacked(blocks: Iterable[Block]) -> Block:
    """Blocks below one another as one that is not torn apart."""
    drawings, y, space = [], 0.0, 0.0
    for block in blocks:
        drawings.append(block.drawing.moved((0.0, y)))
        y -= block.height + block.space
        space = block.space
    return Block(combined(drawings), -y - space)
