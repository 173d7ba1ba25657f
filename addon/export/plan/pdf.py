"""The plan as a PDF to lie on the bench, in tones that print in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch
from pathlib import Path

import numpy as np

from ...core.model import Pattern
from ..flow import BODY, HEAD, LEADING, RULE, SMALL, SOFT, TITLE, Flow, Ink, tick_box, wrapped
from .blocks import (
    Block,
    Boxes,
    Bullets,
    Heading,
    Plan,
    Section,
    Table,
    Text,
    Tones,
    Views,
    Work,
)
from .contents import plan_of
from .illustration import Area, Illustration, Lines
from .paper import MARGIN
from .steps import PICTURE

_BESIDE, _GAP = 10.0, 5.0  # mm: room for codes beside a picture; between picture and words
_CAPTION = 9.0  # mm below a picture
_LEAST = 0.6  # of its size: smaller than that a picture goes to the next page
_WORDS = 3.4  # size of the words of a step
_LONGEST = 110.0  # mm of words beside a picture; longer ones run below it


def write_plan_pdf(pattern: Pattern, path: str | Path) -> None:
    """Write the plan on A4, or on Letter where the templates are on an inch paper.

    The same pattern gives the same bytes.
    """
    pages(plan_of(pattern)).write(path)


def pages(plan: Plan) -> Flow:
    """The plan on its pages."""
    flow = Flow(plan.title, plan.size, MARGIN)
    flow.bookmark(plan.title, 0)
    flow.text(plan.title, TITLE, bold=True)
    flow.text("Build plan", BODY * 1.4, grey=SOFT)
    flow.space(3.0)
    for block in plan.cover:
        put(block, flow)
    for section in plan.sections:
        _begin(section, flow)
        for block in section.blocks:
            put(block, flow)
    return flow


def _begin(section: Section, flow: Flow) -> None:
    flow.begin(section.title, new_page=section.room >= 1 or flow.y < section.room * flow.size[1])


@singledispatch
def put(block: Block, flow: Flow) -> None:
    """Set a block where the flow stands."""
    raise TypeError(f"a plan holds no {type(block).__name__}")


@put.register
def _(block: Heading, flow: Flow) -> None:
    flow.heading(block.text)


@put.register
def _(block: Text, flow: Flow) -> None:
    if block.bold:
        flow.need(3 * BODY)
    flow.space(0.9 if block.note else 0.0)
    flow.text(block.text, SMALL if block.note else BODY, block.bold, SOFT if block.note else 0.0)
    flow.space(0.0 if block.bold else 1.2)


@put.register
def _(block: Bullets, flow: Flow) -> None:
    flow.bullets(block.items)


@put.register
def _(block: Boxes, flow: Flow) -> None:
    flow.boxes([box.text for box in block.items])


@put.register
def _(block: Table, flow: Flow) -> None:
    flow.table(block.columns, block.rows)
    flow.space(1.0)


@put.register
def _(block: Tones, flow: Flow) -> None:
    flow.need(10.0)
    step, side = flow.width / len(block.tones), 4.0
    y = flow.y - side
    for k, (grey, text) in enumerate(block.tones):
        x = flow.margin + k * step
        box = np.array([(x, y), (x + 7.0, y), (x + 7.0, y + side), (x, y + side)])
        flow.draw(lambda s, b=box, g=grey, x=x, t=text: (
            s.fill([b], g), s.line(b, 0.15, closed=True), s.words(x + 8.5, y + 1.0, t, SMALL)))
    flow.y = y - 2.0


@put.register
def _(block: Views, flow: Flow) -> None:
    """Rows of pictures, smaller where the page is nearly full."""
    flow.space(2.0)
    rows = [block.pictures[i:i + block.columns]
            for i in range(0, len(block.pictures), block.columns)]
    tall = sum(max(p.size[1] for p in row) for row in rows)
    share = (flow.y - flow.bottom - _CAPTION * len(rows)) / tall
    if share < _LEAST:
        flow.need(tall + _CAPTION * len(rows))
        share = (flow.y - flow.bottom - _CAPTION * len(rows)) / tall
    if share < 1:
        rows = [[picture.scaled(share) for picture in row] for row in rows]
    for row in rows:
        base = flow.y - max(picture.size[1] for picture in row)
        gap = (flow.width - sum(p.size[0] for p in row)) / len(row)
        x = flow.margin + gap / 2
        for picture in row:
            flow.draw(lambda s, p=picture, x=x, y=base: (
                draw(s, p, x, y),
                s.words(x + p.size[0] / 2, y - 5.5, p.caption, SMALL, grey=SOFT,
                        anchor="middle")))
            x += picture.size[0] + gap
        flow.y = base - _CAPTION
    flow.fresh = False


@put.register
def _(block: Work, flow: Flow) -> None:
    """A step: picture on the left, words on the right, a box to tick."""
    picture = block.picture
    beside = 0.0 if picture is None else PICTURE[0] + 2 * _BESIDE + _GAP
    texts = (*block.texts, block.caution) if block.caution else block.texts
    paragraphs = [wrapped(text, flow.width - beside, _WORDS) for text in texts]
    tall = sum(len(p) for p in paragraphs) * _WORDS * LEADING + 1.2 * len(paragraphs)
    below = picture is not None and tall > _LONGEST
    height = max(0.0 if picture is None else picture.size[1], 0.0 if below else tall)
    title = wrapped(block.box.text, flow.width - 26.0, BODY * 1.1, bold=True)
    head = len(title) * BODY * 1.1 * LEADING + 3.0
    if picture is None and tall > _LONGEST:
        height = 30.0  # the words may run over the page
    flow.need(head + height + 6.0)
    flow.bookmark(f"{block.number}  {block.box.text}")
    _head(flow, block.number, title)
    top = flow.y
    if picture is not None:
        x, y = flow.margin + _BESIDE, top - picture.size[1]
        x += (PICTURE[0] - picture.size[0]) / 2
        flow.draw(lambda s: draw(s, picture, x, y))
    if below or picture is None:
        if below:
            flow.y = top - picture.size[1] - 2.0
        for text in texts:
            flow.text(text, _WORDS)
            flow.space(1.2)
    else:
        for lines in paragraphs:
            for line in lines:
                flow.y -= _WORDS * LEADING
                at = flow.y + 0.3 * _WORDS
                flow.draw(lambda s, t=line, y=at: s.words(flow.margin + beside, y, t, _WORDS))
            flow.y -= 1.2
        flow.y = min(flow.y, top - picture.size[1])
    flow.fresh = False
    flow.space(6.0)


def _head(flow: Flow, number: int, title: Sequence[str]) -> None:
    """A rule, the number, the title, and the box to tick on the right."""
    flow.y -= 2.0
    y, size = flow.y, BODY * 1.1
    flow.draw(lambda s: (
        s.line([(flow.margin, y + 2.0), (flow.margin + flow.width, y + 2.0)], 0.15, RULE),
        s.words(flow.margin, y - HEAD * 0.85, str(number), HEAD, bold=True),
        tick_box(s, flow.margin + flow.width - 5.0, y - 4.9, 5.0)))
    for line in title:
        flow.y -= size * LEADING
        at = flow.y + 0.3 * size
        flow.draw(lambda s, t=line, y=at: s.words(flow.margin + 11.0, y, t, size, bold=True))
    flow.y -= 2.0
    flow.fresh = False


def draw(sheet: Ink, illustration: Illustration, x: float, y: float) -> None:
    """An illustration with its lower left corner at (x, y)."""
    for shape in illustration.shapes:
        if isinstance(shape, Area):
            sheet.fill([ring + (x, y) for ring in shape.rings], shape.grey)
        elif isinstance(shape, Lines):
            sheet.lines([line + (x, y) for line in shape.lines], shape.width, shape.grey,
                        shape.dashes, shape.closed)
        else:
            sheet.words(x + shape.x, y + shape.y, shape.text, shape.size, bold=True,
                        anchor=shape.anchor)
