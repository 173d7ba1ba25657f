"""Buttons beside findings do what the remedy says, from any mode, in one undo step."""

import json
import types

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import identity, remedies, repairs, ticks, write  # noqa: E402
from addon.blender.operators import repair  # noqa: E402
from addon.core import soundness  # noqa: E402
from addon.core.errors import ERROR, NOTE, WARNING, Finding  # noqa: E402

CUBE = [(x, y, z) for x in (0, 0.1) for y in (0, 0.1) for z in (0, 0.1)]
SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
MODES = ["OBJECT", "EDIT", "SCULPT", "VERTEX_PAINT", "WEIGHT_PAINT"]


@pytest.fixture
def active(add_object):
    """active(name, vertices, faces): an object that is selected and active."""
    def add(*arguments, **marks):
        item = add_object(*arguments, **marks)
        item.select_set(True)
        bpy.context.view_layer.objects.active = item
        return item
    return add


@pytest.fixture
def listed(scene):
    """listed(*findings, places=…): put on the scene's list; all name these elements."""
    def put(*findings, **places):
        write.store_findings(scene, findings)
        for item in scene.foamwright.findings:
            item.places = json.dumps(places)
    return put


def finding(code, severity=WARNING, **more):
    return Finding(code, severity, "It is so.", "Do it.", **more)


def marked(item, name):
    """Vertex pairs of the edges with a mark."""
    item.update_from_editmode()
    attribute = item.data.attributes.get(name)
    if item.mode == "EDIT":  # attributes are away while a mesh is edited
        mesh = item.data.copy()
        try:
            return marked_in(mesh, mesh.attributes.get(name))
        finally:
            bpy.data.meshes.remove(mesh)
    return marked_in(item.data, attribute)


def marked_in(mesh, attribute):
    flags = [] if attribute is None else [each.value for each in attribute.data]
    return {tuple(sorted(mesh.edges[i].vertices)) for i in np.flatnonzero(flags)}


def sizes(item):
    item.update_from_editmode()
    return len(item.data.vertices), len(item.data.polygons)


def states(scene):
    return [item.state for item in scene.foamwright.findings]


def undone_in_one_step(name, before, action):
    """Run `action` as the window does, with its undo step; then undo it, and look."""
    bpy.ops.ed.undo_push(message="before")
    opened = states(bpy.context.scene)
    result = action()
    after, ticked = sizes(bpy.data.objects[name]), states(bpy.context.scene)
    mode = bpy.context.mode
    bpy.ops.ed.undo()
    ticks.look()
    assert sizes(bpy.data.objects[name]) == before and bpy.context.mode == mode
    assert states(bpy.context.scene) == opened
    bpy.ops.ed.redo()
    ticks.look()
    assert sizes(bpy.data.objects[name]) == after
    assert states(bpy.context.scene) == ticked
    return result


# --- marks -----------------------------------------------------------------------


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize(("kind", "attribute"), [
    ("SEAM", "uv_seam"), ("TRENCH", "foamwright_trench"), ("SCORE", "foamwright_score")])
def test_the_found_edges_are_marked_in_any_mode(scene, active, listed, mode, kind, attribute):
    item = active("box", CUBE, SIDES)
    listed(finding("unmarked-fold"), finding("ease-seam"), box={"edges": [[0, 1], [3, 1]]})
    bpy.ops.object.mode_set(mode=mode)
    assert bpy.ops.foamwright.mark_finding(finding=0, kind=kind) == {"FINISHED"}
    assert item.mode == mode
    assert marked(item, attribute) == {(0, 1), (1, 3)}
    assert states(scene) == ["DONE", "OPEN"]  # no element has come or gone


def test_marks_are_cleared_and_undone_in_one_step(scene, active, listed):
    item = active("box", CUBE, SIDES, seams=[(0, 1)])
    listed(finding("mark-on-rim", NOTE), box={"edges": [[0, 1]]})
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.foamwright.mark_finding("EXEC_DEFAULT", True, finding=0, kind="NONE")
    assert marked(item, "uv_seam") == set()
    bpy.ops.ed.undo()
    assert marked(bpy.data.objects["box"], "uv_seam") == {(0, 1)}
    assert states(bpy.context.scene) == ["OPEN"]


