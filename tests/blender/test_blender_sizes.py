"""Sizes in Blender: listed, loaded from a table, kept in the .blend, written all or none."""

import json
from pathlib import Path

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import sizes  # noqa: E402
from addon.core.errors import FoamError  # noqa: E402
from addon.files.sizes import table  # noqa: E402
from tests.blender.test_blender_panels import Layout, draw, panel  # noqa: E402


@pytest.fixture
def suit(scene, add_sheet):
    """Two pieces with a seam between, 200 mm across and tall, a little bent so that they have
    girths; without a layout that takes time."""
    item = add_sheet(columns=4, rows=2, seams=[(2, 7), (7, 12)])
    for vertex in item.data.vertices:
        vertex.co.y = 0.2 * (vertex.co.x - 0.1) ** 2 / 0.01
    item.foamwright.include = True
    scene.foamwright.nest_seconds = 0.0
    bpy.context.view_layer.update()
    return item


def row(scene, name, **fields):
    assert bpy.ops.foamwright.add_size() == {"FINISHED"}
    added = scene.foamwright.sizes[-1]
    added.name = name
    for field, value in fields.items():
        setattr(added, field, value)
    return added


def report(folder):
    return json.loads((Path(folder) / "report.json").read_text("utf-8"))


def test_a_list_of_sizes_is_written_in_one_go_with_the_same_codes(scene, suit, tmp_path):
    row(scene, "S", tall="0.9", across="0.9")
    row(scene, "L", tall="24 cm", across="22 cm")
    assert bpy.ops.foamwright.write_sizes(directory=str(tmp_path)) == {"FINISHED"}
    small, large = (report(tmp_path / name) for name in "SL")
    assert [p["code"] for p in small["pieces"]] == [p["code"] for p in large["pieces"]]
    assert len(small["pieces"]) == 2
    size = large["settings"]["size"]
    assert size.pop("name") == "L"
    assert size == pytest.approx({"across": 1.1, "deep": 1.0, "tall": 1.2}, rel=1e-6)
    for folder in "SL":
        assert (tmp_path / folder / "pattern.pdf").is_file()
        assert (tmp_path / folder / "plan.pdf").is_file()
    assert scene.foamwright.sizes["L"].told == "2 pieces, 1 mat"
    # The suit itself is another thing: nothing of it is printed now, and nothing said of it.
    assert not scene.foamwright_printed.record and not scene.foamwright.summary
    scene.foamwright.sizes["L"].tall = "25 cm"
    assert scene.foamwright.sizes["L"].told == ""


def test_codes_of_templates_that_were_written_hold_in_every_size(scene, suit, tmp_path):
    assert bpy.ops.foamwright.make_pattern(directory=str(tmp_path / "own")) == {"FINISHED"}
    codes = [p["code"] for p in report(tmp_path / "own")["pieces"]]
    suit.name = "Other name"  # of which a fresh pattern would make other codes
    row(scene, "L", tall="1.3")
    assert bpy.ops.foamwright.write_sizes(directory=str(tmp_path / "set")) == {"FINISHED"}
    assert [p["code"] for p in report(tmp_path / "set" / "L")["pieces"]] == codes


@pytest.mark.parametrize(("fields", "words"), [
    (dict(tall="big"), "is not a length"), (dict(girths="1 m"), "no girth at a height"),
    (dict(girths="90 cm at 5 m"), "No foam is"), (dict(across="99"), "times as large"),
    (dict(girths="90 cm at 100 mm of Hat"), "is called “Hat”"), (dict(name="../up"), "no name"),
    (dict(name="s"), "two sizes")])
def test_where_one_size_cannot_be_none_is_written(scene, suit, tmp_path, fields, words,
                                                  fingerprint):
    row(scene, "S", tall="0.9")
    row(scene, fields.pop("name", "XL"), **fields)
    before = fingerprint()
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.foamwright.write_sizes(directory=str(tmp_path / "out"))
    assert not (tmp_path / "out").exists() and fingerprint() == before
    assert scene.foamwright.sizes["S"].told == "" and not len(scene.foamwright.findings)


def test_what_fails_while_a_size_is_made_names_it_and_nothing_is_written(
        scene, suit, tmp_path, monkeypatch):
    from addon.core import make
    from addon.core.errors import ERROR, Finding

    real = make.make_pattern

    def fails(sculpt, settings, *more):
        if settings.size.name == "L":
            raise FoamError(Finding("closed-without-seam", ERROR, "It is closed.", "Open it."))
        return real(sculpt, settings, *more)

    monkeypatch.setattr(make, "make_pattern", fails)
    row(scene, "S", tall="0.9")
    row(scene, "L", tall="1.2")
    with pytest.raises(RuntimeError, match="Size “L”: It is closed"):
        bpy.ops.foamwright.write_sizes(directory=str(tmp_path / "out"))
    assert not (tmp_path / "out").exists()


