"""The suit from three sides, shaded by a map, with the tones and what they stand for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ...core.model import Pattern
from ..picture import Shades, suit_picture
from ..scene import MARGIN, Camera, Scene
from .blocks import Block, Tones, Views
from .illustration import illustrate
from .paper import width

VIEWS = ("front", "back", "left")
_BESIDE, _TALL = 9.0, 110.0  # mm: room for codes beside a picture; its height at most


def shaded(pattern: Pattern, shades: Shades, wanted: Sequence[str], told: Sequence[str]
           ) -> Iterator[Block]:
    """The suit from three sides, alike in scale; pieces `wanted` are lettered where they are seen
    best. told: what each tone stands for."""
    scene = Scene(pattern, None)
    pictures = [suit_picture(pattern, view, size, marks=False, scene=scene, shades=shades)
                for view, size in zip(VIEWS, _sizes(scene, width(pattern)), strict=True)]
    shown = []
    for view, picture in zip(VIEWS, pictures, strict=True):
        best = [code for code in wanted if code in picture.spots and picture.spots[code][2] == max(
            p.spots[code][2] for p in pictures if code in p.spots)]
        shown.append(illustrate(picture, {}, best, f"From the {view}", only=best))
    yield Views(tuple(shown), len(VIEWS))
    yield Tones(tuple(zip(shades.greys, told, strict=True)))


def _sizes(scene: Scene, wide: float) -> list[tuple[float, float]]:
    """Sizes (w, h) of the views, side by side as large as they fit, with room for codes."""
    rim = 2 * MARGIN  # which a picture keeps at every scale; a flat suit has no other width
    shapes = [(np.array(camera.size) - rim) / camera.scale
              for camera in (Camera(scene, view, (500.0, 500.0)) for view in VIEWS)]
    room = wide - (2 * _BESIDE + rim) * len(VIEWS)
    scale = min(room / sum(w for w, _ in shapes), (_TALL - rim) / max(h for _, h in shapes))
    return [(float(w * scale) + rim, float(h * scale) + rim) for w, h in shapes]
