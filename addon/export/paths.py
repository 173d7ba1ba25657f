"""Paths on a page of a PDF, written as they are: the PDF library would copy each point first."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.drawing import PaintedPath


@contextmanager
def drawn_path(pdf: FPDF) -> Iterator[PaintedPath]:
    """A path to style and to trace, drawn on the page of `pdf` at the end."""
    from fpdf.drawing import PaintedPath

    path = PaintedPath()
    yield path
    pdf.draw_path(path, copy=False)
