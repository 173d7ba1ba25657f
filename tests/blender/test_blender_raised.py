"""Shapes that stand out of a sculpt are found, and detached by the button beside the finding."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import raised  # noqa: E402
from addon.blender.read import read_scene  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.errors import FoamError  # noqa: E402
from addon.core.make import check  # noqa: E402
from tests.raised_shapes import disc, frame, plate, square  # noqa: E402


@pytest.fixture
def sculpted(scene, add_object):
    """sculpted(height, shape, …): a plate of quads in metres, as an object of the suit."""
    def add(*arguments, **more):
        points, faces = plate(*arguments, **more)
        item = add_object("Plate", points / 1000.0, faces.tolist())
        item.foamwright.include = True
        item.select_set(True)
        bpy.context.view_layer.objects.active = item
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.ops.mesh.select_all(action="SELECT")
        bpy.ops.mesh.tris_convert_to_quads()
        bpy.ops.object.mode_set(mode="OBJECT")
        return item
    return add


def pieces(scene):
    settings = read_settings(scene)
    suit = [item for item in scene.objects if item.foamwright.include]
    return check(read_scene(scene, suit, settings)[0], settings).pieces


def found(scene, code="raised-shape"):
    return [k for k, each in enumerate(scene.foamwright.findings) if each.code == code]


@pytest.mark.parametrize("inside", [square, disc, frame])
@pytest.mark.parametrize("finer", [False, True])
def test_the_button_makes_a_piece_of_it(scene, sculpted, inside, finer):
    item = sculpted(6.0, inside, finer=finer)
    assert bpy.ops.foamwright.look_over() == {"FINISHED"}
    [place] = found(scene)
    assert bpy.ops.foamwright.detach_raised(finding=place) == {"FINISHED"}
    base, detail = pieces(scene)
    assert (base.name, detail.base) == ("Plate", base.code)
    assert [p.stock.thickness for p in (base, detail)] == [10.0, 6.0]
    points = np.array([v.co for v in item.data.vertices]) * 1000.0
    assert np.abs(np.hypot(points[:, 0], points[:, 2]) - 150.0).max() < 0.15
    loose = {tuple(sorted(e.vertices)) for e in item.data.edges} - {
        tuple(sorted(pair)) for face in item.data.polygons for pair in face.edge_keys}
    assert not loose and item.data.validate() is False
    assert bpy.ops.foamwright.look_over() == {"FINISHED"} and not found(scene)


def test_uv_materials_and_groups_stay_on_what_stays(scene, sculpted):
    item = sculpted(6.0)
    mesh = item.data
    uv = mesh.uv_layers.new(name="Painted")
    for loop in mesh.loops:
        x, y, _ = mesh.vertices[loop.vertex_index].co
        uv.uv[loop.index].vector = x, y
    group = item.vertex_groups.new(name="half")
    group.add([v.index for v in mesh.vertices if v.co.y > 0.1], 1.0, "REPLACE")
    for name in ("red", "blue"):
        mesh.materials.append(bpy.data.materials.new(name))
    for face in mesh.polygons:
        face.material_index = int(face.center.y > 0.1)
    count = len(mesh.polygons)
    bpy.ops.foamwright.look_over()
    bpy.ops.foamwright.detach_raised(finding=found(scene)[0])
    assert len(mesh.polygons) == count - 46  # the walls
    outside = [f for f in mesh.polygons if f.center.y < 0.05]
    for face in outside:
        for loop in face.loop_indices:
            x, y, _ = mesh.vertices[mesh.loops[loop].vertex_index].co
            assert np.allclose(mesh.uv_layers["Painted"].uv[loop].vector, (x, y), atol=1e-6)
    assert all(face.material_index == int(face.center.y > 0.1) for face in mesh.polygons)
    assert all(bool(v.groups) == (v.co.y > 0.1) for v in mesh.vertices)
    assert "foamwright_top" not in mesh.attributes
    detail = bpy.data.objects["Plate detail"]
    assert "foamwright_top" not in detail.data.attributes
    assert [m.name for m in detail.data.materials] == ["red", "blue"]


def test_all_at_once_without_a_finding_and_each_of_the_foam_that_is_named(scene, sculpted):
    sculpted(6.0, lambda i, j: square(i, j) or (26 <= i < 34 and 15 <= j < 28))
    assert bpy.ops.foamwright.detach_raised(stock="eva-4") == {"FINISHED"}
    assert [p.stock.thickness for p in pieces(scene)] == [10.0, 4.0, 4.0]
    assert bpy.ops.foamwright.detach_raised() == {"CANCELLED"}  # nothing is left to be found


def test_one_finding_of_two_detaches_that_one_alone(scene, sculpted):
    sculpted(6.0, lambda i, j: square(i, j) or (26 <= i < 34 and 15 <= j < 28))
    bpy.ops.foamwright.look_over()
    assert len(found(scene)) == 2
    assert bpy.ops.foamwright.detach_raised(finding=found(scene)[0]) == {"FINISHED"}
    assert len([o for o in scene.objects if o.foamwright.include]) == 2
    bpy.ops.foamwright.look_over()
    assert len(found(scene)) == 1


@pytest.mark.parametrize("scale", [(2.0, 2.0, 2.0), (-1.0, 1.0, 1.0)])
def test_an_object_that_is_scaled_or_mirrored(scene, sculpted, scale):
    item = sculpted(6.0)
    item.scale = scale
    item.location.x = 1.0
    bpy.context.view_layer.update()
    assert bpy.ops.foamwright.detach_raised() == {"FINISHED"}
    base, detail = pieces(scene)
    assert detail.base == base.code
    assert detail.stock.thickness == (12.0 if scale[0] == 2.0 else 6.0)


def test_what_cannot_be_done_changes_nothing(scene, sculpted, fingerprint):
    item = sculpted(6.0)
    bpy.ops.foamwright.look_over()
    [place] = found(scene)
    before = fingerprint()
    with pytest.raises(RuntimeError, match="no stock named"):
        bpy.ops.foamwright.detach_raised(finding=place, stock="cheese")
    assert fingerprint() == before and len(scene.objects) == 1
    item.data.clear_geometry()
    with pytest.raises(RuntimeError, match="has been changed since"):
        bpy.ops.foamwright.detach_raised(finding=place)


def test_faults_and_shapes_of_modifiers_are_told(scene, sculpted, add_sheet):
    item = sculpted(6.0)
    settings = read_settings(scene)
    with pytest.raises(FoamError) as caught:
        raised.detach(item, scene, settings, faces=[0])
    assert caught.value.finding.code == "no-raised-shape" and len(scene.objects) == 1
    mesh = item.data
    mesh.vertices.add(1)
    mesh.vertices[-1].co = (0.0, 0.0, 1.0)
    edge = mesh.polygons[0].vertices
    points = [tuple(v.co) for v in mesh.vertices]
    faces = [tuple(f.vertices) for f in mesh.polygons] + [(edge[0], edge[1], len(points) - 1)] * 1
    mesh.clear_geometry()
    mesh.from_pydata(points, [], faces)
    with pytest.raises(FoamError) as caught:
        raised.detach(item, scene, settings)
    assert caught.value.finding.code == "sculpt-has-faults" and len(scene.objects) == 1


@pytest.mark.parametrize("height", [6.0, -4.0])
def test_what_is_left_as_sculpted_is_not_told_again(scene, sculpted, tmp_path, height):
    code = "raised-shape" if height > 0 else "recessed-shape"
    sculpted(height, lambda i, j: square(i, j) or (26 <= i < 34 and 15 <= j < 28))
    bpy.ops.foamwright.look_over()
    first, second = found(scene, code)
    assert bpy.ops.foamwright.leave_raised(finding=first) == {"FINISHED"}
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "plate.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "plate.blend"))
    scene = bpy.context.scene
    bpy.ops.foamwright.look_over()
    assert len(found(scene, code)) == 1
    assert bpy.ops.foamwright.leave_raised(finding=found(scene, code)[0]) == {"FINISHED"}
    bpy.ops.foamwright.look_over()
    assert not found(scene, code)
    # It is not a fault: what is asked for by name is still done.
    assert (bpy.ops.foamwright.detach_raised() == {"FINISHED"}) == (height > 0)
