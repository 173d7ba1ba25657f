"""Repeats and mirror images. Ground truth: pieces made by moving one shape by known motions."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import directed_hausdorff

from addon.core.codes import letter
from addon.core.model import BACK, FRONT, TRENCH, Fold, Mate, Piece, PieceEdge, Placement, Verdict
from addon.core.pairs import apply_pairs, find_pairs
from addon.core.pairs.letters import rerun
from addon.core.stock import Stock

EVA = Stock("EVA 10 mm", 10.0)
FLAT = Verdict("flat", 0.1, 0.1, (1.0, 1.0), np.inf, 0, "It lies flat.")
# No symmetry: an irregular plate with one curved side.
CURVE = np.stack([np.linspace(150, 20, 40), 90 + 25 * np.sin(np.linspace(0, 3, 40) ** 1.3)], axis=1)
PLATE = [np.array([(0, 0), (150, 10)]), np.array([(150, 10), (150, 90)]), CURVE,
         np.array([CURVE[-1], (0, 0)])]
SQUARE = [np.array([a, b]) for a, b in
          [((0, 0), (80, 0)), ((80, 0), (80, 80)), ((80, 80), (0, 80)), ((0, 80), (0, 0))]]
ANGLE = np.linspace(0, 2 * np.pi, 91)
CIRCLE = [np.stack([40 * np.cos(ANGLE), 40 * np.sin(ANGLE)], axis=1)]


def piece(code, runs, motion=None, place=(0.0, 0.0, 0.0), mirror=False, bevels=(), folds=(),
          mated=None, first=0, **more):
    """A flat plate standing in the suit at `place`, or the mirror image of that plate.

    motion: where its flat lies; first: the edge that comes first in its list.
    """
    motion = motion or Placement(code, 0.0, (0.0, 0.0))
    bevel = [np.full(len(r), np.radians(bevels[i] if i < len(bevels) else 0.0))
             for i, r in enumerate(runs)]
    flip = np.array([-1.0, 1.0]) if mirror else np.ones(2)
    order = range(len(runs))
    fraction = [np.linspace(0, 1, len(r)) for r in runs]
    if mirror:  # keep the foam on the left
        runs, bevel = [(r * flip)[::-1] for r in runs], [b[::-1] for b in bevel]
        order = [*order][::-1]
    order = [*order[first:], *order[:first]]
    ring = motion.apply(np.concatenate([runs[i][:-1] for i in order]))
    mated = range(len(runs)) if mated is None else mated
    edges = tuple(PieceEdge(
        points=motion.apply(runs[i]), cut=motion.apply(runs[i]), fraction=fraction[i],
        bevel=bevel[i], mate="?" if i in mated else "",
        length=float(np.linalg.norm(np.diff(runs[i], axis=0), axis=1).sum())) for i in order)
    corners = np.concatenate([runs[i][:-1] for i in order])
    solid = np.column_stack([corners[:, 0], np.zeros(len(corners)), corners[:, 1]])
    x, y = ring.T
    return Piece(
        code=code, name="", object="suit", stock=EVA, side="outer", verdict=FLAT,
        vertices=solid + np.array(place) * ([-1, 1, 1] if mirror else [1, 1, 1]), faces=[[0, 1, 2]],
        source_vertex=np.arange(len(ring)), source_face=[0], flat=ring, stretch=[[1, 1]],
        front=(ring,), back=(ring,), cut=(ring,), edges=edges,
        folds=tuple(replace(f, points=motion.apply(f.points * flip)) for f in folds),
        up=Placement("", motion.angle, (0, 0)).apply(np.array([[0.0, 1.0]]))[0],
        area=abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2, **more)


def mate(code, one, other):
    return Mate(code, "", (one, other), (0, 0), 0.0, (0, 0), np.zeros((2, 3)))


def far(a, b):
    """Hausdorff distance of two rings after dense resampling."""
    def dense(r):
        closed = np.concatenate([r, r[:1]])
        s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
        at = np.linspace(0, s[-1], 2500)
        return np.stack([np.interp(at, s, c) for c in closed.T], axis=1)
    a, b = dense(a), dense(b)
    return max(directed_hausdorff(a, b)[0], directed_hausdorff(b, a)[0])


@settings(max_examples=25, deadline=None)
@given(st.floats(-3.1, 3.1), st.floats(-500, 500), st.floats(-500, 500), st.booleans(),
       st.integers(0, 3))
def test_the_motion_of_a_moved_piece_is_recovered(angle, x, y, mirror, first):
    start = piece("A1", PLATE, place=(200, 0, 0))
    moved = piece("A2", PLATE, Placement("", angle, (x, y)), (200, 0, 0), mirror, first=first)
    match = find_pairs([start, moved])[1]
    assert (match.template, match.flipped) == (0, mirror)
    assert far(match.motion.apply(start.cut[0]), moved.cut[0]) < 0.1  # half a sample
    for k, j in enumerate(match.edges):
        ends = match.motion.apply(start.edges[k].points[[0, -1]])
        own = moved.edges[j].points[[0, -1]][::-1 if mirror else 1]
        assert np.abs(ends - own).max() < 0.01
    assert match.partner == mirror


@pytest.mark.parametrize(("grown", "equal"), [(0.25, True), (0.6, False)])
def test_outlines_match_within_three_tenths_of_a_millimetre(grown, equal):
    taller = [*SQUARE[:1], np.array([(80, 0), (80, 80 + grown)]),
              np.array([(80, 80 + grown), (0, 80)]), SQUARE[3]]
    found = find_pairs([piece("A1", SQUARE), piece("A2", taller)])
    assert (found[1].template == 0) is equal


@pytest.mark.parametrize("change", [
    dict(stock=Stock("EVA 6 mm", 6.0)),
    dict(back=(SQUARE[0],)),
])
def test_other_stock_or_another_back_is_another_piece(change):
    start = piece("A1", PLATE)
    if "back" in change:
        change = dict(back=(start.back[0] * 0.98,))
    found = find_pairs([start, replace(start, code="A2", **change)])
    assert [m.template for m in found] == [0, 1]


@pytest.mark.parametrize(("degrees", "equal"), [(21.5, True), (24.0, False), (-20.0, False)])
def test_bevels_agree_within_two_degrees(degrees, equal):
    found = find_pairs([piece("A1", PLATE, bevels=(20,)), piece("A2", PLATE, bevels=(degrees,))])
    assert (found[1].template == 0) is equal


def test_folds_must_agree_in_place_kind_and_side():
    fold = Fold([(20, 20), (120, 60)], (0.7, 0.7), TRENCH, BACK, 7.0, 5.0)
    start = piece("A1", PLATE, folds=(fold,))
    same = piece("A2", PLATE, Placement("", 1.0, (5, 5)), folds=(
        replace(fold, points=fold.points[::-1]),))
    other_side = piece("A3", PLATE, folds=(replace(fold, side=FRONT),))
    elsewhere = piece("A4", PLATE, folds=(replace(fold, points=fold.points + 2.0),))
    mirrored = piece("A5", PLATE, mirror=True, folds=(fold,))
    found = find_pairs([start, same, other_side, elsewhere, mirrored])
    assert [m.template for m in found] == [0, 0, 2, 3, 0]


def test_an_edge_that_is_free_on_one_piece_and_glued_on_the_other_parts_them():
    found = find_pairs([piece("A1", PLATE, mated=(0, 1)), piece("A2", PLATE, mated=(0, 2))])
    assert found[1].template == 1


def test_a_hole_in_another_place_parts_two_pieces():
    hole = CIRCLE[0][:-1][::-1] * 0.2 + (60, 40)
    start = piece("A1", PLATE)
    with_hole = replace(start, cut=(start.cut[0], hole), front=(start.front[0], hole))
    moved = replace(start, code="A2", cut=(start.cut[0], hole + 3), front=(start.front[0], hole))
    again = replace(with_hole, code="A3")
    assert [m.template for m in find_pairs([with_hole, moved, again])] == [0, 1, 0]


def suit():
    """Left and right arm, each of two plates, on one middle plate that is its own mirror image."""
    turn = [Placement("", a, (a * 90, -a * 40)) for a in (0.0, 1.1, -2.0, 0.4, 2.9)]
    middle = [r - (40, 0) for r in SQUARE]
    pieces = [
        piece("M1", middle, turn[0], mated=(1, 3)),
        piece("L1", PLATE, turn[1], (100, 0, 0), mated=(1, 3)),
        piece("L2", SQUARE, turn[2], (260, 0, 0), mated=(3,)),
        piece("R1", PLATE, turn[3], (100, 0, 0), True, mated=(1, 3)),
        piece("R2", SQUARE, turn[4], (260, 0, 0), True, mated=(3,)),
    ]
    # Mirrored lists run backwards: edge k of four becomes 3 - k.
    mates = [mate("s1", ("L1", 1), ("L2", 3)), mate("s2", ("M1", 1), ("L1", 3)),
             mate("s3", ("R2", 0), ("R1", 2)), mate("s4", ("M1", 3), ("R1", 0))]
    return pieces, mates


def test_left_and_right_share_letters_and_are_printed_once():
    pieces, mates = apply_pairs(*suit())
    assert [(m.letter, m.code) for m in mates] == [
        ("A", "A.1"), ("B", "B.1"), ("A", "A.2"), ("B", "B.2")]
    by = {p.code: p for p in pieces}
    assert [(p.template, p.copies, p.mirrored, p.flipped) for p in pieces] == [
        ("M1", 1, 0, False), ("L1", 1, 1, False), ("L2", 1, 1, False),
        ("L1", 0, 0, True), ("L2", 0, 0, True)]
    assert [e.letter for e in by["L1"].edges] == ["", "A", "", "B"]
    assert [e.letter for e in by["R1"].edges] == ["B", "", "A", ""]
    assert by["R1"].edges[0].mate == "B.2" and by["L1"].edges[3].mate == "B.1"
    assert sum(p.copies + p.mirrored for p in pieces) == len(pieces)


def test_every_copy_has_exactly_its_templates_lines_and_places_on_the_seams():
    start, mates = suit()
    # A right arm a little out of true takes over the left one's lines.
    noisy = start[3].cut[0] + 0.1 * np.sin(np.arange(len(start[3].cut[0])))[:, None]
    start[3] = replace(start[3], cut=(noisy,))
    pieces, mates = apply_pairs(start, mates)
    matches = find_pairs(start, suit()[1])
    for m in matches:
        template, own = pieces[m.template], pieces[m.piece]
        assert far(m.motion.apply(template.cut[0]), own.cut[0]) < 0.2
        for k, j in enumerate(m.edges):
            a, b = template.edges[k], own.edges[j]
            order = slice(None, None, -1) if m.flipped else slice(None)
            assert (a.letter, a.length) == (b.letter, b.length)
            assert np.allclose(a.fraction, b.fraction[order]) and np.allclose(
                a.bevel, b.bevel[order])
        assert np.isclose(own.area, template.area)
    for m in mates:
        assert m.lengths == pytest.approx(
            [next(p for p in pieces if p.code == c).edges[k].length for c, k in m.edges])


def test_outlines_stay_counter_clockwise():
    for p in apply_pairs(*suit())[0]:
        x, y = p.cut[0].T
        assert x @ np.roll(y, -1) - y @ np.roll(x, -1) > 0


def test_six_equal_squares_of_a_cube_are_cut_from_one_template_without_contradiction():
    """Faces of a cube; whatever turn is chosen, no seam may correspond to itself reversed."""
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)])
    rings = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    pieces, sides = [], {}
    for i, ring in enumerate(rings):
        p = piece(f"C{i}", SQUARE, Placement("", 0.3 * i, (i, i)))
        edges = list(p.edges)
        for k in range(4):
            a, b = ring[k], ring[(k + 1) % 4]
            sides.setdefault((min(a, b), max(a, b)), []).append((p.code, k))
            if a > b:  # both mates run along the seam, from its lower corner
                edges[k] = replace(edges[k], fraction=edges[k].fraction[::-1])
        pieces.append(replace(p, edges=tuple(edges), vertices=80 * corners[list(ring)]))
    assert all(len(s) == 2 for s in sides.values())
    mates = [mate(str(i), *s) for i, s in enumerate(sides.values())]
    done, lettered = apply_pairs(pieces, mates)
    assert sum(p.copies for p in done) + sum(p.mirrored for p in done) == 6
    by = {p.code: p for p in done}
    found = {pieces[m.piece].code: m for m in find_pairs(pieces, mates)}
    heads = {}
    for m in lettered:
        for code, k in m.edges:
            p = by[code]
            # Printed once: where a letter's seam starts must be one place on each template edge.
            j = found[code]
            source = j.edges.index(k)
            rising = (p.edges[k].fraction[-1] > p.edges[k].fraction[0]) != j.flipped
            key = (p.template, source)
            assert heads.setdefault(key, (m.letter, rising)) == (m.letter, rising)
    assert len(done) > len([p for p in done if p.template == p.code])


def test_closed_seams_run_alike_whatever_vertex_they_start_at():
    """Round knee caps on round plates of thinner foam; the right seam starts elsewhere."""
    def disc(code, turn, mirror, inner):
        spun = np.roll(CIRCLE[0][:-1], -turn, axis=0)
        p = piece(code, [np.concatenate([spun, spun[:1]])], Placement("", 0.0, (3.0, 4.0)),
                  (100, 0, 0), mirror)
        return replace(p, stock=Stock("EVA 6 mm", 6.0) if inner else EVA)

    pieces = [disc("L1", 0, False, False), disc("R1", 23, True, False),
              disc("L2", 0, False, True), disc("R2", 23, True, True)]
    mates = [mate("s", ("L1", 0), ("L2", 0)), mate("t", ("R1", 0), ("R2", 0))]
    done, lettered = apply_pairs(pieces, mates)
    assert [m.code for m in lettered] == ["A.1", "A.2"]
    assert [p.template for p in done] == ["L1", "L1", "L2", "L2"]
    for one, other in ((0, 2), (1, 3)):  # both mates find one place at one fraction
        a, b = done[one].edges[0], done[other].edges[0]
        for f in (0.1, 0.45, 0.8):
            places = [[np.interp(f, np.sort(e.fraction), e.points[np.argsort(e.fraction), k])
                       for k in (0, 1)] for e in (a, b)]
            assert np.allclose(*places, atol=0.7)
    for p in done:
        edge = p.edges[0]
        assert np.allclose(edge.points[0], edge.points[-1])
        assert sorted(edge.fraction[[0, -1]]) == pytest.approx([0, 1])


@pytest.mark.parametrize("falling", [False, True])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("shift", [0.0, 0.25, 0.613])
def test_a_closed_seam_is_opened_anew_without_moving_any_point(sign, shift, falling):
    fraction = np.linspace(0, 1, 90)[::-1 if falling else 1]
    place = np.exp(2j * np.pi * fraction)
    columns, moved = rerun(np.stack([place.real, place.imag], 1), fraction, sign, shift, True)
    expected = np.exp(2j * np.pi * (moved - shift) * sign)
    chord = 1 - np.cos(np.pi / 89)  # an inserted point lies on a chord
    assert np.abs(columns[:, 0] + 1j * columns[:, 1] - expected).max() < 3 * chord
    assert np.allclose(columns[0], columns[-1])
    assert sorted(moved[[0, -1]]) == pytest.approx([0, 1])
    turned = np.diff(moved) * (-1 if falling else 1) * sign
    assert (turned > 0).all()


def test_letters_leave_out_those_that_look_like_figures():
    text = [letter(i) for i in range(24 + 24 * 24)]
    assert text[:9] == list("ABCDEFGHJ") and text[23:26] == ["Z", "AA", "AB"]
    assert text[-1] == "ZZ" and len(set(text)) == len(text)
    assert not any(c in t for t in text for c in "IO")


def test_a_lone_mate_has_its_letter_as_code_and_free_edges_have_none():
    pieces = [piece("A1", PLATE, mated=(1,)), piece("A2", SQUARE, mated=(3,))]
    pieces = [replace(p, edges=tuple(replace(e, mate="s" if e.mate else "") for e in p.edges))
              for p in pieces]
    done, mates = apply_pairs(pieces, [mate("s", ("A1", 1), ("A2", 3))])
    assert (mates[0].code, mates[0].letter) == ("A", "A")
    assert [e.mate for e in done[0].edges] == ["", "A", "", ""]


def test_nothing_comes_from_nothing():
    assert apply_pairs((), ()) == ((), ())


def test_pairing_is_the_same_every_time():
    first, second = apply_pairs(*suit()), apply_pairs(*suit())
    for a, b in zip(first[0], second[0], strict=True):
        assert all(np.array_equal(x.points, y.points) and x.mate == y.mate
                   for x, y in zip(a.edges, b.edges, strict=True))


def test_what_is_its_own_mirror_image_is_cut_twice_and_never_turned_over():
    """Left and right of a strip that is glued to nothing, and of a cuff that is closed to a tube
    by its own two ends: turned over they are what they were."""
    middle = [r - (40, 0) for r in SQUARE]
    strips = [piece("L1", middle, place=(200, 0, 0), mated=()),
              piece("R1", middle, Placement("", 0.7, (5, 9)), (200, 0, 0), True, mated=())]
    done, _ = apply_pairs(strips, ())
    assert [(p.copies, p.mirrored, p.flipped) for p in done] == [(2, 0, False), (0, 0, False)]
    assert [m.partner for m in find_pairs(strips)] == [False, True]

    def closed(p, right, left):  # both ends run along the seam, from its lower corner
        edges = list(p.edges)
        edges[left] = replace(edges[left], fraction=edges[left].fraction[::-1])
        assert (edges[right].fraction[0] < edges[right].fraction[-1])
        return replace(p, edges=tuple(edges))

    cuffs = [closed(piece("L1", middle, place=(200, 0, 0), mated=(1, 3)), 1, 3),
             closed(piece("R1", middle, place=(260, 0, 0), mated=(1, 3)), 1, 3)]
    mates = [mate("s", ("L1", 1), ("L1", 3)), mate("t", ("R1", 1), ("R1", 3))]
    done, _ = apply_pairs(cuffs, mates)
    assert [(p.copies, p.mirrored) for p in done] == [(2, 0), (0, 0)]


def test_a_symmetric_outline_whose_marks_are_not_symmetric_is_turned_over():
    done = {p.code: p for p in apply_pairs(*suit())[0]}  # L2 is a square, glued at one side
    assert (done["L2"].copies, done["L2"].mirrored) == (1, 1)


@pytest.mark.parametrize(("degrees", "served"), [(0, True), (180, True), (40, False), (90, False)])
def test_foam_with_a_grain_is_not_cut_from_a_template_that_is_worn_turned(degrees, served):
    grained = replace(EVA, grain=True)
    start = replace(piece("A1", PLATE), stock=grained)
    turned = piece("A2", PLATE, Placement("", np.radians(degrees), (0, 0)))
    upright = replace(turned, stock=grained, up=(0.0, 1.0))  # the same shape, worn otherwise
    assert (find_pairs([start, upright])[1].template == 0) is served
    assert find_pairs([replace(start, stock=EVA), replace(upright, stock=EVA)])[1].template == 0
    level = replace(upright, up=(0.0, 0.0))
    assert find_pairs([start, level])[1].template == 0
