"""Forming gauges as cards on the pages: their edge, their marks, and where those are on pieces."""

from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import shapely

from addon.core.cards import BACK, card_sheets, gauge_cards
from addon.core.make import check, make_pattern
from addon.core.model import Settings
from addon.core.nest import printable
from addon.core.stock import find_stock
from addon.export.changes import AMEND, KEEP, changes
from addon.export.drawing import draw_piece, draw_placed
from addon.export.folder import write_all
from addon.export.printed import after
from addon.export.report import report
from tests import shapes

FOAM = Settings(find_stock("eva-10"), nest_seconds=0.1)


@pytest.fixture(scope="module")
def pattern():
    """An upright half shell of 100 mm radius."""
    return make_pattern(shapes.sculpt(shapes.cylinder(100.0, 1.6, 150.0, 25, 13)), FOAM)


def test_the_edge_of_a_card_is_the_inner_face(pattern):
    """10 mm of foam inside a surface of 100 mm radius: its back has 90 mm."""
    card, = pattern.cards
    assert card.code == f"{pattern.pieces[0].code} G1"
    profile = card.cut[0][:-2]
    (x, y), radius = circle(profile)
    assert radius == pytest.approx(90.0, abs=0.05)
    assert np.abs(np.hypot(*(profile - (x, y)).T) - radius).max() < 0.05
    assert np.hypot(*(card.marks[:, 0] - (x, y)).T) == pytest.approx(radius, abs=0.05)
    (x0, y0), (x1, y1) = card.cut[0][-2:]  # the straight back
    assert y0 == y1 and profile[:, 1].min() - y0 == pytest.approx(BACK)
    assert shapely.Polygon(card.cut[0]).is_valid and card.area > 0


def circle(points):
    """Middle (2,) and radius of the circle of least squares."""
    a = np.column_stack([2 * points, np.ones(len(points))])
    x, y, c = np.linalg.lstsq(a, (points**2).sum(axis=1), rcond=None)[0]
    return (x, y), np.sqrt(c + x * x + y * y)


def test_marks_of_the_template_are_as_far_apart_as_the_layer_that_keeps_its_length(pattern):
    """An arc that is 90 mm in radius inside has 95 mm in the middle of 10 mm foam."""
    card, = pattern.cards
    piece, = pattern.pieces
    crosses = marks_of(draw_piece(piece, pattern))
    (x, y), radius = circle(card.cut[0][:-2])
    for one, other in ((0, 1), (1, 2), (0, 2)):
        first, second = card.marks[[one, other], 0] - (x, y)
        turn = np.arccos(first @ second / radius**2)
        apart = np.hypot(*(crosses[one] - crosses[other]))
        assert apart == pytest.approx(turn * (radius + 5.0), rel=3e-3)


def marks_of(drawing):
    """Middles (3, 2) of the crosses a, middle, b."""
    bars = [s.points for s in drawing.strokes if s.layer == "arrow" and len(s.points) == 2
            and abs(np.hypot(*np.diff(s.points, axis=0)[0]) - 8.0) < 1e-6]
    middles = np.array([bar.mean(axis=0) for bar in bars])
    named = {t.text: t.point for t in drawing.texts if t.text in ("G1a", "G1b")}
    start = min(middles, key=lambda m: np.hypot(*(m - named["G1a"])))
    return np.array(sorted(middles, key=lambda m: np.hypot(*(m - start))))


def test_cards_lie_on_the_pages_whole_or_in_tiles_and_are_drawn(pattern):
    card, = pattern.cards
    shown = [s for s in pattern.pages if card.code in [p.piece for p in s.placements]]
    assert shown
    for sheet in shown:
        drawn = draw_placed(sheet, pattern)[[p.piece for p in sheet.placements].index(card.code)]
        words = {t.text for t in drawn.texts}
        assert {"a", "b"} <= words and any(card.code in w for w in words)
    assert pattern.mats and all(p.piece != card.code for s in pattern.mats for p in s.placements)
    assert all(card.code != p["code"] for p in report(pattern)["pieces"])


def test_a_card_longer_than_the_paper_is_tiled():
    wide = shapes.cylinder(420.0, 1.2, 60.0, 33, 7)
    found = make_pattern(shapes.sculpt(wide), FOAM)
    card, = found.cards
    room = np.diff(np.reshape(printable(FOAM), (2, 2)), axis=0)[0]
    assert np.ptp(card.cut[0], axis=0).max() > np.hypot(*room)
    assert len([s for s in found.pages if s.tile and s.tile[0] == card.code]) > 1


def test_for_machines_the_cards_lie_on_sheets_of_card_side_by_side(pattern, tmp_path):
    card, = pattern.cards
    many = [replace(card, code=f"X{n} G1") for n in range(60)]
    sheets = card_sheets(many)
    assert len(sheets) > 1
    assert sorted(p.piece for s in sheets for p in s.placements) == sorted(c.code for c in many)
    for sheet in sheets:
        placed = [shapely.Polygon(p.apply(card.cut[0])) for p in sheet.placements]
        assert shapely.box(0, 0, *sheet.size).buffer(-4.9).contains(shapely.union_all(placed))
        assert shapely.union_all(placed).area == pytest.approx(sum(p.area for p in placed))
    assert card_sheets(()) == ()
    names = {path.name for path in write_all(pattern, tmp_path)}
    assert {"gauge-card-mat-1.svg", "gauge-card-mat-1.dxf"} <= names
    assert ezdxf.readfile(tmp_path / "mats/gauge-card-mat-1.dxf").audit().errors == []
    assert write_all(pattern, tmp_path)  # and a later run knows them for its own


def test_a_tube_has_a_card_as_far_as_it_reaches():
    """More than half a turn cannot be gauged from one side."""
    tube = check(shapes.sculpt(shapes.cylinder(60.0, 5.0, 90.0, 61, 7)), FOAM)
    card, = gauge_cards(tube.pieces)
    _, radius = circle(card.cut[0][:-2])
    assert radius == pytest.approx(50.0, abs=0.05)
    assert np.ptp(card.cut[0][:, 0]) > 1.9 * radius
    assert shapely.Polygon(card.cut[0]).is_valid


def test_without_gauges_there_is_neither_card_nor_mark(pattern):
    plain = make_pattern(shapes.sculpt(shapes.cylinder(100.0, 1.6, 150.0, 25, 13)),
                         replace(FOAM, gauges=False))
    assert plain.cards == ()
    drawing = draw_piece(plain.pieces[0], plain)
    assert not [t for t in drawing.texts if t.text.startswith("G1")]
    assert [t for t in draw_piece(pattern.pieces[0], pattern).texts if t.text.startswith("G1")]
    # Templates that were printed without them stay good: their cards are all that is missing.
    later = make_pattern(shapes.sculpt(shapes.cylinder(100.0, 1.6, 150.0, 25, 13)),
                         replace(FOAM, printed=after(plain)))
    change, = changes(later)
    assert change.kind == AMEND and "gauges" in change.why[0]
    later = make_pattern(shapes.sculpt(shapes.cylinder(100.0, 1.6, 150.0, 25, 13)),
                         replace(FOAM, printed=after(pattern)))
    assert [c.kind for c in changes(later)] == [KEEP]
