"""Every operator on scenes that no maker means to have: a message or nothing, never a traceback.

In a Blender of its own for each scene, since operators leave much behind.
"""

import re

import pytest

pytest.importorskip("bpy", reason="Blender's Python module is not installed")

SCENES = ("no object", "an empty mesh", "loose vertices", "a coordinate that is no number", "1 mm",
          "1 km", "squeezed flat", "turned inside out", "with a line", "placed nowhere",
          "not shown in viewports", "with a line that lies nowhere")

SCRIPT = '''
import os, sys

import bpy, numpy as np

root, folder, name, mode = sys.argv[1:]
sys.path.insert(0, root)
os.chdir(folder)  # whatever is written without a name
import addon
from addon.blender.guides import add_guide
from addon.blender.operators import STEPS

addon.register()
scene = bpy.context.scene
NAMES = [cls.bl_idname.split(".")[1] for step in STEPS for cls in step.CLASSES
         if getattr(cls, "bl_idname", "").startswith("foamwright.")
         and cls.bl_idname != "foamwright.open_example"]  # which leaves the scene


def sheet(side=0.2):
    x, z = (side / 4 * k.ravel() for k in np.meshgrid(np.arange(5), np.arange(5)))
    points = np.stack([x, 0.2 * side * np.sin(x / side * 3), z], axis=1)
    at = np.arange(25).reshape(5, 5)
    faces = np.stack([at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]], axis=-1).reshape(-1, 4)
    if name == "a coordinate that is no number":
        points[7] = np.nan
    return points.tolist(), faces.tolist()


def put():
    points, faces = {"an empty mesh": lambda: ([], []), "1 mm": lambda: sheet(0.001),
                     "loose vertices": lambda: ([(0, 0, 0), (1, 0, 0)], []),
                     "1 km": lambda: sheet(1000.0)}.get(name, sheet)()
    mesh = bpy.data.meshes.new("odd")
    mesh.from_pydata(points, [], faces)
    item = bpy.data.objects.new("odd", mesh)
    scene.collection.objects.link(item)
    item.scale = {"squeezed flat": (1, 0, 1), "turned inside out": (-1, 1, 1),
                  "placed nowhere": (np.nan, 1, 1)}.get(name, (1, 1, 1))
    bpy.context.view_layer.update()
    if name == "with a line":
        add_guide(scene, item, np.array([(0.05, 0.0, 0.0), (0.05, 0.0, 0.2)]),
                  "SEAM").select_set(True)
    if name == "with a line that lies nowhere":
        line = add_guide(scene, item, np.array([(0.05, 0.0, 0.0), (0.05, 0.0, 0.2)]), "SEAM")
        line.data.splines[0].points[0].co = (np.nan, 0, 0, 1)
    item.hide_viewport = name == "not shown in viewports"
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    if mode == "edit":
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.ops.mesh.select_all(action="SELECT")


asked = answered = 0
for operator in NAMES:
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    if name != "no object":
        put()
    call = getattr(bpy.ops.foamwright, operator)
    try:
        if call.poll():
            asked += 1
            call("EXEC_DEFAULT")
            answered += 1
    except RuntimeError as error:
        if "Traceback" in str(error):
            raise SystemExit(f"{operator}: {error}")
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
print("ASKED", asked, "ANSWERED", answered)
'''


@pytest.mark.parametrize(("name", "mode"), [
    (name, mode) for name in SCENES for mode in ("object", "edit")
    if mode == "object" or name not in ("no object", "not shown in viewports")])
def test_no_operator_ends_in_a_traceback(run_in_blender, root, tmp_path, name, mode):
    done = run_in_blender(SCRIPT, root, tmp_path, name, mode)
    assert done.returncode == 0, done.stderr[-2000:]
    asked, answered = re.search(r"ASKED (\d+) ANSWERED (\d+)", done.stdout).groups()
    assert int(asked) > 15 and int(answered) > 0  # else nothing was tried
