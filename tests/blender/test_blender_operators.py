"""Check and export from the sidebar: what the library gives, and failures change nothing."""

import json
import sys
import types

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import write  # noqa: E402
from addon.blender.operators import suit  # noqa: E402
from addon.blender.read import suit_objects  # noqa: E402
from addon.core.errors import ERROR, NOTE, WARNING, Finding, FoamError  # noqa: E402
from addon.core.make import check, make_pattern  # noqa: E402
from addon.export.report import report  # noqa: E402


@pytest.fixture
def box(add_object, scene):
    """An open tube of four sides, 120 x 120 mm and 160 mm high, with one seam along its back."""
    steps = 4
    ring = np.array([(-6, -6), (6, -6), (6, 6), (-6, 6)]) / 100
    vertices = [(x, y, 0.16 * i / steps) for i in range(steps + 1) for x, y in ring]
    faces = [[4 * i + j, 4 * i + (j + 1) % 4, 4 * i + 4 + (j + 1) % 4, 4 * i + 4 + j]
             for i in range(steps) for j in range(4)]
    corner = [[(4 * i + j, 4 * i + 4 + j) for i in range(steps)] for j in range(4)]
    item = add_object("tube", vertices, faces, seams=corner[2] + corner[0],
                      trenches=corner[1] + corner[3])
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    scene.foamwright.stock = "eva-4"
    scene.foamwright.nest_seconds = 0.1
    return item


@pytest.fixture
def failing(monkeypatch):
    """failing(error): make the core's procedures raise it."""
    def install(error):
        def fail(*_, **__):
            raise error
        stand_in = types.ModuleType("addon.core.make")
        stand_in.check = stand_in.make_pattern = fail
        stand_in.Memory = dict
        monkeypatch.setitem(sys.modules, "addon.core.make", stand_in)
    return install


def findings(scene):
    return [(f.code, f.severity) for f in scene.foamwright.findings]


def same(a, b):
    """Equality of two JSON values, numbers to rounding."""
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(map(same, a, b))
    return a == pytest.approx(b, abs=1e-6) if isinstance(a, float) else a == b


# --- check and export ------------------------------------------------------------


def test_check_lists_what_the_core_finds(scene, box, read):
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    sculpt, _ = read(box)
    from addon.blender.settings import read_settings
    expected = check(sculpt, read_settings(scene))
    assert sorted(findings(scene)) == sorted((f.code, f.severity) for f in expected.findings)
    assert str(len(expected.pieces)) in scene.foamwright.summary


def test_the_operator_writes_what_the_library_makes(scene, box, read, tmp_path, fingerprint):
    before = fingerprint()
    assert bpy.ops.foamwright.make_pattern(directory=str(tmp_path)) == {"FINISHED"}
    assert fingerprint() == before
    for name in ("pattern.pdf", "plan.pdf", "report.json"):
        assert (tmp_path / name).stat().st_size > 0
    from addon.blender.settings import read_settings
    sculpt, _ = read(box)
    expected = json.loads(json.dumps(report(make_pattern(sculpt, read_settings(scene)))))
    written = json.loads((tmp_path / "report.json").read_text("utf-8"))
    for part in ("pieces", "mates", "findings"):
        assert same(written[part], expected[part])


def test_the_folder_of_the_scene_is_used(scene, box, tmp_path):
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.context.scene.foamwright.folder = "//out"
    bpy.data.objects["tube"].select_set(True)
    assert bpy.ops.foamwright.make_pattern() == {"FINISHED"}
    assert (tmp_path / "out" / "report.json").exists()


def test_one_piece_is_the_one_under_the_active_face(scene, box, read, tmp_path):
    from addon.blender.settings import read_settings
    sculpt, _ = read(box)
    whole = check(sculpt, read_settings(scene))
    box.data.polygons.active = 9
    triangle = int(np.flatnonzero(sculpt.polygon == 9)[0])
    expected = next(p.code for p in whole.pieces if triangle in p.source_face)
    assert bpy.ops.foamwright.make_one_piece(directory=str(tmp_path)) == {"FINISHED"}
    written = json.loads((tmp_path / "report.json").read_text("utf-8"))
    placed = {p["piece"] for s in written["sheets"] for p in s["placements"]}
    template = next(p.template for p in whole.pieces if p.code == expected)
    assert placed == {template}


