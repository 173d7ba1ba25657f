"""Blender's objects become a Sculpt in millimetres, and the maker's file stays as it was."""

import math

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender.read import mm_per_unit, suit_objects  # noqa: E402
from addon.core.errors import FoamError  # noqa: E402
from addon.core.mesh import face_normals  # noqa: E402
from addon.core.model import INNER, MIDDLE, OUTER, SCORE, SEAM, TRENCH  # noqa: E402


def codes(sculpt):
    return [f.code for f in sculpt.findings]


def size(sculpt):
    return np.ptp(sculpt.vertices, axis=0)


def area(sculpt, chosen=slice(None)):
    return face_normals(sculpt.vertices, sculpt.faces)[1][chosen].sum()


# --- units and transforms ----------------------------------------------------


@pytest.mark.parametrize(("system", "scale_length", "mm"), [
    ("METRIC", 1.0, 1000.0), ("METRIC", 0.01, 10.0), ("METRIC", 0.001, 1.0),
    ("IMPERIAL", 0.0254, 25.4),  # the inch is 25.4 mm exactly (1959 agreement)
    ("IMPERIAL", 0.3048, 304.8), ("NONE", 0.01, 1000.0),
])
def test_a_length_in_scene_units_is_read_in_mm(scene, add_sheet, read, system, scale_length, mm):
    scene.unit_settings.system = system
    scene.unit_settings.scale_length = scale_length
    sculpt, _ = read(add_sheet(width=4.0, height=2.0))
    assert size(sculpt) == pytest.approx([4 * mm, 0, 2 * mm], rel=1e-9)
    assert mm_per_unit(scene) == mm
    assert ("scene-without-units" in codes(sculpt)) == (system == "NONE")


def test_the_transform_of_object_and_parent_is_applied(add_sheet, read):
    item, parent = add_sheet(width=1.0, height=1.0), add_sheet("parent")
    item.scale, item.location = (2.0, 1.0, 0.5), (1.0, 0.0, 0.0)
    parent.rotation_euler, item.parent = (0.0, 0.0, math.radians(90)), parent
    sculpt, _ = read(item)
    low, high = sculpt.vertices.min(axis=0), sculpt.vertices.max(axis=0)
    assert low == pytest.approx([0, 1000, 0], abs=1e-3)
    assert high == pytest.approx([0, 3000, 500], abs=1e-3)


def test_negative_scale_keeps_the_outside_outside_and_is_told(add_sheet, read):
    item = add_sheet()
    straight, _ = read(item)
    item.scale.x = -1.0
    mirrored, _ = read(item)
    outward = face_normals(straight.vertices, straight.faces)[0]
    assert np.allclose(outward, [0, -1, 0])
    assert np.allclose(face_normals(mirrored.vertices, mirrored.faces)[0], [0, -1, 0])
    assert "negative-scale" in codes(mirrored) and "negative-scale" not in codes(straight)


@pytest.mark.parametrize("scale", [(1.0, 0.0, 1.0), (0.0, 0.0, 0.0)])
def test_a_scale_of_zero_is_refused_and_applying_it_is_the_remedy(add_sheet, read, scale):
    item = add_sheet(seams=[(1, 4), (4, 7)])
    item.scale, item.rotation_euler.x = scale, 0.3
    bpy.context.view_layer.update()
    with pytest.raises(FoamError) as caught:
        read(item)
    assert caught.value.finding.code == "zero-scale" and "sheet" in caught.value.finding.message
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    for name in ("check", "keep_lines"):
        with pytest.raises(RuntimeError, match="has a scale of 0. Apply the scale"):
            getattr(bpy.ops.foamwright, name)()
    bpy.ops.foamwright.apply_scale()
    assert len(read(item)[0].faces) == 8


def test_an_empty_mesh_is_read_beside_others_and_told_alone(add_object, add_sheet, read):
    nothing = add_object("nothing", np.empty((0, 3)), [])
    sheet = add_sheet()
    assert len(read(nothing, sheet)[0].faces) == 8
    nothing.select_set(True)
    with pytest.raises(RuntimeError, match="The sculpt has no faces"):
        bpy.ops.foamwright.check()
    sheet.select_set(True)
    for operator in (bpy.ops.foamwright.check, bpy.ops.foamwright.look_over):
        bpy.context.scene.foamwright.findings.clear()
        assert operator() == {"FINISHED"}
        assert "“nothing” has no faces to make of foam." in [
            each.message for each in bpy.context.scene.foamwright.findings]


def test_an_object_that_viewports_leave_out_is_read_with_its_modifiers(add_sheet, read):
    item = add_sheet()
    item.modifiers.new("finer", "SUBSURF").levels = 1
    shown = len(read(item)[0].vertices)
    item.hide_viewport = True
    assert len(read(item)[0].vertices) == shown == 25


