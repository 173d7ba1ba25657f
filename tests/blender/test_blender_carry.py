"""Lines across faces go where their surface goes, however far, and stay bound to it."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import anchors, carry, guides  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402
from addon.core.trace import Surface  # noqa: E402

WIDE, HIGH = 6, 5  # squares of the sheet, which is 0.2 units to each side in the plane y = 0
ENDS = np.array([[0.0, 0, 0.013], [0.2, 0, 0.17]])


@pytest.fixture
def sheet(add_sheet):
    item = add_sheet(columns=WIDE, rows=HIGH)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    return item


def draw():
    points = [{"name": "", "place": tuple(p)} for p in ENDS.tolist()]
    assert bpy.ops.foamwright.draw_line(kind="SEAM", points=points) == {"FINISHED"}


@pytest.fixture
def line(scene, sheet):
    """A seam from side to side, drawn with the operator."""
    draw()
    return guides.guides_of(scene, sheet)[0]


def places(mesh):
    points = np.empty(3 * len(mesh.vertices))
    mesh.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)


def move(item, f):
    """Move the vertices of a mesh as a stroke does."""
    item.data.vertices.foreach_set("co", f(places(item.data)).ravel())
    item.data.update()
    bpy.context.view_layer.update()


def bump(points):
    """30 mm out in the middle of the sheet, nothing at its rim."""
    x, _, z = points.T
    up = 0.03 * np.sin(np.pi * x / 0.2) * np.sin(np.pi * z / 0.2)
    return points - np.stack([0 * up, up, 0 * up], axis=1)


def on_line(points):
    """How far points (k, 3) in mm, seen from the front, lie beside the line that was drawn."""
    along = (ENDS[1] - ENDS[0])[[0, 2]]
    away = points[:, [0, 2]] / 1000 - ENDS[0, [0, 2]]
    return np.abs(away[:, 0] * along[1] - away[:, 1] * along[0]) / np.linalg.norm(along) * 1000


def read_line(read, item):
    """The one line as it is read: points, and how far they lie from the surface."""
    sculpt, sources = read(item)
    (guide,) = sculpt.guides
    return guide.points, Surface(sculpt.vertices, sculpt.faces).nearest(guide.points).distance


def follow(scene, read, item):
    """As after a check."""
    carry.follow(scene, item, read(item)[1][0].ground)


def pieces(read, scene, item):
    return check(read(item)[0], read_settings(scene)).pieces


# --- what moves ----------------------------------------------------------------


def test_a_drawn_line_is_bound_and_stays_as_it_was_drawn(scene, sheet, line, read):
    bond = anchors.load(line.data)
    assert len(bond.anchors.polygon) > 30  # one every few mm
    points, away = read_line(read, sheet)
    assert points == pytest.approx(1000 * ENDS, abs=1e-3) and away.max() < 1e-9
    before = places_of_curve(line)
    follow(scene, read, sheet)
    assert np.array_equal(places_of_curve(line), before)


def places_of_curve(line):
    return np.concatenate([points for points, _ in guides.polylines(line)])


def test_a_stroke_of_30_mm_takes_the_line_along(scene, sheet, line, read):
    move(sheet, bump)
    points, away = read_line(read, sheet)
    assert points[:, 1].min() == pytest.approx(-30, abs=4) and away.max() < 1e-6
    assert on_line(points).max() < 1e-3  # not the shortest way round the bump
    assert len(pieces(read, scene, sheet)) == 2
    # The curve runs there with the next check, and a second one leaves it alone.
    assert places_of_curve(line)[:, 1].min() == 0
    follow(scene, read, sheet)
    shown = places_of_curve(line)
    assert shown[:, 1].min() == pytest.approx(points[:, 1].min() / 1000, abs=1e-6)
    assert np.array_equal(read_line(read, sheet)[0], points)
    follow(scene, read, sheet)
    assert np.array_equal(places_of_curve(line), shown)
    # Smoothed out again, the line is the one that was drawn.
    move(sheet, lambda p: p * (1, 0, 1))
    follow(scene, read, sheet)
    assert places_of_curve(line) == pytest.approx(ENDS, abs=1e-6)


def test_displaced_by_30_mm(scene, sheet, line, read):
    displace = sheet.modifiers.new("Out", "DISPLACE")
    displace.strength, displace.mid_level = 0.03, 0.0
    points, away = read_line(read, sheet)
    assert np.abs(points[:, 1]) == pytest.approx(30.0, abs=1e-3) and away.max() < 1e-6
    assert on_line(points).max() < 1e-3
    displace.show_viewport = False
    assert read_line(read, sheet)[0] == pytest.approx(1000 * ENDS, abs=1e-3)


@pytest.mark.parametrize("kind", ["SUBSURF", "MULTIRES"])
def test_subdivided_before_or_after_the_stroke(scene, sheet, line, read, kind):
    modifier = sheet.modifiers.new("Fine", kind)
    if kind == "MULTIRES":
        bpy.ops.object.multires_subdivide(modifier=modifier.name, mode="CATMULL_CLARK")
    else:
        modifier.levels = 3
    points, away = read_line(read, sheet)
    assert away.max() < 1e-6 and on_line(points).max() < 6  # the sheet's corners are rounded off
    assert on_line(points)[8:-8].max() < 0.5
    move(sheet, bump)
    points, away = read_line(read, sheet)
    assert points[:, 1].min() < -20 and away.max() < 1e-6
    assert len(pieces(read, scene, sheet)) == 2


def test_a_line_drawn_on_the_subdivided_surface_holds_at_every_level(scene, sheet, read):
    modifier = sheet.modifiers.new("Fine", "SUBSURF")
    modifier.levels, modifier.subdivision_type = 2, "SIMPLE"
    draw()
    move(sheet, bump)
    for level in (0, 1, 3):
        modifier.levels = level
        points, away = read_line(read, sheet)
        assert away.max() < 1e-4 and on_line(points).max() < 1e-2


def test_bent_by_an_armature(scene, sheet, line, read):
    data = bpy.data.armatures.new("rig")
    rig = bpy.data.objects.new("rig", data)
    scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    for name, x in (("near", 0.0), ("far", 0.1)):
        bone = data.edit_bones.new(name)
        bone.head, bone.tail = (x, 0, 0.1), (x + 0.1, 0, 0.1)
    bpy.ops.object.mode_set(mode="OBJECT")
    near, far = (sheet.vertex_groups.new(name=name) for name in ("near", "far"))
    for vertex in sheet.data.vertices:
        share = float(np.clip(vertex.co.x / 0.2 * 2 - 0.5, 0, 1))
        near.add([vertex.index], 1 - share, "REPLACE")
        far.add([vertex.index], share, "REPLACE")
    sheet.modifiers.new("Rig", "ARMATURE").object = rig
    bone = rig.pose.bones["far"]
    bone.rotation_mode, bone.rotation_euler = "XYZ", (0, 0, np.pi / 3)
    bpy.context.view_layer.update()
    points, away = read_line(read, sheet)
    assert np.abs(points[:, 1]).max() > 30 and away.max() < 1e-6
    assert len(pieces(read, scene, sheet)) == 2


def test_a_shape_key_takes_the_line_along(scene, sheet, line, read):
    sheet.shape_key_add(name="Basis")
    key = sheet.shape_key_add(name="Out")
    key.data.foreach_set("co", bump(places(sheet.data)).ravel())
    key.value = 1.0
    bpy.context.view_layer.update()
    points, away = read_line(read, sheet)
    assert points[:, 1].min() < -25 and away.max() < 1e-6


def test_of_two_images_the_line_stays_on_its_own(scene, add_sheet, read):
    item = add_sheet(columns=3, rows=3, width=0.1, height=0.1)
    item.modifiers.new("Both", "MIRROR")
    left = np.array([[-0.02, 0, 0.01], [-0.08, 0, 0.09]])
    guides.add_guide(scene, item, left, "SEAM")
    carry.bind(scene, [item])
    move(item, lambda p: p + [0.03, -0.03, 0.0])  # the image goes the other way
    points, away = read_line(read, item)
    assert points[[0, -1]] == pytest.approx(1000 * (left + [-0.03, -0.03, 0]), abs=1e-2)
    assert away.max() < 1e-6


# --- what the maker does to lines and meshes -------------------------------------


def test_a_point_that_the_maker_moved_counts_where_it_is(scene, sheet, line, read):
    line.data.splines[0].points[0].co.z += 0.05
    move(sheet, lambda p: p + [0, -0.03, 0])
    points, _ = read_line(read, sheet)
    assert points == pytest.approx(1000 * (ENDS + [[0, 0, 0.05], [0, -0.03, 0]]), abs=1e-3)
    line.data.splines[0].points[0].co.y -= 0.03
    follow(scene, read, sheet)
    move(sheet, lambda p: p + [0, -0.03, 0])
    points, away = read_line(read, sheet)
    assert points[0] == pytest.approx([0, -60, 63], abs=1e-3) and away.max() < 1e-6


def test_a_line_that_was_moved_as_a_whole_stays_where_it_was_put(scene, sheet, line, read):
    line.location.z += 0.01
    points, _ = read_line(read, sheet)
    assert points == pytest.approx(1000 * (ENDS + [0, 0, 0.01]), abs=1e-3)


def test_bonds_are_saved(scene, sheet, line, tmp_path):
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    item = bpy.data.objects["sheet"]
    move(item, bump)
    (guide,) = scene_of(item)[0].guides
    assert guide.points[:, 1].min() < -25


def test_a_stroke_is_undone_with_the_way_of_the_line(scene, sheet, line, read):
    bpy.ops.ed.undo_push(message="drawn")
    move(sheet, bump)
    follow(scene, read, sheet)
    bpy.ops.ed.undo_push(message="a stroke")
    assert read_line(read, sheet)[0][:, 1].min() < -25
    bpy.ops.ed.undo()
    (guide,) = scene_of(bpy.data.objects["sheet"])[0].guides
    assert guide.points == pytest.approx(1000 * ENDS, abs=1e-3)
    bpy.ops.ed.redo()
    (guide,) = scene_of(bpy.data.objects["sheet"])[0].guides
    assert guide.points[:, 1].min() < -25


def scene_of(item):
    from addon.blender.read import read_scene

    scene = bpy.context.scene
    return read_scene(scene, [item], read_settings(scene))


def test_on_other_polygons_the_line_lies_where_it_last_was(scene, sheet, line, read):
    move(sheet, bump)
    follow(scene, read, sheet)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.subdivide(number_cuts=2)
    bpy.ops.object.mode_set(mode="OBJECT")
    points, away = read_line(read, sheet)
    assert points[:, 1].min() < -25 and away.max() < 0.2
    follow(scene, read, sheet)  # and is bound to the new ones
    move(sheet, lambda p: p + [0, -0.03, 0])
    points, away = read_line(read, sheet)
    assert points[:, 1].max() < -29 and away.max() < 1e-6


def test_after_a_remesh_that_is_too_far_away_the_line_is_told(scene, sheet, line, read):
    move(sheet, lambda p: p + [0, -0.03, 0])  # and no check between this and the new mesh
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.quads_convert_to_tris()
    bpy.ops.object.mode_set(mode="OBJECT")
    found = check(read(sheet)[0], read_settings(scene)).findings
    assert [f.code for f in found] == ["guide-off-surface"]
    assert "30.0 mm away" in found[0].message
    follow(scene, read, sheet)  # nothing is bound to a surface it does not lie on
    assert places_of_curve(line) == pytest.approx(ENDS, abs=1e-6)


def test_a_modifier_that_makes_a_new_mesh_leaves_the_line_as_it_stands(scene, sheet, line, read):
    sheet.modifiers.new("New", "REMESH").voxel_size = 0.01
    sheet.modifiers["New"].mode = "VOXEL"
    sculpt, _ = read(sheet)
    assert [len(g.points) for g in sculpt.guides] == [2]


def test_joined_and_separated(scene, sheet, line, add_sheet, read):
    move(sheet, bump)
    follow(scene, read, sheet)
    other = add_sheet("other")
    other.location.x = 1.0
    bpy.context.view_layer.update()
    with bpy.context.temp_override(active_object=sheet, object=sheet,
                                   selected_editable_objects=[sheet, other]):
        bpy.ops.object.join()
    points, away = read_line(read, sheet)
    assert points[:, 1].min() < -25 and away.max() < 0.2
    follow(scene, read, sheet)
    move(sheet, lambda p: p + [0, -0.03, 0])
    assert read_line(read, sheet)[1].max() < 1e-6
    follow(scene, read, sheet)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.separate(type="LOOSE")
    bpy.ops.object.mode_set(mode="OBJECT")
    parts = [o for o in scene.objects if o.type == "MESH"]
    sculpt, _ = read(*parts)
    assert len(parts) == 2
    pattern = check(sculpt, read_settings(scene))
    assert len(pattern.pieces) == 3  # the sheet in two, and the other


def test_a_line_under_a_modifier_is_cut_where_it_runs_on_the_mesh(scene, sheet, line):
    bend = sheet.modifiers.new("Bend", "SIMPLE_DEFORM")
    bend.deform_method, bend.angle, bend.deform_axis = "BEND", 1.5, "Z"
    bpy.context.view_layer.update()
    carry.bind(scene, [sheet])
    assert np.abs(places_of_curve(line)[:, 1]).max() > 0.02
    assert bpy.ops.foamwright.cut_lines() == {"FINISHED"}
    mesh = sheet.data
    seams = [[mesh.vertices[v].co for v in e.vertices] for e in mesh.edges if e.use_seam]
    assert sum((a - b).length for a, b in seams) == pytest.approx(
        np.linalg.norm(ENDS[1] - ENDS[0]), rel=1e-5)
    assert np.abs(np.array([a.y for a, _ in seams])).max() < 1e-6


def test_the_overlay_takes_lines_along(scene, sheet, line):
    from addon.blender import changes, live

    move(sheet, bump)
    live.look(scene, bpy.context.view_layer)
    assert live.state.message == ""
    assert places_of_curve(line)[:, 1].min() < -0.025
    asked = live.state.signature
    live.state.job.wait(60)
    bpy.context.view_layer.update()
    assert live.state.seen == (changes.epoch, changes.count)  # leading them is no change
    changes.note()
    live.state.seen = None
    live.look(scene, bpy.context.view_layer)
    assert live.state.signature == asked  # and the lines are read as they were


def test_lines_are_bound_one_at_a_time_where_that_must_not_take_long(scene, sheet, read):
    for up in (0.0, 0.01, 0.02):
        guides.add_guide(scene, sheet, ENDS + [0, 0, up], "SEAM")
    guides.add_guide(scene, sheet, ENDS + [0, 0.5, 0], "SEAM", name="Away")
    for bound in (1, 2, 3, 3):
        carry.follow(scene, sheet, read(sheet)[1][0].ground, most=1)
        found = [anchors.load(line.data) for line in guides.guides_of(scene, sheet)]
        assert sum(bond is not None for bond in found) == bound


def test_copies_that_share_a_curve_go_with_their_own_mesh(scene, sheet, line, read):
    copy, other = sheet.copy(), line.copy()
    copy.data = sheet.data.copy()
    for item in (copy, other):
        scene.collection.objects.link(item)
    copy.location.x, other.parent = 1.0, copy
    bpy.context.view_layer.update()
    move(copy, bump)
    follow(scene, read, copy)
    follow(scene, read, sheet)
    assert line.data == other.data and np.array_equal(
        places_of_curve(line), places_of_curve(other))
    assert read_line(read, sheet)[0][:, 1].min() == pytest.approx(0, abs=1e-6)
    points, away = read_line(read, copy)
    assert points[:, 1].min() < -25 and away.max() < 1e-6