def test_going_back_past_marks_of_the_maker_s_own_takes_no_tick_away(scene, active, listed):
    item = active("box", CUBE, SIDES)
    listed(finding("unmarked-fold"), box={"edges": [[0, 1]]})
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.foamwright.mark_finding("EXEC_DEFAULT", True, finding=0, kind="SEAM")
    bpy.ops.mesh.select_all("EXEC_DEFAULT", True, action="SELECT")
    bpy.ops.foamwright.mark_edges("EXEC_DEFAULT", True, kind="TRENCH")
    for state in ("DONE", "DONE", "OPEN"):
        bpy.ops.ed.undo()
        ticks.look()
        assert states(bpy.context.scene) == [state]
    item = bpy.data.objects["box"]
    item.update_from_editmode()
    assert marked(item, "uv_seam") == set()


def test_a_button_for_all_acts_for_every_finding_of_the_kind(scene, active, listed):
    item = active("box", CUBE, SIDES)
    listed(*[finding("unmarked-fold")] * 3, finding("tube", ERROR))
    for number, entry in enumerate(scene.foamwright.findings):
        entry.places = json.dumps({"box": {"edges": [[0, 2 ** number % 7]]}})
    bpy.ops.foamwright.mark_finding(finding=1, kind="TRENCH", everywhere=True)
    assert states(scene) == ["OPEN", "DONE", "DONE", "DONE"]
    assert marked(item, "foamwright_trench") == {(0, 2), (0, 4), (0, 1)}


@pytest.mark.parametrize("kind", ["SEAM", "TRENCH", "SCORE", "NONE"])
def test_a_face_that_folds_along_its_diagonal_is_split_there(scene, active, listed, kind):
    item = active("box", CUBE, SIDES)
    item.data.uv_layers.new(name="painted")
    listed(finding("unmarked-fold"), box={"edges": [[0, 3], [0, 1]]})
    assert bpy.ops.foamwright.select_finding(index=0) == {"FINISHED"}
    item.update_from_editmode()
    assert 0 in [p.index for p in item.data.polygons if p.select]  # stands for its diagonal
    assert (bpy.ops.foamwright.mark_finding(finding=0, kind=kind) == {"FINISHED"}) == (
        kind != "NONE")
    assert sizes(item) == (8, 6 if kind == "NONE" else 7)
    if kind != "NONE":
        name = {"SEAM": "uv_seam", "TRENCH": "foamwright_trench", "SCORE": "foamwright_score"}
        assert marked(item, name[kind]) == {(0, 3), (0, 1)}
    assert item.data.uv_layers.keys() == ["painted"]


def test_a_multires_sculpt_is_not_split(scene, active, listed, fingerprint):
    item = active("box", CUBE, SIDES)
    listed(finding("unmarked-fold"), box={"edges": [[0, 3]]})
    bpy.ops.object.multires_subdivide(modifier=item.modifiers.new("Detail", "MULTIRES").name)
    before = fingerprint()
    with pytest.raises(RuntimeError, match="multires detail"):
        bpy.ops.foamwright.mark_finding(finding=0)
    assert fingerprint() == before


def test_edges_that_a_modifier_made_cannot_be_marked(active, listed, scene):
    active("box", CUBE, SIDES)
    listed(finding("tube"), box={"faces": [0]})
    with pytest.raises(RuntimeError, match="a modifier made them"):
        bpy.ops.foamwright.mark_finding(finding=0)
    assert states(scene) == ["OPEN"]


# --- repairs ---------------------------------------------------------------------


def split_cube():
    """Every side of the cube with corners of its own."""
    return [CUBE[v] for side in SIDES for v in side], np.arange(24).reshape(-1, 4).tolist()


