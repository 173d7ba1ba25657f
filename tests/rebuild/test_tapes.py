"""Tapes across open rims: on the sculpt, on the templates, and in the words of the steps."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from addon.core.order import plan
from addon.core.tapes import tapes
from addon.core.units import format_length
from addon.export.drawing import draw_piece
from addon.export.tape_marks import TICK, marks
from tests import shapes
from tests.rebuild.test_rebuild import pattern_of


def test_a_tape_is_as_long_as_it_is_far_across(tried_walls):
    """A box of 140 by 100 mm, measured by Pythagoras between points half its girth apart."""
    loop = np.array([(0, 0), (140, 0), (140, 100), (0, 100), (0, 0)], dtype=float)
    arc = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(loop, axis=0), axis=1))])
    at = lambda s: np.array([np.interp(s % arc[-1], arc, x) for x in loop.T])  # noqa: E731
    turns = np.linspace(0.0, arc[-1] / 2, 2000)
    possible = [np.linalg.norm(at(s) - at(s + arc[-1] / 2)) for s in turns]
    assert len(tried_walls.tapes) == 8  # four across either rim
    for tape in tried_walls.tapes:
        assert min(abs(np.array(possible) - tape.length)) < 0.2
    assert [tape.name for tape in tried_walls.tapes] == [f"T{k}" for k in range(1, 9)]


def test_a_piece_that_lies_flat_by_itself_needs_none():
    flat = pattern_of(shapes.roof(100.0, 50.0, 0.0)[:2])
    assert flat.pieces[0].verdict.kind == "flat" and not tapes(flat.pieces, flat.mates)


def test_ticks_stand_on_rims_of_the_template_and_serve_all_that_are_cut_from_it(tried_walls):
    (template,) = tried_walls.templates
    rims = shapely.union_all([shapely.LineString(e.cut) for e in template.edges if not e.mate])
    foam = shapely.Polygon(template.cut[0])
    found = marks(template, tried_walls)
    words = {word for mark in found for word in mark.word.split(", ")}
    assert words == {f"{'' if code == template.code else code + ' '}{tape.name}{end}"
                     for tape in tried_walls.tapes
                     for end, (code, *_) in zip("ab", tape.ends, strict=True)}
    for mark in found:
        assert rims.distance(shapely.Point(mark.point)) < 0.05
        assert foam.contains(shapely.Point(mark.point + TICK / 2 * mark.inward))
    # Equal parts are measured at equal places.
    assert len(found) < len(words)
    drawn = draw_piece(template, tried_walls)
    said = {text.text for text in drawn.texts}
    assert {mark.word for mark in found} <= said


def test_the_widths_are_told_where_the_part_is_finished(tried_walls):
    steps = plan(tried_walls.pieces, tried_walls.mates, tried_walls.settings,
                 tried_walls.sculpt, tried_walls.tapes)
    told = [k for k, step in enumerate(steps) for text in step.text if "from tick to tick" in text]
    assert len(told) == 1 and steps[told[0]].kind == "close"
    text = steps[told[0]].text[-1]
    for tape in tried_walls.tapes:
        assert f"{tape.name} {format_length(tape.length)}" in text
    assert "outside face" in text and all(a.number < b.number for a, b in pairwise(steps))


def test_no_ticks_on_a_mock_up():
    shape, corners = shapes.box()
    pattern = pattern_of(shape, np.concatenate(corners), mock_up="half")
    words = {text.text for p in pattern.templates for text in draw_piece(p, pattern).texts}
    assert pattern.tapes and not any("T1" in word for word in words)


@pytest.mark.parametrize("name", ["T1a", "T1b"])
def test_the_legend_names_the_ends(name):
    from addon.export.legend import CARDS

    assert name in CARDS["tape"]
