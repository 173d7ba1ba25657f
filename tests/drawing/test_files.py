"""SVG and DXF read back by other programs."""

import io
import math
import shutil
import subprocess

import ezdxf
import numpy as np
import pytest
import shapely
import svgelements
from ezdxf.path import make_path
from shapely.geometry import LinearRing, Polygon

from addon.core.errors import FoamError
from addon.core.make import make_pattern
from addon.core.model import Placement, Sculpt, Settings, Sheet
from addon.core.stock import Stock, find_stock
from addon.export.drawing import TITLE, draw_sheet, legend
from addon.export.dxf import dxf
from addon.export.strokes import LAYERS, STYLE
from addon.export.svg import svg, svg_of

PPMM = 96 / 25.4  # CSS: 1 in = 96 px


@pytest.fixture(scope="module")
def square(build):
    """A sheet with one 100 mm square."""
    piece = build.piece("SQ1", [(0, 0), (100, 0), (100, 100), (0, 100)])
    sheet = Sheet("mat", "mat 1", (300.0, 200.0), (Placement("SQ1", 0.0, (50.0, 40.0)),))
    return sheet, build.pattern([piece], (sheet,))


def svg_shapes(text, group):
    doc = svgelements.SVG.parse(io.StringIO(text), ppi=96)
    (found,) = [g for g in doc.select(lambda e: isinstance(e, svgelements.Group))
                if g.id == group]
    return doc, [svgelements.Path(p) for p in found.select(
        lambda e: isinstance(e, svgelements.Path))]


def points_mm(path):
    path.reify()
    return np.array([(s.end.x, s.end.y) for s in path if s.end is not None]) / PPMM


def sampled_mm(path, count=40):
    """Points (k, 2) all along a path, as its own library evaluates it."""
    path.reify()
    parts = [s for s in path if s.start is not None and s.end is not None and s.start != s.end]
    return np.array([(p.x, p.y) for s in parts for p in map(
        s.point, np.linspace(0, 1, count))]) / PPMM


def apart(points, ring):
    """Hausdorff distance of two closed lines: of the points of each from the other."""
    a, b = LinearRing(points), LinearRing(ring)
    return max(float(shapely.distance(shapely.points(shapely.get_coordinates(
        shapely.segmentize(one, 0.2))), other).max()) for one, other in ((a, b), (b, a)))


def test_a_hundred_millimetres_measure_a_hundred_in_svg(square):
    doc, (outline,) = svg_shapes(svg(*square), "cut")
    assert np.allclose(np.ptp(points_mm(outline), axis=0), 100.0, atol=0.1)
    assert doc.width / PPMM == pytest.approx(300.0, abs=0.01)
    assert doc.height / PPMM == pytest.approx(200.0 + TITLE, abs=0.01)


def test_svg_outlines_are_the_core_s_outlines(pattern):
    sheet = pattern.mats[0]
    height = sheet.size[1] + TITLE
    _, paths = svg_shapes(svg(sheet, pattern), "cut")
    rings = [p.apply(ring) for p in sheet.placements for ring in pattern.piece(p.piece).cut]
    assert len(paths) == len(rings)
    for path, ring in zip(paths, rings, strict=True):
        assert apart(sampled_mm(path) * (1, -1) + (0, height), ring) < 0.05
    kinds = {type(segment).__name__ for path in paths for segment in path}
    assert {"CubicBezier", "Line"} <= kinds


def test_svg_groups_lines_by_layer_with_widths_in_millimetres(pattern):
    text = svg(pattern.mats[0], pattern)
    for layer in ("cut", "bevel", "trench", "score", "notch", "arrow", "text", "guide"):
        width, dashes = STYLE[layer]
        doc, paths = svg_shapes(text, layer)
        assert paths or layer == "text"
        for path in paths:
            assert path.stroke_width / PPMM == pytest.approx(width, abs=1e-3)
        group = text.split(f'<g id="{layer}"')[1].split(">")[0]
        assert ("stroke-dasharray" in group) == bool(dashes)


