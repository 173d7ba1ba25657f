"""Relief in Blender: proposed, shown, accepted or forgotten, and undone."""

import json
import math

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import guides, reliefs, remedies  # noqa: E402
from addon.blender.operators import relief as operators  # noqa: E402
from addon.core.errors import Cancelled, Finding, FoamError  # noqa: E402
from addon.core.model import Guide  # noqa: E402
from addon.core.suggest.relief import Relief  # noqa: E402
from tests.shapes import cap  # noqa: E402


@pytest.fixture
def dome(scene, add_object):
    """A cap of 60 degrees, 100 mm in radius, which 4 mm foam does not follow; moved and turned."""
    points, faces = cap(0.1, math.radians(60), 10)
    item = add_object("dome", points, faces)
    item.location = (0.3, -0.2, 0.5)
    item.rotation_euler = (0.2, 0.4, 0.1)
    item.foamwright.include = True
    scene.foamwright.thickness = "4 mm"
    bpy.context.view_layer.update()
    bpy.context.view_layer.objects.active = item
    return item


def proposal(points, **more):
    """A dart, as the core gives it; points (k, 3) in mm of the world."""
    values = dict(kind="dart", guides=(Guide(points),), before=1.3, cold=(2.0,), heated=(0.7,),
                  passes=True, length=50.0, visibility=0.4, where="along a valley")
    return Relief(**{**values, **more})


@pytest.fixture
def proposed(scene, dome, read):
    """Two proposals for the dome, none of them shown yet; their points in the world, mm."""
    sculpt, sources = read(dome)
    points = sculpt.vertices[[0, 1, 7]]
    others = sculpt.vertices[[0, 2]]
    reliefs.store(scene, "DO1", [proposal(points), proposal(
        others, kind="seam", heated=(0.5, 0.6), passes=False)], sculpt, sources)
    return points, others


def state(scene):
    return (len(scene.foamwright.reliefs), len(reliefs.shown(scene)),
            len(bpy.data.curves), scene.foamwright.relief_piece)


# --- the whole way -------------------------------------------------------------------


def test_a_dome_is_relieved_from_suggestion_to_check(scene, dome, read):
    bpy.ops.foamwright.check()
    assert "needs-relief" in {f.code for f in scene.foamwright.findings} | {
        "needs-relief" if f.code == "try-on-scrap" else "" for f in scene.foamwright.findings}
    mesh = len(dome.data.vertices), len(dome.data.edges)
    assert bpy.ops.foamwright.suggest_relief() == {"FINISHED"}
    found = scene.foamwright.reliefs
    assert 2 <= len(found) <= 3 and found[0].passes and found[0].worst <= 1 < found[0].before
    line, = reliefs.shown(scene)
    assert line.parent == dome and line.foamwright.leave_out
    sculpt, _ = read(dome)
    assert not sculpt.guides  # shown only
    expected = sorted(json.loads(found[0].pieces))
    assert bpy.ops.foamwright.accept_relief() == {"FINISHED"}
    assert not len(scene.foamwright.reliefs) and not reliefs.shown(scene)
    sculpt, _ = read(dome)
    assert len(sculpt.guides) == 1
    assert mesh == (len(dome.data.vertices), len(dome.data.edges))
    from addon.blender.settings import read_settings
    from addon.core.make import check
    pattern = check(sculpt, read_settings(scene))
    assert all(p.verdict.kind != "relief" for p in pattern.pieces)
    assert sorted(p.verdict.heated for p in pattern.pieces) == pytest.approx(expected, rel=0.02)


def test_a_piece_that_can_be_formed_is_told_and_nothing_is_proposed(scene, add_sheet):
    item = add_sheet()
    item.foamwright.include = True
    assert bpy.ops.foamwright.suggest_relief() == {"FINISHED"}
    assert state(scene) == (0, 0, 0, "SH1")
    operator = operators.SuggestRelief
    refusal = Finding("no-relief-needed", "note", "Not needed.", "Choose another.")
    assert operator.words(operator, operators._Found(None, "SH1", refusal=refusal)) == (
        "Not needed. Choose another.")


