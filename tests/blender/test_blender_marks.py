"""Marking in Edit Mode: what operators do to the mesh, and what they leave alone."""

import math

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

import bmesh  # noqa: E402

from addon.blender.guides import add_guide, guides_of, world_polylines  # noqa: E402
from addon.blender.marks import KINDS, read_marks  # noqa: E402
from addon.core.model import SCORE, SEAM, TRENCH  # noqa: E402


@pytest.fixture
def edit():
    """edit(*objects): select them and enter Edit Mode with nothing selected inside."""

    def enter(*items):
        for item in items:
            item.select_set(True)
        bpy.context.view_layer.objects.active = items[0]
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.context.tool_settings.mesh_select_mode = (False, True, False)
        bpy.ops.mesh.select_all(action="DESELECT")

    return enter


def choose(item, *pairs):
    bm = bmesh.from_edit_mesh(item.data)
    bm.verts.ensure_lookup_table()
    for edge in bm.edges:
        edge.select_set(tuple(sorted(v.index for v in edge.verts)) in pairs)
    bmesh.update_edit_mesh(item.data)


def chosen(item):
    return {tuple(sorted(v.index for v in e.verts))
            for e in bmesh.from_edit_mesh(item.data).edges if e.select}


def marks_of(item):
    item.update_from_editmode()
    mesh = item.data.copy()
    edges, kinds = read_marks(mesh)
    bpy.data.meshes.remove(mesh)
    return {tuple(sorted(e)): k for e, k in zip(edges.tolist(), kinds.tolist(), strict=True)}


@pytest.mark.parametrize("kind", KINDS)
def test_a_mark_is_set_found_and_cleared(add_sheet, edit, kind):
    item = add_sheet()
    edit(item)
    choose(item, (1, 4), (4, 7))
    assert bpy.ops.foamwright.mark_edges(kind=kind) == {"FINISHED"}
    assert marks_of(item) == {(1, 4): KINDS[kind], (4, 7): KINDS[kind]}
    choose(item, (0, 1))
    assert bpy.ops.foamwright.select_marked(kind=kind) == {"FINISHED"}
    assert chosen(item) == {(1, 4), (4, 7)}
    choose(item, (1, 4))
    bpy.ops.foamwright.mark_edges(kind=kind, clear=True)
    assert marks_of(item) == {(4, 7): KINDS[kind]}
    bpy.ops.object.mode_set(mode="OBJECT")
    assert [e.use_seam for e in item.data.edges].count(True) == (kind == "SEAM")


def test_an_edge_carries_one_mark(add_sheet, edit):
    item = add_sheet(seams=[(1, 4)], scores=[(3, 4)])
    edit(item)
    choose(item, (1, 4), (3, 4))
    bpy.ops.foamwright.mark_edges(kind="TRENCH")
    assert marks_of(item) == {(1, 4): TRENCH, (3, 4): TRENCH}


def test_clearing_one_kind_leaves_the_others(add_sheet, edit):
    item = add_sheet(seams=[(1, 4)], scores=[(3, 4)])
    edit(item)
    choose(item, (1, 4), (3, 4))
    bpy.ops.foamwright.mark_edges(kind="SEAM", clear=True)
    assert marks_of(item) == {(3, 4): SCORE}


def test_selection_can_be_extended(add_sheet, edit):
    item = add_sheet(trenches=[(1, 4)])
    edit(item)
    choose(item, (0, 1))
    bpy.ops.foamwright.select_marked(kind="TRENCH", extend=True)
    assert chosen(item) == {(0, 1), (1, 4)}


