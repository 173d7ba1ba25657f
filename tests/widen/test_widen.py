"""Suits widened at seams: lengths of sections against trimesh and closed forms, and what stays."""

import re
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from addon.core.errors import FoamError
from addon.core.make import Memory, check, make_pattern
from addon.core.model import (
    BUTT_LINE,
    Guide,
    Marking,
    Sculpt,
    SculptObject,
    Settings,
    Size,
    Widening,
)
from addon.core.sizing import sized
from addon.core.stock import find_stock
from tests import shapes

SETTINGS = Settings(find_stock("eva-10"))
R, HIGH, COLUMNS, ROWS = 150.0, 300.0, 96, 25


def ring(across=R, deep=R, waist=0.0):
    """A tube that closes all round, drawn in at its middle by `waist` mm; vertices row by row."""
    turn = np.arange(COLUMNS) * 2 * np.pi / COLUMNS
    rows = np.linspace(0, HIGH, ROWS)
    inward = waist * np.sin(np.pi * rows / HIGH)
    points = np.array([[(across - d) * np.cos(t), (deep - d) * np.sin(t), z]
                       for z, d in zip(rows, inward, strict=True) for t in turn])
    i = np.arange(ROWS * COLUMNS).reshape(ROWS, COLUMNS)
    right = np.roll(i, -1, axis=1)
    quads = np.stack([i[:-1], right[:-1], right[1:], i[1:]], 2).reshape(-1, 4)
    return points, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def upright(*columns, rows=range(ROWS - 1)):
    """Edges of the ring upwards."""
    return np.array([(r * COLUMNS + c, (r + 1) * COLUMNS + c) for c in columns for r in rows])


def level(row):
    return np.array([(row * COLUMNS + c, row * COLUMNS + (c + 1) % COLUMNS)
                     for c in range(COLUMNS)])


def suit(shape, *columns, more=(), **fields):
    seams = [upright(*columns), *more]
    return replace(shapes.sculpt(shape, np.concatenate(seams)), **fields)


def letter_of(pattern, column, radius=R):
    """The code of the mate at a column of the ring."""
    turn = 2 * np.pi * column / COLUMNS
    at = radius * np.array([np.cos(turn), np.sin(turn)])
    return min(pattern.mates, key=lambda m: np.linalg.norm(
        m.curve[:, :2].mean(axis=0) - at)).code


def girth(sculpt, z):
    return trimesh.Trimesh(sculpt.vertices, sculpt.faces, process=False).section(
        (0, 0, 1), (0, 0, z)).length


def widened(sculpt, name, low=20.0, high=None, settings=SETTINGS, **more):
    high = low if high is None else high
    return check(sculpt, replace(settings, widen=((name, (low, high)),), **more))


HEIGHTS = (0.5, 40.0, 150.0, 222.0, 299.5)


@pytest.mark.parametrize("columns", [(0,), (0, 48), (0, 24, 48, 72)], ids=["1", "2", "4"])
@pytest.mark.parametrize("by", [20.0, -15.0])
def test_every_section_of_a_cylinder_grows_by_what_is_asked(columns, by):
    """Girths are measured by trimesh on the moved sculpt, on planes of its own."""
    sculpt = suit(ring(), *columns)
    plain = check(sculpt, SETTINGS)
    done = widened(sculpt, letter_of(plain, 0), by)
    for z in HEIGHTS:
        assert girth(done.sculpt, z) - girth(plain.sculpt, z) == pytest.approx(by, abs=0.1)
    # Foam keeps its thickness, so what lies on the middle of it grows as the outside does.
    wide = [np.ptp(p.flat, axis=0).sum() for p in (*plain.pieces, *done.pieces)]
    grown = np.subtract(wide[len(plain.pieces):], wide[:len(plain.pieces)])
    assert grown.sum() == pytest.approx(by, abs=0.5)
    beside = [p.code for p in plain.pieces if p.code in done.widened[0].pieces]
    for piece, more in zip(plain.pieces, grown, strict=True):
        assert more == pytest.approx(by / len(beside) if piece.code in beside else 0.0, abs=0.3)
    assert [p.code for p in done.pieces] == [p.code for p in plain.pieces]
    for mate in done.mates:
        assert mate.gap < 0.1
    record, = done.widened
    assert record.grown == pytest.approx([by, by], abs=0.05) and record.moved < 2 * abs(by)


