"""Lines drawn across faces: kept as curves, read with the sculpt, cut into the mesh on request."""

import types

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import guides  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402
from addon.core.model import SEAM, TRENCH  # noqa: E402

LINE = np.array([[0.0, 0, 0.013], [0.2, 0, 0.17]])  # across a sheet, in Blender units


@pytest.fixture
def sheet(add_sheet):
    item = add_sheet(columns=6, rows=5)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    return item


def lines():
    return [o for o in bpy.data.objects if guides.is_guide(o)]


def test_a_line_is_a_curve_that_is_read_with_its_sculpt(scene, sheet, read):
    line = guides.add_guide(scene, sheet, LINE, "TRENCH", name="Elbow")
    assert line.parent == sheet and line.show_in_front and line.type == "CURVE"
    assert line.users_collection[0].name == "Foamwright Lines"
    sculpt, _ = read(sheet)
    (guide,) = sculpt.guides
    assert (guide.kind, guide.closed, guide.object, guide.name) == (TRENCH, False, 0, "Elbow")
    assert np.allclose(guide.points, 1000 * LINE, atol=1e-4)


def test_a_line_goes_where_its_object_goes(scene, sheet, read):
    sheet.location, sheet.scale = (0.1, 0.2, -0.3), (1.0, 1.0, 2.0)
    sheet.rotation_euler = (0.3, -0.4, 1.0)
    bpy.context.view_layer.update()
    place = np.array(sheet.matrix_world)
    world = LINE @ place[:3, :3].T + place[:3, 3]
    line = guides.add_guide(scene, sheet, world, "SEAM")
    assert np.allclose(read(sheet)[0].guides[0].points, 1000 * world, atol=1e-3)
    sheet.location.x += 1.0
    bpy.context.view_layer.update()
    assert np.allclose(read(sheet)[0].guides[0].points, 1000 * (world + [1, 0, 0]), atol=1e-3)
    line.location.x += 0.01
    moved = read(sheet)[0].guides[0].points - 1000 * (world + [1, 0, 0])
    assert np.allclose(moved, [10, 0, 0], atol=1e-3)


def test_lines_belong_to_their_object(scene, add_sheet, read):
    one, two, three = (add_sheet(name) for name in ("one", "two", "three"))
    guides.add_guide(scene, two, LINE, "SEAM")
    guides.add_guide(scene, three, LINE, "SEAM")
    sculpt, _ = read(one, two)
    assert [g.object for g in sculpt.guides] == [1]


def test_a_line_left_out_or_hidden(scene, sheet, read):
    line = guides.add_guide(scene, sheet, LINE, "SEAM")
    line.hide_set(True)
    assert len(read(sheet)[0].guides) == 1
    line.foamwright.leave_out = True
    assert len(read(sheet)[0].guides) == 0
    line.foamwright.leave_out, line.foamwright.guide = False, "NONE"
    assert len(read(sheet)[0].guides) == 0


def test_a_line_without_a_sculpt_is_told(scene, sheet, read):
    line = guides.add_guide(scene, sheet, LINE, "SEAM", name="Lost")
    line.parent = None
    line.location.y = 0.02
    sculpt, _ = read(sheet)
    (found,) = [f for f in sculpt.findings if f.code == "line-without-sculpt"]
    assert "“Lost”" in found.message and not sculpt.guides


def only(*items):
    for item in bpy.context.view_layer.objects:
        item.select_set(item in items)
    bpy.context.view_layer.objects.active = items[0]


def test_a_line_survives_that_its_sculpt_is_joined_into_another(scene, sheet, add_sheet, read):
    sheet.location, sheet.rotation_euler = (0.2, 0.1, 0.3), (0.3, -0.4, 1.0)
    sheet.scale = (1.0, -1.5, 2.0)
    other = add_sheet("other")
    bpy.context.view_layer.update()
    place = np.array(sheet.matrix_world)
    world = LINE @ place[:3, :3].T + place[:3, 3]
    line = guides.add_guide(scene, sheet, world, "SEAM")
    assert np.allclose(np.array(line.matrix_basis), place, atol=1e-6)
    sheet.location.z += 0.4  # a check lets the line stand where it came to be
    bpy.context.view_layer.update()
    only(sheet)
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    only(other, sheet)
    bpy.ops.object.join()
    assert line.parent is None
    only(other)
    sculpt, _ = read(other)
    (guide,) = sculpt.guides
    assert guide.object == 0
    assert np.allclose(guide.points, 1000 * (world + [0, 0, 0.4]), atol=1e-2)
    assert not [f for f in sculpt.findings if f.code == "line-without-sculpt"]
    # From the next check on it goes where the joined object goes.
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    assert line.parent == other
    other.location.x = 5.0
    bpy.context.view_layer.update()
    (guide,) = read(other)[0].guides
    assert np.allclose(guide.points, 1000 * (world + [5, 0, 0.4]), atol=1e-2)


