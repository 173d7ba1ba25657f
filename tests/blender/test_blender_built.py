"""Faces that are not built stay in the mesh and are left out of the foam."""

import json

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import built, write  # noqa: E402
from addon.core import skin, soundness  # noqa: E402
from addon.core.errors import NOTE, Finding  # noqa: E402

NAME = "foamwright_not_built"


def leave_out(item, faces):
    attribute = item.data.attributes.get(NAME) or item.data.attributes.new(NAME, "BOOLEAN", "FACE")
    flags = np.zeros(len(item.data.polygons), dtype=bool)
    flags[list(faces)] = True
    attribute.data.foreach_set("value", flags)


def left_out(item):
    item.update_from_editmode()
    mesh = item.data.copy()  # attributes are away while a mesh is edited
    try:
        return np.flatnonzero(~built.read_built(mesh)).tolist()
    finally:
        bpy.data.meshes.remove(mesh)


def edit(item, *faces):
    """Enter Edit Mode with just these faces selected."""
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.object.select_all(action="DESELECT")
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    for face in faces:
        item.data.polygons[face].select = True
    bpy.ops.object.mode_set(mode="EDIT")


# --- reading ---------------------------------------------------------------------


def test_faces_not_built_are_not_read(add_sheet, read):
    item = add_sheet(seams=[(0, 1), (1, 4)], trenches=[(4, 7)])
    leave_out(item, [0])
    sculpt, (source,) = read(item)
    assert sculpt.polygon.tolist() == [1, 1, 2, 2, 3, 3]
    assert len(sculpt.vertices) == 9 and sculpt.unbuilt.tolist() == [0]
    marks = {tuple(e) for e in sculpt.edges.tolist()}
    assert marks == {(4, 7)}  # the foam ends at the others by itself
    assert soundness.inspect(sculpt) == ()  # vertex 0 is not called loose
    assert (source.origin == np.arange(4)).all()


def test_findings_name_the_maker_s_own_faces_all_the_same(add_sheet, read):
    one, two = add_sheet("one"), add_sheet("two")
    leave_out(one, [0, 3])
    sculpt, sources = read(one, two)
    where = Finding("x", NOTE, "", "", faces=[0, 4], vertices=[8, 9])
    assert write.locate(where, sculpt, sources) == {
        "one": {"vertices": [8], "faces": [1]}, "two": {"vertices": [0], "faces": [0]}}


def test_a_modifier_carries_them_along(add_sheet, read):
    item = add_sheet()
    leave_out(item, [2])
    added = item.modifiers.new("Fine", "SUBSURF")
    added.levels, added.subdivision_type = 1, "SIMPLE"
    sculpt, (source,) = read(item)
    assert set(source.origin[sculpt.polygon]) == {0, 1, 3} and len(sculpt.faces) == 24


def test_marks_that_are_all_left_out_are_not_called_lost(add_sheet, read):
    item = add_sheet(seams=[(0, 1)])
    leave_out(item, [0])
    sculpt, _ = read(item)
    assert not len(sculpt.edges) and not sculpt.findings


def test_nothing_built_is_no_surface(scene, add_sheet):
    item = add_sheet()
    item.select_set(True)
    leave_out(item, range(4))
    with pytest.raises(RuntimeError, match="no faces"):
        bpy.ops.foamwright.check()


def test_an_attribute_of_another_kind_says_nothing(add_sheet, read):
    item = add_sheet()
    item.data.attributes.new(NAME, "INT", "POINT")
    assert len(read(item)[0].faces) == 8
    edit(item, 0)
    with pytest.raises(RuntimeError, match="is no mark on faces"):
        bpy.ops.foamwright.set_built()


# --- by hand ---------------------------------------------------------------------


def test_selected_faces_are_left_out_and_built_again(add_sheet, read):
    item = add_sheet()
    edit(item, 1, 2)
    assert bpy.ops.foamwright.set_built() == {"FINISHED"}
    assert left_out(item) == [1, 2] and item.mode == "EDIT"
    assert len(read(item)[0].faces) == 4  # read from the edit session
    assert bpy.ops.foamwright.set_built() == {"CANCELLED"}  # nothing to change
    edit(item, 2)
    assert bpy.ops.foamwright.set_built(build=True) == {"FINISHED"}
    assert left_out(item) == [1]


def test_it_is_undone_and_survives_saving(add_sheet, tmp_path):
    item = add_sheet()
    edit(item, 3)
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.foamwright.set_built("EXEC_DEFAULT", True)
    assert left_out(item) == [3]
    bpy.ops.ed.undo()
    assert left_out(bpy.data.objects["sheet"]) == []
    bpy.ops.ed.redo()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    assert left_out(bpy.data.objects["sheet"]) == [3]


