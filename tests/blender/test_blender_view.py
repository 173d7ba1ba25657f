"""What a click brings into view: the piece of a finding, the suit of the example."""

import json

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from mathutils import Matrix, Vector  # noqa: E402

from addon.blender import view, write  # noqa: E402


@pytest.fixture
def space():
    """A 3D view that looks along y, and Blender's context as if the pointer were in it."""
    window = bpy.context.window_manager.windows[0]
    area = next(a for a in window.screen.areas if a.type == "VIEW_3D")
    region = next(r for r in area.regions if r.type == "WINDOW")
    shown = area.spaces.active.region_3d
    shown.view_rotation = Matrix.Rotation(np.pi / 2, 4, "X").to_quaternion()
    with bpy.context.temp_override(window=window, area=area, region=region):
        yield shown


def seen(space, points):
    """Where points of the world are seen, from -1 to 1 across and up the free part of the view,
    by Blender's lens of 50 mm and sensor of 36 mm, which it doubles in views (from memory)."""
    region = bpy.context.region
    inside = space.view_rotation.inverted().to_matrix()
    half = np.array([region.width, region.height]) / max(region.width, region.height) * 0.72
    places = []
    for point in points:
        x, y, z = inside @ (Vector(point) - space.view_location)
        places.append(np.array([x, y]) / ((space.view_distance - z) * half))
    return np.array(places)


def test_what_is_framed_is_seen_whole_and_large(space):
    corners = np.array([(x, y, z) for x in (1, 3) for y in (0, 0.5) for z in (5, 6)], float)
    assert view.frame(bpy.context, corners)
    places = seen(space, corners)
    assert np.abs(places).max() < 1.0
    assert np.ptp(places, axis=0).max() > 0.6
    assert not view.frame(bpy.context, np.empty((0, 3)))


def test_a_camera_is_left_to_look_around(space):
    space.view_perspective = "CAMERA"
    assert view.frame(bpy.context, np.zeros((1, 3)))
    assert space.view_perspective == "PERSP" and 0 < space.view_distance < 0.1


def test_a_finding_brings_its_piece_into_view_and_selects_its_elements(scene, add_sheet, space):
    item = add_sheet(columns=8, rows=2, width=0.8, height=0.2,
                     seams=[(4, 13), (13, 22)])
    item.location.z, item.foamwright.include = 2.0, True
    bpy.context.view_layer.update()
    bpy.ops.foamwright.check()
    finding = scene.foamwright.findings.add()
    finding.places, finding.piece = json.dumps({"sheet": {"faces": [0]}}), "SH1"
    finding.around = json.dumps(["sheet", [0, 0, 0], [0.4, 0, 0.2]])
    assert bpy.ops.foamwright.select_finding(
        index=len(scene.foamwright.findings) - 1) == {"FINISHED"}
    assert bpy.context.mode == "EDIT_MESH" and item.data.count_selected_items()[2] == 1
    assert np.array(space.view_location)[1:] == pytest.approx([0, 2.1], abs=1e-5)
    assert 0.2 < space.view_distance < 2 and not space.view_location.x < 0.19


def test_a_check_keeps_where_the_pieces_of_its_findings_lie(scene, add_object):
    u, v = np.meshgrid(np.linspace(0, np.pi / 2, 9), np.linspace(0.2, np.pi / 2, 9))
    dome = 0.15 * np.stack([np.cos(u) * np.cos(v), np.sin(u) * np.cos(v), np.sin(v)], axis=-1)
    at = lambda i, j: 9 * j + i  # noqa: E731
    item = add_object("dome", dome.reshape(-1, 3), [
        (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1))
        for i in range(8) for j in range(7)])
    item.location, item.scale = (1, 2, 3), (2, 2, 2)
    item.foamwright.include = True
    scene.foamwright.scale = 0.5
    bpy.context.view_layer.update()
    bpy.ops.foamwright.check()
    finding = next(f for f in scene.foamwright.findings if f.piece == "DO1")
    points = write.surroundings(scene, finding, [])
    bounds = np.array(item.bound_box) * 2 + (1, 2, 3)
    assert points.min(axis=0) == pytest.approx(bounds.min(axis=0), abs=1e-5)
    assert points.max(axis=0) == pytest.approx(bounds.max(axis=0), abs=2e-2)  # one row is left
    item.name, item.location.x = "cap", 0.0  # found again, and where it is now
    bpy.context.view_layer.update()
    assert write.surroundings(scene, finding, [])[:, 0] == pytest.approx(points[:, 0] - 1)


def test_without_a_piece_a_part_of_the_object_is_seen_around(scene, add_sheet):
    item = add_sheet(width=1.0, height=1.0, columns=10, rows=10)
    finding = scene.foamwright.findings.add()
    assert np.ptp(write.surroundings(scene, finding, [item]), axis=0)[0] == pytest.approx(1.0)
    write.select(bpy.context, {"sheet": {"faces": [0]}})
    around = write.surroundings(scene, finding, [item])
    middle = (around.min(axis=0) + around.max(axis=0)) / 2
    assert middle == pytest.approx((0.05, 0, 0.05)) and np.ptp(around[:, 0]) == pytest.approx(0.25)


def test_the_example_opens_with_the_whole_suit_in_view(scene, space):
    bpy.ops.foamwright.open_example()
    window = bpy.context.window_manager.windows[0]
    area = next(a for a in window.screen.areas if a.type == "VIEW_3D")
    region = area.spaces.active.region_3d
    assert region.view_location.z == pytest.approx(1.05, abs=0.25)
    assert 1.5 < region.view_distance < 6
