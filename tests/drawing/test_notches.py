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


def misfit(places, length, turned):
    """The least that anything is out, mm, when an edge is laid on its mate the wrong way: ends
    or notches, over all shifts by up to half the seam; turned: the other way round."""
    other = length - places if turned else places
    shifts = np.arange(-length / 2, length / 2, 0.25)
    worst = []
    for shift in shifts if turned else shifts[np.abs(shifts) >= 3.0]:
        moved = other + shift
        here = places[(places >= shift) & (places <= length + shift)]
        there = moved[(moved >= 0) & (moved <= length)]
        worst.append(max([abs(shift), *np.abs(here[:, None] - moved).min(axis=1),
                          *np.abs(there[:, None] - places).min(axis=1)]))
    return min(worst, default=np.inf)


@settings(max_examples=20, deadline=None)
@given(LENGTHS, st.sampled_from((40.0, 70.0, 120.0)), st.booleans())
def test_no_shifted_or_flipped_match_fits(length, spacing, turned):
    places = notch_fractions(length, spacing) * length
    assert misfit(places, length, turned) >= min(3.0, 0.1 * length) - 1e-9


@settings(max_examples=20, deadline=None)
@given(st.floats(30.0, 1500.0), st.sampled_from((40.0, 70.0)), st.booleans())
def test_no_turned_or_flipped_match_of_a_closed_seam_fits(length, spacing, turned):
    places = notch_fractions(length, spacing, ring=True) * length
    worst = []
    for shift in np.arange(0, length, 0.25):
        if not turned and min(shift, length - shift) < 3.0:
            continue
        moved = (-places if turned else places) + shift
        apart = np.abs((places[:, None] - moved + length / 2) % length - length / 2)
        worst.append(max(apart.min(axis=0).max(), apart.min(axis=1).max()))
    assert min(worst) >= min(2.0, 0.03 * length)


@settings(max_examples=15, deadline=None)
@given(st.floats(30.0, 400.0), st.integers(2, 4))
def test_seams_of_one_length_on_one_piece_have_notches_in_other_places(build, length, count):
    corners = np.array([(0, 0), (length, 0), (length, length), (0, length)])
    letters = "ABCD"[:count]
    piece = build.piece("A1", corners, letters=letters)
    others = [build.piece(f"B{i}", [(0, 0), (length, 0), (length, 90)], letters=letter)
              for i, letter in enumerate(letters)]
    mates = [mate(letter, ("A1", i), (f"B{i}", 0), length) for i, letter in enumerate(letters)]
    _, *notched = add_notches([piece, *others], mates, build.pattern([piece]).settings)
    rows = [np.array([n.point[0] for n in p.notches]) for p in notched]
    for i, row in enumerate(rows):
        for other in rows[:i]:
            for way in (other, length - other):
                apart = np.abs(row[:, None] - way)
                assert max(apart.min(axis=0).max(), apart.min(axis=1).max()) >= min(
                    1.5, 0.02 * length)