def test_a_mock_up_goes_into_a_folder_of_its_own_and_says_nothing_of_the_suit(
        scene, box, tmp_path):
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    before = findings(scene), scene.foamwright.summary
    scene.foamwright.mock_up, scene.foamwright.card = "third", "2 mm"
    assert bpy.ops.foamwright.make_mock_up(directory=str(tmp_path)) == {"FINISHED"}
    written = json.loads((tmp_path / "mock-up-third" / "report.json").read_text("utf-8"))
    assert [p.name for p in tmp_path.iterdir()] == ["mock-up-third"]
    assert written["settings"]["mock_up"] == "third"
    assert written["settings"]["scale"] == pytest.approx(1 / 3, abs=1e-4)
    assert written["settings"]["stock"]["name"] == "Card 2 mm"
    assert (findings(scene), scene.foamwright.summary) == before


def test_paper_and_other_sets_are_as_the_scene_says(scene):
    from addon.blender.settings import read_settings
    plain, group = read_settings(scene), scene.foamwright
    assert (plain.roll, plain.allowance, plain.back_side, plain.text_outlines, plain.mock_up) == (
        610.0, 0.0, False, False, "")
    group.paper, group.roll, group.allowance = "Roll", "36 in", "8 mm"
    group.back_side = group.text_outlines = True
    found = read_settings(scene)
    assert (found.paper, found.roll, found.allowance, found.back_side, found.text_outlines) == (
        "Roll", pytest.approx(914.4), 8.0, True, True)
    group.allowance = "2 m"
    with pytest.raises(FoamError) as caught:
        read_settings(scene)
    assert caught.value.finding.code == "bad-length" and "Allowance" in caught.value.finding.message


# --- failures --------------------------------------------------------------------


@pytest.mark.parametrize("name", ["check", "make_pattern", "make_one_piece"])
def test_a_failure_is_reported_listed_and_changes_nothing(
        scene, box, failing, tmp_path, fingerprint, name):
    failing(FoamError(Finding("too-bad", ERROR, "It cannot be.", "Do it another way.", faces=[0])))
    (tmp_path / "report.json").write_text("earlier")
    scene.foamwright.folder = str(tmp_path)
    box.data.polygons.active = 0
    before = fingerprint()
    with pytest.raises(RuntimeError, match=r"It cannot be\. Do it another way\."):
        getattr(bpy.ops.foamwright, name)()
    assert fingerprint() == before
    assert findings(scene) == [("too-bad", "error")] and scene.foamwright.summary == ""
    assert [p.name for p in tmp_path.iterdir()] == ["report.json"]
    assert (tmp_path / "report.json").read_text() == "earlier"


@pytest.mark.parametrize("name, entered, words", [
    ("make_pattern", {}, "No folder is chosen"),
    ("make_pattern", {"folder": "{tmp}/report.json"}, "report.json"),
    ("check", {"margin": "wide"}, "is not a length"),
    ("write_uv", {"uv_length": "1 mm"}, "do not fit a UV map"),
    ("write_uv", {"uv_length": "wide"}, "is not a length")])
def test_what_is_not_about_the_suit_leaves_the_list_as_it_is(
        scene, box, tmp_path, name, entered, words):
    bpy.ops.foamwright.check()
    before, said = findings(scene), scene.foamwright.summary
    assert said
    (tmp_path / "report.json").write_text("a file, no folder")
    for field, text in entered.items():
        setattr(scene.foamwright, field, text.format(tmp=tmp_path))
    with pytest.raises(RuntimeError, match=words):
        getattr(bpy.ops.foamwright, name)()
    assert (findings(scene), scene.foamwright.summary) == (before, said)


def test_a_mistake_in_the_program_is_not_hidden(scene, box, failing):
    failing(ValueError("a bug"))
    with pytest.raises(RuntimeError, match="ValueError: a bug"):
        bpy.ops.foamwright.check()
    assert not findings(scene)


def test_without_objects_or_folder_the_remedy_is_told(scene, add_sheet):
    item = add_sheet()
    item.select_set(False)
    with pytest.raises(RuntimeError, match="No folder is chosen"):
        bpy.ops.foamwright.make_pattern()
    scene.foamwright.folder = "//out"  # beside a file that was never saved
    with pytest.raises(RuntimeError, match="No folder is chosen"):
        bpy.ops.foamwright.make_pattern()
    with pytest.raises(RuntimeError, match="Add to Suit"):
        bpy.ops.foamwright.check()
    assert findings(scene) == [("nothing-to-read", "error")]


def test_one_piece_needs_a_face_of_the_suit(scene, box, add_sheet, tmp_path):
    other = add_sheet("other")
    other.data.polygons.active = 0
    bpy.context.view_layer.objects.active = other
    with pytest.raises(RuntimeError, match="No face of the suit is active"):
        bpy.ops.foamwright.make_one_piece(directory=str(tmp_path))
    assert not list(tmp_path.iterdir())