@pytest.mark.parametrize("mode", MODES)
def test_split_vertices_are_merged_in_any_mode_and_undone(scene, active, listed, mode):
    active("box", *split_cube())
    listed(finding("split-vertices"), finding("ease-seam"), box={"vertices": [0]})
    bpy.ops.ed.undo_push(message="made")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode=mode)
    undone_in_one_step("box", (24, 6), lambda: bpy.ops.foamwright.merge_vertices(
        "EXEC_DEFAULT", True, finding=0))
    item = bpy.data.objects["box"]
    assert sizes(item) == (8, 6)
    assert states(bpy.context.scene) == ["DONE", "STALE"]


@pytest.mark.parametrize("factor", [1e-3, 1.0, 1e4])
def test_what_lies_together_is_told_by_the_size_of_the_mesh(active, factor):
    points, faces = split_cube()
    shaken = factor * (np.array(points) + 4e-8 * np.sin(np.arange(72)).reshape(-1, 3))
    item = active("box", shaken, faces)
    assert bpy.ops.foamwright.merge_vertices() == {"FINISHED"}
    assert sizes(item) == (8, 6)


def test_a_face_inside_is_deleted(active, read):
    """Two boxes side by side with the wall between them left in."""
    points = [*CUBE, *[(x + 0.1, y, z) for x, y, z in CUBE[4:]]]
    right = [(8, 10, 11, 9), (4, 8, 9, 5), (6, 7, 11, 10), (4, 6, 10, 8), (5, 9, 11, 7)]
    item = active("box", points, [*SIDES, *right])
    with pytest.raises(RuntimeError, match="three or more faces"):
        bpy.ops.foamwright.check()
    assert bpy.ops.foamwright.delete_inner_faces() == {"FINISHED"}
    assert sizes(item) == (12, 10)
    assert not [f for f in soundness.faults(read(item)[0])]


def test_what_bears_the_name_of_a_mark_is_told(active, listed):
    box = active("box", CUBE, SIDES)
    box.data.attributes.new("foamwright_trench", "FLOAT", "EDGE")
    listed(finding("unmarked-fold"), box={"edges": [[0, 1]]})
    with pytest.raises(RuntimeError, match="that is no mark on edges"):
        bpy.ops.foamwright.mark_finding(finding=0, kind="TRENCH")


def test_a_mesh_in_edit_mode_in_another_scene_is_told(active, scene):
    box = active("box", *split_cube())
    bpy.ops.object.mode_set(mode="EDIT")
    other = bpy.data.scenes.new("other")
    other.collection.objects.link(box)
    box.foamwright.include = True
    bpy.context.window.scene = other
    try:
        assert box.mode == "EDIT" and bpy.context.mode == "OBJECT"
        with pytest.raises(RuntimeError, match="is in Edit Mode in another scene"):
            bpy.ops.foamwright.merge_vertices()
    finally:
        bpy.context.window.scene = scene


def test_a_stale_finding_says_so(scene, active, listed):
    active("box", *split_cube())
    listed(finding("split-vertices"), finding("ease-seam"), box={"vertices": [0]})
    bpy.ops.foamwright.merge_vertices(finding=0)
    with pytest.raises(RuntimeError, match="has been changed since"):
        bpy.ops.foamwright.merge_vertices(finding=1)
    assert states(scene) == ["DONE", "STALE"]
    assert bpy.ops.foamwright.select_finding(index=1) == {"FINISHED"}
    assert scene.foamwright.finding == 1 and bpy.context.mode == "OBJECT"


def test_where_there_is_nothing_to_repair_nothing_changes(scene, active, fingerprint):
    active("box", CUBE, SIDES)
    before = fingerprint()
    for name in ("merge_vertices", "delete_loose", "delete_nowhere", "delete_doubled_faces",
                 "dissolve_thin_faces", "turn_faces_outward", "apply_scale", "separate_parts",
                 "fill_holes", "delete_crumbs", "delete_inner_faces"):
        assert getattr(bpy.ops.foamwright, name)() == {"CANCELLED"}, name
        assert fingerprint() == before, name


