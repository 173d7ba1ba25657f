"""The build step by step in the 3D views: looked at only, and nothing of it stays."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import build_view, changes, handlers  # noqa: E402
from tests.blender.test_blender_panels import draw, panel  # noqa: E402

CUBE = ([(x, y, z) for z in (0, 0.2) for y in (0, 0.2) for x in (0, 0.2)],
        [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (1, 3, 7, 5), (3, 2, 6, 7), (2, 0, 4, 6)])
EDGES = sorted({tuple(sorted((f[i], f[i - 1]))) for f in CUBE[1] for i in range(4)})


@pytest.fixture
def box(scene, add_object):
    item = add_object("box", *CUBE, seams=EDGES)
    item.foamwright.include = True
    yield item
    build_view.leave()


@pytest.fixture
def shown(box):
    assert bpy.ops.foamwright.show_build() == {"FINISHED"}
    return box


@pytest.fixture
def manager():
    return bpy.context.window_manager


def standing():
    return set(build_view.state.build.stages[build_view.state.step].standing)


def test_the_suit_grows_step_by_step_and_the_lid_is_last(shown, scene, manager):
    assert shown.hide_get() and build_view.is_shown(scene)
    count = len(build_view.state.build.stages)
    assert manager.foamwright_step == count and len(manager.foamwright_steps) == count
    before, lits = set(), []
    for number, stage in enumerate(build_view.state.build.stages, 1):
        manager.foamwright_step = number
        if stage.step.kind != "join":
            continue
        came = {code for move in stage.step.moves for code in move.pieces}
        assert before <= standing() and came == set(stage.lit)
        assert standing() - before - came <= set(stage.step.pieces)
        before = standing()
        lits.append(came)
        seen = build_view.drawn(scene)
        assert sum(len(d.triangles) > 0 for d, _ in seen) == len(before)
        assert any("seam" in d.lines for d, _ in seen)  # what is glued now
    assert len(before) == 6 and [len(came) for came in lits] == [1] * 5
    assert not before - standing()


def test_pieces_are_as_thick_as_the_foam(shown, scene):
    bodies = build_view.state.build.bodies.values()
    points = np.concatenate([body.plain.points for body in bodies])
    assert np.allclose([points.min(), points.max()], [0.0, 0.2], atol=1e-6)  # Blender units
    for body in bodies:  # the sculpt is the outside of foam of 10 mm
        assert np.ptp(body.plain.points, axis=0).min() == pytest.approx(0.01, abs=1e-5)


def test_apart_is_along_the_ways_that_pieces_come_in(shown, scene, manager):
    assert all(np.allclose(off, 0) for _, off in build_view.drawn(scene))
    manager.foamwright_apart = 1.0
    build, last = build_view.state.build, build_view.state.step
    moves = [move for stage in build.stages for move in stage.step.moves]
    assert len(moves) == 5
    for move in moves:
        [code] = move.pieces
        assert np.allclose(build.offset(code, last, 1.0), build.reach * np.array(move.way))
    assert np.allclose(build.offset(moves[0].pieces[0], 0, 1.0), 0)  # it is not there yet


def test_the_slider_and_the_list_stop_at_the_ends(shown, manager):
    count = len(manager.foamwright_steps)
    assert bpy.ops.foamwright.go_to_step(by=1) == {"CANCELLED"}
    assert bpy.ops.foamwright.go_to_step(by=-1) == {"FINISHED"}
    assert manager.foamwright_step == count - 1
    manager.foamwright_step_row = 2
    assert manager.foamwright_step == 3
    manager.foamwright_step_row = 99
    assert manager.foamwright_step == count
    manager.foamwright_step = -4
    assert manager.foamwright_step == 1


def test_leaving_shows_all_as_it_was(box, scene, add_sheet, fingerprint, manager):
    hidden = add_sheet("other")
    hidden.hide_set(True)
    hidden.foamwright.include = True
    box.select_set(True)
    bpy.context.view_layer.objects.active = box
    bpy.context.view_layer.update()
    before = fingerprint()
    bpy.ops.foamwright.show_build()
    count = changes.count
    manager.foamwright_step, manager.foamwright_apart = 3, 0.7
    assert box.hide_get()
    assert bpy.ops.foamwright.leave_build() == {"FINISHED"}
    assert not box.hide_get() and hidden.hide_get()  # the maker hid that one
    assert fingerprint() == before and changes.count == count
    assert not len(scene.foamwright.aside) and not len(manager.foamwright_steps)
    assert manager.foamwright_apart == 0 and not build_view.drawn(scene)
    assert not bpy.ops.foamwright.leave_build.poll()


@pytest.mark.parametrize("change", ["layer", "object", "scene", "deleted"])
def test_it_is_left_whatever_was_renamed_or_deleted(shown, scene, change, tmp_path):
    if change == "layer":
        bpy.context.view_layer.name = "Another"
    elif change == "object":
        shown.name = "another"
    elif change == "scene":
        scene.name = "Another"
    else:
        bpy.data.objects.remove(shown)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "x.blend"), check_existing=False)
    assert build_view.is_shown(scene)
    assert bpy.ops.foamwright.leave_build() == {"FINISHED"}
    assert not len(scene.foamwright.aside)
    assert not any(item.hide_get() for item in scene.objects)


def test_another_scene_knows_nothing_of_it(shown, scene):
    other = bpy.data.scenes.new("Other")
    assert not build_view.is_shown(other) and not build_view.drawn(other)
    bpy.data.scenes.remove(other)


def reopened(path):
    bpy.ops.wm.open_mainfile(filepath=str(path))
    scene = bpy.context.scene
    return scene, scene.objects["box"]


def test_a_saved_file_has_nothing_hidden(shown, scene, manager, tmp_path):
    manager.foamwright_step, manager.foamwright_apart = 3, 1.0
    path = tmp_path / "suit.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path), check_existing=False)
    assert shown.hide_get() and manager.foamwright_step == 3  # it goes on
    assert len(manager.foamwright_steps)
    code = ("import bpy, sys\n"  # without the add-on, as it lies in the file
            f"bpy.ops.wm.open_mainfile(filepath={str(path)!r})\n"
            "print('HIDDEN', bpy.data.objects['box'].hide_get())")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=240)
    assert "HIDDEN False" in done.stdout, done.stdout + done.stderr
    scene, box = reopened(path)
    assert not box.hide_get() and not len(scene.foamwright.aside)
    assert not build_view.is_shown(scene) and not len(bpy.context.window_manager.foamwright_steps)


def test_a_file_that_was_saved_by_itself_is_put_right_when_opened(shown, tmp_path):
    path = tmp_path / "auto.blend"
    own = [pair for pair in build_view._HANDLERS if pair[0].startswith("save")]
    handlers.remove(own)  # as Blender's automatic save, which tells no one
    try:
        bpy.ops.wm.save_as_mainfile(filepath=str(path), check_existing=False, copy=True)
    finally:
        handlers.add(own)
    scene, box = reopened(path)
    assert not box.hide_get() and not len(scene.foamwright.aside)


def test_undo_leaves_the_build(shown, scene):
    bpy.ops.ed.undo_push(message="while it was hidden")
    build_view.leave()
    bpy.ops.ed.undo_push(message="later")
    bpy.ops.ed.undo()  # to the state in which the box was put aside
    scene = bpy.context.scene
    assert not scene.objects["box"].hide_get() and not len(scene.foamwright.aside)
    assert not build_view.is_shown(scene)


def test_unregistering_leaves_it_too(shown, registered):
    registered.unregister()
    try:
        assert not shown.hide_get()
    finally:
        registered.register()


def test_a_change_of_the_sculpt_is_told(shown, scene):
    def look():
        changes.last = -1e9
        build_view.look(scene, bpy.context.view_layer)

    changes.note()
    look()
    assert not build_view.state.outdated
    x = shown.data.vertices[0].co.x
    for value, outdated in ((x - 0.01, True), (x, False)):
        shown.data.vertices[0].co.x = value
        shown.data.update()
        bpy.context.view_layer.update()
        changes.note()
        look()
        assert build_view.state.outdated == outdated
        assert ("changed since" in draw(panel("FOAMWRIGHT_PT_build")).texts()) == outdated


def test_the_panel(box):
    assert draw(panel("FOAMWRIGHT_PT_build")).operators() == ["foamwright.show_build"]
    bpy.ops.foamwright.show_build()
    drawn = draw(panel("FOAMWRIGHT_PT_build"))
    assert "foamwright.leave_build" in drawn.operators()
    assert {"prop", "template_list"} <= {name for name, _, _ in drawn.log}


def test_it_is_asked_for_in_object_mode(box):
    bpy.context.view_layer.objects.active = box
    bpy.ops.object.mode_set(mode="EDIT")
    assert not bpy.ops.foamwright.show_build.poll()
    bpy.ops.object.mode_set(mode="OBJECT")
    assert bpy.ops.foamwright.show_build.poll()


CHILD = r"""
import json, os, sys
import bpy, gpu, numpy as np
from mathutils import Matrix
try:
    gpu.init()