def test_the_finding_has_a_button_for_it(scene, dome):
    bpy.ops.foamwright.check()
    item = next(f for f in scene.foamwright.findings
                if f.code in ("needs-relief", "try-on-scrap"))
    assert "foamwright.suggest_relief" in {b.operator for b in remedies.buttons(item)}


# --- which piece ---------------------------------------------------------------------


def piece(code, heated, kind, faces):
    from types import SimpleNamespace as Thing
    return Thing(code=code, source_face=np.array(faces), verdict=Thing(heated=heated, kind=kind))


def test_the_piece_is_the_one_asked_for_or_under_the_active_face_or_the_worst():
    from types import SimpleNamespace as Thing
    pattern = Thing(pieces=[piece("A1", 0.4, "heat", [0]), piece("A2", 1.2, "relief", [1]),
                            piece("A3", 1.9, "relief", [2])])
    chosen = lambda code, faces: operators._chosen(pattern, code, np.array(faces)).code  # noqa: E731
    assert chosen("A1", [2]) == "A1"
    assert chosen("", [1]) == "A2"
    assert chosen("", [0]) == chosen("", []) == "A3"
    with pytest.raises(FoamError, match="no piece called “B9”"):
        chosen("B9", [])


def test_a_piece_without_a_flat_is_found_in_the_error():
    bad = Finding("cannot-flatten", "error", "No.", "Cut it.", faces=[4, 5], piece="A2")
    other = Finding("cannot-flatten", "error", "No.", "Cut it.", faces=[7], piece="A3")
    code, faces = operators._without_flat(FoamError(other, bad), "A2")
    assert code == "A2" and faces.tolist() == [4, 5]
    assert operators._without_flat(FoamError(other, bad), "")[0] == "A3"
    with pytest.raises(FoamError, match="A tube"):
        operators._without_flat(FoamError(Finding("tube", "error", "A tube.", "Slit it.")), "")


def test_a_code_that_is_no_more_is_reported_and_proposals_stay(scene, proposed):
    with pytest.raises(RuntimeError, match="no piece called “XX9”"):
        bpy.ops.foamwright.suggest_relief(piece="XX9")
    assert len(scene.foamwright.reliefs) == 2


# --- shown, accepted, forgotten --------------------------------------------------------


def test_the_chosen_proposal_is_shown_where_it_lies_and_left_out(scene, dome, proposed, read):
    for index, points in enumerate(proposed):
        assert bpy.ops.foamwright.show_relief(index=index) == {"FINISHED"}
        line, = reliefs.shown(scene)
        (world, closed), = guides.world_polylines(line)
        assert world * 1000 == pytest.approx(points, abs=0.01) and not closed
        assert scene.foamwright.relief == index
    assert not read(dome)[0].guides and len(bpy.data.curves) == 1


def test_lines_move_with_the_object(scene, dome, proposed):
    before = np.array(dome.matrix_world)
    dome.location = (1, 2, 3)
    bpy.context.view_layer.update()
    bpy.ops.foamwright.show_relief(index=0)
    (world, _), = guides.world_polylines(reliefs.shown(scene)[0])
    change = np.array(dome.matrix_world) @ np.linalg.inv(before)
    expected = proposed[0] / 1000 @ change[:3, :3].T + change[:3, 3]
    assert world == pytest.approx(expected, abs=1e-5)


