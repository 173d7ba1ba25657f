"""The key to the overlay, in a corner of the view: lines, and the scale of utilisation."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import blf
import bpy
import gpu
import numpy as np
from bpy.app.translations import pgettext_iface as iface_
from gpu_extras.batch import batch_for_shader

from ..core.units import format_length
from . import colours, fitting, live, settings, trial
from .draw_data import RELIEF, TRY, Drawn, scale_top
from .line_styles import NAMES, STYLES, dashed

_FONT = 0
_TEXT, _ROW, _BAR, _WIDTH = 11.0, 18.0, 118.0, 172.0  # points
_TITLE = "Strain", "1 is all that heated foam takes"
_SCALE = 14 * len(_TITLE) + _BAR + 28  # height of the scale with its title, points
_MAP_TITLES = {"TRIAL": ("Trial Build", "how far beside the sculpt"),
               "FIT": ("Fit", "air between foam and body")}
_HATCH = {TRY: 7.0, RELIEF: 3.5}  # points between two strokes beyond these utilisations
_WHITE = (1.0, 1.0, 1.0)


def ranges(cold: float) -> list[tuple[float, float, str]]:
    """Parts of the scale of utilisation (from, to) with what they mean to the maker. cold: where
    the foam may have to be heated."""
    return [(0.0, cold, "bends cold"), (cold, TRY, "form with heat"),
            (TRY, RELIEF, "try on scrap"), (RELIEF, colours.MOST, "needs relief")]


def draw(context: bpy.types.Context, drawn: Sequence[Drawn], more: Collection[str] = ()) -> None:
    """The key at the bottom right, clear of what lies over the view there. drawn: what the overlay
    shows in this view; more: kinds of lines that are seen beside."""
    state, group = live.state, context.scene.foamwright
    asked = group.overlay and state.scene == context.scene.session_uid
    kinds = [k for k in NAMES if k in more or any(len(d.lines.get(k, ())) for d in drawn)]
    utilised = group.overlay_shows == "UTILISATION" and bool(drawn)
    mapped = group.overlay and bool(_mapped(context.scene))
    note = iface_(_note(context.scene)) if asked else ""
    if not (kinds or utilised or mapped or note):
        return
    scale = context.preferences.system.ui_scale or 1.0
    right, bottom = corner(context.region, context.area.regions)
    height = (14 + _ROW * (len(kinds) + bool(note)) + (_SCALE if utilised or mapped else 0)) * scale
    width = _WIDTH * scale
    x, y = right - width - 14 * scale, bottom + 14 * scale
    key = _Key(scale)
    key.fill(x, y, width, height, (0.09, 0.09, 0.10, 0.9))
    top = y + height - 8 * scale
    if utilised or mapped:
        for row, text in enumerate(_TITLE if utilised else
                                     _MAP_TITLES[group.overlay_shows]):
            key.say(iface_(text), x + 12 * scale, top - (11 + 14 * row) * scale)
        top -= _SCALE * scale
        at = x + 14 * scale, top + 10 * scale
        if utilised:
            _scale_bar(key, *at, min(d.cold for d in drawn))
        elif group.overlay_shows == "FIT":  # dark where foam and body meet
            _length_bar(key, *at, fitting.FAR, 0.0)
        else:
            _length_bar(key, *at, 0.0, scale_top(group.trial.most))
    for kind in kinds:
        top -= _ROW * scale
        key.fill(x + 10 * scale, top, 56 * scale, _ROW * scale, (*colours.TINTS[2], 1.0))
        key.say(iface_(NAMES[kind]), x + 74 * scale, top + 5 * scale)
    if note:
        key.say(note, x + 12 * scale, top - (_ROW - 5) * scale)
    gpu.state.blend_set("ALPHA")
    key.draw()
    for row, kind in enumerate(kinds):
        _sample(kind, x + 14 * scale, top + _ROW * scale * (len(kinds) - row - 0.5), 48 * scale,
                scale)
    gpu.state.blend_set("NONE")


def corner(region: bpy.types.Region, regions: Iterable[bpy.types.Region]) -> tuple[float, float]:
    """x and y in the region of its bottom right corner, as far as no sidebar or shelf covers it."""
    right, bottom = region.width, 0
    for other in regions:
        if min(other.width, other.height) <= 1:
            continue  # folded away
        if other.alignment == "RIGHT":
            right = min(right, other.x - region.x)
        elif other.alignment == "BOTTOM":
            bottom = max(bottom, other.y + other.height - region.y)
    return right, bottom


def _mapped(scene: bpy.types.Scene) -> list:
    """The maps that are shown, if any."""
    known = {"TRIAL": trial.shown, "FIT": fitting.shown}.get(scene.foamwright.overlay_shows)
    return known(scene) if known else []


def _note(scene: bpy.types.Scene) -> str:
    group = scene.foamwright
    if group.overlay_shows == "TRIAL" and not _mapped(scene):
        return "Try the build again" if group.trial.found else "No build tried yet"
    if group.overlay_shows == "FIT" and not _mapped(scene):
        return "Check the fit again" if group.fit.found else "No fit checked yet"
    if live.state.job is not None:
        return "Asking the foam…"
    return "Asked after a pause" if live.state.faces > live.LARGE and live.outdated() else ""


class _Key:
    """Rectangles and words, gathered to be drawn at once."""

    def __init__(self, scale: float):
        self.scale = scale
        self._boxes: list[tuple[float, float, float, float]] = []
        self._colours: list[tuple[float, ...]] = []
        self._words: list[tuple[str, float, float]] = []

    def fill(self, x: float, y: float, width: float, height: float, colour) -> None:
        self._boxes.append((x, y, x + width, y + height))
        self._colours.append(tuple(colour))

    def say(self, text: str, x: float, y: float) -> None:
        self._words.append((text, x, y))

    def draw(self) -> None:
        a, b, c, d = np.array(self._boxes).T
        corners = np.stack([np.stack(p, axis=1) for p in (
            (a, b), (c, b), (c, d), (a, b), (c, d), (a, d))], axis=1).reshape(-1, 2)
        shader = gpu.shader.from_builtin("SMOOTH_COLOR")
        batch_for_shader(shader, "TRIS", {
            "pos": np.column_stack([corners, np.zeros(len(corners))]).astype(np.float32),
            "color": np.repeat(np.array(self._colours, np.float32), 6, axis=0)}).draw(shader)
        blf.size(_FONT, _TEXT * self.scale)
        blf.color(_FONT, *_WHITE, 1.0)
        for text, x, y in self._words:
            blf.position(_FONT, round(x), round(y), 0)
            blf.draw(_FONT, text)


def _scale_bar(key: _Key, x: float, y: float, cold: float) -> None:
    """The scale from 0 at the bottom, hatched as the sculpt is, with numbers and words."""
    scale = key.scale
    wide, height = 16 * scale, _BAR * scale
    at = lambda value: y + height * value / colours.MOST  # noqa: E731
    _ramp(key, x, y, wide, height)
    for low, high, words in ranges(cold):
        if low in _HATCH:
            for line in np.arange(at(low) + 1.5 * scale, at(high), _HATCH[low] * scale):
                key.fill(x, line, wide, scale, (*colours.PAPER, 0.6))
        key.fill(x + wide + 34 * scale, at(low) + scale, scale, at(high) - at(low) - 2 * scale,
                 (*_WHITE, 0.35))
        key.say(iface_(words), x + wide + 38 * scale, (at(low) + at(high)) / 2 - 4 * scale)
    for value in (0.0, 0.5, TRY, RELIEF, colours.MOST):
        key.fill(x + wide, at(value) - 0.5 * scale, 4 * scale, scale, (*_WHITE, 0.9))
        key.say(f"{value:.1f}", x + wide + 9 * scale, at(value) - 4 * scale)


def _ramp(key: _Key, x: float, y: float, wide: float, height: float) -> None:
    """The scale's colours, light at the bottom."""
    steps = 64
    share = np.linspace(0.0, 1.0, steps + 1)
    for low, colour in zip(share, colours.of_share((share[:-1] + share[1:]) / 2), strict=False):
        key.fill(x, y + height * low, wide, height / steps + 0.5, (*colour, 1.0))


def _length_bar(key: _Key, x: float, y: float, low: float, high: float) -> None:
    """The scale from so many mm at the light end to so many at the dark one, in the maker's
    unit."""
    scale = key.scale
    wide, height = 16 * scale, _BAR * scale
    _ramp(key, x, y, wide, height)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        key.fill(x + wide, y + height * share - 0.5 * scale, 4 * scale, scale, (*_WHITE, 0.9))
        key.say(format_length(low + share * (high - low), settings.unit()), x + wide + 9 * scale,
                y + height * share - 4 * scale)


def _sample(kind: str, x: float, y: float, length: float, scale: float) -> None:
    """A stretch of line of one kind, as it looks on the sculpt."""
    style = STYLES[kind]
    parts = dashed(np.array([[x, y, 0.0], [x + length, y, 0.0]]),
                   0.9 * scale * np.array(style.pattern))
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINES", {"pos": parts.reshape(-1, 3).astype(np.float32)})
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    for width, colour in ((style.width + 2.2, (*style.edge, 0.85)),
                          (style.width, (*style.colour, 1.0))):
        shader.uniform_float("lineWidth", scale * width)
        shader.uniform_float("color", colour)
        batch.draw(shader)
