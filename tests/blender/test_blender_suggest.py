"""Seams suggested in Blender: proposed, shown, accepted or forgotten, and undone."""

import math
import types

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import guides, proposals, seams  # noqa: E402
from addon.blender.choices import SUGGEST  # noqa: E402
from addon.blender.operators import suggest as operators  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core import suggest  # noqa: E402
from addon.core.errors import Cancelled  # noqa: E402
from addon.core.make import check  # noqa: E402
from addon.core.model import SCORE  # noqa: E402
from tests.shapes import cap, cylinder  # noqa: E402


@pytest.fixture(autouse=True)
def one_start(monkeypatch):
    """One start is enough to see."""
    whole = suggest.suggest_seams
    monkeypatch.setattr(suggest, "suggest_seams",
                        lambda *given: whole(*given, scales=(1.0,)))


@pytest.fixture
def add_dome(scene, add_object):
    """add_dome(name, rings): a cap of 62 degrees, 100 mm in radius, which 4 mm foam follows only
    when it is cut; moved and turned."""
    scene.foamwright.thickness = "4 mm"

    def add(name="dome", rings=10):
        item = add_object(name, *cap(0.1, math.radians(62), rings))
        item.location = (0.3, -0.2, 0.5)
        item.rotation_euler = (0.2, 0.4, 0.1)
        item.foamwright.include = True
        bpy.context.view_layer.update()
        bpy.context.view_layer.objects.active = item
        return item

    return add


@pytest.fixture
def dome(add_dome):
    return add_dome()


@pytest.fixture
def lowpoly(add_dome):
    """A cap of so few faces that its lines hold on a smooth surface only."""
    return add_dome("lowpoly", 5)


def suggested(ease=0.0, marks=seams.KEEP):
    group = bpy.context.scene.foamwright.seams
    group.ease, group.marks = ease, marks
    assert bpy.ops.foamwright.suggest_seams() == {"FINISHED"}
    return group


def shown():
    return proposals.shown(bpy.context.scene, proposals.SEAMS)


def told():
    return {f.code for f in bpy.context.scene.foamwright.findings if f.step == SUGGEST}


def checked(read, *items):
    return check(read(*items)[0], read_settings(bpy.context.scene))


def middle(item):
    """The edges of a cap in its plane of symmetry y = 0."""
    return [edge for edge in item.data.edges
            if all(abs(item.data.vertices[v].co.y) < 1e-6 for v in edge.vertices)]


def panel_text():
    from tests.blender.test_blender_panels import draw, panel
    return draw(panel("FOAMWRIGHT_PT_suggest"))


# --- the whole way -------------------------------------------------------------------


def test_a_dome_is_cut_from_suggestion_to_check(scene, dome, read):
    mesh = len(dome.data.vertices), len(dome.data.edges)
    group = suggested()
    assert group.found and group.failing == 0 and group.worst <= 1 and not group.coarse
    lines = shown()
    assert lines and all(line.parent == dome and line.foamwright.leave_out for line in lines)
    for line in lines:  # on the sphere, of the dome's radius
        (world, _), = guides.world_polylines(line)
        local = world @ np.linalg.inv(np.array(dome.matrix_world))[:3, :3].T + np.linalg.inv(
            np.array(dome.matrix_world))[:3, 3]
        assert np.linalg.norm(local, axis=1) == pytest.approx(0.1, rel=0.02)
    assert not read(dome)[0].guides  # shown only
    assert told() == {"suggested-seams"}
    pieces, worst, length = group.pieces, group.worst, group.length
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    assert not group.found and not shown() and not told()
    assert mesh == (len(dome.data.vertices), len(dome.data.edges))
    assert sum(len(g.points) for g in read(dome)[0].guides) > 0 and length > 50
    pattern = checked(read, dome)
    assert len(pattern.pieces) == pieces
    assert max(p.verdict.heated for p in pattern.pieces) == pytest.approx(worst, rel=0.05)
    assert all(p.verdict.kind != "relief" for p in pattern.pieces)


