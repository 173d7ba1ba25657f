"""The page of the plan on how the suit should come out: shaded views, and tables."""

from __future__ import annotations

import numpy as np

from ..core.model import Mate, Pattern, RebuiltMate
from ..core.order import words
from ..core.rebuild.told import FOLD, MISMATCH
from ..core.units import format_angle, format_length
from .flow import BODY, SMALL, SOFT, Column, Flow
from .picture import Shades, suit_picture
from .plan_steps import draw_labels, draw_picture, lettering
from .rebuild_words import WORST, in_words, worst_first
from .scene import MARGIN, Camera, Scene

LIMITS = (0.5, 1.0, 2.0, 3.0, 5.0)  # mm between the tones
GREYS = (0.98, 0.87, 0.74, 0.60, 0.45, 0.28)
VIEWS = ("front", "back", "left")
SEAMS = 12  # listed at most, the worst first
_BESIDE, _TALL = 9.0, 110.0  # mm: room for codes beside a picture; its height at most

_HOW = ("This is reckoned from the pieces alone: cut, bevelled and glued as told, formed as their "
        "gauges show, held at the tapes. How far you stretch and press the foam by hand shows in "
        "what you build.")


def how_it_comes_out(flow: Flow, pattern: Pattern) -> None:
    """The section, for a pattern that was put together again."""
    flow.begin("How it should come out")
    for line in in_words(pattern, pieces=False):
        flow.text(line)
        flow.space(0.8)
    flow.text(_HOW, SMALL, grey=SOFT)
    flow.space(4.0)
    _views(flow, pattern)
    _key(flow, pattern.settings.unit)
    _pieces(flow, pattern)
    _seams(flow, pattern)


def _views(flow: Flow, pattern: Pattern) -> None:
    """The suit from three sides, alike in scale, and the codes of the pieces that are furthest
    out where they are seen best."""
    beside = np.concatenate([np.linalg.norm(p.moved, axis=1) for p in pattern.rebuilt.pieces])
    shades, scene = Shades(beside, LIMITS, GREYS), Scene(pattern, None)
    pictures = [suit_picture(pattern, view, size, marks=False, scene=scene, shades=shades)
                for view, size in zip(VIEWS, _sizes(scene, flow.width), strict=True)]
    height = max(picture.size[1] for picture in pictures)
    flow.need(height + 12.0)
    wanted = [piece.code for piece in worst_first(pattern)[:WORST]]
    gap = (flow.width - sum(picture.size[0] for picture in pictures)) / len(VIEWS)
    x = flow.margin - gap / 2
    for view, picture in zip(VIEWS, pictures, strict=True):
        best = [code for code in wanted if code in picture.spots and picture.spots[code][2] == max(
            p.spots[code][2] for p in pictures if code in p.spots)]
        x, y = x + gap, flow.y - height
        labels = [label for label in lettering(picture, {}, SMALL, best)
                  if label[1] in best]
        flow.draw(lambda s, p=picture, t=labels, x=x, y=y, v=view: (
            draw_picture(s, p, x, y), draw_labels(s, t, x, y),
            s.words(x + p.size[0] / 2, y - 5.0, f"From the {v}", SMALL, grey=SOFT,
                    anchor="middle")))
        x += picture.size[0]
    flow.y -= height + 8.0
    flow.fresh = False


def _sizes(scene: Scene, wide: float) -> list[tuple[float, float]]:
    """Sizes (w, h) of the views, side by side as large as they fit, with room for codes."""
    rim = 2 * MARGIN  # which a picture keeps at every scale; a flat suit has no other width
    shapes = [(np.array(camera.size) - rim) / camera.scale
              for camera in (Camera(scene, view, (500.0, 500.0)) for view in VIEWS)]
    room = wide - (2 * _BESIDE + rim) * len(VIEWS)
    scale = min(room / sum(w for w, _ in shapes), (_TALL - rim) / max(h for _, h in shapes))
    return [(float(w * scale) + rim, float(h * scale) + rim) for w, h in shapes]


def _key(flow: Flow, unit: str) -> None:
    """The tones, with what they stand for."""
    flow.need(10.0)
    step, side = flow.width / len(GREYS), 4.0
    limits = [format_length(limit, unit) for limit in LIMITS]
    told = [f"up to {limits[0]}", *(f"to {limit}" for limit in limits[1:]), "more"]
    y = flow.y - side
    for k, (grey, text) in enumerate(zip(GREYS, told, strict=True)):
        x = flow.margin + k * step
        box = np.array([(x, y), (x + 7.0, y), (x + 7.0, y + side), (x, y + side)])
        flow.draw(lambda s, b=box, g=grey, x=x, t=text: (
            s.fill([b], g), s.line(b, 0.15, closed=True), s.words(x + 8.5, y + 1.0, t, SMALL)))
    flow.y = y - 2.0


def _pieces(flow: Flow, pattern: Pattern) -> None:
    unit = pattern.settings.unit
    flow.heading("Pieces, furthest out first")
    offset: dict[str, float] = {}
    for trench in pattern.rebuilt.trenches:
        offset[trench.piece] = max(offset.get(trench.piece, 0.0), trench.offset)
    rows = [[p.code, pattern.piece(p.code).name, format_length(p.most, unit),
             format_length(p.rms, unit),
             format_length(offset[p.code], unit) if p.code in offset else "–"]
            for p in worst_first(pattern)]
    flow.table([Column("Piece", 2), Column("Name", 5), Column("At most", 2.5, "end"),
                Column("RMS", 2.5, "end"), Column("Trench beside its line", 4, "end")], rows)


def _seams(flow: Flow, pattern: Pattern) -> None:
    found = sorted(zip(pattern.mates, pattern.rebuilt.mates, strict=True),
                   key=lambda pair: -_wrong(pair[1]))
    if not found:
        return
    flow.heading("Seams, the worst first" if len(found) <= SEAMS else
                 f"The {SEAMS} worst seams of {len(found)}")
    flow.table([Column("Seam", 2), Column("Between", 5),
                Column("Edges differ, once formed", 4, "end"),
                Column("Fold beside the sculpt's", 4, "end")],
               [_seam(mate, told, pattern.settings.unit) for mate, told in found[:SEAMS]])
    flow.space(2.0)
    flow.text("Up to "
              f"{format_length(MISMATCH, pattern.settings.unit)} and {format_angle(FOLD)} are lost "
              "in gluing by hand.", SMALL, grey=SOFT)
    flow.space(BODY)


def _wrong(mate: RebuiltMate) -> float:
    return max(mate.mismatch / MISMATCH, abs(mate.fold) / FOLD)


def _seam(mate: Mate, told: RebuiltMate, unit: str) -> list[str]:
    between = words.listed(sorted({code for code, _ in mate.edges}, key=words.natural))
    degrees = np.degrees(told.fold)
    return [mate.letter, between, format_length(told.mismatch, unit),
            f"{abs(degrees):.1f}° {'more' if degrees > 0 else 'less'}"]
