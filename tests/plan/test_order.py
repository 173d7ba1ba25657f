"""The order of the build: nothing before its time, nothing glued shut too early."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.order import plan
from tests.plan.conftest import grid, ring_patches, suit

GLUED = ("dart", "join", "close")


def glued(pattern):
    return [s for s in pattern.steps if s.kind in GLUED]



def test_steps_are_numbered_and_go_from_cutting_to_trying_on(box):
    assert [s.number for s in box.steps] == list(range(1, len(box.steps) + 1))
    assert box.steps[0].kind == "cut" and box.steps[-1].kind == "finish"
    kinds = [s.kind for s in box.steps]
    assert max(i for i, k in enumerate(kinds) if k == "bevel") < min(
        i for i, k in enumerate(kinds) if k in GLUED)


@pytest.mark.parametrize("name", ["box", "pair"])
def test_every_seam_is_glued_once(name, request):
    pattern = request.getfixturevalue(name)
    assert sorted(m for s in glued(pattern) for m in s.mates) == sorted(
        m.code for m in pattern.mates)


def test_a_seam_is_glued_only_to_what_stands_or_to_a_finished_part(box):
    """Every join makes one connected part out of two, or closes a loop of one."""
    parts = [{p.code} for p in box.pieces]
    mates = {m.code: {code for code, _ in m.edges} for m in box.mates}
    for step in glued(box):
        ends = [mates[m] for m in step.mates]
        touched = [part for part in parts if any(part & e for e in ends)]
        assert len(touched) <= 2
        parts = [p for p in parts if p not in touched] + [set().union(*touched)]
    assert parts == [{p.code for p in box.pieces}]


def test_the_last_wall_of_a_box_is_put_on_last(box):
    """Whichever plate closes the box is joined to all four of its neighbours at the end."""
    last = glued(box)[-1]
    assert len(last.mates) == 4
    common = set.intersection(*({code for code, _ in m.edges} for m in box.mates
                                if m.code in last.mates))
    assert len(common) == 1


def test_the_seam_that_closes_a_ring_is_the_last_one():
    ring = suit({"Ring": ring_patches(6)})
    before = [m for s in glued(ring)[:-1] for m in s.mates]
    assert len(ring.mates) == 6
    assert len(glued(ring)[-1].mates) <= 2 and len(before) >= 4


def test_darts_are_closed_before_pieces_are_joined():
    plates = [grid((0, 0, 0), (80, 0, 0), (0, 80, 0)), grid((80, 0, 0), (80, 0, -30), (0, 80, 0))]
    pattern = suit({"Plate": plates}, extra_seams=[((0, 40, 0), (40, 40, 0))])
    kinds = [s.kind for s in glued(pattern)]
    assert kinds.count("dart") == 1 and kinds[0] == "dart" and "join" in kinds


def test_objects_are_never_glued_to_each_other(pair):
    objects = {p.code: p.object for p in pair.pieces}
    for step in glued(pair):
        for mate in (m for m in pair.mates if m.code in step.mates):
            assert len({objects[code] for code, _ in mate.edges}) == 1


def test_mirrored_parts_are_worked_side_by_side(pair):
    for step in glued(pair):
        sides = {pair.piece(code).object for code in step.pieces}
        assert sides == {"Left", "Right"}


@settings(max_examples=20, deadline=None, database=None)
@given(st.permutations(range(6)), st.permutations(range(12)))
def test_renumbering_does_not_change_the_quality_of_the_order(box, pieces, mates):
    names = {p.code: f"N{i}" for p, i in zip(box.pieces, pieces, strict=True)}
    renamed = [replace(box.pieces[i], code=names[box.pieces[i].code],
                       template=names[box.pieces[i].template]) for i in pieces]
    joints = [replace(box.mates[i], edges=tuple((names[c], e) for c, e in box.mates[i].edges))
              for i in mates]
    steps = plan(renamed, joints, box.settings, box.sculpt)
    assert sorted(s.kind for s in steps) == sorted(s.kind for s in box.steps)
    assert sorted(len(s.mates) for s in steps) == sorted(len(s.mates) for s in box.steps)


def test_a_mate_of_an_unknown_piece_is_a_mistake_of_the_program(box):
    wrong = replace(box.mates[0], edges=(("nobody", 0), box.mates[0].edges[1]))
    with pytest.raises(ValueError, match="not there"):
        plan(box.pieces, [wrong], box.settings, box.sculpt)


def test_nothing_to_build_needs_no_steps(box):
    assert plan((), (), box.settings, box.sculpt) == ()


def test_every_sentence_names_only_pieces_and_letters_that_exist(box):
    codes = {p.code for p in box.pieces}
    for step in box.steps:
        assert step.title and step.text and set(step.pieces) <= codes
    assert np.all([len(sentence) > 10 for s in box.steps for sentence in s.text])