def test_an_object_in_edit_mode_elsewhere_is_left_so_that_undo_holds_all(active, scene, listed):
    active("box", *split_cube())
    other = active("other", CUBE, SIDES)
    bpy.data.objects["box"].select_set(False)
    listed(finding("split-vertices"), box={"vertices": [0]})
    bpy.ops.ed.undo_push(message="made")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode="EDIT")
    assert other.mode == "EDIT" and bpy.data.objects["box"].mode == "OBJECT"
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.foamwright.merge_vertices("EXEC_DEFAULT", True, finding=0)
    assert sizes(bpy.data.objects["box"]) == (8, 6)
    bpy.ops.ed.undo()
    assert sizes(bpy.data.objects["box"]) == (24, 6)
    assert bpy.data.objects["other"].mode == "EDIT"


def test_a_curve_in_edit_mode_is_left_and_no_obstacle(active, scene, listed):
    box = active("box", *split_cube())
    listed(finding("split-vertices"), box={"vertices": [0]})
    curve = bpy.data.curves.new("line", "CURVE")
    curve.splines.new("POLY").points.add(2)
    line = bpy.data.objects.new("line", curve)
    scene.collection.objects.link(line)
    bpy.context.view_layer.objects.active = line
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.context.mode == "EDIT_CURVE"
    assert bpy.ops.foamwright.merge_vertices(finding=0) == {"FINISHED"}
    assert sizes(box) == (8, 6) and line.mode == "OBJECT"


def test_loose_and_nowhere_and_doubled_are_deleted(active):
    item = active("box", [*CUBE, (5, 5, 5), (float("nan"), 0, 0)], [*SIDES, (2, 3, 1, 0)])
    assert bpy.ops.foamwright.delete_doubled_faces() == {"FINISHED"}
    assert sizes(item) == (10, 6)
    assert bpy.ops.foamwright.delete_nowhere() == {"FINISHED"}
    assert sizes(item) == (9, 6)
    assert bpy.ops.foamwright.delete_loose() == {"FINISHED"}
    assert sizes(item) == (8, 6)


@pytest.mark.parametrize("name", ["DeleteLoose", "DeleteNowhere", "DeleteDoubledFaces",
                                  "DeleteInnerFaces", "DeleteCrumbs"])
def test_whatever_deletes_asks_first(name):
    cls, asked = getattr(repair, name), {}
    manager = types.SimpleNamespace(
        invoke_confirm=lambda *_, **words: asked.update(words) or {"CANCELLED"})
    operator = types.SimpleNamespace(
        asks=cls.asks, execute=lambda context: pytest.fail("did it without asking"))
    context = types.SimpleNamespace(window_manager=manager)
    assert cls.invoke(operator, context, None) == {"CANCELLED"}
    assert asked["confirm_text"] == "Delete" and "will be deleted" in asked["message"]


def test_thin_faces_are_dissolved(active):
    item = active("sheet", [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (1, 0, 0)],
                  [(0, 1, 2), (0, 2, 3), (1, 4, 2)])
    assert bpy.ops.foamwright.dissolve_thin_faces() == {"FINISHED"}
    assert sizes(item) == (4, 2)


def normals(item):
    item.update_from_editmode()
    return np.array([p.normal for p in item.data.polygons])


@pytest.mark.parametrize("turned", [[0], [0, 1, 2, 3, 4, 5], [1, 4]])
def test_a_closed_part_is_turned_outward(active, turned):
    sides = [side[::-1] if i in turned else side for i, side in enumerate(SIDES)]
    item = active("box", CUBE, sides)
    assert bpy.ops.foamwright.turn_faces_outward() == {"FINISHED"}
    centres = np.array([p.center for p in item.data.polygons]) - 0.05
    assert (np.einsum("ij,ij->i", normals(item), centres) > 0).all()