def test_a_line_counts_on_the_part_it_lies_on_when_that_was_separated(scene, sheet, read):
    points = np.array([[0.15, 0, 0.0], [0.16, 0, 0.2]])
    guides.add_guide(scene, sheet, points, "SEAM")
    far = np.array([[0, 0, 0.1], [0.2, 0, 0.09]])
    guides.add_guide(scene, sheet, far, "TRENCH", name="Both")
    bpy.ops.object.mode_set(mode="OBJECT")
    for elements in (sheet.data.vertices, sheet.data.edges):
        elements.foreach_set("select", [False] * len(elements))
    for face in sheet.data.polygons:
        face.select = face.center.x > 0.1
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.separate(type="SELECTED")
    bpy.ops.object.mode_set(mode="OBJECT")
    (other,) = [o for o in scene.objects if o.type == "MESH" and o != sheet]
    pattern = check(read(sheet, other)[0], read_settings(scene))
    (moved,) = [f for f in pattern.findings if f.code == "guide-of-another"]
    assert "“sheet Seam”" in moved.message and f"“{other.name}”" in moved.message
    assert len(pattern.pieces) == 3
    (lost,) = [f for f in pattern.findings if f.code == "guide-off-surface"]
    assert "“Both”" in lost.message  # it lies on neither alone


def test_a_copy_of_the_sculpt_without_its_lines_is_told(scene, sheet, add_sheet, read):
    line = guides.add_guide(scene, sheet, LINE, "SEAM")
    other = add_sheet("other", columns=5, rows=5)
    only(sheet)
    bpy.ops.object.duplicate()
    copy = bpy.context.object
    sculpt, sources = read(sheet, other, copy)
    (found,) = [f for f in sculpt.findings if f.code == "lines-not-copied"]
    assert f"“{copy.name}” has the mesh of “sheet”" in found.message
    assert found.vertices.tolist() == [sources[2].vertices.start]
    # As the remedy says.
    bpy.data.objects.remove(copy)
    only(sheet, line)
    bpy.ops.object.duplicate()
    copy = next(o for o in bpy.context.selected_objects if o.type == "MESH")
    sculpt, _ = read(sheet, other, copy)
    assert [g.object for g in sculpt.guides] == [0, 2]
    assert not [f for f in sculpt.findings if f.code == "lines-not-copied"]


def test_what_the_remedy_of_a_line_off_the_surface_says_helps(scene, sheet, read):
    guides.add_guide(scene, sheet, np.array([[0.1, 0, 0], [0.11, 0, 0.2]]), "SEAM")
    bend = sheet.modifiers.new("Bend", "SIMPLE_DEFORM")
    bend.deform_method, bend.angle, bend.deform_axis = "BEND", 2.0, "Z"
    bpy.context.view_layer.update()
    away = check(read(sheet)[0], read_settings(scene))
    (found,) = [f for f in away.findings if f.code == "guide-off-surface"]
    assert "switch that off" in found.remedy and len(away.pieces) == 1
    bend.show_viewport = False
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    bend.show_viewport = True
    bpy.context.view_layer.update()
    assert len(check(read(sheet)[0], read_settings(scene)).pieces) == 2


