"""Pieces larger than a mat, parted by butt lines into pieces that fit."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from addon.core.make import check, make_pattern
from addon.core.model import BUTT_LINE, SEAM, TRENCH, Sculpt, Settings
from addon.core.nest import overlaps
from addon.core.stock import Stock
from tests import shapes

MAT = Stock("foam", 5.0, sheet=(500.0, 400.0))
PART = Settings(MAT, split=BUTT_LINE, nest_seconds=0.02)


def plate(width, height, columns=21, rows=11):
    u, v = np.linspace(0, width, columns), np.linspace(0, height, rows)
    return shapes.surface(lambda x, z: (x, np.zeros_like(x), z), u, v)


def sound(pattern):
    """Every template lies on a mat, as often as it is cut, and nothing overlaps."""
    gap = pattern.settings.stock.gap
    assert all(overlaps(mat, pattern.pieces, gap) == [] for mat in pattern.mats)
    laid = Counter(p.piece for mat in pattern.mats for p in mat.placements)
    assert laid == Counter(p.code for p in pattern.pieces)


def test_a_plate_is_parted_square_across_into_two_that_fit():
    pattern = make_pattern(Sculpt.plain(*plate(800.0, 300.0)), PART)
    assert [p.code for p in pattern.pieces] == ["SC1a", "SC1b"]
    assert sorted(p.area for p in pattern.pieces) == pytest.approx([120e3, 120e3], rel=1e-3)
    (mate,) = pattern.mates
    assert mate.lengths == pytest.approx([300.0, 300.0], abs=0.01)  # the shortest line there is
    assert mate.letter == "A" and np.abs(mate.fold).max() < 1e-6  # square: nothing to bevel
    first, second = pattern.pieces
    notches = [sorted(n.index for n in p.notches) for p in (first, second)]
    assert notches[0] and notches[0] == notches[1]
    assert {p.piece for page in pattern.pages for p in page.placements} <= {"SC1a", "SC1b"}
    assert [f.code for f in pattern.findings if f.severity == "error"] == []
    told = [f for f in pattern.findings if f.code == "parted-for-mat"]
    assert len(told) == 1 and "SC1a, SC1b" in told[0].message
    sound(pattern)


def test_it_is_refused_where_the_maker_wants_no_butt_lines():
    pattern = make_pattern(Sculpt.plain(*plate(800.0, 300.0)), replace(PART, split="refuse"))
    assert [p.code for p in pattern.pieces] == ["SC1"]
    assert [f.code for f in pattern.findings if f.severity == "error"] == ["larger-than-mat"]
    assert pattern.mats == ()


def test_a_piece_of_many_mats_takes_several_rounds():
    pattern = make_pattern(Sculpt.plain(*plate(1300.0, 700.0)), PART)
    assert len(pattern.pieces) >= 6
    assert {p.code[:3] for p in pattern.pieces} == {"SC1"}
    assert sum(p.area for p in pattern.pieces) == pytest.approx(1300.0 * 700.0, rel=1e-3)
    sound(pattern)


def test_what_fits_keeps_its_code_and_is_left_whole():
    vertices, faces = plate(1100.0, 300.0, 23)
    marks = [(i * 23 + 4, (i + 1) * 23 + 4) for i in range(10)]  # a seam at 200 mm
    sculpt = Sculpt.plain(vertices, faces, marks, [SEAM] * 10)
    before, after = check(sculpt, replace(PART, split="refuse")), check(sculpt, PART)
    small, large = sorted(before.pieces, key=lambda p: p.area)
    codes = {p.code for p in after.pieces}
    assert small.code in codes and large.code not in codes
    assert codes - {small.code} == {large.code + "a", large.code + "b"}
    assert after.piece(small.code).area == pytest.approx(small.area, rel=1e-6)


def test_the_line_keeps_off_a_trench_in_the_middle():
    vertices, faces, fold = shapes.roof(300.0, 350.0, 0.5, 31, 41)
    pattern = make_pattern(Sculpt.plain(vertices, faces, fold, [TRENCH] * len(fold)), PART)
    assert len(pattern.pieces) == 2
    (mate,) = pattern.mates
    away = np.hypot(mate.curve[:, 0] - 300.0, mate.curve[:, 2])
    assert away.min() > 15.0 and np.ptp(away) < 0.1  # along it, not over it
    assert sum(len(p.folds) for p in pattern.pieces) == 1
    sound(pattern)


def test_a_mirrored_pair_is_parted_alike_and_shares_templates():
    def side(sign):
        # Not symmetric, so that the halves match in one way only.
        u, v = np.linspace(0, 700, 29), np.linspace(0, 300, 13)
        vertices, faces = shapes.surface(lambda x, z: (
            sign * (100.0 + x), np.zeros_like(x), z * (1 - 0.3 * x / 700) + 0.1 * x), u, v)
        return vertices, faces if sign > 0 else faces[:, ::-1]

    (right, one), (left, other) = side(1), side(-1)
    sculpt = Sculpt.plain(np.concatenate([right, left]),
                          np.concatenate([one, other + len(right)]))
    pattern = make_pattern(sculpt, PART)
    assert len(pattern.pieces) == 4
    templates = pattern.templates
    assert len(templates) == 2 and all((p.copies, p.mirrored) == (1, 1) for p in templates)
    sound(pattern)


@pytest.mark.parametrize("scale", [0.1, 10.0])
def test_lines_lie_where_they_should_on_a_scaled_sculpt(scale):
    vertices, faces = plate(800.0, 300.0)
    plain = make_pattern(Sculpt.plain(vertices, faces), PART)
    scaled = make_pattern(Sculpt.plain(vertices / scale, faces), replace(PART, scale=scale))
    assert [p.area for p in scaled.pieces] == pytest.approx([p.area for p in plain.pieces])


def test_a_bent_piece_is_parted_with_a_line_straight_on_its_flat():
    # A cylinder's flat is its neutral layer, half a thickness inside: 297.5 mm of radius.
    vertices, faces = shapes.cylinder(300.0, 2.0, 300.0, 41, 13)
    pattern = make_pattern(Sculpt.plain(vertices, faces), PART)
    (mate,) = pattern.mates
    assert sum(p.area for p in pattern.pieces) == pytest.approx(2 * 297.5 * 300.0, rel=1e-3)
    assert mate.lengths == pytest.approx([300.0, 300.0], rel=1e-3)
    assert mate.gap < 0.05
    for piece in pattern.pieces:
        (edge,) = (e for e in piece.edges if e.mate)
        ends = edge.points[-1] - edge.points[0]
        off = (edge.points - edge.points[0]) @ [-ends[1], ends[0]] / np.hypot(*ends)
        assert np.abs(off).max() < 0.1
    sound(pattern)


def test_no_part_is_a_sliver():
    # 505 mm long of 490 to spare on a mat: a cut at 490 would leave a strip of 15 mm.
    pattern = make_pattern(Sculpt.plain(*plate(505.0, 395.0)), PART)
    assert min(np.ptp(p.cut[0], axis=0).min() for p in pattern.pieces) > 30.0
    sound(pattern)


def test_a_frame_is_parted_and_its_opening_kept():
    vertices, faces = plate(700.0, 380.0, 29, 20)
    middle = vertices[faces].mean(axis=1)
    inside = (np.abs(middle[:, 0] - 350.0) < 200.0) & (np.abs(middle[:, 2] - 190.0) < 80.0)
    used, compact = np.unique(faces[~inside], return_inverse=True)
    whole = Sculpt.plain(vertices[used], compact.reshape(-1, 3))
    area = check(whole, replace(PART, split="refuse")).pieces[0].area
    pattern = make_pattern(whole, PART)
    assert len(pattern.pieces) > 1
    assert sum(p.area for p in pattern.pieces) == pytest.approx(area, rel=1e-6)
    sound(pattern)


def test_grain_lets_pieces_turn_by_half_only_and_is_minded():
    # Upright it would fit a mat of 400 by 500 mm; along the grain it does not.
    grained = replace(PART, stock=replace(MAT, grain=True))
    pattern = make_pattern(Sculpt.plain(*plate(380.0, 450.0)), grained)
    assert len(pattern.pieces) == 2
    sound(pattern)
