"""Codes and letters stay with the .blend, and the sidebar lists what must be printed again."""

import json

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import printed  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.errors import FoamError  # noqa: E402


@pytest.fixture
def sheet(add_sheet, scene):
    """A flat sheet of 200 x 120 mm with two seams upwards, in three pieces of one width each."""
    item = add_sheet("Apron", 5, 2, 0.2, 0.12, seams=[(1, 7), (7, 13), (3, 9), (9, 15)])
    item.foamwright.include = True
    scene.foamwright.nest_seconds = 0
    return item


def kinds(scene):
    return {code: kind for code, _, kind, *_ in json.loads(scene.foamwright_printed.changes)}


def make(folder):
    assert bpy.ops.foamwright.make_pattern(directory=str(folder)) == {"FINISHED"}
    report = json.loads((folder / "report.json").read_text("utf-8"))
    return {p["code"]: p for p in report["pieces"]}, report


def test_the_file_remembers_what_was_printed_and_tells_what_changed(scene, sheet, tmp_path):
    assert read_settings(scene).printed is None
    first, _ = make(tmp_path / "a")
    assert kinds(scene) == {} and len(first) == 3
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    assert read_settings(scene).printed.codes == set(first)

    # In another folder and with another name, so that nothing but the file can tell.
    bpy.data.objects["Apron"].name = "Skirt"
    points = bpy.data.objects["Skirt"].data.vertices
    for vertex in points:
        if vertex.co.x > 0.15:
            vertex.co.x += 0.01
    second, report = make(tmp_path / "b")
    assert second.keys() == first.keys()
    found = kinds(scene)
    widest = max(second, key=lambda code: second[code]["area"])
    assert found[widest] == "reprint"
    assert {kind for code, kind in found.items() if code != widest} == {"amend"}  # the name
    told = printed.told(scene)
    assert any(widest in line for _, lines in told for line in lines)
    assert {c["code"]: c["kind"] for c in report["changes"]} == found

    make(tmp_path / "b")
    assert set(kinds(scene).values()) == {"keep"}
    assert [lines for _, lines in printed.told(scene)] == [[]]


def test_the_command_keeps_the_codes_of_the_file(scene, sheet, tmp_path):
    from addon.command import main

    first, _ = make(tmp_path / "a")
    mesh = sheet.data  # the same sheet with its faces in another order
    faces = [list(p.vertices) for p in mesh.polygons]
    seams = [tuple(e.vertices) for e in mesh.edges if e.use_seam]
    points = np.array([v.co for v in mesh.vertices])
    mesh.clear_geometry()
    mesh.from_pydata(points.tolist(), [], faces[::-1])
    for edge in mesh.edges:
        edge.use_seam = tuple(edge.vertices) in seams or tuple(edge.vertices)[::-1] in seams
    path = tmp_path / "suit.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    assert main(["check", str(path), "--out", str(tmp_path / "b")]) == 0
    report = json.loads((tmp_path / "b/report.json").read_text("utf-8"))
    there = {p["code"]: p["outline"] for p in report["pieces"]}
    for code, piece in first.items():
        wide = np.ptp(np.array(piece["outline"]), axis=0)
        assert np.ptp(np.array(there[code]), axis=0) == pytest.approx(wide, abs=1e-3)
    assert report["printed"] is not None


def test_a_check_or_one_piece_keeps_the_rest_of_the_record(scene, sheet, tmp_path):
    first, _ = make(tmp_path / "a")
    record = scene.foamwright_printed.record
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    assert scene.foamwright_printed.record == record
    code = sorted(first)[1]
    assert bpy.ops.foamwright.make_one_piece(
        directory=str(tmp_path / "one"), piece=code) == {"FINISHED"}
    assert read_settings(scene).printed.codes == set(first)
    assert kinds(scene) == {code: "keep"}


def test_the_maker_may_start_anew(scene, sheet, tmp_path):
    assert not bpy.ops.foamwright.forget_printed.poll()
    make(tmp_path / "a")
    assert bpy.ops.foamwright.forget_printed() == {"FINISHED"}
    assert read_settings(scene).printed is None
    make(tmp_path / "a")
    assert kinds(scene) == {}


def test_a_damaged_record_is_told_of(scene, sheet, tmp_path):
    scene.foamwright_printed.record = "nonsense"
    with pytest.raises(FoamError, match="damaged"):
        read_settings(scene)
    with pytest.raises(RuntimeError, match="Forget Earlier Templates"):
        bpy.ops.foamwright.check()
