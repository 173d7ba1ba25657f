"""Pieces glued on others: found by contact, or set by hand on the object."""

from __future__ import annotations

from addon.blender.read import read_scene
from addon.blender.settings import read_settings
from addon.core.make import check


def sheet(name: str, size: float, at: float, height: float):
    """A square sheet of faces, metres, that looks up."""
    import bpy

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
    import bpy

    bpy.context.view_layer.update()
    settings = read_settings(scene)
    found, _ = read_scene(scene, [plate, emblem], settings)
    assert [o.lies_on for o in found.objects] == [None, "Plate"]


def test_tolerance_is_the_makers(scene):
    import bpy

    plate, emblem = suit(scene)
    emblem.location.z = 0.009  # 3 mm over where its outer face would be
    bpy.context.view_layer.update()
    assert bases(scene, plate, emblem) == ["body", "body"]
    scene.foamwright.contact = "4 mm"
    assert bases(scene, plate, emblem) == ["body", "PL1"]


def test_what_it_lies_on_is_kept_in_the_file(scene, tmp_path):
    import bpy

    plate, emblem = suit(scene)
    emblem.foamwright.rests, emblem.foamwright.lies_on = "OBJECT", plate
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    again = bpy.data.objects["Emblem"].foamwright
    assert (again.rests, again.lies_on.name) == ("OBJECT", "Plate")
