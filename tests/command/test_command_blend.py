"""A .blend file through the command line, in a process of its own as a maker runs it."""

import json
import subprocess
import sys

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

SAVE = """
import sys
import bpy
bpy.ops.wm.read_homefile(use_empty=True)
mesh = bpy.data.meshes.new("Tasset")
mesh.from_pydata([(0, 0, 0), (0.3, 0, 0), (0.3, 0.2, 0), (0, 0.2, 0), (0.15, 0, 0), (0.15, 0.2, 0)],
                 [], [(0, 4, 5, 3), (4, 1, 2, 5)])
seam = next(e for e in mesh.edges if set(e.vertices) == {4, 5})
seam.use_seam = True
bpy.context.scene.collection.objects.link(bpy.data.objects.new("Tasset", mesh))
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[1])
"""


@pytest.mark.skipif(bool(bpy.app.binary_path), reason="Blender's own Python has no bpy package")
def test_a_blender_file_is_checked_in_its_own_units_and_never_saved(run_in_blender, root, tmp_path):
    blend, out = tmp_path / "suit.blend", tmp_path / "out"
    saved = run_in_blender(SAVE, blend)
    assert saved.returncode == 0, saved.stdout + saved.stderr
    before = blend.read_bytes()
    # An ordinary process, which must also come to an end by itself.
    done = subprocess.run([sys.executable, "-m", "addon", "check", blend, "--stock", "eva-4",
                           "--out", out], cwd=root, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    assert blend.read_bytes() == before
    pieces = json.loads((out / "report.json").read_text("utf-8"))["pieces"]
    # Two halves of a plate of 300 x 200 mm: the scene's unit is the metre.
    assert [piece["area"] for piece in pieces] == pytest.approx([30000.0] * 2, rel=1e-5)
    assert {piece["object"] for piece in pieces} == {"Tasset"}