@pytest.mark.parametrize("up", [True, False])
def test_an_open_part_keeps_the_outside_most_of_it_shows(active, up):
    """A bowl whose normals look into it, or out of it, with one face turned over."""
    bowl = [(0, 0, 0), (1, 0, 0.5), (1, 1, 0.8), (0, 1, 0.5), (-1, 1, 0.8), (-1, 0, 0.5),
            (-1, -1, 0.8), (0, -1, 0.5), (1, -1, 0.8)]
    faces = [(0, 1, 2, 3), (0, 3, 4, 5), (0, 5, 6, 7), (0, 7, 8, 1)]
    faces = [f if (i == 2) != up else f[::-1] for i, f in enumerate(faces)]
    item = active("bowl", bowl, faces)
    most = np.sign(np.median(normals(item)[:, 2]))
    assert bpy.ops.foamwright.turn_faces_outward() == {"FINISHED"}
    assert (np.sign(normals(item)[:, 2]) == most).all()


def test_a_hole_is_filled(scene, active, listed):
    item = active("box", CUBE, SIDES[:-1])
    listed(finding("small-hole", NOTE), box={"edges": [[1, 5], [5, 7], [7, 3], [3, 1]]})
    assert bpy.ops.foamwright.fill_holes(finding=0) == {"FINISHED"}
    assert sizes(item) == (8, 6)
    centres = np.array([p.center for p in item.data.polygons]) - 0.05
    assert (np.einsum("ij,ij->i", normals(item), centres) > 0).all()


def test_crumbs_are_deleted_and_the_rest_stays(scene, active, listed):
    crumb = np.array(CUBE) * 0.01 + 1
    item = active("box", [*CUBE, *crumb.tolist()],
                  [*SIDES, *(np.array(SIDES) + 8).tolist()])
    listed(finding("crumbs", NOTE), box={"faces": [7]})
    assert bpy.ops.foamwright.delete_crumbs(finding=0) == {"FINISHED"}
    assert sizes(item) == (8, 6) and max(v.co.x for v in item.data.vertices) < 0.2


def test_elements_are_left_alone_once_others_may_bear_their_numbers(scene, active):
    crumb = 0.001 * np.array(CUBE) + 0.3
    points, faces = np.concatenate([crumb, CUBE]), [*SIDES, *(np.array(SIDES) + 8)]
    box = active("box", points, faces)
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("crumbs")
    assert json.loads(scene.foamwright.findings[index].places)["box"]["faces"]
    # The maker deletes the crumb by hand; its numbers now are those of the box.
    repairs.change([box], repairs.delete_parts([0]))
    assert sizes(box) == (8, 6)
    with pytest.raises(RuntimeError, match="“box” has been changed since this was found"):
        bpy.ops.foamwright.delete_crumbs(finding=index)
    assert sizes(box) == (8, 6)
    bpy.ops.foamwright.select_finding(index=index)
    assert box.mode == "OBJECT"  # nothing to show