def test_svg_text_stands_where_the_drawing_says_and_is_escaped(build):
    piece = build.piece("A&1", [(0, 0), (150, 0), (150, 100), (0, 100)], name="<Rim> & \"edge\"")
    sheet = Sheet("mat", "m", (200.0, 200.0), (Placement("A&1", 0.0, (20.0, 20.0)),))
    doc = svgelements.SVG.parse(io.StringIO(svg(sheet, build.pattern([piece]))), ppi=96)
    texts = {t.text: t for t in doc.select(lambda e: isinstance(e, svgelements.Text))}
    assert '<Rim> & "edge"' in texts and "A&1" in texts


def test_text_as_outlines_leaves_no_text_behind(square):
    text = svg(*square, text_as_outlines=True)
    assert "<text" not in text and "font-family" not in text
    _, letters = svg_shapes(text, "text-words")
    assert len(letters) >= 4


def test_two_writes_are_equal(pattern):
    assert svg(pattern.mats[0], pattern) == svg(pattern.mats[0], pattern)


@pytest.mark.skipif(not shutil.which("rsvg-convert"), reason="rsvg-convert is not installed")
def test_a_rasteriser_draws_the_square_at_true_size(square, tmp_path):
    from PIL import Image

    (tmp_path / "s.svg").write_text(svg(*square), encoding="utf-8")
    subprocess.run(["rsvg-convert", "-d", "300", "-p", "300", "-b", "white", tmp_path / "s.svg",
                    "-o", tmp_path / "s.png"], check=True)
    ink = np.array(Image.open(tmp_path / "s.png").convert("L")) < 128
    mm = 300 / 25.4
    assert ink.shape[1] == pytest.approx(300 * mm, abs=1.5)
    # Columns and rows that are dark for most of 90 mm are the square's sides.
    middle = ink[int((TITLE + 70) * mm) : int((TITLE + 150) * mm)]
    columns = np.flatnonzero(middle[:, int(20 * mm) : int(280 * mm)].mean(axis=0) > 0.9)
    left, right = np.split(columns, [np.argmax(np.diff(columns)) + 1])
    assert (right.mean() - left.mean()) / mm == pytest.approx(100.0, abs=0.1)


def read(text):
    doc = ezdxf.read(io.StringIO(text))
    audit = doc.audit()
    assert not audit.errors and not audit.fixes
    return doc


def outlines(doc, layer):
    """Closed lines (k, 2) of a layer, with their blocks' places applied, as their own library
    flattens them."""
    rings = []
    for insert in doc.modelspace().query("INSERT"):
        for entity in insert.virtual_entities():
            if entity.dxf.layer == layer and entity.dxftype() in ("LWPOLYLINE", "SPLINE"):
                assert entity.closed
                rings.append(np.array([p.vec2 for p in make_path(entity).flattening(0.005)]))
    return rings


def test_a_hundred_millimetres_measure_a_hundred_in_dxf(square):
    doc = read(dxf(*square))
    assert doc.dxfversion == "AC1024"  # R2010
    assert doc.header["$INSUNITS"] == 4  # DXF reference: 4 = millimetres
    (ring,) = outlines(doc, "1")
    assert np.allclose(ring.min(axis=0), (50, 40)) and np.allclose(ring.max(axis=0), (150, 140))


def test_dxf_outlines_are_the_core_s_outlines(pattern):
    doc, sheet = read(dxf(pattern.mats[0], pattern)), pattern.mats[0]
    placed = [(p.apply(ring), i) for p in sheet.placements
              for i, ring in enumerate(pattern.piece(p.piece).cut)]
    for layer, hole in (("1", False), ("11", True)):
        expected = [ring for ring, i in placed if (i > 0) == hole]
        found = outlines(doc, layer)
        assert len(found) == len(expected)
        assert max(map(apart, found, expected)) < 0.05
    types = {e.dxftype() for i in doc.modelspace().query("INSERT")
             for e in i.virtual_entities() if e.dxf.layer == "1"}
    assert types == {"LWPOLYLINE", "SPLINE"}


def test_dxf_has_one_block_per_piece_on_the_cutters_layers(pattern):
    doc, sheet = read(dxf(pattern.mats[0], pattern)), pattern.mats[0]
    inserts = doc.modelspace().query("INSERT")
    assert len(inserts) == len(sheet.placements)
    assert len({i.dxf.name for i in inserts}) == len(inserts)
    used = {e.dxf.layer for i in inserts for e in i.virtual_entities()}
    assert used == {"1", "4", "7", "8", "11", "15"}  # ASTM D6673 numbers
    for insert in inserts:
        for entity in insert.virtual_entities():
            if entity.dxftype() == "TEXT":
                assert doc.styles.get(entity.dxf.style).dxf.font.startswith("arial")
                assert entity.dxf.layer == "15" and entity.dxf.text.isascii()


