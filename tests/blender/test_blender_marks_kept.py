"""Marks outlive what a maker does to the mesh, and the pattern sees them through its modifiers.

Lengths of the marked lines are compared with the lines of the sheet itself; nothing here
depends on how many edges Blender makes of one.
"""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

import bmesh  # noqa: E402

from addon.blender.marks import read_marks  # noqa: E402
from addon.blender.read import suit_objects  # noqa: E402
from addon.core.model import SCORE, SEAM, TRENCH  # noqa: E402

KINDS = (SEAM, TRENCH, SCORE)
CROSS = {"seams": [(2, 7), (7, 12), (12, 17), (17, 22)],  # a cross on 4 by 4 squares of 50 mm
         "trenches": [(10, 11), (11, 12)], "scores": [(12, 13), (13, 14)]}


@pytest.fixture
def marked(add_sheet):
    """marked(name): a sheet of 200 mm with a cross of three kinds of marks, the active object."""

    def add(name="sheet", **more):
        item = add_sheet(name, columns=4, rows=4, **{**CROSS, **more})
        for other in bpy.context.view_layer.objects:
            other.select_set(other == item)
        bpy.context.view_layer.objects.active = item
        return item

    return add


def lengths(mesh):
    """Marked length of each kind, mm; fails where an edge carries two marks."""
    edges, kinds = read_marks(mesh)
    assert set(kinds) <= set(KINDS)
    points = np.array([v.co[:] for v in mesh.vertices])
    each = np.linalg.norm(points[edges[:, 0]] - points[edges[:, 1]], axis=1) * 1000.0
    return [float(each[kinds == kind].sum()) for kind in KINDS]


def cross(times=1):
    return pytest.approx([200.0 * times, 100.0 * times, 100.0 * times], rel=1e-5)


def sculpt_lengths(sculpt):
    ends = sculpt.vertices[sculpt.edges]
    each = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1)
    return [float(each[sculpt.kinds == kind].sum()) for kind in KINDS]


# --- what a maker does to the mesh -------------------------------------------


def test_marks_are_undone_and_redone(marked):
    marked()
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.foamwright.mark_edges("EXEC_DEFAULT", True, kind="TRENCH")
    bpy.ops.ed.undo_push(message="After")
    bpy.ops.ed.undo()
    bpy.ops.ed.undo()
    bpy.ops.object.mode_set(mode="OBJECT")
    assert lengths(bpy.data.objects["sheet"].data) == cross()


def test_a_deleted_object_comes_back_with_its_marks(marked):
    marked()
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.object.delete("EXEC_DEFAULT", True)
    assert "sheet" not in bpy.context.scene.objects
    bpy.ops.ed.undo()
    assert lengths(bpy.data.objects["sheet"].data) == cross()


def test_marks_survive_saving_and_loading(marked, tmp_path):
    marked()
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert lengths(bpy.data.objects["sheet"].data) == cross()


def test_marks_survive_every_mode(marked):
    item = marked()
    for mode in ("EDIT", "OBJECT", "SCULPT", "EDIT", "SCULPT", "VERTEX_PAINT", "WEIGHT_PAINT",
                 "OBJECT"):
        bpy.ops.object.mode_set(mode=mode)
        if mode != "EDIT":
            assert lengths(item.data) == cross(), mode


def test_a_duplicate_has_the_marks_and_its_own(marked):
    item = marked()
    bpy.ops.object.duplicate()
    copy = bpy.context.object
    assert copy != item and lengths(copy.data) == cross()
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.foamwright.mark_edges(kind="SEAM", clear=True)
    bpy.ops.object.mode_set(mode="OBJECT")
    assert lengths(copy.data)[0] == 0 and lengths(item.data) == cross()