def test_they_are_found_again_even_hidden(add_sheet):
    item = add_sheet()
    leave_out(item, [0, 3])
    edit(item, 1)
    bpy.ops.mesh.hide(unselected=True)
    assert bpy.ops.foamwright.select_not_built() == {"FINISHED"}
    item.update_from_editmode()
    assert [p.index for p in item.data.polygons if p.select] == [0, 3]


def test_faces_are_chosen_in_edit_mode(add_sheet):
    add_sheet()
    assert not bpy.ops.foamwright.set_built.poll()
    assert not bpy.ops.foamwright.select_not_built.poll()


# --- the outer skin --------------------------------------------------------------


@pytest.fixture
def shell(add_object, scene):
    """A quarter of a cylinder 10 mm thick, with its faces in the order outside, inside, rim."""
    columns, rows = 13, 7
    angle, height = np.meshgrid(np.linspace(0, np.pi / 2, columns), np.linspace(0, 0.2, rows))

    def wall(radius):
        return np.stack([radius * np.cos(angle), radius * np.sin(angle), height],
                        axis=2).reshape(-1, 3)

    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    outer = np.stack([corner, corner + 1, corner + columns + 1, corner + columns], axis=1)
    count = rows * columns
    around = np.concatenate([
        np.arange(columns - 1), np.arange(columns - 1, count - 1, columns),
        np.arange(count - 1, count - columns, -1), np.arange(count - columns, 0, -columns)])
    rim = np.stack([np.roll(around, -1), around, around + count, np.roll(around, -1) + count],
                   axis=1)
    faces = np.concatenate([outer, outer[:, ::-1] + count, rim])
    item = add_object("shell", np.concatenate([wall(0.15), wall(0.14)]), faces)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    return item, len(outer), len(faces)


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT", "SCULPT"])
def test_only_the_outer_skin_is_kept(shell, read, mode, scene):
    item, outer, total = shell
    bpy.ops.object.mode_set(mode=mode)
    assert bpy.ops.foamwright.keep_outer_skin() == {"FINISHED"}
    assert item.mode == mode
    assert left_out(item) == list(range(outer, total))
    sculpt, _ = read(item)
    assert [s.kind for s in skin.shells(sculpt)] == [skin.OPEN]
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    assert "double-walled" not in [f.code for f in scene.foamwright.findings]


def test_the_outer_skin_is_shown(shell):
    item, outer, _ = shell
    assert bpy.ops.foamwright.show_outer_skin() == {"FINISHED"}
    assert item.mode == "EDIT"
    item.update_from_editmode()
    assert [p.index for p in item.data.polygons if p.select] == list(range(outer))
    assert left_out(item) == []


def test_keeping_the_skin_is_one_step(shell):
    item, outer, total = shell
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.foamwright.keep_outer_skin("EXEC_DEFAULT", True)
    assert len(left_out(item)) == total - outer
    bpy.ops.ed.undo()
    assert left_out(bpy.data.objects["shell"]) == []


def test_a_finding_of_a_check_leads_to_its_button(shell, scene):
    item, outer, total = shell
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    index = [f.code for f in scene.foamwright.findings].index("double-walled")
    assert json.loads(scene.foamwright.findings[index].places)["shell"]["faces"] == [*range(outer)]
    assert bpy.ops.foamwright.keep_outer_skin(finding=index) == {"FINISHED"}
    assert left_out(item) == list(range(outer, total))
    assert scene.foamwright.findings[index].state == "DONE"


@pytest.mark.parametrize("name", ["show_outer_skin", "keep_outer_skin"])
def test_where_there_is_no_wall_nothing_changes(add_sheet, fingerprint, name):
    item = add_sheet()
    item.select_set(True)
    before = fingerprint()
    with pytest.raises(RuntimeError, match="No part has a wall"):
        getattr(bpy.ops.foamwright, name)()
    assert fingerprint() == before


@pytest.mark.parametrize("name", ["show_outer_skin", "keep_outer_skin"])
def test_faults_and_modifiers_are_told(shell, fingerprint, name):
    item, *_ = shell
    item.data.flip_normals()
    before = fingerprint()
    with pytest.raises(RuntimeError, match="inward"):
        getattr(bpy.ops.foamwright, name)()
    assert fingerprint() == before
    item.data.flip_normals()
    added = item.modifiers.new("New", "REMESH")
    added.voxel_size = 0.004
    before = fingerprint()
    with pytest.raises(RuntimeError, match="A modifier made the walls"):
        getattr(bpy.ops.foamwright, name)()
    assert fingerprint() == before
