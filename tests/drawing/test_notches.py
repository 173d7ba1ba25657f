"""Notches fit one way only."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from addon.core.marks import add_notches, notch_fractions
from addon.core.model import Mate

LENGTHS = st.floats(3.0, 1500.0)


@given(LENGTHS, st.floats(20.0, 150.0))
def test_notches_keep_away_from_the_ends_and_in_order(length, spacing):
    fractions = notch_fractions(length, spacing)
    assert len(fractions) >= 1
    clear = min(8.0, 0.15 * length)
    assert np.all(np.diff(fractions) > 0)
    assert fractions[0] * length >= clear - 1e-9
    assert (1 - fractions[-1]) * length >= clear - 1e-9


@given(LENGTHS)
def test_a_flipped_edge_misses_by_more_than_the_eye_forgives(length):
    fractions = notch_fractions(length, 70.0)
    miss = np.abs(fractions[:, None] - (1 - fractions)[None]).min(axis=1).max() * length
    assert miss >= min(3.0, 0.1 * length)


@given(st.floats(150.0, 500.0))
def test_a_shifted_edge_meets_at_most_one_notch(length):
    places = notch_fractions(length, 70.0) * length
    for shift in np.subtract.outer(places, places).ravel():
        if abs(shift) > 1e-9:
            met = np.abs(places[:, None] - (places + shift)[None]).min(axis=1) < 0.5
            assert met.sum() == 1


@given(st.floats(250.0, 700.0))
def test_spacing_is_about_what_was_asked(length):
    gaps = np.diff(notch_fractions(length, 70.0)) * length
    assert 35.0 < gaps.min() and gaps.max() < 110.0


def test_equal_seams_on_one_piece_get_different_gaps(build):
    ring = [(0, 0), (250, 0), (250, 250), (0, 250)]
    piece = build.piece("A1", ring, letters="ABCD")
    others = [build.piece(f"B{i}", [(0, 0), (250, 0), (250, 90)], letters=letter)
              for i, letter in enumerate("ABCD")]
    mates = [mate(letter, ("A1", i), (f"B{i}", 0), 250.0) for i, letter in enumerate("ABCD")]
    pattern = build.pattern([piece, *others])
    notched = add_notches([piece, *others], mates, pattern.settings)
    gaps = np.concatenate([np.diff([np.dot(n.point, (1, 1)) for n in notched[0].notches
                                    if n.letter == letter]) for letter in "ABCD"])
    gaps = np.sort(np.abs(gaps))
    assert len(gaps) >= 8 and np.diff(gaps).min() > 0.8


def mate(letter, first, second, length):
    return Mate(letter, letter, (first, second), (length, length), 0.0, (0.0, 0.0),
                np.zeros((2, 3)))


@settings(deadline=None)
@given(st.floats(30.0, 600.0), st.floats(0.99, 1.01), st.booleans())
def test_mates_carry_the_same_notches_at_the_same_fractions(build, length, ease, falling):
    first = build.piece("A1", [(0, 0), (length, 0), (length, 60), (0, 60)], letters="A")
    second = build.piece("B1", [(0, 0), (length * ease, 0), (length, 60), (0, 60)], letters="A")
    if falling:
        from dataclasses import replace
        edge = second.edges[0]
        second = replace(second, edges=(replace(edge, fraction=edge.fraction[::-1]),
                                        *second.edges[1:]))
    one, two = add_notches([first, second], [mate("A", ("A1", 0), ("B1", 0), length)],
                           build.pattern([first]).settings)
    assert [(n.letter, n.index) for n in one.notches] == [(n.letter, n.index)
                                                          for n in two.notches]
    assert [n.index for n in one.notches] == list(range(1, len(one.notches) + 1))
    for a, b in zip(one.notches, two.notches, strict=True):
        along = b.point[0] / ease
        assert a.point[0] == pytest.approx(length - along if falling else along)


def test_notches_stand_on_the_cut_line_and_point_into_the_foam(build):
    curve = build.arc((0, 0), 90, 0, 170, 80)
    piece = build.piece("A1", [curve, [(-95, 0)]], letters="A")
    hole = build.piece("B1", [curve, [(-95, 0)]], letters="A")
    length = piece.edges[0].length
    (one, _) = add_notches([piece, hole], [mate("A", ("A1", 0), ("B1", 0), length)],
                           build.pattern([piece]).settings)
    body, line = Polygon(piece.cut[0]), LineString(piece.edges[0].cut)
    assert len(one.notches) >= 3
    for notch in one.notches:
        assert line.distance(Point(notch.point)) < 1e-9
        assert body.contains(Point(notch.point + 0.1 * notch.inward))
        assert np.hypot(*notch.inward) == pytest.approx(1.0)
        assert abs(notch.inward @ (notch.point / 90)) > 0.999  # square to the arc


def test_a_closed_seam_has_enough_notches_to_fix_turn_and_direction():
    places = notch_fractions(200.0, 90.0, ring=True)
    gaps = np.diff([*places, places[0] + 1]) * 200
    assert len(gaps) >= 3
    assert np.diff(np.sort(gaps)).min() > 1.0