@pytest.mark.parametrize("plain_first", [True, False])
def test_joining_with_an_object_without_marks_keeps_them(marked, add_sheet, plain_first):
    plain, item = add_sheet("plain"), marked()
    plain.select_set(True)
    bpy.context.view_layer.objects.active = kept = plain if plain_first else item
    bpy.ops.object.join()
    assert lengths(kept.data) == cross() and len(kept.data.polygons) == 20


def test_joining_objects_with_different_marks_keeps_both(marked):
    one = marked("one", trenches=(), scores=())
    two = marked("two", seams=())
    one.select_set(True)
    bpy.ops.object.join()
    assert lengths(two.data) == cross()


def test_separating_parts_the_marks(marked):
    item = marked()
    bpy.ops.object.mode_set(mode="EDIT")
    bm = bmesh.from_edit_mesh(item.data)
    for face in bm.faces:
        face.select_set(face.calc_center_median().z > 0.1)
    bmesh.update_edit_mesh(item.data)
    bpy.ops.mesh.separate(type="SELECTED")
    bpy.ops.object.mode_set(mode="OBJECT")
    # The level line lies on the rim of both halves; the upright one is shared out.
    assert [lengths(o.data) for o in bpy.context.scene.objects] == [
        pytest.approx([100.0, 100.0, 100.0], rel=1e-5)] * 2


@pytest.mark.parametrize("change", [
    lambda: bpy.ops.mesh.subdivide(number_cuts=3),
    lambda: bpy.ops.mesh.quads_convert_to_tris(),
    lambda: bpy.ops.mesh.poke(),
    lambda: bpy.ops.mesh.flip_normals(),
    lambda: bpy.ops.mesh.remove_doubles(threshold=1e-4),
], ids=["subdivide", "triangulate", "poke", "flip", "merge"])
def test_marks_survive_tools_of_edit_mode(marked, change):
    item = marked()
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    change()
    bpy.ops.object.mode_set(mode="OBJECT")
    assert lengths(item.data) == cross()


def test_a_mirrored_half_gets_marks_of_its_own(marked):
    item = marked()
    for vertex in item.data.vertices:
        vertex.co.x += 0.1
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.symmetrize(direction="POSITIVE_X")
    bpy.ops.object.mode_set(mode="OBJECT")
    assert lengths(item.data) == cross(times=2)


# --- what the pattern sees through modifiers ------------------------------------


def with_modifier(item, kind, **values):
    modifier = item.modifiers.new(kind, kind)
    for key, value in values.items():
        setattr(modifier, key, value)
    return modifier


@pytest.mark.parametrize(("kind", "values", "times"), [
    ("SUBSURF", {"levels": 2, "subdivision_type": "SIMPLE"}, 1),
    ("SUBSURF", {"levels": 3}, 1),
    ("TRIANGULATE", {}, 1),
    ("EDGE_SPLIT", {}, 1),
    ("WELD", {}, 1),
    ("SHRINKWRAP", {}, 1),
    ("NODES", {}, 1),
    ("SOLIDIFY", {"thickness": 0.01}, 1),  # left out
    ("MIRROR", {"use_mirror_merge": False}, 2),
    ("ARRAY", {"count": 2}, 2),
], ids=lambda value: value if isinstance(value, str) else "")
def test_the_pattern_sees_every_mark_through_a_modifier(marked, read, kind, values, times):
    item = marked()
    with_modifier(item, kind, **values)
    sculpt, _ = read(item)
    assert not [f for f in sculpt.findings if f.code == "marks-lost"]
    assert set(sculpt.kinds) == set(KINDS)
    assert sculpt_lengths(sculpt) == cross(times)
    assert lengths(item.data) == cross()  # the maker's mesh keeps its own