def test_a_rounded_curve_is_followed(scene, sheet, read):
    line = guides.add_guide(scene, sheet, LINE, "SEAM")
    line.data.splines.clear()
    spline = line.data.splines.new("BEZIER")
    spline.bezier_points.add(1)
    for point, place, up in zip(spline.bezier_points, LINE, (0.1, 0.0), strict=True):
        point.co, point.handle_left, point.handle_right = place, place, place + [0, 0, up]
    (guide,) = read(sheet)[0].guides
    assert len(guide.points) > 5 and np.allclose(guide.points[[0, -1]], 1000 * LINE, atol=1e-3)

    line.data.bevel_depth, line.data.extrude = 0.003, 0.002  # drawn thick, to be seen
    curves, objects = len(bpy.data.curves), len(bpy.data.objects)
    (thick,) = read(sheet)[0].guides
    assert np.array_equal(thick.points, guide.points)
    assert (len(bpy.data.curves), len(bpy.data.objects)) == (curves, objects)


def test_lines_are_saved_with_the_file_and_copied_with_undo(scene, sheet, tmp_path, read):
    guides.add_guide(scene, sheet, LINE, "SCORE", closed=True)
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    (line,) = lines()
    assert line.foamwright.guide == "SCORE" and line.parent.name == "sheet"
    assert line.data.splines[0].use_cyclic_u


def test_a_line_across_faces_parts_the_sheet(scene, sheet, read):
    guides.add_guide(scene, sheet, LINE, "SEAM")
    pattern = check(read(sheet)[0], read_settings(scene))
    assert len(pattern.pieces) == 2
    assert sum(p.area for p in pattern.pieces) == pytest.approx(200 * 200, rel=1e-3)
    assert pattern.mates[0].lengths[0] == pytest.approx(1000 * np.hypot(0.2, 0.157), rel=1e-3)


def test_a_line_on_a_multires_sculpt_is_cut_in_the_shown_surface(scene, sheet, read):
    modifier = sheet.modifiers.new("Multires", "MULTIRES")
    bpy.ops.object.multires_subdivide(modifier=modifier.name, mode="SIMPLE")
    guides.add_guide(scene, sheet, LINE, "SEAM")
    sculpt, _ = read(sheet)
    assert len(sculpt.faces) == 4 * 6 * 5 * 2
    assert len(check(sculpt, read_settings(scene)).pieces) == 2


# --- cut into the mesh ---------------------------------------------------------


def cut(scene, item, *lines):
    from addon.blender.knife import plan
    from addon.core.model import Guide

    return plan(scene, item, [Guide(1000 * np.asarray(points), kind)
                              for points, kind in lines]).apply()


def area(mesh):
    return sum(p.area for p in mesh.polygons)


def seam_length(mesh):
    return sum((mesh.vertices[e.vertices[0]].co - mesh.vertices[e.vertices[1]].co).length
               for e in mesh.edges if e.use_seam)


def test_a_line_is_cut_into_quads(scene, sheet):
    mesh = sheet.data
    before = area(mesh)
    # 6 columns and 5 rows: from rim to rim the line crosses 5 + 4 edges, so 10 polygons.
    assert cut(scene, sheet, (LINE, SEAM)) > 0
    assert area(mesh) == pytest.approx(before, rel=1e-6)
    assert seam_length(mesh) == pytest.approx(np.hypot(0.2, 0.157), rel=1e-3)
    assert not mesh.validate(verbose=False)
    assert len(mesh.polygons) == 30 + 10  # each is cut in two, no more
    assert len(mesh.vertices) == 42 + 2 + 9
    along = [v for e in mesh.edges if e.use_seam for v in e.vertices]
    assert sorted(np.bincount(along)[np.unique(along)]) == [1, 1] + [2] * 9


