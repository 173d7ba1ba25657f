"""Movement and the transport box in Blender: asked, listed, shown, outdated, forgotten."""

import json

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import changes, trial  # noqa: E402
from addon.blender.choices import REACH, TRANSPORT  # noqa: E402
from addon.blender.read import suit_objects  # noqa: E402
from tests.blender.test_blender_panels import Layout  # noqa: E402
from tests.reach.test_reach import JOINTS, hinge  # noqa: E402


@pytest.fixture
def arm(scene, add_object):
    """Two plates at the left elbow that meet after a quarter turn; in metres."""
    items = []
    for name, (points, faces) in zip(("Rerebrace", "Bracer"), hinge("left", 60.0, 60.0),
                                     strict=True):
        item = add_object(name, points / 1000, faces)
        item.foamwright.include = True
        items.append(item)
    return items


def look(scene):
    changes.last = -1e9
    return trial.look(scene, bpy.context.view_layer)


def drawn(name):
    from addon.blender.panels import wearing as panels

    layout = Layout()
    cls = getattr(panels, f"FOAMWRIGHT_PT_{name}")
    cls.draw(type("Panel", (), {"layout": layout})(), bpy.context)
    return layout


def test_movements_are_tried_listed_and_outdated(scene, arm):
    group = scene.foamwright.reach
    assert "foamwright.check_movement" in drawn("movement").operators()
    assert bpy.ops.foamwright.check_movement() == {"FINISHED"}
    (line,) = group.lines
    assert line.name == "The left forearm bends" and not line.enough and line.told.startswith("10")
    (told,) = (f for f in scene.foamwright.findings if f.step == REACH)
    assert told.code == "plates-meet" and {"Rerebrace", "Bracer"} <= set(json.loads(told.places))
    layout = drawn("movement")
    assert "foamwright.show_pose" in layout.operators() and line.told in layout.texts()
    group.wanted = "forearm bent 80°"
    assert look(scene) and group.outdated and "changed since" in drawn("movement").texts()
    assert bpy.ops.foamwright.check_movement() == {"FINISHED"}
    (line,) = group.lines
    assert line.enough and line.told == "80° of 80°" and not group.outdated
    assert not [f for f in scene.foamwright.findings if f.step == REACH]
    assert bpy.ops.foamwright.forget_wearing() == {"FINISHED"}
    assert not group.found and not len(group.lines) and not len(group.maps)


@pytest.mark.parametrize("text", ["wing up 20", "forearm bent", "forearm bent lots", "arm out 500"])
def test_what_is_no_movement_is_refused_and_nothing_changes(scene, arm, text, fingerprint):
    scene.foamwright.reach.wanted = text
    before = fingerprint()
    with pytest.raises(RuntimeError, match="movement|angle"):
        bpy.ops.foamwright.check_movement()
    assert fingerprint() == before and not scene.foamwright.reach.found


def test_a_pose_is_shown_by_copies_that_are_no_part_of_the_suit(scene, arm, fingerprint):
    scene.foamwright.reach.wanted = "forearm bent 100"
    before = fingerprint()
    assert bpy.ops.foamwright.check_movement() == {"FINISHED"}
    (line,) = scene.foamwright.reach.lines
    assert bpy.ops.foamwright.show_pose(index=0) == {"FINISHED"}
    home = scene.foamwright.reach.shown
    (copy,) = home.objects
    bracer, elbow = arm[1], JOINTS["elbow left"] / 1000
    turned = np.array([copy.matrix_world @ v.co for v in copy.data.vertices])
    stood = np.array([bracer.matrix_world @ v.co for v in bracer.data.vertices])
    assert np.linalg.norm(turned - elbow, axis=1) == pytest.approx(
        np.linalg.norm(stood - elbow, axis=1), abs=1e-5)
    assert (turned - elbow).mean(axis=0)[1] < -0.05  # it points to the front
    assert copy not in suit_objects(scene) and copy.foamwright.leave_out
    assert "foamwright.hide_moved" in drawn("movement").operators()
    # Another pose takes its place; hiding leaves nothing behind.
    bpy.ops.foamwright.show_pose(index=0)
    assert len(scene.foamwright.reach.shown.objects) == 1
    assert bpy.ops.foamwright.hide_moved() == {"FINISHED"}
    assert scene.foamwright.reach.shown is None and fingerprint() == before
    assert line.name
    with pytest.raises(RuntimeError, match="no such movement"):
        bpy.ops.foamwright.show_pose(index=7)
    assert not bpy.ops.foamwright.hide_moved.poll()