@pytest.mark.parametrize("solver", ["EXACT", "FLOAT"])
def test_marks_come_through_a_boolean_that_cuts_a_corner_off(marked, read, add_object, solver):
    item = marked()
    with_modifier(item, "SOLIDIFY", thickness=0.01, offset=0.0)
    bpy.ops.object.modifier_apply(modifier="SOLIDIFY")
    before = lengths(item.data)
    box = np.array([[x, y, z] for x in (-0.04, 0.04) for y in (-0.1, 0.1) for z in (-0.04, 0.04)])
    tool = add_object("tool", box, [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6],
                                    [0, 2, 6, 4], [1, 5, 7, 3]])
    if bpy.app.version < (5, 0) and solver == "FLOAT":
        solver = "FAST"
    with_modifier(item, "BOOLEAN", object=tool, solver=solver)
    sculpt, _ = read(item)
    assert len(sculpt.faces) > 100 and sculpt_lengths(sculpt) == pytest.approx(before, rel=1e-5)


def test_a_seam_stays_whole_when_flat_faces_are_merged(marked, read):
    item = marked(trenches=(), scores=())
    with_modifier(item, "DECIMATE", decimate_type="DISSOLVE", delimit={"SEAM"})
    sculpt, _ = read(item)
    ends, times = np.unique(sculpt.edges[sculpt.kinds == SEAM], return_counts=True)
    assert sorted(times)[:2] == [1, 1] and set(times[2:]) <= {2}  # one line, without branches
    assert np.ptp(sculpt.vertices[ends][:, 2]) == pytest.approx(200.0, rel=1e-5)


def multires(item, levels=2):
    with_modifier(item, "MULTIRES")
    for _ in range(levels):
        bpy.ops.object.multires_subdivide(modifier="MULTIRES", mode="SIMPLE")


@pytest.mark.parametrize("mode", ["OBJECT", "SCULPT"])
def test_marks_of_the_base_mesh_are_seen_on_a_multires_sculpt(marked, read, mode):
    item = marked()
    multires(item)
    bpy.ops.object.mode_set(mode=mode)
    sculpt, (source,) = read(item)
    assert len(sculpt.faces) == 2 * 16 * 4**2 and item.mode == mode
    assert sculpt_lengths(sculpt) == cross() and set(np.bincount(source.origin)) == {16}
    bpy.ops.object.mode_set(mode="EDIT")
    assert sculpt_lengths(read(item)[0]) == cross()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.object.modifier_apply(modifier="MULTIRES")
    assert lengths(item.data) == cross() and len(item.data.polygons) == 256


def test_dynamic_topology_keeps_marks_and_is_read_as_sculpted(marked, read):
    item = marked()
    bpy.ops.object.mode_set(mode="SCULPT")
    window = bpy.context.window_manager.windows[0]
    area = next(a for a in window.screen.areas if a.type == "VIEW_3D")
    with bpy.context.temp_override(window=window, area=area):
        bpy.ops.sculpt.dynamic_topology_toggle()
    assert item.use_dynamic_topology_sculpting
    sculpt, _ = read(item)  # it works on triangles, which lie in the session until it ends
    assert sculpt_lengths(sculpt) == cross() and len(np.unique(sculpt.polygon)) == 32
    bpy.ops.object.mode_set(mode="OBJECT")
    assert lengths(item.data) == cross()


def test_several_objects_form_one_suit_with_their_own_marks_and_foam(scene, marked, read):
    """Several objects are one suit: each with its stock, its marks and its place in the world."""
    one, two = marked("one", trenches=(), scores=()), marked("two", seams=())
    one.foamwright.stock, two.foamwright.thickness = "eva-4", "6 mm"
    one.foamwright.include = two.foamwright.include = True
    two.location.x = 1.0
    sculpt, sources = read(*suit_objects(scene))
    assert [o.stock and o.stock.thickness for o in sculpt.objects] == [4.0, 6.0]
    for source, kinds in zip(sources, ({SEAM}, {TRENCH, SCORE}), strict=True):
        mine = np.isin(sculpt.edges[:, 0], list(source.vertices))
        assert set(sculpt.kinds[mine]) == kinds
    assert sculpt_lengths(sculpt) == cross()
    two.foamwright.leave_out = True
    assert suit_objects(scene) == [one]
