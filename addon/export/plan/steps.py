"""The steps of the plan: what each says, and what its picture shows."""

from __future__ import annotations

from collections.abc import Iterator

from ...core.model import Pattern, Step
from ...core.order.cautions import in_words
from ...core.order.joins import sides
from ...core.order.stages import Stage, stages
from ..picture import Picture, best_view, suit_picture
from ..scene import Scene
from .blocks import Box, Section, Work
from .illustration import Illustration, illustrate

PICTURE = (66.0, 54.0)  # mm, the largest picture of a step
ROOM, ROOM_LAST = 0.45, 0.25  # share of a page that a part, and the whole suit, begin on


def steps(pattern: Pattern) -> Iterator[Section]:
    """All steps; each sub-assembly is a section."""
    parts: list[tuple[str, list[Work]]] = []
    for stage in stages(pattern.steps, pattern.pieces, pattern.mates):
        step = stage.step
        if not parts or parts[-1][0] != step.part:
            parts.append((step.part, []))
        parts[-1][1].append(_work(pattern, step, drawn(pattern, stage)))
    for n, (part, works) in enumerate(parts):
        yield Section(part or ("The whole suit" if n else "Build"), tuple(works),
                      1.0 if n == 0 else ROOM if part else ROOM_LAST)


def _work(pattern: Pattern, step: Step, picture: Picture | None) -> Work:
    return Work(step.number, Box(f"step-{step.number}", step.title), step.text,
                picture and _illustration(pattern, step, picture), in_words(step.cautions))


def _illustration(pattern: Pattern, step: Step, picture: Picture) -> Illustration:
    letters = {m.code: m.letter for m in pattern.mates if m.code in step.mates}
    return illustrate(picture, letters, step.pieces, alt=f"Step {step.number}: {step.title}")


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
