"""Pieces glued on others: found by contact, or set by hand on the object."""

from __future__ import annotations

import pytest

bpy = pytest.importorskip("bpy")
import bmesh  # noqa: E402

from addon.blender import trial  # noqa: E402
from addon.blender.read import read_scene  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402


def sheet(name: str, size: float, at: float, height: float):
    """A square sheet of faces, metres, that looks up."""
    steps = 6
    side = [at + size * i / steps for i in range(steps + 1)]
    points = [(x, y, height) for y in side for x in side]
    row = steps + 1
    faces = [(j * row + i, j * row + i + 1, (j + 1) * row + i + 1, (j + 1) * row + i)
             for j in range(steps) for i in range(steps)]
    data = bpy.data.meshes.new(name)
    data.from_pydata(points, [], faces)
    item = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(item)
    item.foamwright.include = True
    return item


def suit(scene):
    plate, emblem = sheet("Plate", 0.3, 0.0, 0.0), sheet("Emblem", 0.06, 0.1, 0.0)
    emblem.foamwright.stock = "eva-6"
    return plate, emblem


def bases(scene, *items):
    settings = read_settings(scene)
    return [p.base for p in check(read_scene(scene, items, settings)[0], settings).pieces]


def test_contact_is_what_counts_unless_the_maker_says_otherwise(scene):
    plate, emblem = suit(scene)
    assert bases(scene, plate, emblem) == ["body", "PL1"]
    emblem.foamwright.rests = "SELF"
    assert bases(scene, plate, emblem) == ["body", "body"]
    emblem.location.z = 0.004
    emblem.foamwright.rests, emblem.foamwright.lies_on = "OBJECT", plate

    bpy.context.view_layer.update()
    settings = read_settings(scene)
    found, _ = read_scene(scene, [plate, emblem], settings)
    assert [o.lies_on for o in found.objects] == [None, "Plate"]


def test_tolerance_is_the_makers(scene):

    plate, emblem = suit(scene)
    emblem.location.z = 0.009  # 3 mm over where its outer face would be
    bpy.context.view_layer.update()
    assert bases(scene, plate, emblem) == ["body", "body"]
    scene.foamwright.contact = "4 mm"
    assert bases(scene, plate, emblem) == ["body", "PL1"]


def test_what_it_lies_on_is_kept_in_the_file(scene, tmp_path):

    plate, emblem = suit(scene)
    emblem.foamwright.rests, emblem.foamwright.lies_on = "OBJECT", plate
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    again = bpy.data.objects["Emblem"].foamwright
    assert (again.rests, again.lies_on.name) == ("OBJECT", "Plate")


def test_a_trial_build_follows_the_base_and_maps_nothing_on_what_lies_on_it(scene):
    plate, emblem = suit(scene)
    scene.foamwright.trial.quick = True
    assert bpy.ops.foamwright.try_build() == {"FINISHED"}
    assert [piece.name for piece in scene.foamwright.trial.pieces] == ["PL1"]
    assert [item for item, _ in trial.shown(scene)] == [plate]


def chosen(item, ids):

    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode="EDIT")
    bm = bmesh.from_edit_mesh(item.data)
    bm.faces.ensure_lookup_table()
    for face in bm.faces:
        face.select_set(face.index in ids)
    bmesh.update_edit_mesh(item.data)


@pytest.mark.parametrize("side", ["outer", "middle", "inner"])
def test_selected_faces_become_a_piece_on_them(scene, side):

    plate = sheet("Plate", 0.3, 0.0, 0.0)
    plate.foamwright.side = side
    before = [v.co.z for v in plate.data.vertices]
    chosen(plate, {14, 15, 20, 21})
    assert bpy.ops.foamwright.lay_on_selected(stock="eva-6") == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    assert [v.co.z for v in plate.data.vertices] == before
    detail = bpy.data.objects["Plate detail"]
    bpy.context.view_layer.update()
    settings = read_settings(scene)
    found = check(read_scene(scene, [plate, detail], settings)[0], settings)
    base, piece = found.pieces
    assert (piece.base, piece.stock.thickness, piece.side) == (base.code, 6.0, "inner")
    assert piece.area == pytest.approx(100.0**2, rel=1e-3)
    assert not [f for f in found.findings if f.code.startswith("detail")]


def test_nothing_selected_makes_nothing(scene):

    plate = sheet("Plate", 0.3, 0.0, 0.0)
    chosen(plate, set())
    with pytest.raises(RuntimeError, match="No face"):
        bpy.ops.foamwright.lay_on_selected()
    assert len(bpy.data.objects) == 1 and len(bpy.data.meshes) == 1
