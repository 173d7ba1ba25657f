"""Strips along edges and lines: lengths on their own layer, mitres, parts, and what is written."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from addon.core.make import check, make_pattern
from addon.core.model import BUTTED, FACE, Sculpt, Settings, StripLine
from addon.core.stock import find_stock
from addon.export.drawing import draw_piece
from addon.export.plan import write_plan_pdf
from addon.export.report import SCHEMA, report
from addon.export.shopping import shopping
from tests import shapes

jsonschema = pytest.importorskip("jsonschema")
pdfplumber = pytest.importorskip("pdfplumber")

FOAM, THIN = find_stock("eva-10"), find_stock("eva-2")
SETTINGS = Settings(FOAM, nest_seconds=0.1, gauges=False)


def polygon(sides, radius, steps=8, turn=0.3):
    """A plane regular polygon as a fan, and its rim in order."""
    corner = np.exp(1j * (2 * np.pi * np.arange(sides) / sides + turn)) * radius
    rim = np.concatenate([a + (b - a) * np.arange(steps) / steps
                          for a, b in zip(corner, np.roll(corner, -1), strict=True)])
    points = np.append(rim, 0)
    n = len(rim)
    faces = [(k, (k + 1) % n, n) for k in range(n)]
    ring = np.stack([rim.real, rim.imag, 0 * rim.real], axis=1)
    return np.stack([points.real, points.imag, 0 * points.real], axis=1), np.array(faces), ring


def on(shape, *strips, settings=SETTINGS):
    vertices, faces = shape
    return check(Sculpt.plain(vertices, faces, strips=strips), settings)


@pytest.mark.parametrize("way", [1, -1])
def test_a_strip_round_a_disc_is_as_long_as_the_circle_of_its_own_layer(way):
    """Closed form: 2 pi (R + t n)."""
    vertices, faces, ring = polygon(360, 90.0, 1)
    strip, = on((vertices, faces), StripLine(ring[::way], 10.0, "hem", closed=True,
                                             stock=THIN)).strips
    assert strip.edge == pytest.approx(2 * math.pi * 90, rel=1e-4)
    assert strip.length == pytest.approx(2 * math.pi * (90 + THIN.thickness * THIN.neutral),
                                         rel=1e-4)
    assert [e.bevel for e in strip.ends] == [0, 0]


def test_a_strip_round_a_hole_is_shorter_than_its_edge():
    """Closed form: 2 pi (R - t n)."""
    t = np.linspace(0, 2 * np.pi, 361)[:-1]
    rings = [r * np.stack([np.cos(t), np.sin(t), 0 * t], axis=1) for r in (60.0, 75.0, 90.0)]
    n = len(t)
    faces = [f for k in (0, 1) for i in range(n) for f in (
        (k * n + i, (k + 1) * n + i, (k + 1) * n + (i + 1) % n),
        (k * n + i, (k + 1) * n + (i + 1) % n, k * n + (i + 1) % n))]
    strip, = on((np.concatenate(rings), np.array(faces)),
                StripLine(rings[0], 10.0, "hem", closed=True, stock=THIN)).strips
    assert strip.length == pytest.approx(2 * math.pi * (60 - THIN.thickness * THIN.neutral),
                                         rel=1e-4)


def test_a_strip_on_the_outside_of_a_bend_is_as_long_as_its_own_layer():
    """Closed form on a cylinder of outside radius R: the arc is (R + t n) times its angle."""
    r = 100.0
    t = np.linspace(0.2, 1.8, 80)
    line = np.stack([r * np.cos(t), r * np.sin(t), 60 + 0 * t], axis=1)
    strip, = on(shapes.cylinder(r, 2.0, 120.0, columns=161),
                StripLine(line, 15.0, "band", lies=FACE, stock=THIN)).strips
    assert strip.length == pytest.approx(1.6 * (r + THIN.thickness * THIN.neutral), rel=5e-4)


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 8])
def test_mitres_of_a_polygon_are_half_its_exterior_angle(sides):
    """Tables of polygon mitres: 60°, 45°, 36°, 30° and 22.5° from square for 3, 4, 5, 6 and 8
    sides: 180° / n, half the exterior angle."""
    vertices, faces, ring = polygon(sides, 120.0)
    strip, = on((vertices, faces), StripLine(ring, 10.0, "hem", closed=True, stock=THIN)).strips
    assert strip.piece.copies == sides  # all alike: one template
    table = {3: 60.0, 4: 45.0, 5: 36.0, 6: 30.0, 8: 22.5}[sides]
    assert [math.degrees(e.bevel) for e in strip.ends] == pytest.approx([table] * 2, abs=1e-6)
    side = 2 * 120 * math.sin(math.pi / sides)
    assert strip.edge == pytest.approx(side) and strip.length == pytest.approx(side)
    # The outer face is the polygon whose apothem is larger by t: its side grows 2 t tan(180°/n).
    outer = np.ptp(strip.piece.front[0][:, 0])
    assert outer == pytest.approx(side + 2 * THIN.thickness * math.tan(math.pi / sides))
    assert np.ptp(strip.piece.back[0][:, 0]) == pytest.approx(side)


def test_strips_butted_round_a_square_run_on_by_their_thickness():
    vertices, faces, ring = polygon(4, 120.0)
    strip, = on((vertices, faces), StripLine(ring, 10.0, "hem", closed=True, stock=THIN,
                                             corners=BUTTED)).strips
    side = 120 * math.sqrt(2)
    assert np.ptp(strip.piece.cut[0][:, 0]) == pytest.approx(side + THIN.thickness)
    assert [e.bevel for e in strip.ends] == pytest.approx([0, 0], abs=1e-9)


def test_a_corner_within_the_face_is_mitred_across_the_width():
    plate = shapes.surface(lambda x, y: (x, y, 0 * x), np.linspace(0, 200, 21),
                           np.linspace(0, 120, 13))
    line = [(30, 30, 0), (150, 30, 0), (150, 100, 0)]
    first, second = on(plate, StripLine(line, 12.0, "L", lies=FACE, stock=THIN)).strips
    assert math.degrees(abs(first.ends[1].skew)) == pytest.approx(45.0)
    assert first.ends[1].bevel == pytest.approx(0) and first.ends[0].skew == 0
    # Turning left, the right side is the longer one: 12 tan 45° between the two.
    right, left = (np.ptp(first.piece.cut[0][k, 0]) for k in ([0, 1], [2, 3]))
    assert (right, left) == pytest.approx((126.0, 114.0))
    assert second.edge == pytest.approx(70.0)


def test_what_is_longer_than_a_mat_is_cut_in_parts():
    plate = shapes.surface(lambda x, y: (x, y, 0 * x), np.linspace(0, 500, 26),
                           np.linspace(0, 120, 7))
    short = replace(THIN, sheet=(210.0, 210.0))
    pattern = on(plate, StripLine([(0, 0, 0), (500, 0, 0)], 10.0, "hem", stock=short))
    strip, = pattern.strips
    assert strip.piece.copies == 3 and strip.length == pytest.approx(500 / 3)
    assert strip.on == ("hem 1, part 1", "hem 1, part 2", "hem 1, part 3")
    assert "strip-in-parts" in [f.code for f in pattern.findings]


def test_what_has_no_place_is_told_and_left_out():
    vertices, faces, ring = polygon(4, 120.0)
    inner = StripLine(ring / 2, 10.0, "inner", closed=True)
    away = StripLine(ring + (0, 0, 40), 10.0, "away", closed=True)
    thin = StripLine(ring, 0.0, "no width", closed=True)
    one = StripLine(ring[:1], 5.0, "one point")
    nan = StripLine(ring * np.nan, 5.0, "nan")
    pattern = on((vertices, faces), inner, away, thin, one, nan)
    assert pattern.strips == ()
    assert [f.code for f in pattern.findings if f.code.startswith("strip")] == [
        "strip-left-out"] * 5
    small, small_faces, small_ring = polygon(90, 12.0, 1)
    tight = on((small, small_faces), StripLine(small_ring, 10.0, "tight", closed=True))
    assert "strip-bends-too-tightly" in [f.code for f in tight.findings]


@pytest.fixture(scope="module")
def square():
    vertices, faces, ring = polygon(4, 120.0)
    return make_pattern(Sculpt.plain(vertices, faces, strips=(
        StripLine(ring, 12.0, "Hem", closed=True, stock=THIN),)), SETTINGS)


def test_strips_are_nested_printed_bought_and_reported(square, tmp_path):
    laid = [p.piece for mat in square.mats for p in mat.placements if mat.stock == THIN]
    assert laid == ["ST1"] * 4
    assert any(p.piece == "ST1" for page in square.pages for p in page.placements)
    assert [f.stock for f in shopping(square).foam] == [FOAM, THIN]
    assert shopping(square).foam[1].pieces == 4
    document = report(square)
    jsonschema.validate(document, json.loads(SCHEMA.read_text(encoding="utf-8")))
    found, = document["strips"]
    assert (found["count"], found["ends"][0]["bevel"]) == (4, 45.0)
    texts = [t.text for t in draw_piece(square.strips[0].piece, square).texts]
    assert "45° F>B" in texts
    write_plan_pdf(square, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
    assert "Cut list: strips" in text and "both 45° F>B" in text


def test_mirrored_strips_share_a_template():
    points, faces = shapes.surface(lambda x, y: (x + 20, 0 * x, y + x * y / 900),
                                   np.linspace(0, 150, 16), np.linspace(0, 90, 10))
    both = Sculpt.plain(np.concatenate([points, points * (-1, 1, 1)]),
                        np.concatenate([faces, faces[:, ::-1] + len(points)]),
                        strips=(StripLine([(20, 0, 0), (170, 0, 0)], 10.0, "hem", mirrored=True),))
    strip, = check(both, SETTINGS).strips
    assert strip.piece.copies == 2 and strip.on == ("hem 1", "hem mirrored 1")
    assert strip.edge == pytest.approx(150.0)
