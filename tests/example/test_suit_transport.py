"""The example suit in boxes: every arrangement is looked at again, voxel by voxel."""

import pytest

from addon.core.order import loose_parts
from addon.core.order.solids import solids
from addon.core.transport import packed
from tests.transport.test_transport import require_sound


@pytest.fixture(scope="module")
def meshes(pattern):
    """Each part as a surface."""
    found = {}
    for part in loose_parts(pattern):
        body = solids([pattern.piece(code) for code in part.pieces],
                      [m for m in pattern.mates if {c for c, _ in m.edges} <= set(part.pieces)],
                      whole=True)
        found[part.name] = body.points, body.faces
    return found


def test_all_parts_go_into_a_box_that_is_large_enough(pattern, meshes):
    found = packed(pattern, (600, 500, 450)).transport
    assert found.fits and {p.part for p in found.packed} == set(meshes) and len(meshes) == 9
    assert sorted(c for p in found.packed for c in p.pieces) == sorted(
        p.code for p in pattern.pieces)
    require_sound(found, meshes, pitch=3.0)
    assert found.height < 450


def test_what_is_too_wide_is_left_over_and_the_rest_is_packed(pattern, meshes):
    found = packed(pattern, (600, 400, 400)).transport
    assert set(found.left) == {"Breast plate", "Back plate"} and not found.certain
    assert "does not go into the empty box" in found.why
    require_sound(found, meshes, pitch=3.0)


def test_a_box_that_is_too_small_is_told_for_certain(pattern):
    found = packed(pattern, (300, 200, 150)).transport
    assert not found.fits and found.certain and "corner to corner" in found.why
