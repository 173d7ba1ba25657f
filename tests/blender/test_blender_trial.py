"""The trial build in Blender: kept in the file, shown as a map, outdated once the sculpt is."""

from dataclasses import replace

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import changes, maps, trial, work  # noqa: E402
from addon.blender.choices import TRIAL  # noqa: E402
from addon.blender.operators.trial import TryBuild  # noqa: E402
from addon.core import rebuild  # noqa: E402
from addon.core.errors import Cancelled  # noqa: E402
from addon.core.model import RebuiltPiece  # noqa: E402
from tests.blender.test_blender_work import Hands, operator_of  # noqa: E402


@pytest.fixture
def sheet(scene, add_sheet):
    item = add_sheet(columns=4, rows=2, seams=[(2, 7), (7, 12)])
    item.foamwright.include = True
    item.location = (1.0, 0.0, 0.0)
    scene.foamwright.trial.quick = True
    bpy.context.view_layer.update()
    return item


def bulged(pattern, progress=None, quick=False):
    """A trial in which one corner of the first piece comes out 4 mm beside the sculpt."""
    done = rebuild.rebuild(pattern, progress=progress, quick=quick)
    first, *rest = done.pieces
    moved = np.array(first.moved)
    moved[0] = 0.0, 0.0, 4.0
    pieces = RebuiltPiece(first.code, moved, 1.5, 4.0), *rest
    return replace(pattern, rebuilt=replace(done, pieces=pieces, most=4.0, unformed=(1.5, 4.0)))


def look(scene):
    changes.last = -1e9
    return trial.look(scene, bpy.context.view_layer)


def test_a_flat_sheet_comes_out_as_it_is(sheet, scene):
    assert bpy.ops.foamwright.try_build() == {"FINISHED"}
    group = scene.foamwright.trial
    assert group.found and not group.outdated and group.most < 0.3
    assert {piece.name for piece in group.pieces} == {"SH1", "SH2"}
    assert scene.foamwright.overlay and scene.foamwright.overlay_shows == "TRIAL"
    [(item, mesh)] = trial.shown(scene)
    shown = maps.read(mesh)
    assert item == sheet and len(shown.triangles) == 16 and shown.beside.max() < 0.3
    # In the object's own space, so that it moves with it: the sheet is 0.2 wide.
    assert np.allclose(shown.points.max(axis=0), (0.2, 0.0, 0.2), atol=1e-5)


def test_where_it_comes_out_otherwise_is_listed_and_shown(sheet, scene, monkeypatch):
    monkeypatch.setattr(rebuild, "tried", bulged)
    assert bpy.ops.foamwright.try_build() == {"FINISHED"}
    group = scene.foamwright
    [(place, found)] = [(k, f) for k, f in enumerate(group.findings) if f.step == TRIAL
                        and f.code == "comes-out-otherwise"]
    assert found.piece == group.trial.pieces[0].name and "4 mm" in found.message
    assert bpy.ops.foamwright.select_finding(index=place) == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    assert any(face.select for face in sheet.data.polygons)
    worst = trial.worst_place(scene, found.piece).mean(axis=0)
    corner = np.array(sheet.matrix_world @ sheet.data.vertices[0].co)
    assert np.allclose(worst, corner, atol=1e-5)
    assert bpy.ops.foamwright.select_trial_piece(piece=found.piece) == {"FINISHED"}
    with pytest.raises(RuntimeError, match="no such piece"):
        bpy.ops.foamwright.select_trial_piece(piece="XX9")


def test_a_change_of_the_sculpt_makes_it_outdated_and_undoing_that_right_again(sheet, scene):
    bpy.ops.foamwright.try_build()
    look(scene)
    group = scene.foamwright.trial
    assert not group.outdated
    scene.foamwright.title = "Another name"  # changes nothing about the pieces
    look(scene)
    assert not group.outdated
    before = sheet.data.vertices[0].co.x
    for x, outdated in ((before - 0.01, True), (before, False)):
        sheet.data.vertices[0].co.x = x
        sheet.data.update()
        bpy.context.view_layer.update()
        assert look(scene) and group.outdated == outdated
        assert bool(trial.shown(scene)) == (not outdated)


def test_it_is_kept_in_the_file_and_nowhere_else(sheet, scene, tmp_path):
    bpy.ops.foamwright.try_build()
    before = maps.read(trial.shown(scene)[0][1])
    rms = scene.foamwright.trial.rms
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "kept.blend"), check_existing=False)
    assert {path.suffix for path in tmp_path.iterdir()} <= {".blend", ".blend1"}
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "kept.blend"))
    scene = bpy.context.scene
    assert scene.foamwright.trial.rms == pytest.approx(rms)
    [(item, mesh)] = trial.shown(scene)
    after = maps.read(mesh)
    assert item.name == "sheet" and np.array_equal(before.points, after.points)
    assert np.array_equal(before.triangles, after.triangles)
    assert np.array_equal(before.beside, after.beside)
    look(scene)
    assert not scene.foamwright.trial.outdated


def test_another_try_takes_its_place_and_forgetting_leaves_nothing(sheet, scene):
    meshes = len(bpy.data.meshes)
    bpy.ops.foamwright.try_build()
    bpy.ops.foamwright.try_build()
    assert len(bpy.data.meshes) == meshes + 1
    assert bpy.ops.foamwright.forget_trial() == {"FINISHED"}
    assert len(bpy.data.meshes) == meshes and not scene.foamwright.trial.found
    assert not any(f.step == TRIAL for f in scene.foamwright.findings)
    assert not bpy.ops.foamwright.forget_trial.poll()


def test_esc_while_the_parts_settle_changes_nothing(sheet, scene, fingerprint):
    operator, hands = operator_of(TryBuild), Hands(scene, [sheet])
    before = fingerprint()
    function, said = operator.prepare(hands.context), []

    def progress(share, text):
        said.append(text)
        if text.startswith("Putting") and said.count(text) > 2:  # asked at a turn of the search
            raise Cancelled

    with pytest.raises(Cancelled):
        function(progress)
    assert not scene.foamwright.trial.found and fingerprint() == before
    assert work.running() is None


def test_the_plan_shows_it_where_that_is_asked(sheet, scene, tmp_path):
    scene.foamwright.trial.in_plan = True
    scene.foamwright.nest_seconds = 0.0
    assert bpy.ops.foamwright.make_pattern(directory=str(tmp_path)) == {"FINISHED"}
    assert '"rebuild"' in (tmp_path / "report.json").read_text("utf-8")
