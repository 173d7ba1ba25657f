"""The steps of the plan: picture on the left, words on the right, a box to tick."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.model import Pattern, Step
from ..core.order.joins import sides
from ..core.order.stages import Stage, stages
from .flow import BODY, HEAD, LEADING, RULE, SMALL, SOFT, Flow, Ink, tick_box, wrapped
from .fonts import cap_height, text_width
from .picture import Picture, best_view, suit_picture
from .scene import Scene

WIDTHS = {"outline": 0.35, "border": 0.18, "mark": 0.15, "seam": 1.0}
PICTURE = (66.0, 54.0)  # mm, the largest picture of a step
_BESIDE, _GAP = 10.0, 5.0  # room for codes beside a picture; between picture and words
_SIZE = 3.4  # of the words of a step
_LONGEST = 110.0  # mm of words beside a picture; longer ones run below it


def steps(flow: Flow, pattern: Pattern) -> None:
    """All steps; each sub-assembly begins a section."""
    part = None
    for stage in stages(pattern.steps, pattern.pieces, pattern.mates):
        step = stage.step
        if part is None:
            flow.begin("Build" if not step.part else step.part)
        elif step.part != part:
            flow.begin(step.part or "The whole suit",
                       new_page=flow.y < flow.size[1] * (0.45 if step.part else 0.25))
        part = step.part
        _step(flow, pattern, step, drawn(pattern, stage))


def drawn(pattern: Pattern, stage: Stage) -> Picture | None:
    """What the picture of a step shows: what stands after it, in one object of its part, and
    darker what is new. None for a step without a picture."""
    step = stage.step
    if step.kind in ("cut", "finish") or not step.pieces:
        return None
    home = pattern.piece(step.pieces[0]).object
    own = [p.code for p in pattern.pieces if p.object == home
           or step.kind == "lay" and p.code in step.pieces]
    mine = [c for c in step.pieces if c in own]
    ends = {m.code: sides(m) for m in pattern.mates}
    seams = [c for c in step.mates if set(ends[c]) <= set(own)]
    shown = own
    if step.kind in ("join", "close"):
        roots = {stage.after[c] for c in mine}
        shown = [c for c in own if stage.after[c] in roots]
    elif step.kind == "dart":
        shown = mine
    lit = stage.lit & set(shown)
    scene = Scene(pattern, shown)
    view = best_view(pattern, lit, shown, seams, scene)
    if len(lit) == len(shown):
        lit = frozenset()  # where all are meant nothing stands out
    return suit_picture(pattern, view, PICTURE, lit, shown, seams,
                        marks=step.kind not in ("join", "close"), scene=scene)


def _step(flow: Flow, pattern: Pattern, step: Step, picture: Picture | None) -> None:
    beside = 0.0 if picture is None else PICTURE[0] + 2 * _BESIDE + _GAP
    width = flow.width - beside
    paragraphs = [wrapped(t, width, _SIZE) for t in step.text]
    tall = sum(len(p) for p in paragraphs) * _SIZE * LEADING + 1.2 * len(paragraphs)
    below = picture is not None and tall > _LONGEST
    height = max(0.0 if picture is None else picture.size[1], 0.0 if below else tall)
    title = wrapped(step.title, flow.width - 26.0, BODY * 1.1, bold=True)
    head = len(title) * BODY * 1.1 * LEADING + 3.0
    if picture is None and tall > _LONGEST:
        height = 30.0  # the words may run over the page
    flow.need(head + height + 6.0)
    flow.bookmark(f"{step.number}  {step.title}")
    _head(flow, step, title)
    top = flow.y
    if picture is not None:
        x, y = flow.margin + _BESIDE, top - picture.size[1]
        x += (PICTURE[0] - picture.size[0]) / 2
        labels = lettering(picture, _letters(pattern, step), SMALL, step.pieces)
        flow.draw(lambda s: (draw_picture(s, picture, x, y), draw_labels(s, labels, x, y)))
    if below or picture is None:
        if below:
            flow.y = top - picture.size[1] - 2.0
        for text in step.text:
            flow.text(text, _SIZE)
            flow.space(1.2)
    else:
        for lines in paragraphs:
            for line in lines:
                flow.y -= _SIZE * LEADING
                at = flow.y + 0.3 * _SIZE
                flow.draw(lambda s, t=line, y=at: s.words(flow.margin + beside, y, t, _SIZE))
            flow.y -= 1.2
        flow.y = min(flow.y, top - picture.size[1])
    flow.fresh = False
    flow.space(6.0)


def _head(flow: Flow, step: Step, title: Sequence[str]) -> None:
    """A rule, the number, the title, and the box to tick on the right."""
    flow.y -= 2.0
    y, size = flow.y, BODY * 1.1
    flow.draw(lambda s: (
        s.line([(flow.margin, y + 2.0), (flow.margin + flow.width, y + 2.0)], 0.15, RULE),
        s.words(flow.margin, y - HEAD * 0.85, str(step.number), HEAD, bold=True),
        tick_box(s, flow.margin + flow.width - 5.0, y - 4.9, 5.0)))
    for line in title:
        flow.y -= size * LEADING
        at = flow.y + 0.3 * size
        flow.draw(lambda s, t=line, y=at: s.words(flow.margin + 11.0, y, t, size, bold=True))
    flow.y -= 2.0
    flow.fresh = False


def _letters(pattern: Pattern, step: Step) -> dict[str, str]:
    return {m.code: m.letter for m in pattern.mates if m.code in step.mates}


# --- a picture on a page -----------------------------------------------------


def draw_picture(sheet: Ink, picture: Picture, x: float, y: float) -> None:
    """The picture with its lower left corner at (x, y)."""
    for fill in picture.fills:
        sheet.fill([ring + (x, y) for ring in fill.rings], fill.grey)
    for kind, width in sorted(WIDTHS.items(), key=lambda item: item[1]):
        lines = [line.points + (x, y) for line in picture.lines if line.kind == kind]
        if lines:
            sheet.lines(lines, width, dashes=(1.2, 1.0) if kind == "mark" else ())


def lettering(picture: Picture, letters: dict[str, str], size: float,
              wanted: Sequence[str] | None = None) -> list[tuple]:
    """Where codes and seam letters stand: ("code", text, x, y), ("leader", text, anchor, x, y,
    spot) or ("seam", text, x, y), relative to the picture.

    A code stands inside its piece where it fits, else beside the picture on a leader;
    with `wanted`, other pieces get no leader. Leaders do not cross on one side.
    """
    found, outside = [], {"end": [], "start": []}
    balloons = [(picture.seam_spots[c], letters[c]) for c in letters if c in picture.seam_spots]
    for code, (x, y, room) in picture.spots.items():
        half = np.hypot(text_width(code, size, True), cap_height(size, True)) / 2 + 0.4
        free = all(np.hypot(x - bx, y - by) > half + 2.4 for (bx, by), _ in balloons)
        if half <= room and free:
            found.append(("code", code, x, y - cap_height(size, True) / 2))
        elif wanted is None or code in wanted:
            side = "end" if x < picture.size[0] / 2 else "start"
            outside[side].append((y, x, code))
    for side, items in outside.items():
        at = -1.5 if side == "end" else picture.size[0] + 1.5
        heights = _spread([y for y, _, _ in sorted(items)], size * 1.25, picture.size[1])
        for (y, x, code), height in zip(sorted(items), heights, strict=True):
            found.append(("leader", code, side, at, height, (x, y)))
    return found + [("seam", letter, x, y) for (x, y), letter in balloons]


def _spread(heights: Sequence[float], step: float, top: float) -> np.ndarray:
    """Ascending heights moved apart to at least `step`, as little as a simple sweep can."""
    spread = np.array(heights, dtype=float)
    for i in range(1, len(spread)):
        spread[i] = max(spread[i], spread[i - 1] + step)
    over = max(0.0, spread[-1] - top) if len(spread) else 0.0
    spread -= over
    for i in range(len(spread) - 2, -1, -1):
        spread[i] = min(max(spread[i], heights[i] - over), spread[i + 1] - step)
    return spread


def draw_labels(sheet: Ink, labels: Sequence[tuple], x: float, y: float) -> None:
    """What `lettering` found, for a picture whose lower left corner is at (x, y)."""
    place = np.array((x, y))
    for kind, text, *where in labels:
        if kind == "leader":
            side, at, height, spot = where
            inward = 0.6 if side == "end" else -0.6
            middle = height + cap_height(SMALL, True) / 2
            sheet.line(np.array([(at + inward, middle), spot]) + place, 0.15, SOFT)
            sheet.fill([_disc(np.array(spot) + place, 0.4)], 0.0)
            sheet.words(x + at, y + height, text, SMALL, bold=True, anchor=side)
        elif kind == "code":
            sheet.words(x + where[0], y + where[1], text, SMALL, bold=True, anchor="middle")
        else:
            radius = max(2.1, text_width(text, SMALL, True) / 2 + 0.9)
            ring = _disc(np.array(where) + place, radius)
            sheet.fill([ring], 1.0)
            sheet.line(ring, 0.3, closed=True)
            sheet.words(x + where[0], y + where[1] - cap_height(SMALL, True) / 2, text, SMALL,
                        bold=True, anchor="middle")


def _disc(centre: np.ndarray, radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    return centre + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
