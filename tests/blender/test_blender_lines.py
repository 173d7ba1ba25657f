"""Lines drawn across faces: kept as curves, read with the sculpt, cut into the mesh on request."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import guides  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402
from addon.core.model import TRENCH  # noqa: E402

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