def test_marking_nothing_is_cancelled_and_adds_no_attribute(add_sheet, edit):
    item = add_sheet()
    edit(item)
    assert bpy.ops.foamwright.mark_edges(kind="TRENCH") == {"CANCELLED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    assert "foamwright_trench" not in item.data.attributes


def test_all_meshes_in_edit_mode_are_marked(add_sheet, edit):
    one, two = add_sheet("one"), add_sheet("two")
    edit(one, two)
    choose(one, (1, 4))
    choose(two, (3, 4))
    bpy.ops.foamwright.mark_edges(kind="SCORE")
    assert marks_of(one) == {(1, 4): SCORE} and marks_of(two) == {(3, 4): SCORE}


@pytest.mark.parametrize(("angle", "expected"), [(89, 12), (91, 0)])
def test_a_cube_folds_by_90_degrees_everywhere(add_object, edit, angle, expected):
    item = cube(add_object)
    edit(item)
    result = bpy.ops.foamwright.seams_from_sharp(angle=math.radians(angle))
    assert result == ({"FINISHED"} if expected else {"CANCELLED"})
    assert list(marks_of(item).values()) == [SEAM] * expected


def test_marks_survive_modes_join_save_and_load(add_sheet, edit, tmp_path):
    item, other = add_sheet("one", trenches=[(1, 4)]), add_sheet("two", scores=[(3, 4)])
    edit(item)
    choose(item, (4, 5))
    bpy.ops.foamwright.mark_edges(kind="SEAM")
    bpy.ops.object.mode_set(mode="OBJECT")
    other.select_set(True)
    bpy.ops.object.join()
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    found = marks_of(bpy.data.objects["one"])
    assert found == {(1, 4): TRENCH, (4, 5): SEAM, (12, 13): SCORE}


def test_a_mark_is_undone_in_one_step(add_sheet, edit):
    item = add_sheet(seams=[(0, 1)])
    edit(item)
    choose(item, (1, 4))
    bpy.ops.ed.undo_push(message="Before")
    # The second argument asks for an undo step, as a click does.
    bpy.ops.foamwright.mark_edges("EXEC_DEFAULT", True, kind="TRENCH")
    assert marks_of(item) == {(0, 1): SEAM, (1, 4): TRENCH}
    bpy.ops.ed.undo()
    item = bpy.data.objects["sheet"]
    assert marks_of(item) == {(0, 1): SEAM}
    bpy.ops.ed.redo()
    assert marks_of(bpy.data.objects["sheet"]) == {(0, 1): SEAM, (1, 4): TRENCH}


def cube(add_object, **marks):
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    return add_object("cube", corners, [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6],
                                        [0, 2, 6, 4], [1, 5, 7, 3]], **marks)


def test_a_sharp_fold_that_carries_a_mark_keeps_it(add_object, edit):
    item = cube(add_object, trenches=[(0, 1)])
    edit(item)
    bpy.ops.foamwright.seams_from_sharp(kind="SCORE")
    found = marks_of(item)
    assert found.pop((0, 1)) == TRENCH and list(found.values()) == [SCORE] * 11


def test_edges_marked_sharp_by_hand_can_be_taken_too(add_sheet, edit):
    item = add_sheet()
    edit(item)
    choose(item, (1, 4))
    bpy.ops.mesh.mark_sharp()
    assert bpy.ops.foamwright.seams_from_sharp() == {"CANCELLED"}
    bpy.ops.foamwright.seams_from_sharp(flagged=True)
    assert marks_of(item) == {(1, 4): SEAM}


@pytest.mark.parametrize(("domain", "kind"), [("POINT", "FLOAT"), ("EDGE", "FLOAT")])
def test_a_foreign_attribute_of_the_same_name_is_refused_and_kept(add_sheet, edit, domain, kind):
    item = add_sheet(seams=[(1, 4)])
    item.data.attributes.new("foamwright_trench", kind, domain)
    edit(item)
    choose(item, (1, 4))
    with pytest.raises(RuntimeError, match="foamwright_trench"):
        bpy.ops.foamwright.mark_edges(kind="TRENCH")
    assert marks_of(item) == {(1, 4): SEAM}
    bpy.ops.foamwright.mark_edges(kind="SCORE")
    assert marks_of(item) == {(1, 4): SCORE}
    bpy.ops.object.mode_set(mode="OBJECT")
    attribute = item.data.attributes["foamwright_trench"]
    assert (attribute.domain, attribute.data_type) == (domain, kind)


def centred(item):
    for vertex in item.data.vertices:
        vertex.co.x -= 0.1
    return item