# --- the list of findings ----------------------------------------------------------


def test_findings_are_kept_most_serious_first_through_save_and_undo(
        scene, add_sheet, read, tmp_path):
    sculpt, sources = read(add_sheet())
    write.store_findings(scene, [
        Finding("c", NOTE, "C.", ""), Finding("a", ERROR, "A.", "", faces=[2]),
        Finding("b", WARNING, "B.", "Do b.", piece="P1")], sculpt, sources)
    assert [code for code, _ in findings(scene)] == ["a", "b", "c"]
    bpy.ops.ed.undo_push(message="Before")
    scene.foamwright.findings.clear()
    bpy.ops.ed.undo_push(message="Cleared")
    bpy.ops.ed.undo()
    assert len(bpy.context.scene.foamwright.findings) == 3
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    stored = bpy.context.scene.foamwright.findings[1]
    assert (stored.code, stored.severity, stored.message, stored.remedy, stored.piece) == (
        "b", "warning", "B.", "Do b.", "P1")


def test_elements_are_found_in_the_maker_s_own_objects(add_sheet, read):
    one, two = add_sheet("one"), add_sheet("two")
    sculpt, sources = read(one, two)
    where = Finding("x", NOTE, "", "", vertices=[2, 9], edges=[[10, 13], [0, 1]], faces=[1, 8, 15])
    assert write.locate(where, sculpt, sources) == {
        "one": {"vertices": [2], "edges": [[0, 1]], "faces": [0]},
        "two": {"vertices": [0], "edges": [[1, 4]], "faces": [0, 3]}}


def test_elements_of_a_modified_mesh_stand_for_the_faces_around_them(add_sheet, read):
    item = add_sheet()
    added = item.modifiers.new("Fine", "SUBSURF")
    added.levels, added.subdivision_type = 1, "SIMPLE"
    sculpt, sources = read(item)

    def near(point):
        return int(np.linalg.norm(sculpt.vertices - point, axis=1).argmin())

    middle, inside, edge = near((100, 0, 100)), near((50, 0, 50)), near((100, 0, 50))
    for elements, expected in (({"vertices": [middle]}, [0, 1, 2, 3]),
                               ({"vertices": [inside]}, [0]),
                               ({"edges": [[middle, edge]]}, [0, 1]),
                               ({"faces": [len(sculpt.faces) - 1]}, [3])):
        found = write.locate(Finding("x", NOTE, "", "", **elements), sculpt, sources)
        assert found == {"sheet": {"faces": expected}}


@pytest.fixture
def listed(scene, add_sheet, read):
    """Two sheets with a finding on a face of the second and one on edges of both."""
    one, two = add_sheet("one"), add_sheet("two")
    sculpt, sources = read(one, two)
    write.store_findings(scene, [
        Finding("face", ERROR, "Face.", "", faces=[14]),
        Finding("edges", WARNING, "Edges.", "", edges=[[1, 4], [12, 13]]),
        Finding("nowhere", NOTE, "Nowhere.", "")], sculpt, sources)
    return one, two


def selected(item):
    item.update_from_editmode()
    mesh = item.data.copy()
    found = ([tuple(sorted(e.vertices)) for e in mesh.edges if e.select],
             [p.index for p in mesh.polygons if p.select])
    bpy.data.meshes.remove(mesh)
    return found


def test_a_click_selects_the_elements(scene, listed):
    one, two = listed
    two.data.polygons.foreach_set("hide", [True] * 4)  # hidden ones are shown again
    assert bpy.ops.foamwright.select_finding(index=0) == {"FINISHED"}
    assert bpy.context.mode == "EDIT_MESH" and one.mode == "OBJECT"
    assert selected(two)[1] == [3]
    assert bpy.ops.foamwright.select_finding(index=1) == {"FINISHED"}
    assert selected(one) == ([(1, 4)], []) and selected(two) == ([(3, 4)], [])
    assert scene.foamwright.finding == 1


def test_a_finding_without_a_place_leaves_the_mode_alone(scene, listed):
    assert bpy.ops.foamwright.select_finding(index=2) == {"FINISHED"}
    assert bpy.context.mode == "OBJECT" and scene.foamwright.finding == 2


def test_a_finding_on_a_deleted_object_selects_what_is_left(scene, listed):
    bpy.data.objects.remove(listed[0])
    bpy.ops.foamwright.select_finding(index=1)
    assert selected(bpy.data.objects["two"])[0] == [(3, 4)]
    with pytest.raises(RuntimeError, match="no such finding"):
        bpy.ops.foamwright.select_finding(index=7)