def test_easier_foam_takes_more_seam(scene, dome):
    hard = suggested()
    length, worst = hard.length, hard.worst
    easy = suggested(ease=1.0)
    assert easy.length > length and easy.worst < worst
    assert len({line.name for line in shown()}) == len(shown())
    assert len(bpy.data.curves) == len(shown())  # the earlier lines are gone


def test_a_sculpt_that_needs_no_seams(scene, add_sheet, read):
    item = add_sheet()
    item.foamwright.include = True
    suggested()
    assert not shown() and told() == {"no-seams-needed"}
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    assert not read(item)[0].guides and not scene.foamwright.seams.found


def test_several_objects_get_their_own_lines(scene, dome, add_object, read):
    points, faces = cylinder(0.05, 2 * np.pi, 0.15, columns=33, rows=9)
    column = np.arange(len(points)) % 33
    first = np.where(column == 32, np.arange(len(points)) - 32, np.arange(len(points)))
    used, faces = np.unique(first[faces], return_inverse=True)
    tube = add_object("tube", points[used] + (1, 0, 0), faces.reshape(-1, 3))
    tube.foamwright.include = True
    group = suggested()
    by_object = {line.parent.name: line for line in shown()}
    assert set(by_object) == {"dome", "tube"}
    (slit, _), = guides.world_polylines(by_object["tube"])
    assert np.ptp(slit[:, 2]) == pytest.approx(0.15, abs=0.001)  # from rim to rim
    pieces = group.pieces
    bpy.ops.foamwright.accept_seams()
    assert len(checked(read, dome, tube).pieces) == pieces


def test_lines_and_shape_follow_a_mirrored_object_and_other_units(scene, dome, read):
    scene.unit_settings.scale_length = 0.001
    dome.scale = (-1000, 1000, 1000)
    dome.location = (300, 0, 0)
    bpy.context.view_layer.update()
    suggested()
    bpy.ops.foamwright.accept_seams()
    for guide in read(dome)[0].guides:
        centre = np.array([300.0, 0, 0])
        assert np.linalg.norm(guide.points - centre, axis=1) == pytest.approx(100, rel=0.02)


# --- coarse sculpts ------------------------------------------------------------------


def test_a_coarse_sculpt_is_replaced_by_a_smooth_one_with_marks(scene, lowpoly, read):
    material = bpy.data.materials.new("Gold")
    lowpoly.data.materials.append(material)
    lowpoly.foamwright.stock, lowpoly.foamwright.worn = "eva-4", "head"
    before = len(lowpoly.data.vertices), len(lowpoly.data.polygons)
    group = suggested()
    assert group.coarse and "coarse-sculpt" in told()
    pieces, worst = group.pieces, group.worst
    text = panel_text().texts()
    assert "“lowpoly Smooth”" in text and "not deleted" in text
    assert len(scene.objects) == 1 + len(shown())  # nothing of it can be seen before
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    new = scene.objects["lowpoly Smooth"]
    assert before == (len(lowpoly.data.vertices), len(lowpoly.data.polygons))
    assert lowpoly.foamwright.leave_out and lowpoly.hide_get() and not lowpoly.foamwright.include
    assert new.foamwright.include and not new.foamwright.leave_out and new.visible_get()
    assert new.foamwright.stock == "eva-4" and new.foamwright.worn == "head"
    assert new.data.materials[0] == material
    assert np.array(new.matrix_world) == pytest.approx(np.array(lowpoly.matrix_world), abs=1e-6)
    assert bpy.context.view_layer.objects.active == new
    assert not shown() and not len(bpy.data.curves)
    points = np.array([v.co for v in new.data.vertices])
    assert len(points) > 2 * before[0]
    assert np.linalg.norm(points, axis=1) == pytest.approx(0.1, rel=0.02)  # smooth: on the sphere
    outward = np.array([p.normal for p in new.data.polygons])
    assert (np.einsum("ij,ij->i", outward, [p.center for p in new.data.polygons]) > 0).all()
    pattern = checked(read, new)
    assert len(pattern.pieces) == pieces
    assert max(p.verdict.heated for p in pattern.pieces) == pytest.approx(worst, rel=0.05)