def test_marks_are_mirrored_across_the_objects_own_axis(add_sheet, edit):
    # Columns of points at -0.1, 0 and 0.1, so that 3 to 4 is across from 5 to 4.
    item = centred(add_sheet(trenches=[(4, 5)], seams=[(4, 7)], scores=[(3, 4), (0, 3)]))
    item.location.x, item.rotation_euler.z = 3.0, 0.7
    edit(item)
    assert bpy.ops.foamwright.mirror_marks() == {"FINISHED"}
    assert marks_of(item) == {(3, 4): TRENCH, (4, 5): TRENCH, (4, 7): SEAM}
    assert bpy.ops.foamwright.mirror_marks() == {"CANCELLED"}


def test_marks_are_mirrored_up_and_down_and_both_ways(add_sheet, edit):
    item = centred(add_sheet(trenches=[(0, 1)], seams=[(7, 8)]))
    for vertex in item.data.vertices:
        vertex.co.z -= 0.1
    edit(item)
    bpy.ops.foamwright.mirror_marks(axis="Z", direction="BOTH")
    assert marks_of(item) == {(0, 1): TRENCH, (6, 7): TRENCH, (7, 8): SEAM, (1, 2): SEAM}


def test_marked_edges_without_a_mirror_image_are_selected(add_sheet, edit):
    item = centred(add_sheet(seams=[(4, 5), (1, 2)]))
    item.data.vertices[0].co.z -= 0.02
    item.scale = (0.5, 0.5, 0.5)  # 20 mm as modelled, 10 mm on the wearer
    edit(item)
    assert bpy.ops.foamwright.mirror_marks(tolerance=9.0) == {"FINISHED"}
    assert marks_of(item) == {(3, 4): SEAM, (4, 5): SEAM, (1, 2): SEAM}
    assert chosen(item) == {(1, 2)}
    bpy.ops.foamwright.mirror_marks(tolerance=11.0)
    assert (0, 1) in marks_of(item)


def test_marks_are_mirrored_in_object_mode_too(add_sheet):
    item = centred(add_sheet(trenches=[(4, 5)], scores=[(3, 4)]))
    assert not bpy.ops.foamwright.mirror_marks.poll()
    item.select_set(True)
    assert bpy.ops.foamwright.mirror_marks() == {"FINISHED"}
    edges, kinds = read_marks(item.data)
    assert edges.tolist() == [[3, 4], [4, 5]] and kinds.tolist() == [TRENCH, TRENCH]
    assert bpy.ops.foamwright.mirror_marks() == {"CANCELLED"}


def test_lines_across_faces_are_mirrored(scene, add_sheet):
    item = centred(add_sheet())
    item.location.x = 2.0
    bpy.context.view_layer.update()
    item.select_set(True)
    right = np.array([[2.03, 0.0, 0.02], [2.08, 0.0, 0.1], [2.05, 0.0, 0.15]])
    across = np.array([[1.95, 0.0, 0.1], [2.05, 0.0, 0.1]])  # its own mirror image
    add_guide(scene, item, right, "SEAM")
    add_guide(scene, item, across, "TRENCH")
    assert bpy.ops.foamwright.mirror_marks(direction="NEGATIVE") == {"CANCELLED"}
    assert bpy.ops.foamwright.mirror_marks() == {"FINISHED"}
    found = [(o.foamwright.guide, world_polylines(o)[0][0]) for o in guides_of(scene, item)]
    assert sorted(kind for kind, _ in found) == ["SEAM", "SEAM", "TRENCH"]
    made = min((points for kind, points in found if kind == "SEAM"), key=lambda p: p[0, 0])
    assert made == pytest.approx(right * [-1, 1, 1] + [4.0, 0.0, 0.0], abs=1e-6)
    assert bpy.ops.foamwright.mirror_marks(direction="BOTH") == {"CANCELLED"}


def test_mirroring_is_undone_in_one_step(add_sheet, edit):
    item = centred(add_sheet(seams=[(4, 5)]))
    edit(item)
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.foamwright.mirror_marks("EXEC_DEFAULT", True)
    assert len(marks_of(item)) == 2
    bpy.ops.ed.undo()
    assert marks_of(bpy.data.objects["sheet"]) == {(4, 5): SEAM}


def test_marking_needs_edit_mode(add_sheet):
    bpy.context.view_layer.objects.active = add_sheet()
    for name in ("mark_edges", "seams_from_sharp", "select_marked", "mirror_marks"):
        assert not getattr(bpy.ops.foamwright, name).poll()