def test_a_box_is_packed_listed_shown_and_outdated(scene, arm, fingerprint):
    group = scene.foamwright.transport
    with pytest.raises(RuntimeError, match="No size of a box"):
        bpy.ops.foamwright.pack_box()
    group.box = "20 x 15 x 10"
    with pytest.raises(RuntimeError, match="no size of a box"):
        bpy.ops.foamwright.pack_box()
    group.box, group.gap = "20 x 15 x 10 cm", "4 mm"
    before = fingerprint()
    assert bpy.ops.foamwright.pack_box() == {"FINISHED"}
    assert "All 2 parts go into a box of 200 mm × 150 mm × 100 mm" in group.summary
    assert sorted(line.name for line in group.lines) == ["Bracer", "Rerebrace"]
    layout = drawn("box")
    assert "All 2 parts" in layout.texts() and "1. " in layout.texts()
    assert bpy.ops.foamwright.show_box() == {"FINISHED"}
    bpy.context.view_layer.update()
    copies = {item.name: np.array([item.matrix_world @ v.co for v in item.data.vertices])
              for item in group.shown.objects}
    frame = copies.pop("Box")
    low, high = frame.min(axis=0), frame.max(axis=0)
    assert high - low == pytest.approx((0.2, 0.15, 0.1), abs=1e-6)
    assert len(copies) == 2
    for points in copies.values():
        assert (points >= low - 1e-6).all() and (points <= high + 1e-6).all()
    suit = np.concatenate([[item.matrix_world @ v.co for v in item.data.vertices] for item in arm])
    assert low[0] > suit[:, 0].max() + 0.1  # beside the suit
    assert bpy.ops.foamwright.hide_moved() == {"FINISHED"} and fingerprint() == before
    group.box = "10 x 10 x 10 cm"
    assert look(scene) and group.outdated
    assert bpy.ops.foamwright.pack_box() == {"FINISHED"}
    assert {line.enough for line in group.lines} == {False} and "left over" in group.summary
    (told,) = (f for f in scene.foamwright.findings if f.step == TRANSPORT)
    assert told.code == "box-too-small"
    assert bpy.ops.foamwright.forget_wearing(box=True) == {"FINISHED"}
    assert not group.found and not bpy.ops.foamwright.show_box.poll()
    assert not [f for f in scene.foamwright.findings if f.step == TRANSPORT]


def test_an_object_of_which_only_parts_move_is_named(scene, add_object, arm):
    """Both plates in one object, which cannot be shown in two places."""
    points = np.concatenate([plate for plate, _ in hinge("left", 60.0, 60.0)]) / 1000
    faces = hinge("left", 60.0, 60.0)[0][1]
    for item in arm:
        bpy.data.objects.remove(item)
    both = add_object("Arm", points, np.concatenate([faces, faces + len(points) // 2]))
    both.foamwright.include, both.foamwright.worn = True, "anywhere"
    assert bpy.ops.foamwright.check_movement() == {"FINISHED"}
    assert json.loads(scene.foamwright.reach.lines[0].parted) == ["Arm"]
    bpy.ops.foamwright.show_pose(index=0)
    assert len(scene.foamwright.reach.shown.objects) == 0


def test_the_plan_tells_of_both_where_that_is_asked(scene, arm, tmp_path):
    def report():
        assert bpy.ops.foamwright.make_pattern(directory=str(tmp_path)) == {"FINISHED"}
        return json.loads((tmp_path / "report.json").read_text("utf-8"))

    told = report()
    assert "reach" not in told and "transport" not in told
    scene.foamwright.reach.in_plan = scene.foamwright.transport.in_plan = True
    with pytest.raises(RuntimeError, match="No size of a box"):
        bpy.ops.foamwright.make_pattern(directory=str(tmp_path))
    scene.foamwright.transport.box = "8 x 6 x 4 in"
    told = report()
    assert len(told["reach"]["movements"]) == 1 and told["transport"]["fits"]
    assert told["transport"]["box"] == pytest.approx([203.2, 152.4, 101.6])


def test_the_suits_scale_counts(scene, arm):
    """A sculpt at half the size, to be enlarged, comes to lie where it does at full size."""
    for item in arm:
        item.data.transform(item.matrix_world.Scale(0.5, 4))
    scene.foamwright.scale = 2.0
    scene.foamwright.reach.wanted = "forearm bent 80"
    bpy.ops.foamwright.check_movement()
    bpy.ops.foamwright.show_pose(index=0)
    (copy,) = scene.foamwright.reach.shown.objects
    elbow = JOINTS["elbow left"] / 2000
    turned = np.array([copy.matrix_world @ v.co for v in copy.data.vertices]) - elbow
    stood = np.array([v.co for v in arm[1].data.vertices]) - elbow
    assert np.linalg.norm(turned, axis=1) == pytest.approx(np.linalg.norm(stood, axis=1), abs=1e-5)
