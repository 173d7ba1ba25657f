"""Measurements in the sidebar: the sheet, the stock they make, and that the .blend keeps them."""

import math

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender.read import read_blend  # noqa: E402
from addon.blender.settings import object_stock, read_settings  # noqa: E402
from addon.core.calibration import closing_length  # noqa: E402
from addon.core.stock import find_stock  # noqa: E402


@pytest.fixture
def fields(scene):
    return scene.foamwright_measured


def test_the_sheet_is_written_where_the_maker_says(scene, tmp_path):
    assert bpy.ops.foamwright.write_calibration(directory=str(tmp_path)) == {"FINISHED"}
    assert (tmp_path / "foam-calibration.pdf").read_bytes().startswith(b"%PDF")


def test_measurements_update_the_stock_and_are_saved_with_the_file(scene, fields, add_sheet,
                                                                   tmp_path):
    shipped = find_stock("eva-6")
    scene.foamwright.stock, scene.foamwright.thickness = "eva-6", "5.4 mm"
    fields.girth = "28 cm"
    fields.closing = f"{closing_length(280.0, 5.4, 0.62):.4f} mm"
    fields.pulled = "128"
    assert bpy.ops.foamwright.update_stock() == {"FINISHED"}

    def as_measured(stock):
        assert stock.neutral == pytest.approx(0.62, abs=1e-4)
        assert stock.heated.stretch == pytest.approx(0.14, abs=1e-6)
        assert (stock.thickness, stock.heated.compress) == (5.4, shipped.heated.compress)
        assert stock.origin.startswith("measured: neutral layer, stretch")

    as_measured(read_settings(scene).stock)
    add_sheet().foamwright.include = True
    path = tmp_path / "suit.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    _, chosen = read_blend(path)
    as_measured(chosen["stock"])

    scene = bpy.context.scene
    scene.foamwright.thickness = ""
    assert read_settings(scene).stock.neutral == pytest.approx(0.62, abs=1e-4)
    scene.foamwright.stock = "eva-10"  # another foam, which was not measured
    assert read_settings(scene).stock == find_stock("eva-10")


def test_the_foam_of_an_object_is_the_measured_one_too(scene, fields, add_sheet):
    item = add_sheet()
    fields.pulled = "140 mm"
    assert bpy.ops.foamwright.update_stock() == {"FINISHED"}
    settings = read_settings(scene)
    assert settings.stock.heated.stretch == pytest.approx(0.2)
    assert object_stock(item, settings) is None
    item.foamwright.thickness = "5 mm"
    assert object_stock(item, settings).heated.stretch == pytest.approx(0.2)
    item.foamwright.stock, item.foamwright.thickness = "eva-4", ""
    assert object_stock(item, settings) == find_stock("eva-4")
    item.foamwright.stock = "eva-10"
    assert object_stock(item, settings).heated.stretch == pytest.approx(0.2)


def test_later_measurements_leave_the_others_and_may_be_forgotten(scene, fields):
    fields.pulled = "140 mm"
    assert bpy.ops.foamwright.update_stock() == {"FINISHED"}
    fields.pulled, fields.girth, fields.closing = "", "300 mm", "330 mm"
    assert bpy.ops.foamwright.update_stock() == {"FINISHED"}
    stock = read_settings(scene).stock
    assert stock.heated.stretch == pytest.approx(0.2)
    assert stock.neutral == pytest.approx(30 / (20 * math.pi), abs=1e-5)
    assert len(fields.foams) == 1
    assert bpy.ops.foamwright.forget_measurements() == {"FINISHED"}
    assert read_settings(scene).stock == find_stock()
    assert bpy.ops.foamwright.forget_measurements() == {"CANCELLED"}


@pytest.mark.parametrize("entered, words", [
    ({}, "Nothing was measured"), ({"girth": "300 mm"}, "both lengths"),
    ({"pulled": "12 mm"}, "pulled"), ({"pulled": "much"}, "much")])
def test_what_makes_no_sense_changes_nothing(scene, fields, entered, words):
    for name, text in entered.items():
        setattr(fields, name, text)
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.foamwright.update_stock()
    assert len(fields.foams) == 0 and read_settings(scene).stock == find_stock()