@pytest.mark.parametrize("marks", [seams.KEEP, seams.REPLACE])
def test_score_lines_go_over_to_the_smooth_surface(scene, lowpoly, read, marks):
    flags = np.zeros(len(lowpoly.data.edges), dtype=bool)
    edge = min(lowpoly.data.edges, key=lambda e: min(
        lowpoly.data.vertices[v].co.z for v in e.vertices) < 0.07)
    flags[edge.index] = True
    lowpoly.data.attributes.new("foamwright_score", "BOOLEAN", "EDGE").data.foreach_set(
        "value", flags)
    suggested(marks=marks)
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    new = scene.objects["lowpoly Smooth"]
    scores = [g for g in read(new)[0].guides if g.kind == SCORE]
    if marks == seams.REPLACE:
        assert not scores
        return
    place = np.array(lowpoly.matrix_world)
    ends = np.array([lowpoly.data.vertices[v].co for v in edge.vertices]) @ place[:3, :3].T
    found, = (g.points for g in scores)
    assert np.sort(found, axis=0) == pytest.approx(
        np.sort(1000 * (ends + place[:3, 3]), axis=0), abs=0.01)
    pattern = checked(read, new)
    assert not [f for f in pattern.findings if f.code == "guide-off-surface"]
    assert sum(fold.kind == SCORE for p in pattern.pieces for fold in p.folds) >= 1


def test_a_mirrored_coarse_object_keeps_its_outside(scene, lowpoly, read):
    lowpoly.scale = (1, -1, 1)
    bpy.context.view_layer.update()
    suggested()
    bpy.ops.foamwright.accept_seams()
    sculpt, _ = read(scene.objects["lowpoly Smooth"])
    a, b, c = (sculpt.vertices[sculpt.faces[:, i]] for i in range(3))
    centre = np.array(lowpoly.matrix_world)[:3, 3] * 1000
    assert (np.einsum("ij,ij->i", np.cross(b - a, c - a), (a + b + c) / 3 - centre) > 0).all()


def test_accepting_a_coarse_sculpt_is_one_step(scene, lowpoly):
    suggested()
    bpy.ops.ed.undo_push(message="Before")
    assert bpy.ops.foamwright.accept_seams("EXEC_DEFAULT", True) == {"FINISHED"}
    bpy.ops.ed.undo()
    scene = bpy.context.scene
    assert "lowpoly Smooth" not in scene.objects
    item = scene.objects["lowpoly"]
    assert not item.foamwright.leave_out and not item.hide_get()
    assert scene.foamwright.seams.found and shown()
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    assert "lowpoly Smooth" in scene.objects


def test_modifiers_of_a_coarse_sculpt_are_in_the_new_surface(scene, lowpoly, read):
    fold = lowpoly.modifiers.new("Foam", "SOLIDIFY")
    fold.thickness, fold.offset = 0.004, 1.0  # the foam lies outside the surface
    suggested()
    bpy.ops.foamwright.accept_seams()
    new = scene.objects["lowpoly Smooth"]
    assert not len(new.modifiers) and new.foamwright.side == "inner"
    assert len(lowpoly.modifiers) == 1


def test_forgetting_leaves_no_mesh_behind(scene, lowpoly):
    suggested()
    assert len(bpy.data.meshes) == 2
    bpy.ops.foamwright.forget_seams()
    assert len(bpy.data.meshes) == 1 and not shown() and not len(bpy.data.curves)


def test_a_proposal_lives_in_the_file(scene, lowpoly, tmp_path):
    suggested()
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    assert scene.foamwright.seams.found and shown()
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    assert len(scene.objects["lowpoly Smooth"].data.polygons) > 100


# --- marks that are there ------------------------------------------------------------


def mark(item):
    for edge in middle(item):
        edge.use_seam = True