def test_polygons_are_triangulated_and_remembered(add_object, read):
    # A regular hexagon of side 1: area 3/2 sqrt(3).
    angles = np.radians(np.arange(0, 360, 60))
    ring = np.stack([np.cos(angles), np.sin(angles), 0 * angles], axis=1)
    item = add_object("hexagon", np.vstack([ring, [[3, 0, 0], [4, 0, 0], [3, 1, 0]]]),
                      [[0, 1, 2, 3, 4, 5]])
    sculpt, _ = read(item)
    assert len(sculpt.faces) == 4 and set(sculpt.polygon) == {0}
    assert area(sculpt) == pytest.approx(1.5 * math.sqrt(3) * 1e6, rel=1e-6)
    assert len(sculpt.vertices) == 9  # loose points keep their place, so indices stay the maker's


# --- modifiers ---------------------------------------------------------------


def modifier(item, kind, **values):
    added = item.modifiers.new(kind.title(), kind)
    for name, value in values.items():
        setattr(added, name, value)
    return added


@pytest.mark.parametrize(("thickness", "offset", "side"), [
    (0.01, -1.0, OUTER), (0.01, 1.0, INNER), (0.01, 0.0, MIDDLE),
    (-0.01, -1.0, INNER), (-0.01, 1.0, OUTER),
])
def test_solidify_is_left_out_and_tells_the_face(
        add_sheet, read, fingerprint, thickness, offset, side):
    item = add_sheet()
    modifier(item, "SOLIDIFY", thickness=thickness, offset=offset)
    before = fingerprint()
    # Blender itself shows where the material goes: the outside of the sheet looks to -y.
    shown = item.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
    y = np.array([v.co.y for v in shown.vertices])
    assert {OUTER: y.min() >= -1e-6, INNER: y.max() <= 1e-6, MIDDLE: abs(y.sum()) < 1e-6}[side]
    sculpt, _ = read(item)
    assert len(sculpt.vertices) == 9 and sculpt.objects[0].side == side
    finding = next(f for f in sculpt.findings if f.code == "solidify-skipped")
    assert finding.severity == "note"
    assert fingerprint() == before and item.modifiers[0].show_viewport


def test_solidify_thicker_than_the_foam_is_a_warning(add_sheet, read):
    item = add_sheet()
    modifier(item, "SOLIDIFY", thickness=0.005, offset=-1.0)
    item.scale = (3.0, 3.0, 3.0)  # the modifier acts before the scale: 15 mm are shown
    sculpt, _ = read(item)
    finding = next(f for f in sculpt.findings if f.code == "solidify-skipped")
    assert finding.severity == "warning" and "15 mm" in finding.message


def test_a_face_chosen_on_the_object_wins_over_solidify(add_sheet, read):
    item = add_sheet()
    modifier(item, "SOLIDIFY", offset=-1.0)
    item.foamwright.side = INNER
    assert read(item)[0].objects[0].side == INNER


def test_marks_follow_subdivision(add_sheet, read):
    item = add_sheet(seams=[(1, 4), (4, 7)], trenches=[(3, 4)], scores=[(4, 5)])
    modifier(item, "SUBSURF", levels=2, subdivision_type="SIMPLE")
    sculpt, (source,) = read(item)
    for kind, number in ((SEAM, 2), (TRENCH, 1), (SCORE, 1)):
        ends = sculpt.vertices[sculpt.edges[sculpt.kinds == kind]]
        assert len(ends) == 4 * number  # two levels cut an edge in four
        length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()
        assert length == pytest.approx(100.0 * number, rel=1e-6)
    assert np.array_equal(np.bincount(source.origin), [16] * 4) and not source.same


def test_a_mirror_modifier_is_read_as_shown(add_sheet, read):
    item = add_sheet(trenches=[(3, 4)])
    modifier(item, "MIRROR")
    sculpt, _ = read(item)
    assert area(sculpt) == pytest.approx(2 * 200 * 200, rel=1e-6)
    assert (sculpt.kinds == TRENCH).sum() == 2
    assert len(np.unique(sculpt.vertices.round(3), axis=0)) == len(sculpt.vertices)


def test_a_modifier_that_needs_another_object_still_finds_it(add_sheet, read):
    item, other = add_sheet(), add_sheet("other")
    other.location.y = 0.5
    modifier(item, "SHRINKWRAP", target=other)
    assert read(item)[0].vertices[:, 1] == pytest.approx(500.0, abs=1e-3)


def test_marks_that_a_modifier_drops_are_told(add_sheet, read):
    item = add_sheet(seams=[(1, 4)])
    modifier(item, "REMESH", voxel_size=0.02)
    sculpt, (source,) = read(item)
    assert "marks-lost" in codes(sculpt) and (source.origin == -1).all()


