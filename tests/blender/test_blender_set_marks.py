"""Rows and single marks without a cut are set in Blender and read into the sculpt."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import guides, markings  # noqa: E402
from addon.blender.changes import signature  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402


def chosen(item, mode, test):
    """Go to Edit Mode with those elements selected whose middle (3,) passes a test."""
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.context.tool_settings.mesh_select_mode = (mode == "VERT", mode == "EDGE", False)
    bpy.ops.mesh.select_all(action="DESELECT")
    import bmesh

    bm = bmesh.from_edit_mesh(item.data)
    for element in bm.verts if mode == "VERT" else bm.edges:
        at = element.co if mode == "VERT" else sum((v.co for v in element.verts[1:]),
                                                   element.verts[0].co.copy()) / 2
        element.select_set(bool(test(np.array(at))))
    bm.select_flush_mode()


def test_selected_edges_become_a_row_beside_the_rim(scene, add_sheet, read):
    sheet = add_sheet(columns=10, rows=10, width=0.2, height=0.2)
    chosen(sheet, "EDGE", lambda at: at[2] < 1e-6)
    assert bpy.ops.foamwright.set_marks(kind="RIVET") == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    row, = (o for o in scene.objects if markings.is_marking(o))
    group = row.foamwright.marking
    group.count, group.first, group.last, group.inset, group.length = (
        5, "20 mm", "2 cm", "1/2 in", "12")
    marking, = read(sheet)[0].markings
    assert (marking.kind, marking.row, marking.count, marking.object) == ("rivet", True, 5, 0)
    assert marking.inset == pytest.approx(12.7)
    piece, = check(read(sheet)[0], read_settings(scene)).pieces
    places = np.array(sorted(m.place.tolist() for m in piece.point_marks))
    assert places[:, 0] == pytest.approx([20, 60, 100, 140, 180], abs=1e-3)
    assert places[:, 2] == pytest.approx(12.7, abs=1e-3)
    sheet.scale = (2.0, 2.0, 2.0)  # it goes along, and sizes stay
    bpy.context.view_layer.update()
    piece, = check(read(sheet)[0], read_settings(scene)).pieces
    places = np.array(sorted(m.place.tolist() for m in piece.point_marks))
    assert places[:, 0] == pytest.approx([20, 110, 200, 290, 380], abs=1e-3)


def test_selected_vertices_become_single_marks(scene, add_sheet, read):
    sheet = add_sheet(columns=4, rows=4)
    chosen(sheet, "VERT", lambda at: abs(at[0] - 0.1) < 1e-6 and 0.04 < at[2] < 0.16)
    assert bpy.ops.foamwright.set_marks(kind="DRILL") == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    found = read(sheet)[0].markings
    assert sorted(m.points[0].round(3).tolist() for m in found) == [
        [100, 0, 50], [100, 0, 100], [100, 0, 150]]
    pattern = check(read(sheet)[0], read_settings(scene))
    assert len(pattern.pieces[0].point_marks) == 3
    assert not [f for f in pattern.findings if f.code.startswith("mark-")]


def test_nothing_selected_sets_nothing(scene, add_sheet):
    chosen(add_sheet(), "EDGE", lambda at: False)
    assert bpy.ops.foamwright.set_marks(kind="HOLE") == {"CANCELLED"}


def test_a_mark_is_set_at_the_cursor_and_a_row_along_a_line(scene, add_sheet, read):
    sheet = add_sheet(columns=4, rows=4)
    bpy.context.view_layer.objects.active = sheet
    scene.cursor.location = (0.05, -0.03, 0.08)
    assert bpy.ops.foamwright.set_marks(kind="HOLE") == {"FINISHED"}
    mark, = read(sheet)[0].markings
    assert mark.points[0] == pytest.approx([50, 0, 80], abs=1e-3)
    line = guides.add_guide(scene, sheet, np.array([(0.02, 0, 0.1), (0.18, 0, 0.1)]), "SCORE")
    bpy.ops.object.select_all(action="DESELECT")
    line.select_set(True)
    assert bpy.ops.foamwright.set_marks(kind="PATCH") == {"FINISHED"}
    assert sorted(m.kind for m in read(sheet)[0].markings) == ["hole", "patch"]
    assert bpy.context.object.foamwright.marking.kind == "PATCH"


def test_no_active_sculpt_is_told(scene):
    with pytest.raises(RuntimeError, match="No sculpt is active"):
        bpy.ops.foamwright.set_marks(kind="HOLE")


def test_nonsense_leaves_the_mark_out_and_says_so(scene, add_sheet, read):
    sheet = add_sheet()
    mark = markings.add_point(scene, sheet, np.array((0.1, 0.0, 0.1)), "HOLE")
    mark.foamwright.marking.length = "a bit"
    sculpt, _ = read(sheet)
    assert sculpt.markings == ()
    told, = (f for f in sculpt.findings if f.code == "mark-unreadable")
    assert mark.name in told.message
    mark.foamwright.marking.length = "6 mm"
    assert len(read(sheet)[0].markings) == 1
    mark.foamwright.leave_out = True
    assert read(sheet)[0].markings == ()


def test_a_size_that_is_changed_is_a_change(scene, add_sheet, read):
    sheet = add_sheet()
    mark = markings.add_point(scene, sheet, np.array((0.1, 0.0, 0.1)), "HOLE")
    before = signature(read(sheet)[0], read_settings(scene))
    assert signature(read(sheet)[0], read_settings(scene)) == before
    mark.foamwright.marking.length = "6 mm"
    assert signature(read(sheet)[0], read_settings(scene)) != before


def test_marks_come_back_from_a_saved_file(scene, add_sheet, read, tmp_path):
    sheet = add_sheet()
    sheet.foamwright.include = True
    mark = markings.add_point(scene, sheet, np.array((0.1, 0.0, 0.1)), "CIRCLE")
    mark.foamwright.marking.stock = "eva-2"
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "m.blend"))
    from addon.blender.read import read_blend

    sculpt, _ = read_blend(tmp_path / "m.blend")
    mark, = sculpt.markings
    assert (mark.kind, mark.stock) == ("circle", "eva-2")


def test_the_edges_of_a_rim_become_an_edge_strip(scene, add_sheet, read):
    sheet = add_sheet(columns=6, rows=6)
    rim = lambda at: min(at[0], at[2], 0.2 - at[0], 0.2 - at[2]) < 1e-6  # noqa: E731
    chosen(sheet, "EDGE", rim)
    assert bpy.ops.foamwright.set_marks(kind="STRIP") == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    item, = (o for o in scene.objects if markings.is_marking(o))
    group = item.foamwright.marking
    group.width, group.stock = "1/2 in", "eva-2"
    line, = read(sheet)[0].strips
    assert line.closed and line.width == pytest.approx(12.7) and line.stock.thickness == 2.0
    strip, = check(read(sheet)[0], read_settings(scene)).strips
    assert strip.piece.copies == 4 and strip.edge == pytest.approx(200.0, abs=1e-3)
    assert np.degrees([e.bevel for e in strip.ends]) == pytest.approx([45, 45], abs=1e-3)
    before = signature(read(sheet)[0], read_settings(scene))
    group.corners = "butt"
    assert signature(read(sheet)[0], read_settings(scene)) != before
    group.stock = "no such foam"
    sculpt, _ = read(sheet)
    assert sculpt.strips == () and "strip-unreadable" in [f.code for f in sculpt.findings]


def test_a_strip_without_a_line_is_told(scene, add_sheet):
    bpy.context.view_layer.objects.active = add_sheet()
    with pytest.raises(RuntimeError, match="A strip needs a line"):
        bpy.ops.foamwright.set_marks(kind="STRIP")
