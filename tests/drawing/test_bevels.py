"""Bevel notes: afresh wherever the angle has changed by more than 3°, with the larger face."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.model import BACK, FRONT, PieceEdge
from addon.export.bevels import SHORTEST, STEP, bevel_stretches


def edge(degrees, length=400.0):
    """A straight edge with the given bevels at even distances, as few points as that takes."""
    line = np.stack([np.linspace(0, length, len(degrees)), np.zeros(len(degrees))], axis=1)
    return PieceEdge(points=line, cut=line, fraction=line[:, 0] / length,
                     bevel=np.radians(degrees))


def test_an_even_change_is_shared_out_evenly_even_between_two_points():
    # 20° in parts of at most 3°: seven of 20/7° each; arithmetic.
    runs = bevel_stretches(edge((10, 30)))
    assert len(runs) == 7
    changes = np.degrees([r.high - r.low for r in runs])
    assert changes == pytest.approx(20 / 7, abs=0.3)  # the bevel is looked at each mm
    assert [r.note for r in runs][::6] == ["11° F>B", "29° F>B"]


def test_a_steady_bevel_is_one_note():
    for degrees in ((12, 12), (12, 14.9), (-12, -9.5)):
        assert len(bevel_stretches(edge(degrees))) == 1
    assert bevel_stretches(edge((12, 15.2)))[0].note == "13° F>B"


def test_the_larger_face_is_said_for_each_part():
    runs = bevel_stretches(edge((-20, -20, 20, 20), 600.0))
    assert {r.larger for r in runs} <= {FRONT, BACK, ""}
    assert runs[0].note.endswith("20° B>F") and runs[-1].note.endswith("20° F>B")
    assert [r.larger for r in runs] == sorted((r.larger for r in runs), key=[BACK, "", FRONT].index)
    assert bevel_stretches(edge((0.5, -0.5)))[0].note == ""


@settings(deadline=None)
@given(st.lists(st.floats(-60, 60), min_size=2, max_size=30), st.floats(5, 800))
def test_parts_cover_the_edge_and_keep_to_three_degrees_where_there_is_room(degrees, length):
    runs = bevel_stretches(edge(degrees, length))
    assert runs[0].start == 0.0 and runs[-1].end == pytest.approx(length)
    assert all(a.end == b.start for a, b in zip(runs[:-1], runs[1:], strict=True))
    assert len(runs) == 1 or min(r.end - r.start for r in runs) >= SHORTEST - 1e-9
    for run in runs:
        at = np.linspace(run.start, run.end, 200)
        angles = np.interp(at, np.linspace(0, length, len(degrees)), np.radians(degrees))
        assert run.low - 1e-9 <= angles.min() and angles.max() <= run.high + 1e-9
        steepest = np.abs(np.diff(np.radians(degrees))).max() / (length / (len(degrees) - 1))
        if steepest * (SHORTEST + 2) < STEP / 2:  # slow enough for notes of 3° to have room
            assert run.high - run.low <= STEP + 1e-9