# --- marks, modes and several objects ------------------------------------------


def test_marks_are_read_as_sorted_vertex_pairs(add_sheet, read):
    sculpt, (source,) = read(add_sheet(seams=[(7, 4)], trenches=[(4, 3)], scores=[(5, 4)]))
    found = {tuple(e): k for e, k in zip(sculpt.edges.tolist(), sculpt.kinds, strict=True)}
    assert found == {(4, 7): SEAM, (3, 4): TRENCH, (4, 5): SCORE}
    assert source.same


def test_an_attribute_of_another_kind_is_no_mark(add_sheet, read):
    item = add_sheet()
    item.data.attributes.new("foamwright_trench", "FLOAT", "POINT")
    assert not len(read(item)[0].edges)


def test_edit_mode_shows_what_was_just_changed(add_sheet, read):
    import bmesh

    item = add_sheet()
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode="EDIT")
    bm = bmesh.from_edit_mesh(item.data)
    bm.verts.ensure_lookup_table()
    bm.edges.get((bm.verts[1], bm.verts[4])).seam = True
    bm.verts[0].co.x = -0.1
    bmesh.update_edit_mesh(item.data)
    sculpt, (source,) = read(item)
    assert sculpt.edges.tolist() == [[1, 4]] and size(sculpt)[0] == pytest.approx(300, rel=1e-6)
    assert source.same
    assert item.mode == "EDIT"


def test_a_mesh_without_marks_is_read_in_edit_mode(add_sheet, read):
    item = add_sheet()
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode="EDIT")
    sculpt, (source,) = read(item)
    assert len(sculpt.faces) == 8 and not len(sculpt.edges) and source.same
    assert "marks-lost" not in codes(sculpt)


def test_objects_form_one_sculpt_with_their_own_choices(scene, add_sheet, read):
    scene.foamwright.stock, scene.foamwright.thickness = "mat-10", "9.5 mm"
    left = add_sheet("left", seams=[(1, 4)])
    right = add_sheet("right", columns=1, rows=1, width=0.1, height=0.1, trenches=[(0, 1)])
    right.foamwright.thickness, right.foamwright.side = "1/4 in", INNER
    sculpt, (a, b) = read(left, right)
    assert [o.name for o in sculpt.objects] == ["left", "right"]
    assert sculpt.objects[0].stock is None and sculpt.objects[0].side is None
    assert sculpt.objects[1].stock.thickness == pytest.approx(6.35)  # 25.4 / 4
    assert sculpt.objects[1].side == INNER
    assert area(sculpt, sculpt.face_object == 0) == pytest.approx(200 * 200, rel=1e-6)
    assert area(sculpt, sculpt.face_object == 1) == pytest.approx(100 * 100, rel=1e-6)
    assert (a.vertices, b.vertices, b.polygons) == (range(9), range(9, 13), range(4, 5))
    assert sculpt.edges.tolist() == [[1, 4], [9, 10]] and sculpt.kinds.tolist() == [SEAM, TRENCH]
    assert sculpt.polygon.tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4]


def test_chosen_objects_win_over_the_selection(scene, add_sheet):
    one, two = add_sheet("one"), add_sheet("two")
    assert suit_objects(scene, [two]) == [two]
    one.foamwright.include = True
    assert suit_objects(scene, [two]) == [one]


def test_linked_copies_are_read_each_in_its_place(scene, add_sheet, read):
    one = add_sheet()
    two = bpy.data.objects.new("two", one.data)
    scene.collection.objects.link(two)
    two.location.y = 1.0
    sculpt, _ = read(one, two)
    assert set(sculpt.vertices[:, 1]) == {0.0, 1000.0}


def test_reading_changes_nothing(add_sheet, read, fingerprint):
    item = add_sheet(seams=[(1, 4)], trenches=[(3, 4)])
    modifier(item, "SOLIDIFY", thickness=0.01)
    modifier(item, "SUBSURF", levels=1)
    item.data.attributes.new("foamwright_polygon", "INT", "FACE")  # a maker's, by chance
    before = fingerprint()
    read(item)
    assert fingerprint() == before


def test_nothing_to_read_says_what_to_do(read, fingerprint):
    with pytest.raises(FoamError) as error:
        read()
    assert error.value.finding.code == "nothing-to-read" and error.value.finding.remedy


def test_a_wrong_length_on_an_object_is_refused_and_nothing_stays(add_sheet, read, fingerprint):
    item = add_sheet()
    item.foamwright.thickness = "thick"
    before = fingerprint()
    with pytest.raises(FoamError) as error:
        read(item)
    assert error.value.finding.code == "bad-length" and fingerprint() == before