def test_a_cylinder_with_one_seam_becomes_the_wider_cylinder():
    """Girth 2 pi R + 20: a radius of R + 20 / 2 pi all round."""
    done = widened(suit(ring(), 0), "A")
    radius = np.hypot(*done.sculpt.vertices[:, :2].T)
    assert radius == pytest.approx(R + 20 / (2 * np.pi), abs=0.05)
    assert done.sculpt.vertices[:, 2] == pytest.approx(ring()[0][:, 2], abs=0.05)


def test_other_seams_and_what_is_behind_them_stay_as_drawn():
    sculpt = suit(ring(), 0, 24, 48, 72)
    plain = check(sculpt, SETTINGS)
    done = widened(sculpt, letter_of(plain, 0))
    moved = np.linalg.norm(done.sculpt.vertices - sculpt.vertices, axis=1).reshape(ROWS, COLUMNS)
    assert (moved[:, 24:73] == 0).all() and moved[:, 0].min() > 5
    assert done.widened[0].along == ()


def test_a_seam_that_meets_it_grows_along_and_is_told():
    """A belt: the girth above and below grows, so the belt does."""
    sculpt = suit(ring(), 0, 48, more=[level(12)])
    plain = check(sculpt, SETTINGS)
    above = max((m for m in plain.mates if m.curve[:, 0].min() > R - 1),
                key=lambda m: m.curve[:, 2].mean())
    done = widened(sculpt, above.code)
    for z in (151.0, 200.0, 299.0):
        assert girth(done.sculpt, z) - girth(plain.sculpt, z) == pytest.approx(20.0, abs=0.1)
    assert girth(done.sculpt, 150.0) - girth(plain.sculpt, 150.0) == pytest.approx(20.0, abs=0.5)
    record, = done.widened
    belt = {m.letter for m in done.mates if np.ptp(m.curve[:, 2]) < 1}
    assert belt & set(record.along)
    note, = (f for f in done.findings if f.code == "seam-widened")
    assert "20 mm longer" in note.message and "moved as well" in note.message
    moved = np.linalg.norm(done.sculpt.vertices - sculpt.vertices, axis=1).reshape(ROWS, COLUMNS)
    assert (moved[:, 48] == 0).all()  # the seam on the other side


def test_the_amount_may_differ_from_end_to_end():
    sculpt = suit(ring(), 0)
    plain, done = check(sculpt, SETTINGS), widened(sculpt, "A", 24.0, 0.0)
    for z in (10.0, 150.0, 290.0):
        assert girth(done.sculpt, z) - girth(plain.sculpt, z) == pytest.approx(
            24.0 * (1 - z / HIGH), abs=0.3)
    assert done.widened[0].grown[0] < 1 and done.widened[0].grown[1] > 23


def test_what_grows_at_one_end_and_shrinks_at_the_other_is_told_so():
    sculpt = suit(ring(), 0, 48)
    told, = [f.message for f in widened(sculpt, "A.1", 20.0, -20.0).findings
             if f.code == "seam-widened"]
    assert re.search(r"are \S+ mm shorter to \S+ mm longer than sculpted", told)
    with pytest.raises(FoamError, match="20 mm wider to 2000 mm narrower"):
        widened(sculpt, "A.1", 20.0, -2000.0)


def test_a_seam_that_zigzags_is_found_again_however_far_it_was_faired():
    """Marked to and fro by 4.5 mm, and drawn as a line between."""
    points, faces = ring()
    points = points.reshape(ROWS, COLUMNS, 3)
    turn = 4.5 / R * (np.arange(ROWS) % 2)
    points[:, 0] = np.stack([R * np.cos(turn), R * np.sin(turn), points[:, 0, 2]], axis=1)
    sculpt = suit((points.reshape(-1, 3), faces), 0)
    settings = replace(SETTINGS, fairing=5.0)
    plain, done = check(sculpt, settings), widened(sculpt, "A", settings=settings)
    assert np.linalg.norm(plain.mates[0].curve - points[:, 0], axis=1).max() > 2.0
    assert len(done.widened) == 1
    assert girth(done.sculpt, 150.0) - girth(plain.sculpt, 150.0) == pytest.approx(20.0, abs=0.2)


