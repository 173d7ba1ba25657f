"""The wearer in Blender: marked, added as a figure, read; the fit checked, shown and outdated."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import body, changes, fitting, maps, trial  # noqa: E402
from addon.blender.choices import FIT  # noqa: E402
from addon.blender.read import mm_per_unit, with_body  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.measures import MEASURES  # noqa: E402
from tests.blender.test_blender_panels import Layout  # noqa: E402
from tests.shapes import cylinder  # noqa: E402


@pytest.fixture
def tube(scene, add_object):
    """Three quarters of a pipe: 120 mm in radius outside, 10 mm of foam."""
    vertices, faces = cylinder(0.12, 4.7, 0.2, 33, 9)
    item = add_object("tube", vertices, faces)
    item.foamwright.include = True
    return item


@pytest.fixture
def pillar(scene):
    """A round body, 80 mm in radius and 1 m high, its foot on the floor."""
    bpy.ops.mesh.primitive_cylinder_add(vertices=180, radius=0.08, depth=1.0,
                                        location=(0.0, 0.0, 0.5))
    item = bpy.context.object
    item.name = "me"
    return item


def look(scene):
    changes.last = -1e9
    return trial.look(scene, bpy.context.view_layer)


def test_the_fit_is_measured_shown_and_outdated(scene, tube, pillar, read):
    assert bpy.ops.foamwright.set_body() == {"FINISHED"}
    assert pillar.foamwright.body and pillar.foamwright.leave_out
    scene.foamwright.girth_heights = "10 cm"
    assert bpy.ops.foamwright.check_fit() == {"FINISHED"}
    group = scene.foamwright.fit
    (piece,) = group.pieces
    assert (piece.least, piece.mean) == pytest.approx((30.0, 30.0), abs=0.3)
    (girth,) = group.girths
    assert girth.name == "at 100 mm" and girth.body == pytest.approx(160 * np.pi, rel=1e-3)
    assert scene.foamwright.overlay_shows == "FIT"
    [(item, mesh)] = fitting.shown(scene)
    assert item == tube and maps.read(mesh).beside == pytest.approx(30.0, abs=0.3)
    assert np.abs(maps.read(mesh).points).max() < 0.21  # in the object's own space
    pillar.location.x = 0.01
    bpy.context.view_layer.update()
    assert look(scene) and group.outdated and not fitting.shown(scene)
    pillar.location.x = 0.0
    bpy.context.view_layer.update()
    assert look(scene) and not group.outdated
    assert bpy.ops.foamwright.forget_fit() == {"FINISHED"}
    assert not group.found and not len(group.maps)
    assert not [m for m in bpy.data.meshes if m.name.endswith("Fit")]


def test_what_presses_is_listed_and_can_be_selected(scene, tube, pillar):
    pillar.scale = (1.45, 1.45, 1.0)
    bpy.context.view_layer.update()
    bpy.ops.foamwright.set_body()
    bpy.ops.foamwright.check_fit()
    told = [f for f in scene.foamwright.findings if f.step == FIT]
    assert len(told) == 1 and "into the body" in told[0].message and "faces" in told[0].places


def test_without_a_body_or_with_an_empty_one_nothing_is_measured(scene, tube, add_object):
    with pytest.raises(RuntimeError, match="No object is marked"):
        bpy.ops.foamwright.check_fit()
    empty = add_object("nobody", np.empty((0, 3)), np.empty((0, 4), int))
    empty.foamwright.body = True
    with pytest.raises(RuntimeError, match="“nobody” has no faces"):
        bpy.ops.foamwright.check_fit()
    assert not scene.foamwright.fit.found


@pytest.mark.parametrize(("scale", "unit"), [(1.0, 1.0), (10.0, 1.0), (1.0, 0.01)])
def test_a_figure_of_the_wearers_measures_is_added(scene, read, add_sheet, scale, unit):
    scene.unit_settings.scale_length = unit
    scene.foamwright.scale = scale
    scene.foamwright.wearer.stature, scene.foamwright.wearer.chest = "160 cm", "940 mm"
    assert bpy.ops.foamwright.add_figure() == {"FINISHED"}
    item = scene.objects["Figure"]
    assert item.foamwright.body and item.foamwright.leave_out
    found = body.read(scene, mm_per_unit(scene)).scaled(scale)
    assert np.ptp(found.vertices[:, 2]) == pytest.approx(1600.0, rel=5e-3)
    assert MEASURES["stature"][1][0] < np.ptp(found.vertices[:, 2]) < MEASURES["stature"][2][2]
    sculpt = with_body(scene, read(add_sheet())[0])
    assert len(sculpt.body.faces) == len(found.faces)


def test_nonsense_measures_are_refused(scene):
    scene.foamwright.wearer.chest = "9 m"
    with pytest.raises(RuntimeError, match="cannot measure"):
        bpy.ops.foamwright.add_figure()
    assert not len(scene.objects)
    scene.foamwright.girth_heights = "high"
    with pytest.raises(Exception, match="bad-length"):
        read_settings(scene)


def test_a_body_is_read_as_posed_and_mirrored(scene, pillar):
    pillar.foamwright.body = True
    pillar.scale = (-1.0, 1.0, 2.0)
    swollen = pillar.modifiers.new("Swollen", "DISPLACE")
    swollen.strength, swollen.mid_level = 0.01, 0.0
    bpy.context.view_layer.update()
    found = body.read(scene, 1000.0)
    a, b, c = (found.vertices - found.vertices.mean(axis=0))[found.faces].transpose(1, 0, 2)
    assert np.einsum("ij,ij->", a, np.cross(b, c)) > 0  # its faces look outward
    assert np.ptp(found.vertices[:, 2]) > 2001.0 and np.ptp(found.vertices[:, 0]) > 161.0


def test_templates_tell_the_fit_where_there_is_a_body(scene, tube, pillar, tmp_path):
    pillar.foamwright.body = pillar.foamwright.leave_out = True
    assert bpy.ops.foamwright.make_pattern(directory=str(tmp_path)) == {"FINISHED"}
    import json

    assert json.loads((tmp_path / "report.json").read_text("utf-8"))["fit"]["body"] == "me"


def test_the_panel_leads_from_body_to_figures(scene, tube, pillar):
    from addon.blender.panels.fit import FOAMWRIGHT_PT_fit

    def drawn():
        layout = Layout()
        FOAMWRIGHT_PT_fit.draw(type("Panel", (), {"layout": layout})(), bpy.context)
        return layout

    assert drawn().operators() == ["foamwright.set_body", "foamwright.add_figure"]
    bpy.ops.foamwright.set_body()
    assert "foamwright.check_fit" in drawn().operators()
    bpy.ops.foamwright.check_fit()
    text = drawn().texts()
    assert "me" in text and "30 mm" in text and "Spacers that would hold it off" in text
