"""Lines drawn across faces: kept as curves, read with the sculpt, cut into the mesh on request."""

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
    line.location.x += 0.01  # in the object's own space
    moved = read(sheet)[0].guides[0].points - 1000 * (world + [1, 0, 0])
    assert np.allclose(moved, 10 * place[:3, 0], atol=1e-3)


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
    sculpt, _ = read(sheet)
    (found,) = [f for f in sculpt.findings if f.code == "line-without-sculpt"]
    assert "“Lost”" in found.message and not sculpt.guides


def test_a_rounded_curve_is_followed(scene, sheet, read):
    line = guides.add_guide(scene, sheet, LINE, "SEAM")
    line.data.splines.clear()
    spline = line.data.splines.new("BEZIER")
    spline.bezier_points.add(1)
    for point, place, up in zip(spline.bezier_points, LINE, (0.1, 0.0), strict=True):
        point.co, point.handle_left, point.handle_right = place, place, place + [0, 0, up]
    (guide,) = read(sheet)[0].guides
    assert len(guide.points) > 5 and np.allclose(guide.points[[0, -1]], 1000 * LINE, atol=1e-3)


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
    from addon.blender.knife import cut_in
    from addon.core.model import Guide

    return cut_in(scene, item, [Guide(1000 * np.asarray(points), kind) for points, kind in lines])


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