def test_accepting_makes_the_lines_count_in_one_step(scene, dome, proposed, read):
    bpy.ops.foamwright.show_relief(index=1)
    bpy.ops.ed.undo_push(message="Before")
    assert bpy.ops.foamwright.accept_relief("EXEC_DEFAULT", True) == {"FINISHED"}
    guide, = read(dome)[0].guides
    assert guide.points == pytest.approx(proposed[1], abs=0.01)
    assert state(scene) == (0, 0, 1, "")
    bpy.ops.ed.undo()
    scene = bpy.context.scene
    assert len(scene.foamwright.reliefs) == 2 and len(reliefs.shown(scene)) == 1
    assert not guides.guides_of(scene, bpy.data.objects["dome"])


def test_accepting_without_looking_takes_the_first(dome, proposed, read):
    assert bpy.ops.foamwright.accept_relief() == {"FINISHED"}
    assert read(dome)[0].guides[0].points == pytest.approx(proposed[0], abs=0.01)


@pytest.fixture
def moving(scene, add_sheet, read):
    """A sheet with a seam down its middle, which a proposal moves aside."""
    item = add_sheet(columns=4, rows=2, seams=[(2, 7), (7, 12)])
    sculpt, sources = read(item)
    points = sculpt.vertices[[1, 6, 11]]
    reliefs.store(scene, "SH1", [proposal(points, kind="split", cleared=[(2, 7), (7, 12)])],
                  sculpt, sources)
    return item, points


def seams(item):
    return sorted(tuple(sorted(e.vertices)) for e in item.data.edges if e.use_seam)


def test_accepting_a_moved_seam_takes_the_old_one_off(scene, moving, read):
    item, points = moving
    bpy.ops.foamwright.show_relief(index=0)
    assert seams(item) == [(2, 7), (7, 12)]
    bpy.ops.ed.undo_push(message="Before")
    assert bpy.ops.foamwright.accept_relief("EXEC_DEFAULT", True) == {"FINISHED"}
    assert seams(item) == [] and read(item)[0].guides[0].points == pytest.approx(points, abs=0.01)
    bpy.ops.ed.undo()
    assert seams(bpy.data.objects["sheet"]) == [(2, 7), (7, 12)]


def test_a_seam_that_is_gone_cannot_be_moved(scene, moving):
    item, _ = moving
    for edge in item.data.edges:
        edge.use_seam = False
    bpy.ops.foamwright.show_relief(index=0)
    with pytest.raises(RuntimeError, match="no longer there"):
        bpy.ops.foamwright.accept_relief()
    assert len(scene.foamwright.reliefs) == 1 and len(reliefs.shown(scene)) == 1


def test_under_modifiers_no_seam_is_moved(scene, add_sheet, read):
    item = add_sheet(columns=4, rows=2, seams=[(2, 7), (7, 12)])
    added = item.modifiers.new("Fine", "SUBSURF")
    added.levels, added.subdivision_type = 1, "SIMPLE"
    sculpt, sources = read(item)
    reliefs.store(scene, "SH1", [
        proposal(sculpt.vertices[:2], kind="split", cleared=sculpt.edges[:2]),
        proposal(sculpt.vertices[:2])], sculpt, sources)
    assert [each.kind for each in scene.foamwright.reliefs] == ["dart"]


def test_forgetting_leaves_nothing(scene, proposed):
    bpy.ops.foamwright.show_relief(index=0)
    assert state(scene) == (2, 1, 1, "DO1")
    assert bpy.ops.foamwright.forget_relief() == {"FINISHED"}
    assert state(scene) == (0, 0, 0, "")
    for name in ("show_relief", "accept_relief", "forget_relief"):
        assert not getattr(bpy.ops.foamwright, name).poll()


def test_from_edit_mode(scene, dome, proposed, read):
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.ops.foamwright.show_relief(index=0) == {"FINISHED"}
    assert bpy.ops.foamwright.accept_relief() == {"FINISHED"}
    assert len(read(dome)[0].guides) == 1