def test_a_finding_stays_with_its_object_whatever_that_is_called(scene, active, tmp_path):
    crumb = 0.001 * np.array(CUBE) + 0.3
    points, faces = np.concatenate([crumb, CUBE]), [*SIDES, *(np.array(SIDES) + 8)]
    box = active("box", points, faces)
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("crumbs")
    box.name = "greave"
    other = active("box", points, faces)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    box, other = bpy.data.objects["greave"], bpy.data.objects["box"]
    bpy.ops.foamwright.select_finding(index=index)
    assert (box.mode, other.mode) == ("EDIT", "OBJECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    assert bpy.ops.foamwright.delete_crumbs(finding=index) == {"FINISHED"}
    assert sizes(box) == (8, 6) and sizes(other) == (16, 12)

    # Of a copy the findings of a later look tell, and of the first those of its own.
    bpy.context.view_layer.objects.active = box
    copy = box.copy()
    bpy.context.scene.collection.objects.link(copy)
    scene = bpy.context.scene
    words = {identity.mark(scene, item) for item in (copy, box, other)}
    assert len(words) == 3
    assert identity.find(scene, "greave", box[identity.ID]) == box


def test_of_an_object_that_is_gone_no_other_takes_the_place(scene, active):
    crumb = 0.001 * np.array(CUBE) + 0.3
    points, faces = np.concatenate([crumb, CUBE]), [*SIDES, *(np.array(SIDES) + 8)]
    box = active("box", points, faces)
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("crumbs")
    bpy.data.objects.remove(box)
    other = active("box", points, faces)
    with pytest.raises(RuntimeError, match="“box” is no longer in this scene"):
        bpy.ops.foamwright.delete_crumbs(finding=index)
    bpy.ops.foamwright.select_finding(index=index)
    assert other.mode == "OBJECT" and sizes(other) == (16, 12)


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_parts_become_objects_of_the_suit_in_one_step(scene, active, listed, mode):
    item = active("box", [*CUBE, *(np.array(CUBE) + 1).tolist()],
                  [*SIDES, *(np.array(SIDES) + 8).tolist()])
    item.foamwright.include = True
    item.foamwright.stock = "eva-4"
    listed(finding("loose-parts", NOTE), box={"faces": [7]})
    bpy.ops.ed.undo_push(message="made")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode=mode)
    bpy.ops.ed.undo_push(message="before")
    assert bpy.ops.foamwright.separate_parts("EXEC_DEFAULT", True, finding=0) == {"FINISHED"}
    assert [sizes(o) for o in scene.objects] == [(8, 6)] * 2
    assert all(o.foamwright.include and o.foamwright.stock == "eva-4" for o in scene.objects)
    bpy.ops.ed.undo()
    assert [sizes(o) for o in bpy.context.scene.objects] == [(16, 12)]
    assert bpy.data.objects["box"].mode == mode


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_an_applied_scale_is_undone_in_one_step(scene, active, mode):
    item = active("box", CUBE, SIDES)
    item.scale = (-2, 1, 1)
    bpy.ops.ed.undo_push(message="made")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode=mode)
    bpy.ops.ed.undo_push(message="before")
    assert bpy.ops.foamwright.apply_scale("EXEC_DEFAULT", True) == {"FINISHED"}
    assert tuple(item.scale) == (1, 1, 1)
    bpy.ops.ed.undo()
    item = bpy.data.objects["box"]
    assert tuple(item.scale) == (-2, 1, 1) and item.mode == mode
    item.update_from_editmode()
    assert [tuple(round(c, 3) for c in v.co) for v in item.data.vertices] == CUBE


def test_a_negative_scale_is_applied_without_turning_the_surface(scene, active, read):
    item = active("box", CUBE, SIDES)
    item.scale = (-2, 1, 1)
    bpy.context.view_layer.update()
    before, _ = read(item)
    assert [f.code for f in before.findings] == ["negative-scale"]
    assert bpy.ops.foamwright.apply_scale() == {"FINISHED"}
    bpy.context.view_layer.update()
    after, _ = read(item)
    assert not after.findings and tuple(item.scale) == (1, 1, 1)
    volume = [np.einsum("ij,ij->", *(lambda a, b, c: (a, np.cross(b, c)))(
        *np.moveaxis(s.vertices[s.faces], 1, 0))) / 6 for s in (before, after)]
    assert volume == pytest.approx([2e6, 2e6], rel=1e-5)  # mm³, positive: faces look outward


def test_only_the_object_of_a_finding_has_its_scale_applied(scene, active):
    box, other = active("box", CUBE, SIDES), active("other", CUBE, SIDES)
    box.scale, other.scale = (-1.0, 1.0, 1.0), (2.0, 2.0, 2.0)
    bpy.context.view_layer.update()
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("negative-scale")
    assert set(json.loads(scene.foamwright.findings[index].places)) == {"box"}
    bpy.ops.foamwright.apply_scale(finding=index)
    assert tuple(box.scale) == (1.0, 1.0, 1.0) and tuple(other.scale) == (2.0, 2.0, 2.0)


