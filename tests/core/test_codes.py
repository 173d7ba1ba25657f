"""Codes and letters from one pattern to the next, and which templates stay good.

The truth is known beforehand: the same suit with its parts numbered otherwise, or changed in one
place only.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from addon.core.codes import give_codes, letter, place
from addon.core.make import Memory, check, make_pattern
from addon.core.model import SEAM, Cut, Sculpt, SculptObject, Settings
from addon.core.stock import Stock
from addon.export.changes import AMEND, GONE, KEEP, MOVED, NEW, REPRINT, changes, still_good
from addon.export.printed import after
from tests import shapes

FOAM = Settings(Stock("foam", 6.0), nest_seconds=0.1)
MEMORY = Memory()  # of the suit as it was at first
SLOPE = 0.3  # the arms widen upwards, so that up and down cannot be taken for each other


def arm(x: float, turn: int):
    """A tapering half shell, parted down its middle; turn -1: its mirror image."""
    points, faces = shapes.surface(
        lambda a, z: ((60 + SLOPE * z) * np.cos(a), (60 + SLOPE * z) * np.sin(a), z + 9 * a),
        np.linspace(0, np.pi, 13), np.linspace(0, 120, 5))
    seam = np.arange(5) * 13 + 5
    points = points * (turn, 1, 1) + (x, 0, 0)
    return points, faces if turn > 0 else faces[:, ::-1], np.stack([seam[:-1], seam[1:]], 1)


def plate():
    """A bent plate in three unlike pieces, by two seams along it."""
    points, faces = shapes.cylinder(200.0, 1.2, 150.0, 13, 5)
    rows = np.arange(5) * 13
    seams = [np.stack([rows[:-1] + k, rows[1:] + k], 1) for k in (4, 9)]
    return points, faces, np.concatenate(seams)


def suit(parts=None) -> Sculpt:
    parts = parts or {"Plate": plate(), "Arm left": arm(400.0, 1), "Arm right": arm(-400.0, -1)}
    starts = np.cumsum([0, *(len(p[0]) for p in parts.values())])
    return Sculpt(
        vertices=np.concatenate([p[0] for p in parts.values()]),
        faces=np.concatenate([p[1] + s for p, s in zip(parts.values(), starts, strict=False)]),
        edges=np.sort(np.concatenate(
            [p[2] + s for p, s in zip(parts.values(), starts, strict=False)]), axis=1),
        kinds=np.full(sum(len(p[2]) for p in parts.values()), SEAM),
        face_object=np.repeat(np.arange(len(parts)), [len(p[1]) for p in parts.values()]),
        objects=tuple(SculptObject(name) for name in parts),
        polygon=np.arange(sum(len(p[1]) for p in parts.values())))


def renumbered(sculpt: Sculpt, seed: int) -> Sculpt:
    """The same sculpt with its vertices, faces, corners and objects in another order."""
    rng = np.random.default_rng(seed)
    order, faces = rng.permutation(len(sculpt.vertices)), rng.permutation(len(sculpt.faces))
    new, things = np.argsort(order), rng.permutation(len(sculpt.objects))
    corner = (np.arange(3) + rng.integers(0, 3, (len(faces), 1))) % 3
    return replace(
        sculpt, vertices=sculpt.vertices[order], polygon=sculpt.polygon[faces],
        faces=np.take_along_axis(new[sculpt.faces[faces]], corner, axis=1),
        edges=np.sort(new[sculpt.edges], axis=1)[rng.permutation(len(sculpt.edges))],
        face_object=np.argsort(things)[sculpt.face_object[faces]],
        objects=tuple(sculpt.objects[i] for i in things), origin=np.arange(len(faces)))


def middles(pattern):
    """Where each piece is, by code."""
    return {p.code: place(p.vertices, p.faces)[1] for p in pattern.pieces}


def kinds(found):
    return {change.code: change.kind for change in found}


@pytest.fixture(scope="module")
def first():
    return check(suit(), FOAM)


@pytest.fixture(scope="module")
def again(first):
    """Settings that know what the first pattern printed."""
    return replace(FOAM, printed=after(first))


def test_the_first_pattern_has_nothing_to_compare_with(first):
    assert changes(first) == ()
    assert {p.template for p in first.pieces if p.flipped}  # the arms are mirror images


@settings(max_examples=3)
@given(seed=st.integers(0, 2**32 - 1))
def test_another_order_of_vertices_faces_and_objects_changes_nothing(seed):
    known = check(suit(), FOAM, memory=MEMORY)
    found = check(renumbered(suit(), seed), replace(FOAM, printed=after(known)))
    assert [p.code for p in found.pieces] == [p.code for p in known.pieces]
    assert [m.code for m in found.mates] == [m.code for m in known.mates]
    there, here = middles(known), middles(found)
    assert all(np.allclose(there[code], here[code], atol=1e-6) for code in there)
    for a, b in zip(known.mates, found.mates, strict=True):
        assert np.allclose(a.curve, b.curve, atol=1e-6)  # and it runs the same way
    assert {c.kind for c in changes(found)} == {KEEP}


def test_without_the_earlier_pattern_another_order_does_change_them(first):
    """The test before can fail."""
    found = check(renumbered(suit(), 3), FOAM)
    there, here = middles(first), middles(found)
    assert not all(code in here and np.allclose(there[code], here[code], atol=1) for code in there)


def test_other_names_of_objects_keep_the_codes(first, again):
    names = ("Breast", "L", "R")
    found = check(replace(suit(), objects=tuple(map(SculptObject, names))), again)
    assert [p.code for p in found.pieces] == [p.code for p in first.pieces]
    assert {c.kind for c in changes(found)} == {AMEND}  # the name on the label


def test_an_edit_of_one_plate_asks_for_the_pieces_it_reaches(first, again):
    sculpt = suit()
    points = sculpt.vertices.copy()
    plate = np.arange(5 * 13).reshape(5, 13)  # its vertices are the first
    points[plate[:, 10:], 2] *= 1.02  # taller beyond the second seam
    found = check(renumbered(replace(sculpt, vertices=points), 5), again)
    assert [p.code for p in found.pieces] == [p.code for p in first.pieces]
    assert kinds(changes(found)) == {
        p.code: REPRINT if p.code == "PL3" else KEEP for p in first.templates}


def test_less_than_a_tenth_of_a_millimetre_is_no_change(first, again):
    found = check(replace(suit(), vertices=suit().vertices * (1, 1, 1.0005)), again)
    assert {c.kind for c in changes(found)} == {KEEP}
    found = check(replace(suit(), vertices=suit().vertices * (1, 1, 1.005)), again)
    assert {c.kind for c in changes(found)} == {REPRINT}


def test_small_changes_do_not_add_up_unseen(first, again):
    """Each is compared with what is printed, not with the one before."""
    told = []
    for step in range(1, 4):
        found = check(replace(suit(), vertices=suit().vertices * (1, 1, 1 + 6e-4 * step)), again)
        seen = changes(found)
        told.append(REPRINT in kinds(seen).values())
        again = replace(again, printed=after(found, still_good(seen)))
    assert not told[0] and any(told)


def test_a_seam_taken_away_and_put_back(first, again):
    points, faces, seams = plate()
    parts = {"Plate": (points, faces, seams[4:]), "Arm left": arm(400.0, 1),
             "Arm right": arm(-400.0, -1)}
    found = check(suit(parts), again)
    seen = changes(found)
    assert kinds(seen) == {"PL1": GONE, "PL2": GONE, "PL4": NEW, **{
        p.code: KEEP for p in first.templates if p.code not in ("PL1", "PL2")}}
    known = {m.code: m.curve for m in first.mates}
    assert all(np.allclose(known[m.code], m.curve) for m in found.mates)
    back = check(suit(), replace(again, printed=after(found, still_good(seen))))
    assert kinds(changes(back)) == {"PL4": GONE, "PL5": NEW, "PL6": NEW, **{
        p.code: KEEP for p in first.templates if p.code not in ("PL1", "PL2")}}
    fresh = {m.letter for m in back.mates} - {m.letter for m in found.mates}
    assert fresh and not fresh & {m.letter for m in first.mates}  # no letter comes to mean two


def test_an_object_taken_away_leaves_the_others_alone(first, again):
    parts = {"Arm left": arm(400.0, 1), "Arm right": arm(-400.0, -1)}
    found = check(suit(parts), again)
    assert kinds(changes(found)) == {p.code: GONE if p.object == "Plate" else KEEP
                                     for p in first.templates}


def test_an_object_added_gets_codes_of_its_own(first, again):
    more = arm(0.0, 1)
    parts = {"Apron": (more[0] * (1, 1, 2) + (0, 500, 0), *more[1:]), "Plate": plate(),
             "Arm left": arm(400.0, 1), "Arm right": arm(-400.0, -1)}
    found = check(suit(parts), again)
    new = {p.code for p in found.pieces if p.object == "Apron"}
    assert new and not new & again.printed.codes
    assert kinds(changes(found)) == {p.code: NEW if p.code in new else KEEP
                                     for p in found.templates}


def test_an_edit_of_one_of_two_mirrored_arms_keeps_the_template_of_the_other(first, again):
    points, faces, seams = arm(-400.0, -1)
    parts = {"Plate": plate(), "Arm left": arm(400.0, 1),
             "Arm right": (points * (1, 1, 1.03), faces, seams)}
    found = kinds(changes(check(suit(parts), again)))
    templates = {p.code: p.object for p in first.templates}
    left = {code for code, thing in templates.items() if thing == "Arm left"}
    assert {found[code] for code in left} == {AMEND}  # "cut 1" in place of "cut 1 + 1 mirrored"
    assert sorted(v for k, v in found.items() if k not in templates) == [NEW, NEW]


@pytest.mark.parametrize("step", [(0, 30, 0), (900, 0, 300)])
def test_a_part_that_sits_elsewhere_is_the_same_part(first, again, step):
    sculpt = suit()
    mine = np.unique(sculpt.faces[sculpt.face_object == 0])
    points = sculpt.vertices.copy()
    points[mine] += step
    found = check(renumbered(replace(sculpt, vertices=points), 2), again)
    assert kinds(changes(found)) == {p.code: MOVED if p.object == "Plate" else KEEP
                                     for p in first.templates}


@pytest.mark.parametrize(("axis", "degrees"), [
    ((0, 0, 1), 90), ((0, 0, 1), 180), ((1, 2, 3), 35), ((1, 0, 0), 90), ((2, -1, 1), 160)])
def test_a_suit_turned_as_a_whole_keeps_its_codes_and_letters(first, again, axis, degrees):
    sculpt = renumbered(suit(), 11)
    turn = Rotation.from_rotvec(np.radians(degrees) * np.array(axis) / np.linalg.norm(axis))
    found = check(replace(sculpt, vertices=turn.apply(sculpt.vertices) + (70, -900, 40)), again)
    there, here = middles(first), middles(found)
    assert sorted(there) == sorted(here)
    for code in there:
        assert np.allclose(turn.apply(there[code]) + (70, -900, 40), here[code], atol=0.5), code
    for a, b in zip(first.mates, found.mates, strict=True):
        assert (a.code, a.letter) == (b.code, b.letter)
        assert np.allclose(turn.apply(a.curve) + (70, -900, 40), b.curve, atol=0.5)
    if axis == (0, 0, 1):  # still upright: what is printed is as good as it was
        assert {c.kind for c in changes(found)} == {MOVED}


def test_one_object_turned_leaves_the_others_alone(first, again):
    sculpt = suit()
    mine = np.unique(sculpt.faces[sculpt.face_object == 1])
    points = sculpt.vertices.copy()
    turn = Rotation.from_rotvec((0, 0, np.radians(130)))
    points[mine] = turn.apply(points[mine])
    found = check(renumbered(replace(sculpt, vertices=points), 12), again)
    there, here = middles(first), middles(found)
    assert sorted(there) == sorted(here)
    for piece in first.pieces:
        at = there[piece.code]
        at = turn.apply(at) if piece.object == "Arm left" else at
        assert np.allclose(at, here[piece.code], atol=0.5), piece.code


def test_another_size_of_the_suit_keeps_the_codes(first, again):
    found = check(renumbered(suit(), 7), replace(again, scale=1.1))
    assert [p.code for p in found.pieces] == [p.code for p in first.pieces]
    assert {c.kind for c in changes(found)} == {REPRINT}


def test_other_notches_are_asked_for_and_made(first, again):
    found = check(suit(), replace(again, notch_spacing=35.0))
    assert {c.kind for c in changes(found)} == {REPRINT}


def test_one_piece_alone_changes_the_record_of_that_one(first, again):
    sculpt = replace(suit(), vertices=suit().vertices * (1, 1, 1.03))
    one = make_pattern(sculpt, replace(again, only="PL2"))
    assert kinds(changes(one)) == {"PL2": REPRINT}
    record = after(one, still_good(changes(one)))
    assert [p.code for p in record.pieces] == [p.code for p in again.printed.pieces]
    assert record.letters == again.printed.letters
    whole = check(sculpt, replace(again, printed=record))
    found = kinds(changes(whole))
    assert found.pop("PL2") == KEEP and set(found.values()) == {REPRINT}


def test_one_piece_tried_first_fits_what_is_made_after_it(first):
    """No other code or letter comes out than if all had been made at once."""
    one = make_pattern(suit(), replace(FOAM, only="PL2"))
    whole = check(renumbered(suit(), 9), replace(FOAM, printed=after(one)))
    assert {p.code for p in whole.pieces} == {p.code for p in first.pieces}
    assert {c.code: c.kind for c in changes(whole)}["PL2"] == KEEP
    letters = {e.letter for e in first.piece("PL2").edges}
    assert {e.letter for e in whole.piece("PL2").edges} == letters
    assert {m.letter for m in whole.mates} == {m.letter for m in first.mates}


def test_parts_of_a_piece_larger_than_a_mat_keep_their_codes(first):
    small = replace(FOAM, split="butt-line",
                    stock=replace(FOAM.stock, sheet=(120.0, 170.0)))
    known = check(suit(), small)
    assert any(p.code[-1].islower() for p in known.pieces)
    found = check(renumbered(suit(), 4), replace(small, printed=after(known)))
    assert sorted(p.code for p in found.pieces) == sorted(p.code for p in known.pieces)
    there, here = middles(known), middles(found)
    assert all(np.allclose(there[code], here[code], atol=2.0) for code in there)
    assert {c.kind for c in changes(found)} == {KEEP}


def test_a_ring_begins_where_it_did():
    """The notches of a closed seam are counted from where it begins."""
    points, faces = shapes.cap(90.0, np.radians(60), 8)
    ring = 1 + sum(6 * k for k in range(1, 4)) + np.arange(24)
    sculpt = Sculpt.plain(points * (1, 1.2, 1), faces,
                          np.stack([ring, np.roll(ring, -1)], axis=1), np.full(24, SEAM))
    known = check(sculpt, FOAM)
    assert np.allclose(known.mates[0].curve[0], known.mates[0].curve[-1])
    found = check(renumbered(sculpt, 8), replace(FOAM, printed=after(known)))
    assert np.allclose(found.mates[0].curve, known.mates[0].curve)
    assert {c.kind for c in changes(found)} == {KEEP}


def test_letters_leave_out_what_looks_like_a_number():
    assert [letter(k) for k in (0, 7, 8, 13, 23, 24)] == ["A", "H", "J", "P", "Z", "AA"]


def test_nothing_cut_needs_no_code():
    assert give_codes(Cut((), ()), suit())[1:] == ([], [])
