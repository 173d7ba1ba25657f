"""The key to the overlay, in a corner of the view: lines, and the scale of utilisation."""

from __future__ import annotations

import blf
import bpy
import gpu
import numpy as np
from bpy.app.translations import pgettext_iface as iface_
from gpu_extras.batch import batch_for_shader

from . import colours, live
from .draw_data import RELIEF, STYLES, TRY, dashed

_FONT = 0
_TEXT = 11.0  # points
_ROW = 18.0
_NAMES = {"seam": "Seam", "trench": "Trench", "score": "Score line"}


def ranges(cold: float) -> list[tuple[float, float, str]]:
    """Parts of the scale of utilisation (from, to) with what they mean to the maker. cold: where
    the foam may have to be heated."""
    return [(0.0, cold, "bends cold"), (cold, TRY, "form with heat"),
            (TRY, RELIEF, "try on scrap"), (RELIEF, colours.MOST, "needs relief")]


def draw(context: bpy.types.Context) -> None:
    """The key at the bottom right, clear of the sidebar."""
    group, state = context.scene.foamwright, live.state
    if not state.drawn and not state.message and state.job is None:
        return
    scale = context.preferences.system.ui_scale or 1.0
    side = next((r.width for r in context.area.regions if r.type == "UI"), 1)
    kinds = [k for k in ("seam", "trench", "score")
             if any(len(d.lines[k]) for d in state.drawn.values())]
    utilised = group.overlay_shows == "UTILISATION" and bool(state.drawn)
    bar = 118.0 if utilised else 0.0
    width = 152.0 * scale
    note = _note()
    height = (14 + _ROW * (len(kinds) + bool(note)) + (bar + 26 if utilised else 0)) * scale
    x, y = context.region.width - (side if side > 1 else 0) - width - 14 * scale, 14 * scale
    gpu.state.blend_set("ALPHA")
    _fill(x, y, width, height, (0.09, 0.09, 0.10, 0.9))
    top = y + height - 8 * scale
    if utilised:
        cold = min(d.cold for d in state.drawn.values())
        _scale_bar(x + 14 * scale, top - (bar + 16) * scale, bar * scale, scale, cold)
        top -= (bar + 26) * scale
    for kind in kinds:
        top -= _ROW * scale
        _fill(x + 10 * scale, top, 56 * scale, _ROW * scale, (*colours.TINTS[2], 1.0))
        _sample(kind, x + 14 * scale, top + _ROW * scale / 2, 48 * scale, scale)
        _say(iface_(_NAMES[kind]), x + 74 * scale, top + 5 * scale, scale)
    if note:
        _say(note, x + 12 * scale, top - (_ROW - 5) * scale, scale)
    gpu.state.blend_set("NONE")


def _note() -> str:
    job = live.state.job
    if job is not None:
        return f"{iface_('Asking the foam')} {job.share:.0%}"
    return iface_("Out of date") if live.outdated() else ""


def _scale_bar(x: float, y: float, height: float, scale: float, cold: float) -> None:
    """The scale from 0 at the bottom, hatched where the sculpt is, with numbers and words."""
    wide, steps = 16 * scale, 64
    u = np.linspace(0.0, colours.MOST, steps + 1)
    colour = colours.of_utilisation((u[:-1] + u[1:]) / 2)
    for i in range(steps):
        _fill(x, y + height * i / steps, wide, height / steps + 0.5, (*colour[i], 1.0))
    at = lambda value: y + height * value / colours.MOST  # noqa: E731
    for low, high, words in ranges(cold):
        gap = {TRY: 7.0, RELIEF: 3.5}.get(low)
        for line in np.arange(at(low) + 1.5 * scale, at(high), gap * scale) if gap else ():
            _fill(x, line, wide, scale, (0.98, 0.96, 0.90, 0.6))
        _say(iface_(words), x + wide + 38 * scale, (at(low) + at(high)) / 2 - 4 * scale, scale)
        _fill(x + wide + 34 * scale, at(low) + scale, scale, at(high) - at(low) - 2 * scale,
              (1, 1, 1, 0.35))
    for value in (0.0, 0.5, TRY, RELIEF, colours.MOST):
        _fill(x + wide, at(value) - 0.5 * scale, 4 * scale, scale, (1, 1, 1, 0.9))
        _say(f"{value:.1f}", x + wide + 9 * scale, at(value) - 4 * scale, scale)


def _sample(kind: str, x: float, y: float, length: float, scale: float) -> None:
    style = STYLES[kind]
    parts = dashed(np.array([[x, y, 0.0], [x + length, y, 0.0]]),
                   0.9 * scale * np.array(style.pattern))
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINES", {"pos": parts.reshape(-1, 3).astype(np.float32)})
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    for width, colour in ((style.width + 2.2, (*colours.PAPER, 0.85)),
                          (style.width, (*style.colour, 1.0))):
        shader.uniform_float("lineWidth", scale * width)
        shader.uniform_float("color", colour)
        batch.draw(shader)


def _say(text: str, x: float, y: float, scale: float) -> None:
    if text:
        blf.size(_FONT, _TEXT * scale)
        blf.color(_FONT, 1.0, 1.0, 1.0, 1.0)
        blf.position(_FONT, round(x), round(y), 0)
        blf.draw(_FONT, text)


def _fill(x: float, y: float, width: float, height: float, colour) -> None:
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    corners = np.array([[x, y, 0], [x + width, y, 0], [x + width, y + height, 0],
                        [x, y + height, 0]], dtype=np.float32)
    shader.bind()
    shader.uniform_float("color", colour)
    batch_for_shader(shader, "TRIS", {"pos": corners}, indices=[(0, 1, 2), (0, 2, 3)]).draw(shader)
