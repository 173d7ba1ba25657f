"""How far pieces are made is kept with the .blend, and the plan goes on from there."""

import json

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import printed  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.model import CUT, GLUED, PLANNED  # noqa: E402
from tests.blender.test_blender_printed import make, sheet  # noqa: E402, F401


def pieces(scene):
    return {item.name: item.state for item in scene.foamwright_printed.pieces}


def test_pieces_are_listed_once_templates_are_written(scene, sheet, tmp_path):  # noqa: F811
    with pytest.raises(RuntimeError, match="Write the templates first"):
        bpy.ops.foamwright.set_made(state=CUT)
    first, _ = make(tmp_path / "a")
    assert pieces(scene) == dict.fromkeys(first, PLANNED) and printed.made(scene) == ()
    assert bpy.ops.foamwright.set_made(state=PLANNED) == {"CANCELLED"}
    assert bpy.ops.foamwright.set_made(state=CUT) == {"FINISHED"}
    assert dict(read_settings(scene).made) == dict.fromkeys(first, CUT)


def test_after_a_change_it_is_told_what_to_do(scene, sheet, tmp_path):  # noqa: F811
    first, _ = make(tmp_path / "a")
    widest = max(first, key=lambda code: first[code]["area"])
    other = next(code for code in first if code != widest)
    scene.foamwright_printed.pieces[widest].state = GLUED
    scene.foamwright_printed.pieces[other].state = CUT
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    scene = bpy.context.scene
    assert dict(read_settings(scene).made) == {widest: GLUED, other: CUT}
    for vertex in bpy.data.objects["Apron"].data.vertices:
        if vertex.co.x > 0.15:
            vertex.co.x += 0.01
    _, report = make(tmp_path / "b")
    told = {one["code"]: one for one in report["existing"]}
    assert told[widest]["state"] == GLUED and told[widest]["kind"] == "strip"
    assert told[other]["kind"] == "fits"
    lines = " ".join(line for _, lines in printed.to_do(scene) for line in lines)
    assert widest in lines and "10" in lines
    assert pieces(scene) | {widest: GLUED, other: CUT} == pieces(scene)
    assert read_settings(scene).made == ()  # nothing was said since

    # What was cut from the first templates is still told by them, not by the second ones.
    _, report = make(tmp_path / "c")
    assert {o["code"]: o["kind"] for o in report["existing"]}[widest] == "strip"
    # Cut again from what was printed last, it fits.
    scene.foamwright_printed.pieces[widest].state = PLANNED
    make(tmp_path / "d")
    scene.foamwright_printed.pieces[widest].state = CUT
    _, report = make(tmp_path / "e")
    assert {o["code"]: o["kind"] for o in report["existing"]}[widest] == "fits"
    bpy.ops.foamwright.forget_printed()
    assert not pieces(scene) and not printed.to_do(scene)
    assert json.loads((tmp_path / "e" / "report.json").read_text("utf-8"))["existing"]