def test_marks_are_kept_unless_they_are_to_be_replaced(scene, dome, read):
    mark(dome)
    marked = sum(e.use_seam for e in dome.data.edges)
    assert marked > 10
    group = suggested()
    kept = group.pieces
    assert (group.edges, group.lines, group.replaces) == (marked, 0, False)
    assert f"{marked} marked edges and 0 drawn lines. They stay." in panel_text().texts()
    bpy.ops.foamwright.accept_seams()
    assert sum(e.use_seam for e in dome.data.edges) == marked
    assert kept == len(checked(read, dome).pieces) >= 2


def test_replacing_takes_marks_off_and_leaves_lines_out_in_one_step(scene, dome, read):
    mark(dome)
    drawn = guides.add_guide(scene, dome, np.array(
        [dome.matrix_world @ dome.data.vertices[i].co for i in (0, 1)]), "TRENCH")
    group = suggested(marks=seams.REPLACE)
    assert group.lines == 1 and "takes the marks off" in panel_text().texts()
    assert any(e.use_seam for e in dome.data.edges)  # not before it is accepted
    pieces = group.pieces
    bpy.ops.ed.undo_push(message="Before")
    assert bpy.ops.foamwright.accept_seams("EXEC_DEFAULT", True) == {"FINISHED"}
    assert not any(e.use_seam for e in dome.data.edges) and drawn.foamwright.leave_out
    assert len(checked(read, dome).pieces) == pieces
    bpy.ops.ed.undo()
    assert any(e.use_seam for e in bpy.data.objects["dome"].data.edges)
    assert len(guides.guides_of(bpy.context.scene, bpy.data.objects["dome"])) == 1


@pytest.mark.parametrize(("marks", "asked"), [(seams.KEEP, False), (seams.REPLACE, True)])
def test_replacing_asks_first(scene, dome, marks, asked):
    mark(dome)
    suggested(marks=marks)
    calls = []
    manager = types.SimpleNamespace(
        invoke_confirm=lambda *_, **words: calls.append(words) or {"RUNNING_MODAL"})
    context = types.SimpleNamespace(scene=scene, window_manager=manager)
    operator = types.SimpleNamespace(execute=lambda context: {"FINISHED"})
    done = operators.AcceptSeams.invoke(operator, context, None)
    assert done == ({"RUNNING_MODAL"} if asked else {"FINISHED"}) and len(calls) == asked


def test_marks_on_a_coarse_sculpt_are_told_of_and_not_touched(scene, lowpoly):
    mark(lowpoly)
    suggested(marks=seams.REPLACE)
    assert "new object has none of them" in panel_text().texts()
    bpy.ops.foamwright.accept_seams()
    assert any(e.use_seam for e in lowpoly.data.edges)


# --- details -------------------------------------------------------------------------


def test_small_loose_parts_are_listed_and_not_built_once_accepted(scene, dome, add_object, read):
    points, faces = cap(0.005, math.radians(60), 3)
    stud = add_object("stud", points + (0.6, 0, 0), faces)
    stud.foamwright.include = True
    group = suggested()
    assert group.details == len(stud.data.polygons) and "details-left-out" in told()
    assert f"{group.details} faces" in panel_text().texts()
    bpy.ops.foamwright.accept_seams()
    flags = stud.data.attributes["foamwright_not_built"].data
    assert all(f.value for f in flags) and len(flags) == len(stud.data.polygons)
    assert "foamwright_not_built" not in dome.data.attributes
    assert {p.object for p in checked(read, dome, stud).pieces} == {"dome"}


# --- forgotten, stopped, gone --------------------------------------------------------


def test_forgetting_leaves_nothing(scene, dome, fingerprint):
    before = fingerprint()
    suggested()
    assert fingerprint() != before
    assert bpy.ops.foamwright.forget_seams() == {"FINISHED"}
    assert fingerprint() == before and not told() and not len(bpy.data.curves)
    for name in ("accept_seams", "forget_seams"):
        assert not getattr(bpy.ops.foamwright, name).poll()


