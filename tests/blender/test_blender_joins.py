"""How seams are held together, chosen in Blender and kept in the file."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

import bmesh  # noqa: E402

from addon.blender import changes  # noqa: E402
from addon.blender.guides import add_guide  # noqa: E402
from addon.blender.joins import ATTRIBUTE, read_joins  # noqa: E402
from addon.blender.read import read_scene  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core import make  # noqa: E402
from addon.core.errors import FoamError  # noqa: E402
from addon.core.model import BUTT, HOOK, JOIN_BIT, JOINS, OVERLAP, SEAM, STRAP  # noqa: E402


@pytest.fixture
def edit():
    def enter(item, *pairs):
        bpy.context.view_layer.objects.active = item
        item.select_set(True)
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.context.tool_settings.mesh_select_mode = (False, True, False)
        choose(item, *pairs)

    return enter


def choose(item, *pairs):
    bpy.ops.mesh.select_all(action="DESELECT")
    for edge in bmesh.from_edit_mesh(item.data).edges:
        edge.select_set(tuple(sorted(v.index for v in edge.verts)) in pairs)
    bmesh.update_edit_mesh(item.data)


def selected(item):
    return {tuple(sorted(v.index for v in e.verts))
            for e in bmesh.from_edit_mesh(item.data).edges if e.select}


def test_a_join_is_chosen_for_edges_which_become_seams(add_sheet, edit, read):
    item = add_sheet(seams=[(1, 4)])
    edit(item, (1, 4), (4, 7))
    assert bpy.ops.foamwright.set_join(kind=HOOK) == {"FINISHED"}
    choose(item)
    bpy.ops.foamwright.select_joined(kind=HOOK)
    assert selected(item) == {(1, 4), (4, 7)}
    choose(item, (1, 4))
    bpy.ops.foamwright.set_join(kind=BUTT)
    bpy.ops.foamwright.select_joined(kind=BUTT)
    assert selected(item) == {(1, 4)}
    bpy.ops.object.mode_set(mode="OBJECT")
    sculpt, _ = read(item)
    kinds = {tuple(e): k for e, k in zip(sculpt.edges.tolist(), sculpt.kinds.tolist(),
                                         strict=True)}
    assert kinds == {(1, 4): SEAM, (4, 7): SEAM | JOINS.index(HOOK) * JOIN_BIT}


def test_the_pattern_of_a_sheet_has_the_join(add_sheet, edit, scene, read):
    item = add_sheet()
    edit(item, (1, 4), (4, 7))
    bpy.ops.foamwright.set_join(kind=OVERLAP)
    bpy.ops.object.mode_set(mode="OBJECT")
    scene.foamwright.lap = "35 mm"
    sculpt, _ = read(item)
    (mate,) = make.check(sculpt, read_settings(scene)).mates
    assert (mate.join.kind, mate.join.lap) == (OVERLAP, 35.0)


def test_joins_outlive_saving_and_modifiers(add_sheet, edit, tmp_path):
    item = add_sheet()
    edit(item, (1, 4))
    bpy.ops.foamwright.set_join(kind=STRAP)
    bpy.ops.object.mode_set(mode="OBJECT")
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    item = bpy.data.objects["sheet"]
    assert np.count_nonzero(read_joins(item.data) == JOINS.index(STRAP)) == 1
    item.modifiers.new("Subdivision", "SUBSURF").levels = 1
    shown = item.evaluated_get(bpy.context.evaluated_depsgraph_get())
    mesh = shown.to_mesh()
    assert np.count_nonzero(read_joins(mesh) == JOINS.index(STRAP)) == 2
    shown.to_mesh_clear()


def test_a_drawn_line_has_a_join_of_its_own_and_keeps_it_when_cut_in(add_sheet, scene, read):
    item = add_sheet()
    line = add_guide(scene, item, np.array([(0.05, 0.0, 0.0), (0.05, 0.0, 0.2)]), "SEAM")
    bpy.context.view_layer.update()
    line.select_set(True)
    bpy.context.view_layer.objects.active = line
    assert bpy.ops.foamwright.set_join(kind=STRAP) == {"FINISHED"}
    sculpt, _ = read(item)
    assert [g.join for g in sculpt.guides] == [STRAP]
    (mate,) = make.check(sculpt, read_settings(scene)).mates
    assert mate.join.kind == STRAP
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    assert bpy.ops.foamwright.cut_lines() == {"FINISHED"}
    found = read_joins(item.data)
    assert set(found[found > 0]) == {JOINS.index(STRAP)}
    sculpt, _ = read(item)
    assert [m.join.kind for m in make.check(sculpt, read_settings(scene)).mates] == [STRAP]


def test_numbers_that_are_no_joins_count_for_nothing(add_sheet):
    item = add_sheet()
    attribute = item.data.attributes.new(ATTRIBUTE, "INT", "EDGE")
    values = np.full(len(item.data.edges), 99)
    values[0], values[1] = -3, JOINS.index(HOOK)
    attribute.data.foreach_set("value", values)
    assert read_joins(item.data).tolist() == [0, JOINS.index(HOOK), *[0] * (len(values) - 2)]


def test_a_taken_name_is_refused_before_anything_changes(add_sheet, edit):
    item = add_sheet()
    item.data.attributes.new(ATTRIBUTE, "FLOAT", "POINT")
    edit(item, (1, 4))
    with pytest.raises((RuntimeError, FoamError), match="attribute called"):
        bpy.ops.foamwright.set_join(kind=HOOK)
    bpy.ops.object.mode_set(mode="OBJECT")
    assert not any(e.use_seam for e in item.data.edges)


def test_sizes_of_joins_come_from_the_scene(scene):
    scene.foamwright.patch_width, scene.foamwright.spacing = "1 in", "20 cm"
    sizes = read_settings(scene).joins
    assert sizes.patch == (50.0, 25.4) and sizes.spacing == 200.0 and sizes.lap == 20.0
    scene.foamwright.lap = "900 mm"
    with pytest.raises(FoamError, match="makes no sense"):
        read_settings(scene)


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_mirrored_marks_are_held_alike(add_object, edit, mode):
    points, faces = np.array([(x, 0.0, z) for z in (0.0, 0.1, 0.2) for x in (-0.2, -0.1, 0.0, 0.1,
                                                                            0.2)]), []
    for row in (0, 5):
        faces += [(row + i, row + i + 1, row + i + 6, row + i + 5) for i in range(4)]
    item = add_object("plate", points, faces)
    edit(item, (3, 8))
    bpy.ops.foamwright.set_join(kind=HOOK)
    bpy.ops.object.mode_set(mode=mode)
    assert bpy.ops.foamwright.mirror_marks(axis="X", direction="POSITIVE") == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    held = {tuple(sorted(e.vertices)) for e, n in zip(item.data.edges, read_joins(item.data),
                                                      strict=True) if n == JOINS.index(HOOK)}
    assert held == {(3, 8), (1, 6)}


def test_where_it_is_worn_and_the_wearers_measures_reach_the_check(scene, add_sheet):
    item = add_sheet("vase")
    sculpt, settings = read_it(item)
    assert sculpt.objects[0].worn == "" and settings.measures == ()
    before = changes.count
    item.foamwright.worn, scene.foamwright.wearer.upper_arm = "neck", "300 mm"
    assert changes.count > before
    sculpt, settings = read_it(item)
    assert sculpt.objects[0].worn == "neck"
    assert dict(settings.measures) == {"upper arm": 300.0}


def read_it(item):
    settings = read_settings(bpy.context.scene)
    return read_scene(bpy.context.scene, [item], settings)[0], settings