def test_what_lies_on_the_mesh_is_carried_to_the_parts(scene, add_sheet):
    item = add_sheet(columns=6, rows=5, seams=[(8, 9)], trenches=[(15, 22)])
    mesh = item.data
    uv = mesh.uv_layers.new(name="map")
    for loop in mesh.loops:
        co = mesh.vertices[loop.vertex_index].co
        uv.uv[loop.index].vector = (3 * co.x + co.z, co.z - co.x)
    for name in ("skin", "cloth"):
        mesh.materials.append(bpy.data.materials.new(name))
    for polygon in mesh.polygons:
        polygon.material_index = int(polygon.center.x > 0.1)
    heat = mesh.attributes.new("heat", "FLOAT", "POINT")
    heat.data.foreach_set("value", [v.co.x + 2 * v.co.z for v in mesh.vertices])
    group = item.vertex_groups.new(name="arm")
    for v in mesh.vertices:
        group.add([v.index], v.co.x / 0.2, "REPLACE")
    item.shape_key_add(name="Basis")
    key = item.shape_key_add(name="Swell")
    for v in mesh.vertices:
        key.data[v.index].co.y = v.co.x
    mesh.edges[0].use_edge_sharp = True
    sharp = sum((mesh.vertices[a].co - mesh.vertices[b].co).length for e in mesh.edges
                if e.use_edge_sharp for a, b in [e.vertices])
    cut(scene, item, ([(0.01, 0, 0.0), (0.03, 0, 0.11), (0.2, 0, 0.17)], SEAM))
    assert not mesh.validate(verbose=False)
    position = np.array([v.co for v in mesh.vertices])
    for loop in mesh.loops:
        x, _, z = position[loop.vertex_index]
        assert np.allclose(mesh.uv_layers["map"].uv[loop.index].vector, (3 * x + z, z - x),
                           atol=1e-6)
    for polygon in mesh.polygons:
        assert polygon.material_index == int(polygon.center.x > 0.1)
    values = np.array([d.value for d in mesh.attributes["heat"].data])
    assert np.allclose(values, position[:, 0] + 2 * position[:, 2], atol=1e-6)
    for v in mesh.vertices:
        assert group.weight(v.index) == pytest.approx(v.co.x / 0.2, abs=1e-5)
    swell = np.array([p.co for p in mesh.shape_keys.key_blocks["Swell"].data])
    assert np.allclose(swell[:, 1], position[:, 0], atol=1e-6)
    assert sharp == pytest.approx(sum(
        (mesh.vertices[a].co - mesh.vertices[b].co).length for e in mesh.edges
        if e.use_edge_sharp for a, b in [e.vertices]))
    # The line crosses the trench, of which both halves stay.
    trench = [e for e, d in zip(mesh.edges, mesh.attributes["foamwright_trench"].data,
                                strict=True) if d.value]
    assert len(trench) == 2
    assert sum(abs(np.diff(position[list(e.vertices), 2])[0]) for e in trench) == pytest.approx(
        0.04)


def test_a_line_may_end_and_bend_inside_faces(scene, sheet):
    mesh = sheet.data
    points = [(0.013, 0, 0.017), (0.1, 0, 0.11), (0.11, 0, 0.02), (0.183, 0, 0.19)]
    cut(scene, sheet, (points, TRENCH))
    assert not mesh.validate(verbose=False)
    assert area(mesh) == pytest.approx(0.04, rel=1e-6)
    flags = [d.value for d in mesh.attributes["foamwright_trench"].data]
    length = sum((mesh.vertices[a].co - mesh.vertices[b].co).length
                 for e, on in zip(mesh.edges, flags, strict=True) if on for a, b in [e.vertices])
    straight = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert length == pytest.approx(straight, rel=5e-3)


def test_custom_normals_stay(scene, sheet):
    mesh = sheet.data
    wanted = np.array([(np.sin(3 * v.co.x), -np.cos(3 * v.co.x), 0) for v in mesh.vertices])
    mesh.normals_split_custom_set_from_vertices(wanted)
    cut(scene, sheet, (LINE, SEAM))
    assert mesh.has_custom_normals and "foamwright_normal" not in mesh.attributes
    for loop in mesh.loops:
        x = mesh.vertices[loop.vertex_index].co.x
        assert np.allclose(mesh.corner_normals[loop.index].vector,
                           (np.sin(3 * x), -np.cos(3 * x), 0), atol=5e-3)


def test_crooked_polygons_keep_their_shape(scene, add_object):
    # Quads that are not flat: the surface is that of their triangles, and stays it.
    x, z = np.meshgrid(np.linspace(0, 0.2, 5), np.linspace(0, 0.2, 5))
    y = 0.3 * (x - 0.1) * (z - 0.07)
    corner = (np.arange(4)[:, None] * 5 + np.arange(4)).ravel()
    item = add_object("crooked", np.column_stack([x.ravel(), y.ravel(), z.ravel()]),
                      np.stack([corner, corner + 1, corner + 6, corner + 5], axis=1))
    mesh = item.data
    mesh.calc_loop_triangles()
    before = sum(t.area for t in mesh.loop_triangles)
    cut(scene, item, ([(0, 0.3 * -0.1 * -0.057, 0.013), (0.2, 0.3 * 0.1 * 0.1, 0.17)], SEAM))
    mesh.calc_loop_triangles()
    assert sum(t.area for t in mesh.loop_triangles) == pytest.approx(before, rel=1e-6)
    assert seam_length(mesh) > 0.25