def test_relief_cuts_and_seams_do_not_take_each_others_lines(scene, dome):
    suggested()
    count = len(shown())
    line = proposals.show(scene, dome, [v.co for v in dome.data.vertices[:2]], "SEAM",
                          proposals.RELIEF, "relief")
    assert len(shown()) == count and proposals.shown(scene, proposals.RELIEF) == [line]
    bpy.ops.foamwright.forget_seams()
    assert proposals.shown(scene, proposals.RELIEF) == [line]


def test_a_search_that_is_stopped_changes_nothing(scene, dome, monkeypatch):
    suggested()
    before = len(shown()), scene.foamwright.seams.pieces, told()

    def stopped(*_):
        raise Cancelled

    monkeypatch.setattr(suggest, "suggest_seams", stopped)
    with pytest.raises(RuntimeError, match="Cancelled"):  # modal alone is stopped quietly
        bpy.ops.foamwright.suggest_seams()
    assert (len(shown()), scene.foamwright.seams.pieces, told()) == before


def test_the_search_hears_of_being_stopped(scene, dome, read):
    """The work as it goes on in the background, stopped at its first word."""
    def stop(share, text):
        raise Cancelled

    operator = types.SimpleNamespace(read=lambda _: (read(dome)[0], read_settings(scene)))
    work = operators.SuggestSeams.prepare(operator, bpy.context)
    with pytest.raises(Cancelled):
        work(stop)
    assert not scene.foamwright.seams.found


def test_a_sculpt_that_cannot_be_cut_is_listed(scene, dome):
    suggested()
    bpy.ops.object.select_all(action="DESELECT")
    vertices, faces = cap(0.1, math.radians(62), 4)
    vertices[0] = np.nan
    bad = bpy.data.meshes.new("bad")
    bad.from_pydata(vertices.tolist(), [], faces.tolist())
    item = bpy.data.objects.new("bad", bad)
    scene.collection.objects.link(item)
    item.foamwright.include = True
    with pytest.raises(RuntimeError):
        bpy.ops.foamwright.suggest_seams()
    assert any(f.severity == "error" and f.step == SUGGEST for f in scene.foamwright.findings)


def test_an_object_that_is_gone_or_changed_is_told_and_nothing_is_done(scene, lowpoly):
    suggested()
    mesh = lowpoly.data
    lowpoly.data = bpy.data.meshes.new("other")
    with pytest.raises(RuntimeError, match="mesh of “lowpoly” has been changed"):
        bpy.ops.foamwright.accept_seams()
    lowpoly.data = mesh
    bpy.data.objects.remove(lowpoly)
    with pytest.raises(RuntimeError, match="“lowpoly”, which the seams are for"):
        bpy.ops.foamwright.accept_seams()
    assert scene.foamwright.seams.found
    assert bpy.ops.foamwright.forget_seams() == {"FINISHED"}


def test_an_object_is_known_by_another_name(scene, lowpoly, add_sheet):
    suggested()
    lowpoly.name = "shell"
    other = add_sheet("lowpoly")
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    assert lowpoly.foamwright.leave_out and not other.foamwright.leave_out


def test_from_edit_mode(scene, dome, read):
    bpy.ops.object.mode_set(mode="EDIT")
    suggested()
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.ops.foamwright.accept_seams() == {"FINISHED"}
    assert read(dome)[0].guides


# --- the sidebar ---------------------------------------------------------------------


def test_the_panel_tells_the_figures_and_findings(scene, dome):
    layout = panel_text()
    assert layout.operators() == ["foamwright.suggest_seams"]
    assert "Fewer Pieces" in layout.texts() and "Easier Foam" in layout.texts()
    group = suggested()
    layout = panel_text()
    for words in (f"Pieces: {group.pieces}", f"Worst strain: {group.worst:.2f}",
                  f"Seams: {group.length:.1f} mm", "Good to know: 1"):
        assert words in layout.texts(), layout.texts()
    assert {"foamwright.accept_seams", "foamwright.forget_seams"} <= set(layout.operators())
    group.failing = 2
    assert "does not take 2 of the pieces" in panel_text().texts()
