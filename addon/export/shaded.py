"""The suit from three sides, shaded by a map, with the tones and what they stand for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.model import Pattern
from .flow import SMALL, SOFT, Flow
from .picture import Shades, suit_picture
from .plan_steps import draw_labels, draw_picture, lettering
from .scene import MARGIN, Camera, Scene

VIEWS = ("front", "back", "left")
_BESIDE, _TALL = 9.0, 110.0  # mm: room for codes beside a picture; its height at most


def views(flow: Flow, pattern: Pattern, shades: Shades, wanted: Sequence[str]) -> None:
    """The suit from three sides, alike in scale; pieces `wanted` are lettered where they are seen
    best."""
    scene = Scene(pattern, None)
    pictures = [suit_picture(pattern, view, size, marks=False, scene=scene, shades=shades)
                for view, size in zip(VIEWS, _sizes(scene, flow.width), strict=True)]
    height = max(picture.size[1] for picture in pictures)
    flow.need(height + 12.0)
    gap = (flow.width - sum(picture.size[0] for picture in pictures)) / len(VIEWS)
    x = flow.margin - gap / 2
    for view, picture in zip(VIEWS, pictures, strict=True):
        best = [code for code in wanted if code in picture.spots and picture.spots[code][2] == max(
            p.spots[code][2] for p in pictures if code in p.spots)]
        x, y = x + gap, flow.y - height
        labels = [label for label in lettering(picture, {}, SMALL, best) if label[1] in best]
        flow.draw(lambda s, p=picture, t=labels, x=x, y=y, v=view: (
            draw_picture(s, p, x, y), draw_labels(s, t, x, y),
            s.words(x + p.size[0] / 2, y - 5.0, f"From the {v}", SMALL, grey=SOFT,
                    anchor="middle")))
        x += picture.size[0]
    flow.y -= height + 8.0
    flow.fresh = False


def key(flow: Flow, shades: Shades, told: Sequence[str]) -> None:
    """The tones, with what they stand for."""
    flow.need(10.0)
    step, side = flow.width / len(told), 4.0
    y = flow.y - side
    for k, (grey, text) in enumerate(zip(shades.greys, told, strict=True)):
        x = flow.margin + k * step
        box = np.array([(x, y), (x + 7.0, y), (x + 7.0, y + side), (x, y + side)])
        flow.draw(lambda s, b=box, g=grey, x=x, t=text: (
            s.fill([b], g), s.line(b, 0.15, closed=True), s.words(x + 8.5, y + 1.0, t, SMALL)))
    flow.y = y - 2.0


def _sizes(scene: Scene, wide: float) -> list[tuple[float, float]]:
    """Sizes (w, h) of the views, side by side as large as they fit, with room for codes."""
    rim = 2 * MARGIN  # which a picture keeps at every scale; a flat suit has no other width
    shapes = [(np.array(camera.size) - rim) / camera.scale
              for camera in (Camera(scene, view, (500.0, 500.0)) for view in VIEWS)]
    room = wide - (2 * _BESIDE + rim) * len(VIEWS)
    scale = min(room / sum(w for w, _ in shapes), (_TALL - rim) / max(h for _, h in shapes))
    return [(float(w * scale) + rim, float(h * scale) + rim) for w, h in shapes]