def test_a_line_off_the_mesh_changes_nothing(scene, sheet, fingerprint):
    from addon.core.errors import FoamError

    before = fingerprint()
    with pytest.raises(FoamError, match="guide-off-surface"):
        cut(scene, sheet, (LINE, SEAM), (LINE + [0, 0.1, 0], SEAM))
    sheet.modifiers.new("Multires", "MULTIRES")
    between = fingerprint()
    with pytest.raises(FoamError, match="multires-not-cut"):
        cut(scene, sheet, (LINE, SEAM))
    assert fingerprint() == between != before


def test_a_mesh_of_another_file_and_a_flattened_object_are_not_cut(scene, sheet, tmp_path):
    from addon.core.errors import FoamError

    sheet.scale.z = 0
    bpy.context.view_layer.update()
    with pytest.raises(FoamError, match="zero-scale"):
        cut(scene, sheet, (LINE * [1, 1, 0], SEAM))
    sheet.scale.z = 1
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "library.blend"))
    bpy.ops.wm.read_factory_settings(use_empty=True)
    with bpy.data.libraries.load(str(tmp_path / "library.blend"), link=True) as (_, wanted):
        wanted.objects = ["sheet"]
    scene, item = bpy.context.scene, wanted.objects[0]
    scene.collection.objects.link(item)
    bpy.context.view_layer.update()
    vertices = len(item.data.vertices)
    with pytest.raises(FoamError, match="of-another-file"):
        cut(scene, item, (LINE, SEAM))
    assert len(item.data.vertices) == vertices
    assert draw(*LINE, sculpt="sheet") == {"FINISHED"} and len(lines()) == 1


# --- the operators -------------------------------------------------------------


def draw(*points, undo=False, **more):
    return bpy.ops.foamwright.draw_line(
        "EXEC_DEFAULT", undo, points=[{"name": "", "place": p} for p in points], **more)


def test_a_line_is_drawn_from_points(scene, sheet, read, fingerprint):
    before = len(sheet.data.vertices)
    assert draw(*LINE, kind="TRENCH") == {"FINISHED"}
    (line,) = lines()
    assert line.foamwright.guide == "TRENCH" and line.parent == sheet
    assert len(sheet.data.vertices) == before  # the mesh is as it was
    (guide,) = read(sheet)[0].guides
    assert np.allclose(guide.points[[0, -1]], 1000 * LINE, atol=1e-3)


def test_a_curved_and_a_closed_line(scene, sheet, read):
    corners = [(0.05, 0, 0.05), (0.15, 0, 0.06), (0.14, 0, 0.15), (0.05, 0, 0.14)]
    draw(*corners, closed=True)
    draw(*corners, closed=True, fair=True)
    straight, fair = read(sheet)[0].guides
    assert straight.closed and fair.closed and len(straight.points) == 4 < len(fair.points)
    assert not np.allclose(fair.points[0], fair.points[-1])
    assert len(check(read(sheet)[0], read_settings(scene)).pieces) >= 2


def test_drawing_in_edit_mode_and_on_a_named_object(scene, sheet, add_sheet):
    other = add_sheet("other")
    bpy.ops.object.mode_set(mode="EDIT")
    assert draw(*LINE, sculpt="other") == {"FINISHED"}
    assert bpy.context.mode == "OBJECT" and lines()[0].parent == other


@pytest.mark.parametrize("cut", [False, True])
def test_a_line_is_undone_in_one_step(scene, sheet, cut):
    bpy.ops.ed.undo_push(message="Before")
    assert draw(*LINE, undo=True, cut=cut) == {"FINISHED"}
    assert len(bpy.data.objects["sheet"].data.polygons) == (40 if cut else 30)
    assert len(lines()) == (0 if cut else 1)
    bpy.ops.ed.undo()
    assert len(bpy.data.objects["sheet"].data.polygons) == 30 and not lines()
    bpy.ops.ed.redo()
    assert len(bpy.data.objects["sheet"].data.polygons) == (40 if cut else 30)
    assert len(lines()) == (0 if cut else 1)