# --- the suit ----------------------------------------------------------------------


def test_objects_join_and_leave_the_suit(add_sheet):
    item = add_sheet()
    assert not bpy.ops.foamwright.add_to_suit.poll()
    item.select_set(True)
    bpy.ops.foamwright.add_to_suit()
    assert item.foamwright.include
    bpy.ops.foamwright.add_to_suit(remove=True)
    assert not item.foamwright.include


def test_an_object_is_left_out_and_brought_back(scene, add_sheet):
    body, plate = add_sheet("body"), add_sheet("plate")
    for item in (body, plate):
        item.select_set(True)
    assert suit_objects(scene, [body, plate]) == [body, plate]
    bpy.ops.foamwright.leave_out(name="body")
    assert suit_objects(scene, [body, plate]) == [plate]
    bpy.ops.foamwright.add_to_suit()  # both are selected
    assert suit_objects(scene) == [body, plate] and not body.foamwright.leave_out
    plate.select_set(False)
    bpy.ops.foamwright.leave_out()
    assert suit_objects(scene) == [plate] and not body.foamwright.include
    bpy.ops.foamwright.leave_out(back=True)
    assert suit_objects(scene) == [plate] and not body.foamwright.leave_out
    with pytest.raises(RuntimeError, match="no mesh object"):
        bpy.ops.foamwright.leave_out(name="nobody")


def test_left_out_wins_over_part_of_the_suit_and_over_the_selection(scene, add_sheet):
    body, plate = add_sheet("body"), add_sheet("plate")
    body.foamwright.include = body.foamwright.leave_out = True
    assert suit_objects(scene, [body]) == []
    assert suit_objects(scene, [body, plate]) == [plate]
    plate.foamwright.include = True
    assert suit_objects(scene, [body]) == [plate]


def test_an_object_is_taken_out_of_the_suit_by_name(scene, add_sheet):
    add_sheet("one").foamwright.include = add_sheet("two").foamwright.include = True
    bpy.ops.foamwright.remove_from_suit(name="one")
    assert [o.name for o in suit_objects(scene)] == ["two"]
    with pytest.raises(RuntimeError, match="no mesh object"):
        bpy.ops.foamwright.remove_from_suit(name="three")


def test_the_example_opens_as_a_new_file(scene, add_sheet, tmp_path, monkeypatch):
    add_sheet("example")
    path = tmp_path / "example.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    monkeypatch.setattr(suit, "example_file", lambda: None)
    assert not bpy.ops.foamwright.open_example.poll()
    monkeypatch.setattr(suit, "example_file", lambda: path)
    bpy.ops.wm.read_factory_settings(use_empty=True)
    assert bpy.ops.foamwright.open_example() == {"FINISHED"}
    assert "example" in bpy.data.objects and bpy.data.filepath == ""


def test_a_second_check_searches_nothing_until_another_file_is_opened(registered, monkeypatch):
    from addon.core import flatten

    searches, search = [], flatten.Draft.of
    monkeypatch.setattr(flatten.Draft, "of", lambda *each: searches.append(1) or search(*each))
    for count in (1, 2):  # the second time in a new file
        sheet = bpy.data.meshes.new("Sheet")
        sheet.from_pydata([(0, 0, 0), (0.2, 0, 0), (0.2, 0, 0.2), (0, 0, 0.2)], [], [(0, 1, 2, 3)])
        item = bpy.data.objects.new("Sheet", sheet)
        bpy.context.scene.collection.objects.link(item)
        item.foamwright.include = True
        for _ in range(2):
            assert bpy.ops.foamwright.check() == {"FINISHED"}
            assert len(searches) == count
        bpy.ops.wm.read_factory_settings(use_empty=True)


@pytest.mark.parametrize("name, keywords, before, after", [
    ("add_to_suit", {}, (False, True), (True, False)),
    ("leave_out", {}, (True, False), (False, True)),
    ("remove_from_suit", {"name": "box"}, (True, False), (False, False))])
def test_choices_made_in_edit_mode_are_undone(scene, box, name, keywords, before, after):
    bpy.context.view_layer.objects.active = box
    box.select_set(True)
    box.name = "box"
    box.foamwright.include, box.foamwright.leave_out = before
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.ed.undo_push(message="In Edit Mode")

    def chosen():
        group = bpy.data.objects["box"].foamwright
        return group.include, group.leave_out

    assert getattr(bpy.ops.foamwright, name)(**keywords) == {"FINISHED"}
    assert chosen() == after
    bpy.ops.ed.undo_push(message="Chosen")
    bpy.ops.ed.undo()
    assert chosen() == before
