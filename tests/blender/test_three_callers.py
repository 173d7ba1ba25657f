"""The sidebar, the command and the library give one and the same pattern."""

import json
import subprocess
import sys

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender.read import read_blend, read_scene, suit_objects  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import make_pattern  # noqa: E402
from addon.export.printed import after, write  # noqa: E402
from addon.export.report import report  # noqa: E402

PARTS = ("Knee left", "Thigh left")  # one stock, a dart-free dome and a trench


@pytest.fixture
def part_of_the_example(root, tmp_path):
    """The example scene with two of its plates, saved on its own."""
    bpy.ops.wm.open_mainfile(filepath=str(root / "example_scenes" / "ferry_warden.blend"))
    for item in list(bpy.data.objects):
        if item.name not in PARTS:
            bpy.data.objects.remove(item)
    bpy.context.scene.foamwright.nest_seconds = 0.1  # the layout must be the same, not good
    path = tmp_path / "knee.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return path


def without_files(document):
    return {k: v for k, v in json.loads(json.dumps(document)).items() if k != "outputs"}


@pytest.mark.skipif(bool(bpy.app.binary_path), reason="Blender's own Python has no bpy package")
def test_the_three_callers_agree_to_the_last_digit(part_of_the_example, root, tmp_path):
    scene = bpy.context.scene
    sculpt, _ = read_scene(scene, suit_objects(scene, ()), read_settings(scene))
    pattern = make_pattern(sculpt, read_settings(scene))
    library = without_files({**report(pattern), "printed": write(after(pattern))})
    assert {o.name for o in sculpt.objects} == set(PARTS)
    assert {p["verdict"] for p in library["pieces"]} == {"heat", "bend"}

    assert bpy.ops.foamwright.make_pattern(directory=str(tmp_path / "sidebar")) == {"FINISHED"}
    sidebar = json.loads((tmp_path / "sidebar" / "report.json").read_text("utf-8"))
    assert without_files(sidebar) == library

    done = subprocess.run(
        [sys.executable, "-m", "addon", "make", part_of_the_example, "--out", tmp_path / "command"],
        cwd=root, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    command = json.loads((tmp_path / "command" / "report.json").read_text("utf-8"))
    for document in (command, library):
        document.pop("title")  # the command names the pattern after the file
    assert without_files(command) == without_files(library)


def test_a_file_is_read_as_the_open_scene_is(part_of_the_example):
    scene = bpy.context.scene
    open_scene, _ = read_scene(scene, suit_objects(scene, ()), read_settings(scene))
    from_file, _ = read_blend(part_of_the_example)
    for name in ("vertices", "faces", "edges", "kinds"):
        assert (getattr(open_scene, name) == getattr(from_file, name)).all()
    assert open_scene.objects == from_file.objects
