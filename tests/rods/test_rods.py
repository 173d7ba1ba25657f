"""Rods: lengths on the axis, bends, ends that lie on foam, and the cards they are bent by."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely

from addon.core.cards import gauge_cards
from addon.core.make import check, make_pattern
from addon.core.model import HALF, RodEnd, RodLine, Sculpt, Settings
from addon.core.rods import rods_of
from addon.core.stock import find_stock
from addon.export.drawing import draw_piece
from addon.export.plan import write_plan_pdf
from addon.export.report import SCHEMA, report
from addon.export.rod_words import bending, ends
from tests import shapes

jsonschema = pytest.importorskip("jsonschema")
pdfplumber = pytest.importorskip("pdfplumber")

FOAM = find_stock("eva-10")
SETTINGS = Settings(FOAM, nest_seconds=0.1)
FAR = Sculpt.plain([(0, 0, -9e3), (1, 0, -9e3), (0, 1, -9e3)], [(0, 1, 2)])


def rod(points, diameter=20.0, closed=False, on=FAR):
    """The one rod along points, and what is told of it."""
    (found,), told = rods_of(replace(on, rods=(RodLine(points, diameter, closed, "pipe"),)),
                             FOAM, "outer")
    return found, told


def arc(radius, angle, n=25):
    t = np.linspace(0.0, angle, n)
    return radius * np.stack([np.cos(t), np.sin(t), 0 * t], axis=1)


def helix(radius, rise, turns, n=200):
    """rise: per radian."""
    t = np.linspace(0.0, 2 * np.pi * turns, n)
    return np.stack([radius * np.cos(t), radius * np.sin(t), rise * t], axis=1)


@pytest.mark.parametrize(("radius", "angle"), [(150.0, 1.0), (80.0, np.pi), (300.0, 0.2)])
def test_an_arc_is_as_long_as_its_radius_times_its_angle(radius, angle):
    """Closed form: r phi on the axis, and bent to r - d / 2 on the inside."""
    found, told = rod(arc(radius, angle))
    assert found.length == pytest.approx(radius * angle, rel=1e-4)
    assert found.longest == found.length  # both ends are cut square
    assert found.radius == pytest.approx(radius - 10.0, rel=0.02)
    assert found.rise == pytest.approx(0.0, abs=1e-6)
    assert told == []


@pytest.mark.parametrize(("radius", "rise", "turns"), [(120.0, 30.0, 1.0), (60.0, 25.0, 0.5)])
def test_a_helix_is_as_long_as_its_closed_form(radius, rise, turns):
    """Length 2 pi n sqrt(r2 + c2) and radius of curvature (r2 + c2) / r, e.g. do Carmo,
    Differential Geometry of Curves and Surfaces, 1-5 (from memory)."""
    found, _ = rod(helix(radius, rise, turns))
    assert found.length == pytest.approx(2 * np.pi * turns * np.hypot(radius, rise), rel=1e-4)
    assert found.radius == pytest.approx((radius**2 + rise**2) / radius - 10.0, rel=0.02)
    assert len(found.profiles) == 2  # it leaves its plane: seen from the side as well
    assert found.rise > 5.0


def test_a_ring_has_no_ends_and_a_card_with_a_hole():
    t = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    found, told = rod(120.0 * np.stack([np.cos(t), np.sin(t), 0 * t], axis=1), closed=True)
    assert found.ends == () and told == []
    assert found.length == pytest.approx(2 * np.pi * 120.0, rel=1e-4)
    card, = gauge_cards((), (found,))
    outer, hole = map(shapely.Polygon, card.cut)
    assert outer.area == pytest.approx(np.pi * 130.0**2, rel=2e-3)
    assert hole.area == pytest.approx(np.pi * 110.0**2, rel=2e-3)
    assert card.area == pytest.approx(outer.area - hole.area)


@pytest.mark.parametrize(("radius", "forming", "tight"), [
    (300.0, "bend", False), (80.0, "heat", False), (45.0, "tight", True)])
def test_a_bend_is_judged_by_its_inside(radius, forming, tight):
    """Rods of 20 mm: cold from 100 mm on, heated from 40 mm on, on the inside."""
    found, told = rod(arc(radius, 2.0))
    assert found.forming == forming
    assert [f.code for f in told] == ["rod-bends-too-tightly"] * tight


def test_a_straight_rod_needs_no_card():
    found, _ = rod([(0, 0, 0), (30, 40, 0), (240, 320, 0)])
    assert found.forming == "straight" and found.profiles == ()
    assert found.length == pytest.approx(400.0)


def test_what_is_sold_is_taken_and_told():
    found, told = rod([(0, 0, 0), (1200, 0, 0)], 17.0)
    assert found.stock.thickness == 15.0 and found.diameter == 17.0
    assert {f.code for f in told} == {"rod-diameter", "rod-longer-than-sold"}


@pytest.mark.parametrize(("points", "diameter"), [
    ([(0, 0, 0)], 20.0), ([(1, 1, 1)] * 3, 20.0), ([(0, 0, 0), (9, 0, 0)], 0.0),
    ([(0, 0, 0), (np.nan, 0, 0)], 20.0), (np.empty((0, 3)), 20.0)])
def test_a_line_that_is_no_rod_is_left_out_and_named(points, diameter):
    points = np.asarray(points, dtype=float).reshape(-1, 3)
    rods, told = rods_of(replace(FAR, rods=(RodLine(points, diameter, name="pipe"),)), FOAM,
                         "outer")
    assert rods == () and [f.code for f in told] == ["rod-without-size"]
    assert "pipe" in told[0].message


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0])
def test_an_end_on_a_plate_is_cut_as_the_plate_leans(degrees):
    """A straight rod along x against a plane that leans: cut at that angle where the axis
    meets the foam's outer face, d / 2 tan(a) longer on its long side."""
    lean = np.radians(degrees)
    up = np.array([-np.sin(lean), 0.0, np.cos(lean)])
    across = np.array([0.0, 1.0, 0.0])
    corners = [60.0 * (a * across + b * up) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    plate = Sculpt.plain(corners, [(0, 1, 2), (0, 2, 3)], name="plate")
    found, _ = rod([(3.0, 0, 0), (200.0, 0, 0)], on=plate)
    start, end = found.ends
    assert start.on == "plate" and end.on == ""
    assert start.angle == pytest.approx(lean, abs=1e-9) and end.angle == 0.0
    # The sculpt is the foam's outer face, so the axis ends on the plane through the origin.
    assert found.points[0] == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    assert found.longest == pytest.approx(200.0 + 10.0 * np.tan(lean))


def test_a_rod_that_lies_along_a_plate_is_laid_on_it():
    """It leans on the face rather than standing on it: nothing to cut to fit."""
    plate = Sculpt.plain([(0, 0, 0), (300, 0, 0), (300, 300, 0), (0, 300, 0)],
                         [(0, 1, 2), (0, 2, 3)])
    found, _ = rod([(100.0, 150.0, 10.0), (200.0, 150.0, 10.0)], on=plate)
    assert [end.angle for end in found.ends] == [0.0, 0.0]
    assert found.length == pytest.approx(100.0)


def test_the_card_is_the_rod_as_it_lies():
    """The band of an arc: as wide as the rod, and half of it on either side of the axis."""
    found, _ = rod(arc(150.0, 1.2))
    card, = gauge_cards((), (found,))
    assert card.code == "ROD1 G1" and card.gauge_of == "ROD1"
    band = shapely.Polygon(card.cut[0])
    assert band.is_valid and band.area == pytest.approx(150.0 * 1.2 * 20.0, rel=2e-3)
    (one, _), (other, _) = card.marks
    assert np.hypot(*(one - other)) == pytest.approx(2 * 150.0 * np.sin(0.6), rel=1e-3)


@pytest.fixture(scope="module")
def pattern():
    line = RodLine(np.array([0, 0, 400.0]) + arc(150.0, 1.2), 20.0, False, "side pipe")
    sculpt = replace(shapes.sculpt(shapes.cylinder(100.0, 1.6, 150.0, 25, 13)), rods=(line,))
    return make_pattern(sculpt, SETTINGS)


def test_rods_go_with_a_pattern_and_their_cards_with_its_pages(pattern):
    found, = pattern.rods
    assert (found.code, found.name) == ("ROD1", "side pipe")
    assert "ROD1 G1" in [p.piece for page in pattern.pages for p in page.placements]
    words = [t.text for t in draw_piece(pattern.piece("ROD1 G1"), pattern).texts]
    assert any("lay the rod on it" in text for text in words)
    assert {"a", "b"} <= set(words)


def test_rods_grow_with_the_sculpt(pattern):
    twice, = check(pattern.sculpt, replace(SETTINGS, scale=2.0)).rods
    assert twice.length == pytest.approx(2 * pattern.rods[0].length)
    assert twice.diameter == 40.0 and twice.stock.thickness == 40.0


def test_a_mock_up_in_card_and_a_piece_alone_have_no_rods(pattern):
    assert check(pattern.sculpt, replace(SETTINGS, mock_up=HALF)).rods == ()
    alone = make_pattern(pattern.sculpt, replace(SETTINGS, only=pattern.pieces[0].code))
    assert alone.rods == ()


def test_the_plan_and_the_report_tell_of_rods(pattern, tmp_path):
    document = report(pattern)
    jsonschema.validate(document, json.loads(SCHEMA.read_text("utf-8")))
    told, = document["rods"]
    assert told["stock"] == "foam rod 20 mm" and told["cut_length"] == told["length"]
    assert told["length"] == pytest.approx(180.0, abs=0.05)
    write_plan_pdf(pattern, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as book:
        text = " ".join(page.extract_text() for page in book.pages)
    assert "Foam rod 20 mm: 180 mm in one length" in text
    assert "ROD1" in text and "both square" in text
    assert "bend cold, to 140" in text  # and on in its column
    assert bending(pattern.rods[0], "mm") == "bend cold, to 140 mm inside"


@pytest.mark.parametrize(("turn", "side"), [
    (0.1, "outside"), (1.5, "right"), (3.1, "inside"), (-3.1, "inside"), (-1.5, "left")])
def test_the_long_side_of_an_end_is_told_from_the_bend(turn, side):
    found, _ = rod(arc(150.0, 1.2))
    words = ends(replace(found, ends=(RodEnd(np.radians(30), turn, "mask"), RodEnd())))
    assert words.startswith(f"a: 30° from square, on mask, long side on the {side} of the bend")
    assert words.endswith("b: square")