def test_a_waisted_oval_grows_everywhere():
    sculpt = suit(ring(180.0, 120.0, waist=25.0), 0, 48)
    plain = check(sculpt, SETTINGS)
    done = widened(sculpt, letter_of(plain, 0, 165.0))
    for z in (20.0, 80.0, 150.0, 260.0):  # sections lean with the surface: not quite these planes
        assert girth(done.sculpt, z) - girth(plain.sculpt, z) == pytest.approx(20.0, abs=0.3)


def box(width=200.0, depth=140.0):
    shape, corners = shapes.box(width, depth, 120.0)
    return shapes.sculpt(shape, np.concatenate(corners))


def test_a_corner_of_a_box_moves_out_so_that_both_walls_grow():
    """Flat walls grow in their planes: 10 mm each, which is where the corner goes."""
    plain = check(box(), SETTINGS)
    name = min(plain.mates, key=lambda m: np.hypot(*m.curve[:, :2].mean(axis=0))).code
    done = widened(box(), name)
    corner = np.flatnonzero(np.hypot(*plain.sculpt.vertices[:, :2].T) < 1)
    assert done.sculpt.vertices[corner][:, :2] == pytest.approx(
        np.full((len(corner), 2), -10.0), abs=0.5)
    assert girth(done.sculpt, 61.0) - girth(plain.sculpt, 61.0) == pytest.approx(20.0, abs=0.1)


def plate(columns=41, rows=13, **seams):
    """A flat plate 400 mm wide, with upright seams at x."""
    points, faces = shapes.surface(lambda x, z: (x, 0 * x, z), np.linspace(0, 400, columns),
                                   np.linspace(0, 120, rows))
    i = np.arange(rows * columns).reshape(rows, columns)
    lines = [np.stack([i[:-1, k], i[1:, k]], axis=1) for k in seams["at"]]
    return shapes.sculpt((points, faces), np.concatenate(lines))


@pytest.mark.parametrize("at", [(20,), (10, 20, 30)])
def test_a_flat_plate_grows_in_its_plane_though_other_seams_must_move(at):
    sculpt = plate(at=at)
    plain = check(sculpt, SETTINGS)
    name = min(plain.mates, key=lambda m: abs(m.curve[:, 0].mean() - 200)).code
    done = widened(sculpt, name)
    assert np.abs(done.sculpt.vertices[:, 1]).max() < 0.5
    assert np.ptp(done.sculpt.vertices[:, 0]) == pytest.approx(420.0, abs=0.5)
    assert bool(done.widened[0].along) == (len(at) > 1)


def test_what_the_pieces_cannot_take_is_refused_with_the_seam():
    sculpt = plate(at=(19, 20, 21))  # strips of 10 mm on both sides
    plain = check(sculpt, SETTINGS)
    name = min(plain.mates, key=lambda m: abs(m.curve[:, 0].mean() - 200)).code
    with pytest.raises(FoamError, match="cannot-widen") as error:
        widened(sculpt, name, 60.0)
    finding = error.value.finding
    assert "60 mm wider" in finding.message and "too narrow" in finding.message
    assert len(finding.edges) == 12
    assert set(sculpt.vertices[finding.edges.ravel(), 0]) == {200.0}


def test_a_letter_that_no_seam_has_is_refused():
    with pytest.raises(FoamError, match="no-such-seam"):
        widened(suit(ring(), 0), "Q")


def test_seams_are_found_by_a_place_too_whatever_their_letter():
    sculpt = suit(ring(), 0, 48)
    place = np.array([-R - 3, 4.0, 100.0])
    done = check(replace(sculpt, widenings=(Widening(place, 20.0, 20.0),)), SETTINGS)
    plain = check(sculpt, SETTINGS)
    assert girth(done.sculpt, 40.0) - girth(plain.sculpt, 40.0) == pytest.approx(20.0, abs=0.1)
    moved = np.linalg.norm(done.sculpt.vertices - sculpt.vertices, axis=1).reshape(ROWS, COLUMNS)
    assert (moved[:, 0] == 0).all() and moved[:, 48].min() > 3
    lost = check(replace(sculpt, widenings=(Widening((0, 0, 0), 20.0, 20.0),)), SETTINGS)
    assert [f.code for f in lost.findings if f.severity == "warning"].count("widening-lost") == 1
    assert (lost.sculpt.vertices == sculpt.vertices).all() and not lost.widened