@pytest.mark.parametrize("points", [[], [LINE[0]], [LINE[0], LINE[0]],
                                    [LINE[0], LINE[1] + [0, 0.1, 0]]])
def test_what_cannot_be_drawn_changes_nothing(scene, sheet, fingerprint, points):
    before = fingerprint()
    with pytest.raises(RuntimeError, match="line"):
        draw(*points)
    assert fingerprint() == before


def test_lines_are_cut_into_the_mesh_later(scene, sheet):
    draw(*LINE)
    assert bpy.ops.foamwright.cut_lines() == {"FINISHED"}
    assert not lines() and not bpy.data.curves
    assert seam_length(sheet.data) == pytest.approx(np.hypot(0.2, 0.157), rel=1e-3)


def test_where_one_of_two_cannot_be_cut_neither_is(scene, sheet, add_sheet, fingerprint):
    other = add_sheet("other")
    other.select_set(True)
    draw(*LINE)
    draw(*LINE, sculpt="other")
    other.modifiers.new("Multires", "MULTIRES")
    before = fingerprint()
    with pytest.raises(RuntimeError, match="Multires"):
        bpy.ops.foamwright.cut_lines()
    assert fingerprint() == before and len(lines()) == 2


def test_lines_are_removed(scene, sheet):
    draw(*LINE)
    draw(*LINE[::-1], kind="SCORE")
    line = lines()[0]
    sheet.select_set(False)
    line.select_set(True)
    assert bpy.ops.foamwright.remove_line() == {"FINISHED"}
    assert len(lines()) == 1
    assert not bpy.ops.foamwright.remove_line.poll()
    sheet.select_set(True)
    assert bpy.ops.foamwright.remove_line() == {"FINISHED"}
    assert not lines()


# --- with the pointer ------------------------------------------------------------


class Pointer:
    """The operator with stand-ins for window and view: pixels are millimetres on the sheet."""

    def __init__(self, monkeypatch, item):
        from addon.blender.operators import draw_line

        self.module, self.item = draw_line, item
        monkeypatch.setattr(draw_line, "_under", lambda context, event: item)
        monkeypatch.setattr(draw_line, "_place", lambda context, event, sketch: (
            sketch.hit(np.array([event.mouse_region_x, -900.0, event.mouse_region_y]),
                       np.array([0.0, 1, 0])), 4.0))
        names = [n for n in vars(draw_line.DrawLine) if n.startswith("_") and not
                 n.startswith("__") and callable(getattr(draw_line.DrawLine, n))]
        self.type = type("Standing", (), {n: vars(draw_line.DrawLine)[n] for n in names})
        self.me = self.type()
        self.me._sketch = self.me._hover = self.me._handle = None
        self.me._near = self.me._held = -1
        self.me._moved = self.me.fair = self.me.cut = self.me.closed = False
        self.me.sculpt, self.me.done = "", []
        self.me.points = bpy.context.window_manager.operator_properties_last(
            "foamwright.draw_line").points
        self.me.execute = self.execute
        self.headers = []
        sidebar = types.SimpleNamespace(type="UI", x=400, y=0, width=100, height=500)
        area = types.SimpleNamespace(header_text_set=self.headers.append,
                                     tag_redraw=lambda: None, regions=[sidebar])
        region = types.SimpleNamespace(width=500, height=500)
        self.context = types.SimpleNamespace(
            area=area, region=region, scene=bpy.context.scene, object=item,
            workspace=types.SimpleNamespace(status_text_set=lambda text: None))

    def execute(self, context):
        self.me.done.append([tuple(p.place) for p in self.me.points])
        return {"FINISHED"}

    def __call__(self, name, value="PRESS", at=None, ctrl=False):
        if at is not None:
            self.at = at
        event = types.SimpleNamespace(type=name, value=value, ctrl=ctrl, mouse_region_x=self.at[0],
                                      mouse_region_y=self.at[1], mouse_x=self.at[0],
                                      mouse_y=self.at[1])
        return self.me._event(self.context, event)

    def click(self, *at):
        self("MOUSEMOVE", at=at)
        self("LEFTMOUSE")
        self("LEFTMOUSE", "RELEASE")

    @property
    def picks(self):
        return np.round(np.array(self.me._sketch.picks)[:, [0, 2]], 3).tolist()


