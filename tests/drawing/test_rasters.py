"""Lines as other programs paint them, at 300 dots per inch: where the core has them, to a pixel."""

import io
import shutil
import subprocess

import numpy as np
import pytest
import shapely
import svgelements
from PIL import Image

from addon.core.model import Placement, Sheet
from addon.export.canvas import Canvas
from addon.export.drawing import TITLE, draw_sheet
from addon.export.svg import svg

DPI = 300.0
PIXEL = 25.4 / DPI  # mm


@pytest.fixture(scope="module")
def sheet():
    """A plate with a hole and an arc, and a curved strip, both turned."""
    return Sheet("mat", "mat 1", (420.0, 260.0), (
        Placement("BP1", 0.2, (60.0, 10.0)), Placement("RM4", 0.1, (370.0, 40.0), True)))


def tool(name):
    found = shutil.which(name)
    if not found:
        pytest.skip(f"{name} is not on this computer")
    return found


def ink_of(path):
    """Darkness of each pixel, 0 to 1, and the size (w, h) in pixels."""
    grey = np.asarray(Image.open(path).convert("L"), dtype=float)
    return 1 - grey / 255, grey.shape[::-1]


def off_line(ink, height, ring):
    """How far (k,) the middle of the ink across a ring lies from it, in pixels, at places every
    2 mm; infinite where there is no ink. height: of the picture, mm."""
    line = shapely.LinearRing(ring)
    s = np.arange(1.0, line.length - 1.0, 2.0)
    at = shapely.get_coordinates(shapely.line_interpolate_point(line, s))
    chord = shapely.get_coordinates(shapely.line_interpolate_point(line, s + 0.2)) - at
    normal = np.stack([-chord[:, 1], chord[:, 0]], axis=1) / np.hypot(*chord.T)[:, None]
    across = np.arange(-6.0, 6.01, 0.25)
    spots = (at[:, None] + across[:, None] * PIXEL * normal[:, None]) / PIXEL
    column = np.floor(spots[..., 0]).astype(int)
    row = np.floor(height / PIXEL - spots[..., 1]).astype(int)
    dark = ink[row, column]
    weight = dark.sum(axis=1)
    return np.where(weight > 0, np.abs(dark @ across) / np.maximum(weight, 1e-9), np.inf)


def assert_on_line(ink, height, sheet, pattern):
    for placement in sheet.placements:
        for ring in pattern.piece(placement.piece).cut:
            off = off_line(ink, height, placement.apply(ring))
            # Notches, bevel lines and corners within 0.5 mm shift the middle of the ink a little.
            assert np.isfinite(off).all() and np.quantile(off, 0.9) < 1.0
            assert np.median(off) < 0.5


def test_poppler_paints_outlines_where_the_core_has_them(sheet, pattern, tmp_path):
    canvas = Canvas("one page")
    canvas.page(sheet.size)
    canvas.draw(draw_sheet(sheet, pattern))
    canvas.write(tmp_path / "p.pdf")
    subprocess.run([tool("pdftoppm"), "-r", f"{DPI:g}", "-gray", "-singlefile",
                    tmp_path / "p.pdf", tmp_path / "p"], check=True)
    ink, size = ink_of(tmp_path / "p.pgm")
    assert np.abs(np.array(size) * PIXEL - sheet.size).max() < 1.5 * PIXEL
    assert_on_line(ink, sheet.size[1], sheet, pattern)


def test_two_readers_of_svg_agree_on_its_size_and_its_outlines(sheet, pattern, tmp_path):
    text = svg(sheet, pattern)
    (tmp_path / "s.svg").write_text(text, encoding="utf-8")
    subprocess.run([tool("rsvg-convert"), "-d", f"{DPI:g}", "-p", f"{DPI:g}", "-b", "white",
                    tmp_path / "s.svg", "-o", tmp_path / "s.png"], check=True)
    ink, size = ink_of(tmp_path / "s.png")
    height = sheet.size[1] + TITLE
    document = svgelements.SVG.parse(io.StringIO(text), ppi=25.4)  # one unit is one mm
    assert (document.width, document.height) == pytest.approx((sheet.size[0], height), abs=0.01)
    assert np.abs(np.array(size) * PIXEL - (sheet.size[0], height)).max() < 1.5 * PIXEL
    assert_on_line(ink, height, sheet, pattern)