def test_no_sizes_are_no_set(scene, suit, tmp_path):
    with pytest.raises(RuntimeError, match="No sizes are listed"):
        bpy.ops.foamwright.write_sizes(directory=str(tmp_path))
    assert not bpy.ops.foamwright.remove_size.poll()
    assert not bpy.ops.foamwright.move_size.poll()


def test_all_rows_that_make_no_sense_are_told(scene):
    row(scene, "S", tall="big")
    row(scene, "M", tall="1")
    row(scene, "L", deep="deep")
    with pytest.raises(FoamError) as error:
        sizes.wanted(scene)
    assert [f.message.split(":")[0] for f in error.value.findings] == ["Size “S”", "Size “L”"]


def test_the_list_is_changed_and_kept_in_the_file(scene, suit, tmp_path):
    for name in ("S", "M", "L"):
        row(scene, name)
    group = scene.foamwright
    names = lambda: [r.name for r in bpy.context.scene.foamwright.sizes]  # noqa: E731
    assert bpy.ops.foamwright.move_size(up=True) == {"FINISHED"} and names() == ["S", "L", "M"]
    assert group.size == 1 and bpy.ops.foamwright.move_size() == {"FINISHED"}
    assert bpy.ops.foamwright.move_size() == {"CANCELLED"} and names() == ["S", "M", "L"]
    group.size = 1
    assert bpy.ops.foamwright.remove_size() == {"FINISHED"} and names() == ["S", "L"]
    group.sizes["L"].girths = "1 m at 20 cm"
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    assert names() == ["S", "L"]
    assert sizes.wanted(bpy.context.scene)[1] == (
        "L", {"factors": {}, "lengths": {}, "girths": {200.0: 1000.0}})
    group = bpy.context.scene.foamwright
    assert bpy.ops.foamwright.add_size() == {"FINISHED"} and names() == ["S", "L", "M"]


def test_a_table_is_loaded_as_the_command_reads_it(scene, tmp_path):
    path = tmp_path / "sizes.csv"
    path.write_text("name,factor,tall,girth@300mm,girth@45cm@Breast+Back\n"
                    "S,0.9,,,\nAnna,,65cm,104cm,98.5cm\n", "utf-8")
    row(scene, "gone")
    assert bpy.ops.foamwright.load_sizes(filepath=str(path)) == {"FINISHED"}
    assert sizes.wanted(scene) == table(path)
    assert scene.foamwright.sizes["Anna"].girths == (
        "1040 mm at 300 mm, 985 mm at 450 mm of Breast + Back")
    path.write_text("name,tall\nX,big\nY,huge\n", "utf-8")
    with pytest.raises(RuntimeError, match=r"(?s)line 2.*line 3"):
        bpy.ops.foamwright.load_sizes(filepath=str(path))
    assert [r.name for r in scene.foamwright.sizes] == ["S", "Anna"]


def test_the_panel_lists_sizes_and_says_what_is_wrong(scene, suit):
    from addon.blender.panels.sizes import FOAMWRIGHT_UL_sizes

    row(scene, "S", tall="0.9")
    bad = row(scene, "L", tall="big")
    drawn = draw(panel("FOAMWRIGHT_PT_sizes"))
    assert "“big” is not a length" in drawn.texts()
    assert {"foamwright.add_size", "foamwright.remove_size", "foamwright.move_size",
            "foamwright.load_sizes", "foamwright.write_sizes"} <= set(drawn.operators())
    icons = []
    for item in scene.foamwright.sizes:
        layout = Layout()
        FOAMWRIGHT_UL_sizes.draw_item(None, bpy.context, layout, scene.foamwright, item, 0,
                                      scene.foamwright, "size", 0)
        icons.append(next(k["icon"] for n, _, k in layout.log if n == "prop"))
    assert icons == ["CON_SIZELIKE", "ERROR"]
    bad.tall = "1.1"
    assert "not a length" not in draw(panel("FOAMWRIGHT_PT_sizes")).texts()


def test_a_folder_that_is_not_chosen_is_asked_for(scene, suit):
    from addon.blender.operators.sizes import WriteSizes
    from tests.blender.test_blender_work import Hands, operator_of

    asked = []
    operator, hands = operator_of(WriteSizes), Hands(scene, [suit])
    hands.context.window_manager.fileselect_add = asked.append
    assert operator.invoke(hands.context, None) == {"RUNNING_MODAL"} and asked == [operator]