@pytest.fixture
def pointer(monkeypatch, scene, sheet):
    draw(*LINE)  # so that the operator has properties to stand in for
    guides.remove(lines()[0])
    return Pointer(monkeypatch, sheet)


def test_clicks_add_drag_remove_and_confirm(pointer, fingerprint):
    before = fingerprint()
    pointer.click(20, 30)
    pointer.click(90, 120)
    pointer.click(150, 60)
    assert pointer.picks == [[20, 30], [90, 120], [150, 60]]
    pointer("MOUSEMOVE", at=(91, 121))
    assert pointer.me._near == 1
    pointer("LEFTMOUSE")
    pointer("MOUSEMOVE", at=(80, 100))
    pointer("LEFTMOUSE", "RELEASE")
    assert pointer.picks == [[20, 30], [80, 100], [150, 60]]
    pointer("BACK_SPACE")
    assert pointer.picks == [[20, 30], [80, 100]]
    assert fingerprint() == before  # nothing is part of the file yet
    assert pointer("RET") == {"FINISHED"}
    assert np.allclose(pointer.me.done, [[(0.02, 0, 0.03), (0.08, 0, 0.1)]], atol=1e-6)
    assert pointer.me.sculpt == "sheet" and pointer.headers[-1] is None


def test_escape_leaves_everything_as_it_was(pointer, fingerprint):
    before = fingerprint()
    pointer.click(20, 30)
    pointer.click(90, 120)
    assert pointer("ESC") == {"CANCELLED"}
    assert fingerprint() == before and not pointer.me.done and pointer.me._sketch is None
    assert pointer.headers[-1] is None


def test_the_line_is_seen_while_it_is_drawn(pointer):
    assert pointer.me._shown()[0] == []
    pointer.click(20, 30)
    pointer("MOUSEMOVE", at=(120, 70))
    (line,), picks, near = pointer.me._shown()
    assert np.allclose(line[[0, -1]], [(0.02, 0, 0.03), (0.12, 0, 0.07)]) and len(picks) == 1
    pointer.click(120, 70)
    pointer.click(60, 150)
    pointer("MOUSEMOVE", at=(500, 500))  # off the sheet
    assert len(pointer.me._shown()[0]) == 2
    pointer("C")
    assert pointer.me._sketch.closed and len(pointer.me._shown()[0]) == 3
    assert "C: close ✓" in pointer.headers[-1]
    pointer("F")
    assert len(pointer.me._shown()[0]) == 1 and len(pointer.me._shown()[0][0]) > 20
    assert "Esc" in pointer.headers[-1] and "Backspace" in pointer.headers[-1]


def test_a_click_on_the_first_point_closes(pointer):
    for at in ((20, 30), (120, 40), (70, 150)):
        pointer.click(*at)
    pointer.click(21, 30)
    assert pointer.me._sketch.closed and len(pointer.picks) == 3


def test_the_line_is_drawn_to_ends_lines_and_rims(pointer, sheet):
    guides.add_guide(bpy.context.scene, sheet, LINE, "SEAM")
    pointer.click(100, 2)  # the lower rim
    assert pointer.picks[-1] == [100, 0]
    pointer.click(2, 14)  # the end of the line rather than the rim
    assert np.allclose(pointer.picks[-1], [0, 13], atol=1e-3)


def test_the_sidebar_and_the_view_stay_in_reach(pointer):
    pointer.click(20, 30)
    pointer("MOUSEMOVE", at=(450, 30))
    assert pointer("LEFTMOUSE") == {"PASS_THROUGH"} and len(pointer.picks) == 1
    assert pointer("MIDDLEMOUSE") == {"PASS_THROUGH"} == pointer("WHEELUPMOUSE")
    assert pointer("A") is None  # other keys would do something to the file meanwhile


def test_one_point_is_no_line(pointer):
    from addon.core.errors import FoamError

    pointer.click(100, 50)
    with pytest.raises(FoamError, match="two points"):
        pointer("RET")
    assert len(pointer.picks) == 1
