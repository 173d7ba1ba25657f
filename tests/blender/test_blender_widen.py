"""Seams widened in Blender: chosen, listed, changed, taken off the list, kept in the file."""

import json

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

import bmesh  # noqa: E402

from addon.blender import changes, widenings  # noqa: E402
from addon.blender.guides import add_guide  # noqa: E402
from addon.blender.read import read_blend  # noqa: E402
from addon.core.make import check  # noqa: E402
from tests.blender.test_blender_panels import draw, panel  # noqa: E402
from tests.widen.test_widen import COLUMNS, HIGH, ROWS, R, girth, ring, upright  # noqa: E402


@pytest.fixture
def tube(scene, add_object):
    """A tube in metres with a seam on each side of the wearer."""
    points, faces = ring()
    seams = upright(0, COLUMNS // 2)
    item = add_object("Torso", points / 1000, faces, seams=[tuple(e) for e in seams.tolist()])
    item.foamwright.include = True
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    bpy.context.view_layer.update()
    return item


def select(item, column, rows=range(3, 6)):
    """Edit Mode with some edges of the seam at a column selected."""
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.context.tool_settings.mesh_select_mode = (False, True, False)
    bpy.ops.mesh.select_all(action="DESELECT")
    wanted = {tuple(sorted(e)) for e in upright(column, rows=rows).tolist()}
    for edge in bmesh.from_edit_mesh(item.data).edges:
        edge.select_set(tuple(sorted(v.index for v in edge.verts)) in wanted)
    bmesh.update_edit_mesh(item.data)


def grown(read, item, settings=None):
    from addon.blender.settings import read_settings

    sculpt, _ = read(item)
    done = check(sculpt, settings or read_settings(bpy.context.scene))
    return done, girth(done.sculpt, 99.0) - girth(sculpt, 99.0)


def test_a_seam_is_widened_listed_and_checked(scene, tube, read):
    before = [tuple(v.co) for v in tube.data.vertices]
    select(tube, 0)
    assert bpy.ops.foamwright.widen_seam() == {"FINISHED"}
    assert bpy.context.mode == "OBJECT"  # since undo in Edit Mode would not hold it
    assert [tuple(v.co) for v in tube.data.vertices] == before
    row, = scene.foamwright.widenings
    assert np.array(row.place) == pytest.approx((R / 1000, 0, 4.5 * HIGH / (ROWS - 1) / 1000),
                                                abs=1e-6)
    done, by = grown(read, tube)
    assert by == pytest.approx(20.0, abs=0.1)
    moved = np.abs(done.sculpt.vertices[:, 0] - ring()[0][:, 0]).reshape(ROWS, COLUMNS)
    assert moved[:, COLUMNS // 2].max() < 1e-3 < 3 < moved[:, 0].min()
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    told = [f for f in scene.foamwright.findings if f.code == "seam-widened"]
    assert len(told) == 1 and "20 mm longer" in told[0].message
    # Asked again at another place of the same edge: the same row, other amounts.
    select(tube, 0)
    assert bpy.ops.foamwright.widen_seam(amount="-1 cm", upper="5") == {"FINISHED"}
    row, = scene.foamwright.widenings
    assert widenings.amounts(row.amount, row.upper, "mm") == (-10.0, 5.0)


def test_both_sides_are_widened_at_once(scene, tube, read):
    select(tube, 0)
    assert bpy.ops.foamwright.widen_seam(amount="8 mm", mirrored=True) == {"FINISHED"}
    done, by = grown(read, tube)
    assert by == pytest.approx(16.0, abs=0.1) and len(done.widened) == 2
    scene.foamwright.widenings[0].mirrored = False
    assert grown(read, tube)[1] == pytest.approx(8.0, abs=0.1)


def test_several_seams_of_one_selection_are_several_rows(scene, tube):
    select(tube, 0)
    wanted = {tuple(sorted(e)) for e in upright(COLUMNS // 2, rows=range(4, 9)).tolist()}
    for edge in bmesh.from_edit_mesh(tube.data).edges:
        if tuple(sorted(v.index for v in edge.verts)) in wanted:
            edge.select_set(True)
    assert bpy.ops.foamwright.widen_seam() == {"FINISHED"}
    assert sorted(round(r.place[0], 3) for r in scene.foamwright.widenings) == [-0.15, 0.15]


def test_seams_drawn_as_lines_are_widened(scene, add_object, read):
    points, faces = ring()
    item = add_object("Torso", points / 1000, faces)
    item.foamwright.include = True
    turn = np.pi / COLUMNS
    side = np.array([R * np.cos(turn), R * np.sin(turn), 0.0]) / 1000
    line = add_guide(scene, item, np.array([side, side + (0, 0, HIGH / 1000)]), "SEAM")
    bpy.context.view_layer.update()
    bpy.ops.object.select_all(action="DESELECT")
    line.select_set(True)
    assert bpy.ops.foamwright.widen_seam(amount="12 mm") == {"FINISHED"}
    assert scene.foamwright.widenings[0].name == "Torso"
    _, by = grown(read, item)
    assert by == pytest.approx(12.0, abs=0.1)


@pytest.mark.parametrize(("words", "told"), [
    (dict(amount="wide"), "not a length"), (dict(amount="0"), "cannot be widened"),
    (dict(amount="2 m"), "cannot be widened"), (dict(upper="x"), "not a length")])
def test_what_is_no_amount_is_refused_and_nothing_is_kept(scene, tube, words, told):
    select(tube, 0)
    with pytest.raises(RuntimeError, match=told):
        bpy.ops.foamwright.widen_seam(**words)
    assert not len(scene.foamwright.widenings) and bpy.context.mode == "EDIT_MESH"


def test_edges_that_are_no_seam_are_refused(scene, tube):
    select(tube, 5)
    with pytest.raises(RuntimeError, match="No seam is selected"):
        bpy.ops.foamwright.widen_seam()
    bpy.ops.object.mode_set(mode="OBJECT")
    assert not bpy.ops.foamwright.widen_seam.poll() and not len(scene.foamwright.widenings)


def test_a_row_is_taken_off_and_an_absent_one_refused(scene, tube, read):
    select(tube, 0)
    bpy.ops.foamwright.widen_seam()
    count = changes.count
    assert bpy.ops.foamwright.forget_widening(index=0) == {"FINISHED"}
    assert not len(scene.foamwright.widenings) and changes.count > count
    assert grown(read, tube)[1] == 0
    with pytest.raises(RuntimeError, match="not listed any more"):
        bpy.ops.foamwright.forget_widening(index=0)


def test_it_is_kept_in_the_file_and_follows_its_object(scene, tube, read, tmp_path):
    select(tube, 0)
    bpy.ops.foamwright.widen_seam(amount="10 mm", upper="4 mm")
    tube.name = "Renamed"
    tube.location = (0.5, 0.2, 0.1)
    tube.scale = (1.1, 1.1, 1.1)
    path = tmp_path / "suit.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    sculpt, _ = read_blend(path)
    one, = sculpt.widenings
    assert (one.low, one.high, one.optional) == (10.0, 4.0, False)
    assert np.linalg.norm(sculpt.vertices - one.place, axis=1).min() < 10.0
    assert one.place[0] == pytest.approx(500 + 1.1 * R, abs=0.01)


def test_a_seam_that_is_gone_is_told(scene, tube, read):
    select(tube, 0)
    bpy.ops.foamwright.widen_seam()
    scene.foamwright.widenings[0].place = (0.0, 0.0, 0.1)
    done, by = grown(read, tube)
    assert by == 0 and [f.code for f in done.findings].count("widening-lost") == 1


def test_what_cannot_be_is_listed_with_its_seam(scene, tube):
    """Beside a finding of the check, with the edges of the seam to be selected."""
    select(tube, 0)
    bpy.ops.foamwright.widen_seam(amount="480 mm")
    with pytest.raises(RuntimeError, match="cannot be made 480 mm wider"):
        bpy.ops.foamwright.check()
    told, = (f for f in scene.foamwright.findings if f.code == "cannot-widen")
    assert "Torso" in json.loads(told.places)


def test_the_panel_lists_seams_and_says_what_is_wrong(scene, tube):
    assert "foamwright.widen_seam" in draw(panel("FOAMWRIGHT_PT_widen")).operators()
    select(tube, 0)
    bpy.ops.foamwright.widen_seam()
    drawn = draw(panel("FOAMWRIGHT_PT_widen"))
    assert "Torso" in drawn.texts() and "foamwright.forget_widening" in drawn.operators()
    count = changes.count
    scene.foamwright.widenings[0].amount = "much"
    assert changes.count > count
    assert "“much” is not a length" in draw(panel("FOAMWRIGHT_PT_widen")).texts()