def test_what_belongs_to_another_file_is_not_edited(scene, active, tmp_path):
    box = active("box", CUBE, SIDES)
    bpy.data.libraries.write(str(tmp_path / "parts.blend"), {box})
    bpy.data.objects.remove(box)
    with bpy.data.libraries.load(str(tmp_path / "parts.blend"), link=True) as (_, wanted):
        wanted.objects = ["box"]
    scene.collection.objects.link(wanted.objects[0])
    bpy.context.view_layer.update()
    assert write.select(bpy.context, {"box": {"faces": [0]}}) == ["box"]
    assert bpy.context.mode == "OBJECT"
    wanted.objects[0].select_set(True)
    for name, keywords in (("add_to_suit", {}), ("leave_out", {}), ("rescale", {"factor": 2.0}),
                           ("mirror_marks", {}), ("separate_parts", {}), ("merge_vertices", {}),
                           ("remove_from_suit", {"name": "box"})):
        with pytest.raises(RuntimeError, match="comes from another file, .* Make Local"):
            getattr(bpy.ops.foamwright, name)(**keywords)
    assert not wanted.objects[0].foamwright.include


def test_a_scene_gets_units_and_the_sculpt_keeps_its_size(scene, active, read):
    box = active("box", CUBE, SIDES)
    scene.unit_settings.system, scene.unit_settings.scale_length = "NONE", 0.001
    before = read(box)[0]
    (found,) = [f for f in before.findings if f.code == "scene-without-units"]
    write.store_findings(scene, [found])
    (button,) = remedies.buttons(scene.foamwright.findings[0])
    assert button.operator == "foamwright.use_metric"
    assert bpy.ops.foamwright.use_metric(**button.properties) == {"FINISHED"}
    after = read(box)[0]
    assert not after.findings and np.array_equal(before.vertices, after.vertices)


def test_a_parent_that_mirrors_is_told(scene, active):
    box, parent = active("box", CUBE, SIDES), bpy.data.objects.new("holder", None)
    scene.collection.objects.link(parent)
    box.parent, parent.scale = parent, (-1.0, 1.0, 1.0)
    bpy.context.view_layer.update()
    bpy.ops.foamwright.look_over()
    index = [f.code for f in scene.foamwright.findings].index("negative-scale")
    with pytest.raises(RuntimeError, match="mirrored by “holder”"):
        bpy.ops.foamwright.apply_scale(finding=index)


@pytest.mark.parametrize("kept", [True, False])
def test_lost_marks_are_laid_on_their_own_object_where_modifiers_leave_them(scene, active, kept):
    seam = [(0, 1), (1, 3), (2, 3), (0, 2)]
    box, other = (active(name, CUBE, SIDES, seams=seam) for name in ("box", "other"))
    bpy.context.view_layer.objects.active = box
    other.select_set(True)
    if kept:
        bpy.ops.foamwright.keep_lines()
    box.modifiers.new("new mesh", "REMESH").voxel_size = 0.01
    with pytest.raises(RuntimeError):  # the box is closed now
        bpy.ops.foamwright.check()
    index = [f.code for f in scene.foamwright.findings].index("marks-lost")
    (button,) = remedies.buttons(scene.foamwright.findings[index])
    assert button.properties == {"way": "ACROSS"}
    bpy.ops.foamwright.select_finding(index=index)
    assert bpy.context.selected_objects == [box] and box.mode == "OBJECT"
    bpy.ops.foamwright.lay_lines(finding=index, **button.properties)
    assert marked(other, "uv_seam") == set(seam) and not marked(box, "uv_seam")
    assert [line.parent for line in scene.objects if line.type == "CURVE"] == [box]


def test_multires_detail_is_not_spoiled(active, fingerprint):
    item = active("box", *split_cube())
    added = item.modifiers.new("Detail", "MULTIRES")
    bpy.ops.object.multires_subdivide(modifier=added.name)
    before = fingerprint()
    with pytest.raises(RuntimeError, match="multires detail"):
        bpy.ops.foamwright.merge_vertices()
    assert fingerprint() == before


