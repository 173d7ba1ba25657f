"""Drawings on the pages of a PDF: the only place that knows the PDF library.

Millimetres from the lower left corner of the page, as everywhere. What is
written depends on the drawings alone: no clock, no machine.
"""

from __future__ import annotations

import weakref
from collections.abc import Mapping
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path

import numpy as np
import shapely

from .curves import is_straight
from .fonts import BOLD, REGULAR, legible
from .labels import text_box
from .paths import drawn_path
from .strokes import STYLE, Drawing, Stroke, Text

POINTS_PER_MM = 72 / 25.4
_DATE = datetime(2000, 1, 1, tzinfo=UTC)  # fixed: the same pattern gives the same bytes
_DISTINCT = 0.002  # mm; closer points of a line are one point


class Canvas:
    """A PDF that grows page by page."""

    def __init__(self, title: str):
        from fpdf import FPDF, ViewerPreferences

        self._pdf = pdf = FPDF(unit="mm")
        pdf.set_auto_page_break(False)
        pdf.set_margin(0)
        pdf.c_margin = 0
        pdf.viewer_preferences = ViewerPreferences(print_scaling="None", display_doc_title=True)
        pdf.set_creation_date(_DATE)
        pdf.set_title(title)
        pdf.set_creator("Foamwright")
        pdf.set_producer("Foamwright")
        pdf.add_font("text", "", REGULAR)
        pdf.add_font("text", "B", BOLD)
        weakref.finalize(self, _close, pdf.fonts)

    def page(self, size: tuple[float, float], style: str = "D", start: int | None = None,
             prefix: str | None = None) -> None:
        """Begin a page of this size. style and start: how viewers number pages from here on
        ("D" 1, 2, 3, "r" i, ii, iii), after a prefix; start None carries on."""
        label = {} if start is None else dict(label_style=style, label_start=start,
                                              label_prefix=prefix)
        self._pdf.add_page(format=size, **label)
        self._height = size[1]

    def bookmark(self, title: str, level: int = 0) -> None:
        """An entry in the viewer's list of contents that leads to this page."""
        self._pdf.set_xy(0, 0)
        self._pdf.start_section(legible(title), level)

    def draw(self, drawing: Drawing, clip: tuple[float, float, float, float] | None = None) -> None:
        """Draw on the page, with a clip only what lies in the window (x0, y0, x1, y1)."""
        if clip is None:
            self._draw(drawing)
            return
        x0, y0, x1, y1 = clip
        window = shapely.box(*clip)
        # Words that are not whole in this window are in another page's.
        seen = tuple(t for t in drawing.texts if window.covers(text_box(t)))
        with self._pdf.rect_clip(x0, self._height - y1, x1 - x0, y1 - y0):
            self._draw(Drawing(drawing.strokes, seen))

    def write(self, path: str | Path) -> None:
        """Write the PDF; nothing can be drawn afterwards."""
        Path(path).write_bytes(bytes(self._pdf.output()))

    def _draw(self, drawing: Drawing) -> None:
        for layer, strokes in groupby(drawing.strokes, key=lambda s: s.layer):
            self._strokes(layer, list(strokes))
        for text in drawing.texts:
            self._text(text)

    def _strokes(self, layer: str, strokes: list[Stroke]) -> None:
        width, dashes = STYLE[layer]
        with drawn_path(self._pdf) as path:
            path.style.stroke_width = width
            path.style.stroke_dash_pattern = dashes
            path.style.stroke_color = "#000000"
            path.style.fill_color = None
            path.style.stroke_join_style = "round"
            path.style.stroke_cap_style = "round" if layer == "cut" else "butt"
            path.style.auto_close = False
            for stroke in strokes:
                if stroke.curve is not None:
                    self._curved(path, stroke)
                    continue
                points = _distinct(stroke.points)
                if len(points) < 2:
                    continue
                path.move_to(points[0, 0], self._height - points[0, 1])
                for x, y in points[1:].tolist():
                    path.line_to(x, self._height - y)
                if stroke.closed:
                    path.close()

    def _curved(self, path, stroke: Stroke) -> None:
        """Trace a stroke along its curves."""
        curve = stroke.curve * (1.0, -1.0) + (0.0, self._height)
        for i, part in enumerate(curve):
            if i == 0:
                path.move_to(*part[0].tolist())
            if is_straight(part):
                path.line_to(*part[3].tolist())
            else:
                path.curve_to(*part[1:].ravel().tolist())
        if stroke.closed and len(curve):
            path.close()

    def _text(self, text: Text) -> None:
        pdf, words = self._pdf, legible(text.text)
        pdf.set_font("text", "B" if text.bold else "", text.size * POINTS_PER_MM)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
        x, y = text.point[0], self._height - text.point[1]
        with pdf.rotation(float(np.degrees(text.angle)), x, y):
            pdf.text(x - share * pdf.get_string_width(words), y, words)


def _close(fonts: Mapping) -> None:
    """Close the files of the typefaces, which the PDF library leaves open."""
    for font in fonts.values():
        font.close()


def _distinct(points: np.ndarray) -> np.ndarray:
    """The points without those that repeat the one before."""
    steps = np.abs(np.diff(points, axis=0)).max(axis=1, initial=0.0)
    return points[np.concatenate([[True], steps > _DISTINCT])]
