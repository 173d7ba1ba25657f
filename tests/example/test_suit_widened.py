"""The example suit after a fitting: wider at one seam of its torso."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core.make import check
from example_scenes import armour
from tests.example.conftest import as_sculpt


def test_the_breast_is_widened_at_its_middle(plates, pattern):
    """Formability is asked of the wider pieces, and codes, letters and pairs stay."""
    plain = pattern
    middle = next(m for m in plain.mates if {plain.piece(c).name for c, _ in m.edges}
                  == {"Breast plate"} and np.abs(m.curve[:, 0]).max() < 5
                  and np.ptp(m.curve[:, 2]) > 150)
    done = check(as_sculpt(plates, armour.rails()), replace(
        plain.settings, widen=((middle.code, (20.0, 20.0)),)))
    assert [p.code for p in done.pieces] == [p.code for p in plain.pieces]
    assert [m.letter for m in done.mates] == [m.letter for m in plain.mates]
    assert {p.verdict.kind for p in done.pieces} <= {"flat", "bend", "heat"}
    record, = done.widened
    assert record.grown == pytest.approx([20.0, 20.0], abs=0.1)
    assert max(m.gap for m in done.mates) < 0.1
    for piece in record.pieces:  # each takes a half, where it is widest
        wide, before = (np.ptp(p.piece(piece).flat, axis=0)[0] for p in (done, plain))
        assert wide - before == pytest.approx(10.0, abs=3.0)
    # The other plates are as they were; and what is mirrored still is.
    moved = {p.name for p, q in zip(plain.pieces, done.pieces, strict=True)
             if not np.array_equal(p.vertices, q.vertices)}
    assert moved <= {"Breast plate", "Emblem"}
    assert [p.template for p in done.pieces] == [p.template for p in plain.pieces]
    assert [one.on for one in done.laid] == [one.on for one in plain.laid]