def test_an_object_that_is_gone_is_told(scene, dome, proposed):
    bpy.data.objects.remove(dome)
    with pytest.raises(RuntimeError, match="“dome”, which the lines are for"):
        bpy.ops.foamwright.accept_relief()
    with pytest.raises(RuntimeError, match="“dome”, which the lines are for"):
        bpy.ops.foamwright.show_relief(index=1)
    with pytest.raises(RuntimeError, match="no such proposal"):
        bpy.ops.foamwright.show_relief(index=5)


def test_an_object_that_goes_while_its_lines_are_shown_is_told(scene, dome, proposed):
    bpy.ops.foamwright.show_relief(index=0)
    bpy.data.objects.remove(dome)
    with pytest.raises(RuntimeError, match="“dome”, which the lines are for"):
        bpy.ops.foamwright.accept_relief()
    assert len(scene.foamwright.reliefs) == 2  # nothing is lost
    assert bpy.ops.foamwright.forget_relief() == {"FINISHED"}


def test_an_object_is_known_by_another_name(scene, dome, proposed, add_sheet, read):
    dome.name = "shell"
    other = add_sheet("dome")
    assert bpy.ops.foamwright.show_relief(index=0) == {"FINISHED"}
    assert bpy.ops.foamwright.accept_relief() == {"FINISHED"}
    assert len(read(dome)[0].guides) == 1 and not read(other)[0].guides


def test_proposals_live_in_the_file(scene, proposed, tmp_path):
    bpy.ops.foamwright.show_relief(index=0)
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    assert state(scene) == (2, 1, 1, "DO1")
    assert scene.foamwright.reliefs[1].kind == "seam"
    assert json.loads(scene.foamwright.reliefs[1].pieces) == [0.5, 0.6]


def test_a_search_that_is_stopped_changes_nothing(scene, dome, proposed, monkeypatch):
    from addon.core.suggest import relief

    def stopped(*_):
        raise Cancelled

    monkeypatch.setattr(relief, "relieve", stopped)
    bpy.ops.foamwright.show_relief(index=0)
    before = state(scene)
    with pytest.raises(RuntimeError, match="Cancelled"):  # modal alone is stopped quietly
        bpy.ops.foamwright.suggest_relief()
    assert state(scene) == before


# --- the sidebar ---------------------------------------------------------------------


def test_the_panel_lists_the_proposals_with_their_figures(scene, proposed):
    from tests.blender.test_blender_panels import draw, panel

    layout = draw(panel("FOAMWRIGHT_PT_relief"))
    text = layout.texts()
    assert "Dart: 50 mm, strain 0.70" in text and "Full Seam: 50 mm, strain 0.60" in text
    assert "DO1 asks 1.30 times" in text
    assert "It will hardly be seen: it lies along a valley." in text
    assert {"foamwright.show_relief", "foamwright.accept_relief",
            "foamwright.forget_relief"} <= set(layout.operators())
    assert "does not suffice" not in text
    bpy.ops.foamwright.show_relief(index=1)
    assert "does not suffice" in draw(panel("FOAMWRIGHT_PT_relief")).texts()


@pytest.mark.parametrize(("where", "visibility", "words"), [
    ("in plain sight", 0.9, "It will be seen: it lies in plain sight."),
    ("on the underside", 0.81, "Most of it will be seen; a part lies on the underside."),
    ("on the underside", 0.6, "Some of it will be seen; the rest lies on the underside."),
    ("on the underside", 0.5, "It will hardly be seen: it lies on the underside.")])
def test_how_much_of_a_cut_shows_is_said_in_words(scene, proposed, where, visibility, words):
    from tests.blender.test_blender_panels import draw, panel

    each = scene.foamwright.reliefs[0]
    each.where, each.visibility = where, visibility
    assert words in draw(panel("FOAMWRIGHT_PT_relief")).texts()


def test_without_proposals_there_is_no_panel(scene, add_sheet):
    from tests.blender.test_blender_panels import panel

    add_sheet()
    assert not panel("FOAMWRIGHT_PT_relief").poll(bpy.context)
