"""Flat pieces in rows, to be looked at: nothing overlaps, twins side by side, upright."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st

from addon.core.nest import beside, squared
from tests.sheets.conftest import blob, make_piece, rectangle

SIZES = st.lists(st.tuples(st.floats(1, 900), st.floats(1, 900), st.integers(0, 5)),
                 min_size=1, max_size=25)


def boxes(pieces, placements):
    """Bounding boxes where the placements put the pieces, in the order of the pieces."""
    where = {p.piece: p for p in placements}
    assert len(where) == len(placements) == len(pieces)
    return [shapely.MultiPoint(where[p.code].apply(p.cut[0])).envelope for p in pieces]


def some_pieces(sizes):
    """Rectangles, some of them twins of an earlier one."""
    pieces = []
    for i, (w, h, twin) in enumerate(sizes):
        made = make_piece(f"P{i}", rectangle(w, h))
        if twin < len(pieces):
            first = next(p for p in pieces if p.code == pieces[twin].template)
            made = replace(first, code=f"P{i}", flipped=True, copies=0)
        pieces.append(made)
    return pieces


@profile(max_examples=60, deadline=None)
@given(SIZES, st.floats(0.5, 60), st.floats(10, 3000))
def test_pieces_keep_their_distance(sizes, gap, height):
    pieces = some_pieces(sizes)
    in_square, side = squared(pieces, gap)
    for placements in (beside(pieces, height, gap), in_square):
        assert all(p.angle == 0 and not p.mirrored for p in placements)
        found = boxes(pieces, placements)
        for i, box in enumerate(found):
            for other in found[:i]:
                assert box.distance(other) >= gap * (1 - 1e-9)
    whole = shapely.box(0, 0, side, side)
    assert all(whole.contains(box) for box in boxes(pieces, in_square))


@profile(max_examples=40, deadline=None)
@given(SIZES, st.floats(10, 3000))
def test_rows_are_no_higher_than_asked_where_that_is_possible(sizes, height):
    pieces = some_pieces(sizes)
    found = shapely.union_all(boxes(pieces, beside(pieces, height, 5.0))).bounds
    assert found[:2] == pytest.approx((0, 0), abs=1e-6)
    tallest = max(np.ptp(p.cut[0][:, 1]) for p in pieces)
    assert found[3] <= max(height, tallest) + 1e-6


def test_mirrored_twins_stand_side_by_side_in_one_row():
    rng = np.random.default_rng(1)
    pieces = [make_piece(f"L{i}", blob(rng, rng.uniform(40, 90))) for i in range(6)]
    pieces += [replace(p, code=f"R{i}", flipped=True, copies=0) for i, p in enumerate(pieces)]
    where = {p.piece: p.offset for p in beside(pieces, 500.0, 20.0)}
    assert len({round(y, 6) for _, y in where.values()}) > 1, "one row shows nothing"
    for i, left in enumerate(pieces[:6]):
        wide = np.ptp(left.cut[0][:, 0])
        assert where[f"R{i}"] - where[f"L{i}"] == pytest.approx((wide + 20.0, 0.0))


def test_nine_equal_squares_make_a_square():
    # Closed form: 3 x 3 squares of 100 with 10 between them and 5 round them.
    pieces = [make_piece(f"P{i}", rectangle(100, 100)) for i in range(9)]
    assert squared(pieces, 10.0)[1] == pytest.approx(330.0)


def test_nothing_takes_no_room():
    assert beside((), 100.0, 10.0) == () and squared((), 10.0) == ((), 0.0)
