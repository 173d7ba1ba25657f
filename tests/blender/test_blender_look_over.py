"""The sculpt is looked over from the sidebar, and its size put right after asking."""

import json
import types

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import settings, wearer  # noqa: E402
from addon.blender.operators import look_over  # noqa: E402
from addon.core.measures import WORN  # noqa: E402

CUBE = np.array([(x, y, z) for x in (0, 0.3) for y in (0, 0.2) for z in (0, 0.4)])
SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]


@pytest.fixture
def active(add_object):
    def add(*arguments, **marks):
        item = add_object(*arguments, **marks)
        item.select_set(True)
        bpy.context.view_layer.objects.active = item
        return item
    return add


def codes(scene, step="SCULPT"):
    return [f.code for f in scene.foamwright.findings if f.step == step]


def extent(item):
    bpy.context.view_layer.update()
    points = np.array([item.matrix_world @ v.co for v in item.data.vertices])
    return np.ptp(points, axis=0)


# --- looking ---------------------------------------------------------------------


def test_an_open_box_is_described_and_its_hole_found(scene, active, fingerprint):
    active("box", CUBE, SIDES[:-1])
    before = fingerprint()
    assert bpy.ops.foamwright.look_over() == {"FINISHED"}
    assert fingerprint() == before
    (survey,) = scene.foamwright.surveys
    assert survey.name == "box" and survey.kind == "Single surface"
    assert tuple(survey.size) == pytest.approx((300, 200, 400), rel=1e-5)
    assert codes(scene) == ["small-hole"]
    index = codes(scene).index("small-hole")
    assert bpy.ops.foamwright.fill_holes(finding=index) == {"FINISHED"}
    assert bpy.ops.foamwright.look_over() == {"FINISHED"}
    assert scene.foamwright.surveys[0].kind == "Closed solid" and codes(scene) == ["closed-solid"]


def test_a_click_selects_what_was_found(scene, active):
    item = active("box", CUBE, SIDES[:-1])
    bpy.ops.foamwright.look_over()
    assert bpy.ops.foamwright.select_finding(index=0) == {"FINISHED"}
    item.update_from_editmode()
    assert {tuple(sorted(e.vertices)) for e in item.data.edges if e.select} == {
        (1, 3), (1, 5), (3, 7), (5, 7)}


def test_looking_and_checking_keep_their_own_findings(scene, active):
    active("box", CUBE, SIDES)
    with pytest.raises(RuntimeError, match="closed all round"):
        bpy.ops.foamwright.check()
    bpy.ops.foamwright.look_over()
    assert codes(scene) == ["closed-solid"] and codes(scene, "CHECK") == ["closed-without-seam"]
    with pytest.raises(RuntimeError, match="closed all round"):
        bpy.ops.foamwright.check()
    assert codes(scene) == ["closed-solid"] and codes(scene, "CHECK") == ["closed-without-seam"]


def test_faults_that_stop_a_check_do_not_stop_the_look(scene, active):
    active("box", [*CUBE, (9, 9, 9)], [SIDES[0][::-1], *SIDES[1:]])
    assert bpy.ops.foamwright.look_over() == {"FINISHED"}
    assert {"flipped-normals", "loose-vertices"} <= set(codes(scene))
    assert "faults" in scene.foamwright.surveys[0].kind
    index = [f.code for f in scene.foamwright.findings].index("flipped-normals")
    bpy.ops.foamwright.turn_faces_outward(finding=index)
    index = [f.code for f in scene.foamwright.findings].index("loose-vertices")
    bpy.ops.foamwright.delete_loose(finding=index)
    bpy.ops.foamwright.look_over()
    assert codes(scene) == ["closed-solid"]


def test_what_cannot_be_read_is_listed_and_changes_nothing(scene, add_sheet, fingerprint):
    add_sheet()
    before = fingerprint()
    with pytest.raises(RuntimeError, match="Add to Suit"):
        bpy.ops.foamwright.look_over()
    assert fingerprint() == before
    assert codes(scene) == ["nothing-to-read"] and not scene.foamwright.surveys


def test_the_scale_of_the_scene_counts(scene, active):
    active("box", CUBE, SIDES)
    scene.foamwright.scale = 0.5
    bpy.ops.foamwright.look_over()
    assert tuple(scene.foamwright.surveys[0].size) == pytest.approx((150, 100, 200), rel=1e-5)


def test_where_it_is_worn_and_by_whom_is_asked_of(scene, active):
    item = active("box", 0.3 * CUBE, SIDES)  # 120 mm
    bpy.ops.foamwright.look_over()
    assert "unlikely-size" not in codes(scene)
    item.foamwright.worn = "torso"
    bpy.ops.foamwright.look_over()
    assert "unlikely-size" in codes(scene)
    item.foamwright.worn = wearer.AUTO
    item.name = "chest plate"
    bpy.ops.foamwright.look_over()
    assert "unlikely-size" in codes(scene)
    scene.foamwright.wearer.chest = "600 mm"  # a child
    bpy.ops.foamwright.look_over()
    assert "unlikely-size" not in codes(scene)
    scene.foamwright.wearer.chest = "wide"
    with pytest.raises(RuntimeError, match="is not a length"):
        bpy.ops.foamwright.look_over()


