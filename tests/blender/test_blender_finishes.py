"""How seams look, chosen in Blender and kept in the file."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender.finishes import ATTRIBUTE, read_finishes  # noqa: E402
from addon.blender.guides import add_guide  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core import make  # noqa: E402
from addon.core.model import EXAGGERATED, FLUSH, RECESSED, Finish  # noqa: E402
from tests.blender.test_blender_joins import choose, edit, selected  # noqa: E402, F401


def object_mode():
    bpy.ops.object.mode_set(mode="OBJECT")


def test_a_finish_is_chosen_for_edges_and_found_again(add_sheet, edit, scene, read):  # noqa: F811
    item = add_sheet()
    edit(item, (1, 4), (4, 7))
    assert bpy.ops.foamwright.set_finish(kind=EXAGGERATED, width="4 mm") == {"FINISHED"}
    assert bpy.ops.foamwright.set_finish(kind=EXAGGERATED, width="4 mm") == {"CANCELLED"}
    choose(item)
    bpy.ops.foamwright.select_finished(kind=EXAGGERATED)
    assert selected(item) == {(1, 4), (4, 7)}
    choose(item)
    bpy.ops.foamwright.select_finished(kind=RECESSED)
    assert selected(item) == set()
    object_mode()
    sculpt, _ = read(item)
    (mate,) = make.check(sculpt, read_settings(scene)).mates
    assert mate.finish == Finish(EXAGGERATED, 4.0)


def test_a_finish_is_taken_off_again_and_the_seam_stays(add_sheet, edit, scene, read):  # noqa: F811
    item = add_sheet(seams=[(1, 4), (4, 7)])
    edit(item, (1, 4), (4, 7))
    bpy.ops.foamwright.set_finish(kind=RECESSED)
    bpy.ops.foamwright.set_finish(kind=FLUSH)
    object_mode()
    sculpt, _ = read(item)
    (mate,) = make.check(sculpt, read_settings(scene)).mates
    assert mate.finish == Finish()


@pytest.mark.parametrize("width", ["0 mm", "3 m", "wide"])
def test_a_width_that_is_none_changes_nothing(add_sheet, edit, width):  # noqa: F811
    item = add_sheet()
    edit(item, (1, 4))
    with pytest.raises(RuntimeError, match="(?i)wide|length"):
        bpy.ops.foamwright.set_finish(kind=EXAGGERATED, width=width)
    object_mode()
    assert not read_finishes(item.data).any()


def test_finishes_outlive_saving_and_subdivision(add_sheet, edit, tmp_path):  # noqa: F811
    item = add_sheet()
    edit(item, (1, 4))
    bpy.ops.foamwright.set_finish(kind=RECESSED, width="5 mm")
    object_mode()
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    item = bpy.data.objects["sheet"]
    number = Finish(RECESSED, 5.0).number
    assert np.count_nonzero(read_finishes(item.data) == number) == 1
    item.modifiers.new("Subdivision", "SUBSURF").levels = 1
    shown = item.evaluated_get(bpy.context.evaluated_depsgraph_get())
    assert np.count_nonzero(read_finishes(shown.to_mesh()) == number) == 2
    shown.to_mesh_clear()


def test_a_drawn_line_has_its_own_and_hands_it_on_when_cut_in(add_sheet, scene, read):
    item = add_sheet()
    line = add_guide(scene, item, np.array([(0.05, 0.0, 0.0), (0.05, 0.0, 0.2)]), "SEAM")
    bpy.context.view_layer.update()
    line.select_set(True)
    bpy.context.view_layer.objects.active = line
    assert bpy.ops.foamwright.set_finish(kind=EXAGGERATED, width="2 mm") == {"FINISHED"}
    sculpt, _ = read(item)
    assert [g.finish for g in sculpt.guides] == [Finish(EXAGGERATED, 2.0)]
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    assert bpy.ops.foamwright.cut_lines() == {"FINISHED"}
    numbers = read_finishes(item.data)
    assert set(numbers.tolist()) == {0, Finish(EXAGGERATED, 2.0).number}
    seams = np.array([e.use_seam for e in item.data.edges])
    assert np.array_equal(numbers > 0, seams)


def test_a_foreign_attribute_is_left_alone(add_sheet, edit):  # noqa: F811
    item = add_sheet()
    item.data.attributes.new(ATTRIBUTE, "FLOAT", "POINT")
    edit(item, (1, 4))
    with pytest.raises(RuntimeError, match="tells of no finishes"):
        bpy.ops.foamwright.set_finish(kind=EXAGGERATED)
    object_mode()
    assert not any(e.use_seam for e in item.data.edges)
    assert not read_finishes(item.data).any()
