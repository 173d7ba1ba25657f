"""What is seen without asking the foam: proposed lines, and trenches and scores in Edit Mode."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import changes, lines_shown, live, proposals  # noqa: E402


@pytest.fixture
def sheet(add_sheet):
    """A sheet of 100 x 100 mm in 2 x 2 faces, moved aside, with a trench up its middle."""
    item = add_sheet(width=0.1, height=0.1, trenches=[(1, 4), (4, 7)], scores=[(3, 4)])
    item.location.x = 1.0
    bpy.context.view_layer.objects.active = item
    bpy.context.view_layer.update()
    return item


def seen(scene, *edited):
    """What a look finds a while after the last change."""
    changes.last = -1e9
    lines_shown.look(scene, edited)
    return {(each.name, each.kind): each.ends for each in lines_shown.of_scene(scene)}


def edit(item, mode="EDIT"):
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode=mode)


def length(ends):
    return np.linalg.norm(ends[1::2] - ends[::2], axis=1).sum()


def test_marks_are_seen_in_edit_mode_alone(scene, sheet):
    assert not seen(scene)
    edit(sheet)
    found = seen(scene, sheet)
    assert set(found) == {("sheet", "trench"), ("sheet", "score")}
    trench = found["sheet", "trench"]
    assert np.allclose(trench[:, 0], 1.05) and trench[:, 2].min() == 0
    assert trench[:, 2].max() == pytest.approx(0.1)
    assert 0.06 < length(trench) < 0.099  # its dashes
    edit(sheet, "OBJECT")
    assert not seen(scene)


def test_a_mark_that_is_set_is_seen_next(scene, sheet):
    edit(sheet)
    before = seen(scene, sheet)["sheet", "score"]
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.foamwright.mark_edges(kind="SCORE")
    bpy.context.view_layer.update()
    after = seen(scene, sheet)
    assert set(after) == {("sheet", "score")}
    assert length(after["sheet", "score"]) > 5 * length(before)


def test_hidden_edges_have_no_mark_to_see(scene, sheet):
    edit(sheet)
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.hide()
    assert not seen(scene, sheet)


def test_the_overlay_shows_marks_itself(scene, sheet):
    edit(sheet)
    assert seen(scene, sheet)
    scene.foamwright.overlay = True
    assert not seen(scene, sheet)


@pytest.mark.parametrize("overlay", [True, False])
def test_proposed_lines_are_seen_until_they_are_accepted(scene, sheet, overlay):
    scene.foamwright.overlay = overlay
    corners = np.array([(0, 0, 0), (0.1, 0, 0), (0.1, 0, 0.1)])
    line = proposals.show(scene, sheet, corners, "SEAM", proposals.RELIEF, "cut")
    proposals.show(scene, sheet, corners, "TRENCH", proposals.SEAMS, "fold", closed=True)
    bpy.context.view_layer.update()
    found = seen(scene)
    assert set(found) == {("cut", "proposed seam"), ("fold", "proposed trench")}
    assert found["cut", "proposed seam"][0] == pytest.approx((1, 0, 0))
    assert found["cut", "proposed seam"][-1] == pytest.approx((1.1, 0, 0.1), abs=1e-6)
    assert 0.12 < length(found["cut", "proposed seam"]) < 0.2
    assert found["fold", "proposed trench"][-1] == pytest.approx((1, 0, 0), abs=1e-6)  # a ring
    sheet.location.x = 2.0
    bpy.context.view_layer.update()
    assert seen(scene)["cut", "proposed seam"][0] == pytest.approx((2, 0, 0))
    proposals.accept([line])
    assert set(seen(scene)) == {("fold", "proposed trench")}


def test_nothing_is_looked_for_while_nothing_changes(scene, sheet, monkeypatch):
    edit(sheet)
    seen(scene, sheet)
    monkeypatch.setattr(lines_shown, "_marked", lambda *_: pytest.fail("looked again"))
    assert not lines_shown.look(scene, [sheet])
    bpy.ops.wm.read_homefile(use_empty=True)
    assert lines_shown.of_scene(bpy.context.scene) == ()


def test_the_timer_looks_into_every_window(scene, sheet):
    edit(sheet)
    changes.last = -1e9
    assert 0 < lines_shown._timer() < 1
    assert {each.kind for each in lines_shown.of_scene(scene)} == {"trench", "score"}
    assert not live.state.drawn