def test_own_measures_have_the_names_the_core_knows(scene):
    group = scene.foamwright.wearer
    for prop in group.bl_rna.properties:
        if prop.identifier not in ("rna_type", "name"):
            setattr(group, prop.identifier, "100 mm")
            assert prop.description
    own = settings.measures(scene)
    assert {"stature", "wrist", *(girth for girth, _ in WORN.values())} == set(own)
    assert set(own.values()) == {100.0}


# --- rescaling -------------------------------------------------------------------


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_mistaken_unit_is_put_right_in_one_step(scene, active, mode):
    item = active("box", 1000 * CUBE, SIDES)
    item.location.x = 100
    assert bpy.ops.foamwright.look_over() == {"FINISHED"}
    assert codes(scene)[0] == "implausible-size"
    bpy.ops.ed.undo_push(message="made")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode=mode)
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.foamwright.rescale("EXEC_DEFAULT", True, finding=0, factor=0.001)
    assert extent(item) == pytest.approx((0.3, 0.2, 0.4), rel=1e-5)
    assert item.location.x == pytest.approx(0.1)
    assert bpy.context.scene.foamwright.findings[0].state == "DONE"
    bpy.ops.ed.undo()
    item = bpy.data.objects["box"]
    assert extent(item) == pytest.approx((300, 200, 400), rel=1e-5)
    assert item.mode == mode


def asked(item_context, **properties):
    """What `invoke` offers: the factor of the dialog, which is then given up."""
    manager = types.SimpleNamespace(invoke_props_dialog=lambda *_, **__: {"CANCELLED"})
    context = types.SimpleNamespace(
        scene=item_context.scene, selected_objects=item_context.selected_objects,
        window_manager=manager)
    operator = types.SimpleNamespace(
        finding=-1, everywhere=False, properties=types.SimpleNamespace(
            is_property_set=lambda name: name in properties), factor=1.0, **properties)
    operator.target = types.MethodType(look_over.Remedy.target, operator)
    for name in ("_mistakes", "_chosen", "_items"):
        setattr(operator, name, types.MethodType(getattr(look_over.Rescale, name), operator))
    assert look_over.Rescale.invoke(operator, context, None) == {"CANCELLED"}
    return operator.factor


@pytest.mark.parametrize(("factor", "offered"), [
    (1000.0, 0.001), (0.001, 1000.0), (1.0, 1.0)])
def test_the_likely_factor_is_offered_and_giving_up_changes_nothing(
        scene, active, fingerprint, factor, offered):
    active("breastplate", factor * CUBE, SIDES)
    before = fingerprint()
    assert asked(bpy.context) == pytest.approx(offered)
    assert fingerprint() == before


def test_children_of_what_grows_grow_once(scene, active):
    parent, child = active("box", CUBE, SIDES), active("gem", CUBE / 10, SIDES)
    child.parent = parent
    child.location = (0, 0, 0.5)
    bpy.context.view_layer.update()
    assert bpy.ops.foamwright.rescale(factor=2.0) == {"FINISHED"}
    assert extent(parent) == pytest.approx((0.6, 0.4, 0.8), rel=1e-5)
    assert extent(child) == pytest.approx((0.06, 0.04, 0.08), rel=1e-5)
    assert child.matrix_world.translation.z == pytest.approx(1.0)


def test_a_size_of_the_whole_suit_is_put_right_on_every_object(scene, active):
    """The finding names the vertices furthest apart, which are of one object here."""
    one, two = active("box", 1000 * CUBE, SIDES), active("gem", 100 * CUBE, SIDES)
    for item in (one, two):
        item.foamwright.include = True
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("implausible-size")
    assert list(json.loads(scene.foamwright.findings[index].places)) == ["box"]
    bpy.ops.foamwright.rescale(finding=index, factor=0.001)
    assert extent(one) == pytest.approx((0.3, 0.2, 0.4), rel=1e-5)
    assert extent(two) == pytest.approx((0.03, 0.02, 0.04), rel=1e-5)


def test_a_factor_of_one_changes_nothing(scene, active, fingerprint):
    active("box", CUBE, SIDES)
    before = fingerprint()
    assert bpy.ops.foamwright.rescale() == {"CANCELLED"}
    assert fingerprint() == before


def test_places_of_sizes_name_the_object(scene, active):
    one, two = active("box", CUBE, SIDES), active("huge", 40 * CUBE, SIDES)
    one.foamwright.include = two.foamwright.include = True
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("implausible-size")
    assert "huge" in json.loads(scene.foamwright.findings[index].places)