def test_dxf_words_are_outlines_of_letters_on_request(square):
    """They cover what the same words cover in SVG, and leave nothing to a typeface."""
    doc = read(dxf(*square, text_as_outlines=True))
    entities = [*doc.modelspace(), *(e for i in doc.modelspace().query("INSERT")
                                     for e in i.virtual_entities())]
    assert not [e for e in entities if e.dxftype() in ("TEXT", "MTEXT")]
    letters = [e for e in entities if e.dxf.layer == "15" and e.closed]  # not the arrow
    assert len(letters) > 50
    found = np.concatenate([e.get_points("xy") for e in letters])
    _, paths = svg_shapes(svg(*square, text_as_outlines=True), "text-words")
    wanted = np.concatenate([points_mm(path) for path in paths]) * (1, -1) + (0, 200.0 + TITLE)
    assert shapely.hausdorff_distance(*map(shapely.multipoints, (found, wanted))) < 0.02


def test_dxf_trenches_and_scores_differ_by_line_type(pattern):
    doc = read(dxf(pattern.mats[0], pattern))
    types = {e.dxf.linetype for i in doc.modelspace().query("INSERT")
             for e in i.virtual_entities() if e.dxf.layer == "8"}
    assert {"TRENCH", "SCORE", "CONTINUOUS"} <= types


def test_direct_cutting_files_make_up_for_the_kerf(build):
    # thick-foam check value: drawn 2.0 × 4.0, kerf 0.2 -> compensated 2.2 × 4.2.
    piece = build.piece("A1", [(0, 0), (2, 0), (2, 4), (0, 4)], stock=Stock("F", 2.0, kerf=0.2))
    sheet = Sheet("mat", "m", (200.0, 100.0), (Placement("A1", 0.0, (90.0, 50.0)),))
    pattern = build.pattern([piece])
    (ring,) = outlines(read(dxf(sheet, pattern)), "1")
    assert np.allclose(np.ptp(ring, axis=0), (2.2, 4.2))
    _, (path,) = svg_shapes(svg(sheet, pattern), "cut")
    assert np.allclose(np.ptp(points_mm(path), axis=0), (2.2, 4.2), atol=0.002)
    assert math.isclose(Polygon(ring).area, 2.2 * 4.2, rel_tol=1e-6)


def test_a_cutter_may_take_what_the_settings_say():
    """A square of 60 mm on the flat, cut with 0.8 mm of kerf: 60.8 mm; its templates stay true."""
    square = Sculpt.plain([(0, 0, 0), (60, 0, 0), (60, 60, 0), (0, 60, 0)], [(0, 1, 2), (0, 2, 3)])
    knife, laser = (make_pattern(square, Settings(find_stock("eva-6"), kerf=kerf, nest_seconds=0.0))
                    for kerf in (None, 0.8))
    for pattern, size in ((knife, 60.0), (laser, 60.8)):
        text = svg(pattern.mats[0], pattern)
        _, (path,) = svg_shapes(text, "cut")
        assert shapely.minimum_rotated_rectangle(Polygon(points_mm(path))).length == pytest.approx(
            4 * size, abs=0.02)
        assert ("half a kerf of 0.8 mm" in text) == (pattern is laser)
        (page,) = (p for p in pattern.pages if p.placements)
        (ring,) = draw_sheet(page, pattern).on("cut").strokes
        assert Polygon(ring.points).length == pytest.approx(
            240.0, abs=0.02)
    with pytest.raises(FoamError, match="bad-stock"):
        make_pattern(square, Settings(find_stock("eva-6"), kerf=-1.0))


def test_any_drawing_can_be_written_as_svg():
    text = svg_of(legend(180.0), (180.0, 90.0), "Legend")
    groups = [part.split('"')[0] for part in text.split('<g id="')[1:]]
    assert set(groups) <= {*LAYERS, "text-words"} and "cut" in groups