def test_two_objects_on_one_mesh_are_repaired_once(active, scene):
    item = active("box", *split_cube())
    twin = bpy.data.objects.new("twin", item.data)
    scene.collection.objects.link(twin)
    assert repairs.change([item, twin], repairs.merge(1e-5)) == 16


# --- the table -------------------------------------------------------------------


def test_every_button_names_an_operator_with_these_properties(scene, active, listed):
    active("box", CUBE, SIDES)
    for code, buttons in remedies.REMEDIES.items():
        for button in buttons:
            assert remedies._registered(button.operator), f"{code}: {button.operator}"
            assert set(button.properties) <= set(remedies._properties(button.operator))


def test_a_proposed_line_is_offered_only_where_there_is_one(scene, active, listed):
    active("box", CUBE, SIDES)
    listed(finding("cannot-flatten", ERROR), box={"edges": [[0, 1]]})
    item = scene.foamwright.findings[0]
    assert "foamwright.mark_finding" in [b.operator for b in remedies.buttons(item)]
    item.places = json.dumps({"box": {"faces": [0]}})
    assert "foamwright.mark_finding" not in [b.operator for b in remedies.buttons(item)]


def test_the_proposed_seam_of_a_closed_shell_opens_it(scene, active):
    """From the check that refuses, over the button, to a check that passes."""
    active("box", CUBE, SIDES)
    with pytest.raises(RuntimeError, match="closed all round"):
        bpy.ops.foamwright.check()
    (item,) = scene.foamwright.findings
    (button,) = remedies.buttons(item)
    assert bpy.ops.foamwright.mark_finding(finding=0, **button.properties) == {"FINISHED"}
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    assert "closed-without-seam" not in [f.code for f in scene.foamwright.findings]


@pytest.mark.parametrize("kind", [0, 1])
def test_a_fold_of_the_check_is_marked_and_no_longer_found(scene, add_object, kind):
    """A sheet folded by 90 degrees."""
    points = [(x, y, z) for x, y in ((0, 0.2), (0, 0), (0.2, 0)) for z in (0, 0.1, 0.2)]
    faces = [(0, 3, 4, 1), (1, 4, 5, 2), (3, 6, 7, 4), (4, 7, 8, 5)]
    item = add_object("fold", points, faces)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    index = [f.code for f in scene.foamwright.findings].index("unmarked-fold")
    button = remedies.buttons(scene.foamwright.findings[index])[kind]
    bpy.ops.foamwright.mark_finding(finding=index, **button.properties)
    name = {"TRENCH": "foamwright_trench", "SEAM": "uv_seam"}
    assert marked(item, name[button.properties["kind"]]) == {(3, 4), (4, 5)}
    bpy.ops.foamwright.check()
    assert "unmarked-fold" not in [f.code for f in scene.foamwright.findings]


def test_a_tube_is_opened_by_its_button(scene, add_object):
    steps, around = 6, 24
    turn = np.arange(around) * 2 * np.pi / around
    points = [(0.06 * np.cos(a), 0.06 * np.sin(a), 0.03 * i) for i in range(steps) for a in turn]
    faces = [(around * i + j, around * i + (j + 1) % around, around * (i + 1) + (j + 1) % around,
              around * (i + 1) + j) for i in range(steps - 1) for j in range(around)]
    item = add_object("tube", points, faces)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    bpy.ops.foamwright.check()
    index = [f.code for f in scene.foamwright.findings].index("tube")
    (button,) = remedies.buttons(scene.foamwright.findings[index])
    bpy.ops.foamwright.mark_finding(finding=index, **button.properties)
    assert len(marked(item, "uv_seam")) == steps - 1
    bpy.ops.foamwright.check()
    assert "tube" not in [f.code for f in scene.foamwright.findings]