def test_amounts_are_of_the_suit_as_it_is_built():
    """At twice the size, in another size of a set, and in a mock-up of half of it."""
    sculpt = replace(suit(ring(), 0), widenings=(Widening((R, 0, 100.0), 20.0, 20.0),))
    twice = replace(SETTINGS, scale=2.0)
    assert girth(check(sculpt, twice).sculpt, 99.0) == pytest.approx(
        girth(Sculpt.plain(*ring()), 49.5) * 2 + 20, abs=0.1)
    large = sized(sculpt, Size("L", 1.2, 1.2, 1.0))
    assert girth(check(large, SETTINGS).sculpt, 99.0) == pytest.approx(
        girth(Sculpt.plain(*ring()), 99.0) * 1.2 + 20, abs=0.1)
    half = check(sculpt, replace(SETTINGS, mock_up="half"))
    assert girth(half.sculpt, 50.0) == pytest.approx(
        girth(Sculpt.plain(*ring()), 99.0) / 2 + 10, abs=0.1)


def test_lines_across_faces_are_widened_like_marked_edges():
    turn = np.pi / COLUMNS  # between two columns
    line = np.array([[R * np.cos(turn), R * np.sin(turn), z] for z in (0.0, HIGH)])
    sculpt = replace(Sculpt.plain(*ring()), guides=(Guide(line),))
    plain, done = check(sculpt, SETTINGS), widened(sculpt, "A")
    assert girth(done.sculpt, 77.0) - girth(plain.sculpt, 77.0) == pytest.approx(20.0, abs=0.1)
    piece, = done.pieces
    assert np.ptp(piece.flat, axis=0).max() - np.ptp(plain.pieces[0].flat, axis=0).max() == (
        pytest.approx(20.0, abs=0.2))


def test_details_and_marks_go_along_with_what_they_lie_on():
    """A small plate of 5 mm on the front of the foam near the seam, and a rivet beside it."""
    points, faces = ring()
    turn, high = np.linspace(0.1, 0.4, 13), np.linspace(100, 160, 13)
    badge, own = shapes.surface(lambda a, z: ((R + 6) * np.cos(a), (R + 6) * np.sin(a), z), turn,
                                high)
    both = Sculpt.plain(np.concatenate([points, badge]), np.concatenate([faces, own + len(points)]),
                        upright(0, 48), np.full(2 * (ROWS - 1), 1))
    sculpt = replace(
        both, face_object=np.repeat([0, 1], [len(faces), len(own)]),
        objects=(SculptObject("Breast"), SculptObject("Badge", find_stock("eva-6"))),
        markings=(Marking("rivet", [[R * np.cos(0.5), R * np.sin(0.5), 130.0]], size=(8, 8)),))
    plain = check(sculpt, SETTINGS)
    assert [one.on for one in plain.laid] and plain.laid[0].piece.startswith("BA")
    done = widened(sculpt, letter_of(plain, 0))
    assert [one.on for one in done.laid] == [one.on for one in plain.laid]
    assert not [f for f in done.findings if f.code in ("detail-floats", "detail-overhangs",
                                                       "mark-off-surface")]
    on = done.sculpt.vertices[len(points):][:len(badge)]
    base = cKDTree(done.sculpt.vertices[:len(points)])
    assert base.query(on)[0].min() > 4.0  # over it as before, and it was moved:
    assert np.linalg.norm(on - badge, axis=1).min() > 3.0
    mark, = (m for p in done.pieces for m in p.point_marks)
    before, = (m for p in plain.pieces for m in p.point_marks)
    assert np.linalg.norm(mark.place - before.place) > 2.0
    assert np.hypot(*mark.place[:2]) > R + 2.0


def test_parts_of_a_piece_larger_than_a_mat_are_widened_too():
    small = replace(find_stock("eva-10"), sheet=(500.0, 400.0))
    settings = replace(SETTINGS, stock=small, split=BUTT_LINE)
    sculpt = suit(ring(), 0)
    plain, done = check(sculpt, settings), widened(sculpt, "A", settings=settings)
    assert len(done.pieces) > 1
    assert girth(done.sculpt, 111.0) - girth(plain.sculpt, 111.0) == pytest.approx(20.0, abs=0.1)