except Exception as error:
    print("no graphics:", error)
    os._exit(3)
import addon
addon.register()
from addon.blender import build_overlay, build_view
bpy.ops.wm.read_factory_settings(use_empty=True)
vertices, faces = json.loads(sys.argv[1])
mesh = bpy.data.meshes.new("box")
mesh.from_pydata(vertices, [], faces)
for edge in mesh.edges:
    edge.use_seam = True
item = bpy.data.objects.new("box", mesh)
bpy.context.scene.collection.objects.link(item)
item.foamwright.include = True
bpy.context.view_layer.update()
bpy.ops.foamwright.show_build()
view = Matrix.Translation((0, 0, -1)) @ Matrix(((1, 0, 0, 0), (0, 0, 1, 0), (0, -1, 0, 0),
    (0, 0, 0, 1))) @ Matrix.Rotation(0.6, 4, "X") @ Matrix.Rotation(0.5, 4, "Z") @ (
    Matrix.Translation((-0.1, -0.1, -0.1)))
lens = Matrix(((2, 0, 0, 0), (0, 2, 0, 0), (0, 0, -1.0002, -0.02), (0, 0, -1, 0)))
window = bpy.context.window_manager.windows[0]
area = next(a for a in window.screen.areas if a.type == "VIEW_3D")
region = next(r for r in area.regions if r.type == "WINDOW")
size, out = 400, {}
off = gpu.types.GPUOffScreen(size, size)
manager = bpy.context.window_manager
joins = [s.step.number for s in build_view.state.build.stages if s.step.kind == "join"]
for name, step, apart in (("first", joins[0], 0.0), ("last", joins[-1], 0.0),
                          ("apart", joins[-1], 1.0)):
    manager.foamwright_step, manager.foamwright_apart = step, apart
    with off.bind():
        frame = gpu.state.active_framebuffer_get()
        frame.clear(color=(0, 0, 0, 1), depth=1.0)
        with bpy.context.temp_override(window=window, area=area, region=region):
            build_overlay.draw_build(bpy.context, view, lens)
        read = frame.read_color(0, 0, size, size, 4, 0, "UBYTE")
    read.dimensions = size * size * 4
    picture = np.frombuffer(read, np.uint8).reshape(size, size, 4)
    rgb = picture[..., :3].astype(int)
    out[name] = {"seen": int(rgb.any(2).sum()),
                 "lit": int((rgb[..., 0] - rgb[..., 2] > 80).sum())}
    if len(sys.argv) > 2:
        image = bpy.data.images.new(name, size, size)
        image.pixels = (picture / 255.0).ravel().tolist()
        image.filepath_raw, image.file_format = f"{sys.argv[2]}/{name}.png", "PNG"
        image.save()
print("RESULT", json.dumps(out))
sys.stdout.flush()
os._exit(0)
"""


def test_it_is_drawn(root: Path):
    if bpy.app.version < (5, 0):
        pytest.skip("this Blender draws nothing without a window")
    done = subprocess.run(
        [sys.executable, "-c", CHILD, json.dumps(CUBE), *filter(None, [os.environ.get("LOOK")])],
        cwd=root, capture_output=True, text=True, timeout=240,
        env={**os.environ, "PYTHONPATH": str(root)})
    lines = [ln for ln in done.stdout.splitlines() if ln.startswith("RESULT ")]
    if not lines and (done.returncode == 3 or done.returncode < 0 and "gpu" in done.stderr.lower()):
        pytest.skip(f"no graphics on this machine: {done.stdout} {done.stderr[-300:]}")
    assert lines, done.stdout + done.stderr
    found = json.loads(lines[0].removeprefix("RESULT "))
    assert 0 < found["first"]["seen"] < found["last"]["seen"] < found["apart"]["seen"]
    assert min(each["lit"] for each in found.values()) > 500  # what comes in stands out