def test_what_was_printed_keeps_codes_and_letters_and_only_what_grew_is_printed_again():
    from addon.export.changes import changes
    from addon.export.printed import after

    sculpt = suit(ring(180.0, 120.0), 0, 18, 44, 74)  # no two pieces alike
    plain = make_pattern(sculpt, replace(SETTINGS, nest_seconds=0.0))
    settings = replace(SETTINGS, printed=after(plain), nest_seconds=0.0)
    name = letter_of(plain, 0, 180.0)
    done = make_pattern(sculpt, replace(settings, widen=((name, (20.0, 20.0)),)))
    assert [p.code for p in done.pieces] == [p.code for p in plain.pieces]
    kinds = {c.code: c.kind for c in changes(done)}
    assert [m.letter for m in done.mates] == [m.letter for m in plain.mates]
    assert {code for code, kind in kinds.items() if kind == "reprint"} == set(
        done.widened[0].pieces)
    assert set(kinds.values()) == {"reprint", "keep"}


def test_pieces_that_did_not_change_are_not_flattened_again(monkeypatch):
    from addon.core.flatten import Draft

    sculpt, memory, searched = suit(ring(), 0, 24, 48, 72), Memory(), []
    settings = replace(SETTINGS, widen=(("A.1", (20.0, 20.0)),))
    check(sculpt, SETTINGS, memory=memory)
    real = Draft.of
    monkeypatch.setattr(Draft, "of", lambda region, *more: searched.append(1) or real(
        region, *more))
    check(sculpt, settings, memory=memory)
    assert len(searched) == 2


def test_letters_of_other_seams_stay_though_twins_are_twins_no_more():
    sculpt = suit(ring(180.0, 120.0), 0, 20, 48, 72)
    plain = check(sculpt, SETTINGS)
    letters = [m.letter for m in plain.mates]
    assert len(set(letters)) == 3  # two seams are alike
    shared = next(k for k in range(4) if letters.count(letters[k]) == 2)
    done = widened(sculpt, plain.mates[shared].code)
    for before, now in zip(letters, done.mates, strict=True):
        if letters.count(before) == 1:
            assert now.letter == before
    assert done.mates[shared].letter == letters[shared]
    assert len({m.letter for m in done.mates}) == 4


def test_seams_that_meet_are_widened_one_after_the_other():
    """A belt by -10 mm: what it parts becomes less tall; and a seam above it by 20 mm."""
    sculpt = suit(ring(), 0, 48, more=[level(12)])
    plain = check(sculpt, SETTINGS)
    above = max((m for m in plain.mates if m.curve[:, 0].min() > R - 1),
                key=lambda m: m.curve[:, 2].mean())
    belt = {m.letter for m in plain.mates if np.ptp(m.curve[:, 2]) < 1}
    asked = ((above.code, (20.0, 20.0)), *((letter, (-10.0, -10.0)) for letter in belt))
    done = check(sculpt, replace(SETTINGS, widen=asked))
    assert np.ptp(done.sculpt.vertices[:, 2]) == pytest.approx(HIGH - 10.0, abs=0.5)
    top = done.sculpt.vertices[:, 2].max()
    for z in (top - 30.0, top - 1.0):
        assert girth(done.sculpt, z) - girth(plain.sculpt, HIGH - 1) == pytest.approx(
            20.0, abs=0.5)


def test_a_seam_along_a_single_edge_and_a_ring_may_differ_from_end_to_end_too():
    """The walls of a box of two triangles each: the sections of a wall are as long as it is deep
    and grow in proportion."""
    cube = trimesh.creation.box((100.0, 100.0, 100.0))
    cube = Sculpt.plain(cube.vertices, cube.faces)
    settings = replace(SETTINGS, seam_angle=np.radians(30.0))
    plain = check(cube, settings)
    edge = next(m for m in plain.mates if np.ptp(m.curve[:, 2]) > 99)
    done = widened(cube, edge.code, 16.0, 0.0, settings)
    assert done.widened[0].grown == pytest.approx([2.0, 14.0], abs=0.2)  # at 1/8 and 7/8 of it
    tube = suit(ring(), 0, more=[level(12)])
    belt = next(m for m in check(tube, SETTINGS).mates if np.ptp(m.curve[:, 2]) < 1)
    done = widened(tube, belt.code, 12.0)
    assert np.ptp(done.sculpt.vertices[:, 2]) == pytest.approx(HIGH + 12.0, abs=0.2)
    assert done.widened[0].grown == pytest.approx([12.0, 12.0], abs=0.1)
