"""What lies in the .blend and around it: schema, settings, files read without the sidebar."""

import sys

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import commandline, preferences, schema  # noqa: E402
from addon.blender.read import read_blend  # noqa: E402
from addon.blender.settings import JOIN_LENGTHS, overrides, read_settings  # noqa: E402
from addon.core.errors import FoamError  # noqa: E402
from addon.core.model import MIDDLE, Settings  # noqa: E402
from addon.core.stock import find_stock  # noqa: E402


def test_registering_twice_in_a_row_leaves_nothing_behind(registered):
    for _ in range(2):
        registered.unregister()
        assert not hasattr(bpy.types.Scene, "foamwright")
        assert not hasattr(bpy.types.Scene, "foamwright_schema")
        assert not hasattr(bpy.types, "FOAMWRIGHT_PT_foam")
        assert not any(h.__module__.startswith("addon") for h in bpy.app.handlers.load_post)
        registered.register()
        assert bpy.context.scene.foamwright.scale == 1.0


def test_a_failing_part_leaves_nothing_registered(registered, monkeypatch):
    from addon.blender import panels

    def fail():
        raise OSError("no panels today")

    registered.unregister()
    try:
        with monkeypatch.context() as patch:
            patch.setattr(panels, "register", fail)
            with pytest.raises(OSError, match="no panels today"):
                registered.register()
        assert not hasattr(bpy.types.Scene, "foamwright")
    finally:
        registered.register()


# --- settings ------------------------------------------------------------------


def test_an_untouched_scene_decides_nothing(scene):
    assert overrides(scene) == {}
    assert read_settings(scene) == Settings(find_stock())


def test_what_was_entered_becomes_settings(scene, tmp_path):
    group = scene.foamwright
    group.stock, group.thickness, group.side = "eva-6", "1/4 in", MIDDLE
    group.scale, group.paper, group.title = 1.5, "Letter", "Heron"
    settings = read_settings(scene)
    assert settings.stock.thickness == pytest.approx(6.35)  # 25.4 / 4
    assert (settings.side, settings.scale) == (MIDDLE, 1.5)
    assert (settings.paper, settings.title) == ("Letter", "Heron")


def test_a_stock_file_beside_the_blend_is_found(scene, tmp_path):
    limits = "compress = 0.02\nstretch = 0.03\nradius = 5.0\n"
    (tmp_path / "my.toml").write_text(
        'name = "my foam"\nthickness = 9.2\nsheet = [500, 400]\nneutral = 0.55\n'
        f"[cold]\n{limits}[heated]\n{limits}")
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.context.scene.foamwright.stock = "//my.toml"
    stock = read_settings(bpy.context.scene).stock
    assert (stock.name, stock.thickness, stock.sheet) == ("my foam", 9.2, (500, 400))


def test_every_field_of_settings_has_its_place_in_the_sidebar(scene):
    """Of those a maker needs; `only` and `seam_angle` belong to the command, and what was printed
    is remembered by itself."""
    from dataclasses import fields

    group = scene.foamwright
    # `made` stands beside what was printed; joins have a field for each of their sizes,
    # and the wearer one for each measure; `held`, `finishes` and `widen` are said of the seams
    # themselves.
    own = {f.name for f in fields(Settings)} - {
        "only", "seam_angle", "unit", "printed", "made", "joins", "measures", "held", "finishes",
        "widen",
        "size"}
    assert own | set(JOIN_LENGTHS) <= set(group.bl_rna.properties.keys())
    group.fairing, group.notch_spacing, group.margin, group.overlap = "0", "3 in", "12", "1/2 in"
    group.web, group.score_depth, group.seed = 20, 50, 7
    settings = read_settings(scene)
    assert (settings.fairing, settings.margin, settings.seed) == (0.0, 12.0, 7)
    assert (settings.notch_spacing, settings.overlap) == pytest.approx((76.2, 12.7))
    assert (settings.web, settings.score_depth) == pytest.approx((0.2, 0.5))
    assert (settings.mat_gap, settings.mat_margin, settings.holes) == (None, None, True)
    group.mat_gap, group.mat_margin, group.nest_seconds = "5", "1/2 in", 20
    group.kerf = "0.8 mm"
    group.turns, group.together, group.holes = "grain", "mirrored", False
    settings = read_settings(scene)
    assert (settings.mat_gap, settings.mat_margin) == pytest.approx((5.0, 12.7))
    assert settings.kerf == pytest.approx(0.8)
    assert (settings.turns, settings.together, settings.holes, settings.nest_seconds) == (
        "grain", "mirrored", False, 20.0)


def test_offcuts_are_read_from_the_drawing_the_scene_names(scene, tmp_path):
    (tmp_path / "left.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><rect width="80" height="50"/></svg>')
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    assert read_settings(bpy.context.scene).offcuts == ()
    bpy.context.scene.foamwright.offcuts = "//left.svg"
    (offcut,) = read_settings(bpy.context.scene).offcuts
    assert offcut.rings == (((0, 0), (80, 0), (80, -50), (0, -50)),)
    bpy.context.scene.foamwright.offcuts = "//none.svg"
    with pytest.raises(FoamError, match="missing-file"):
        read_settings(bpy.context.scene)


def test_what_stands_in_an_untouched_sidebar_is_what_holds(scene):
    group, usual = scene.foamwright, Settings(find_stock())
    assert (group.web / 100, group.score_depth / 100) == pytest.approx(
        (usual.web, usual.score_depth))
    for name in ("seed", "title", "scale", "side", "split", "turns", "together", "holes",
                 "nest_seconds"):
        assert getattr(group, name) == getattr(usual, name), name


@pytest.mark.parametrize(("field", "value", "code"), [
    ("stock", "granite", "bad-stock"), ("thickness", "thick", "bad-length"),
    ("notch_spacing", "0", "bad-length"), ("margin", "1 m", "bad-length"),
    ("overlap", "-3 mm", "bad-length"), ("fairing", "2 in", "bad-length"),
    ("mat_gap", "20 cm", "bad-length"), ("kerf", "21", "bad-length"),
    ("mat_margin", "wide", "bad-length")])
def test_nonsense_is_refused_when_used(scene, field, value, code):
    setattr(scene.foamwright, field, value)
    with pytest.raises(FoamError) as error:
        read_settings(scene)
    assert error.value.finding.code == code


def test_preferences_belong_to_the_root_package(registered):
    assert preferences.PACKAGE == registered.__name__
    assert preferences.get() is None  # the tests run it without installing it


def test_what_a_file_leaves_open_comes_from_the_preferences(registered, scene, tmp_path):
    entry = bpy.context.preferences.addons.new()
    entry.module = registered.__name__
    try:
        mine = preferences.get()
        mine.unit, mine.paper, mine.stock_file = "in", "Letter", str(tmp_path / "none.toml")
        with pytest.raises(FoamError, match="none.toml"):
            read_settings(scene)
        mine.stock_file = ""
        assert (read_settings(scene).unit, read_settings(scene).paper) == ("in", "Letter")
        scene.foamwright.paper, scene.foamwright.thickness = "A3", "0.5"
        settings = read_settings(scene)
        assert settings.paper == "A3" and settings.stock.thickness == pytest.approx(12.7)
    finally:
        bpy.context.preferences.addons.remove(entry)


# --- schema --------------------------------------------------------------------


def test_a_newer_file_is_refused_and_not_touched(scene, add_sheet, fingerprint):
    add_sheet().select_set(True)
    scene.foamwright_schema = schema.SCHEMA + 1
    before = fingerprint()
    for name in ("check", "make_pattern"):
        with pytest.raises(RuntimeError, match="newer Foamwright"):
            getattr(bpy.ops.foamwright, name)()
    assert fingerprint() == before and not len(scene.foamwright.findings)
    assert scene.foamwright_schema == schema.SCHEMA + 1


def test_an_older_scene_is_upgraded_step_by_step(scene):
    seen = []
    steps = {n: lambda scene, n=n: seen.append(n) for n in range(1, 4)}
    scene.foamwright_schema = 1
    schema.upgrade(scene, steps, target=4)
    assert seen == [1, 2, 3] and scene.foamwright_schema == 4
    schema.upgrade(scene, steps, target=4)
    assert seen == [1, 2, 3]


def test_there_is_a_step_from_every_older_version():
    assert sorted(schema.UPGRADES) == list(range(schema.SCHEMA))


def test_loading_stamps_only_what_is_ours(scene, tmp_path):
    path = str(tmp_path / "plain.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert bpy.context.scene.foamwright_schema == 0


# --- .blend as input -------------------------------------------------------------


@pytest.fixture
def blend(scene, add_sheet, tmp_path):
    """Path of a saved file with two sheets."""
    add_sheet("one", seams=[(1, 4), (4, 7)])
    add_sheet("two").location.y = 1.0
    path = tmp_path / "suit.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return path


def test_every_visible_mesh_is_read_while_none_is_chosen(blend):
    sculpt, chosen = read_blend(blend)
    assert [o.name for o in sculpt.objects] == ["one", "two"] and chosen == {}
    bpy.data.objects["one"].hide_set(True)
    bpy.ops.wm.save_mainfile()
    assert [o.name for o in read_blend(blend)[0].objects] == ["two"]


def test_an_object_left_out_is_not_read_from_a_file(blend):
    bpy.data.objects["one"].foamwright.leave_out = True
    bpy.ops.wm.save_mainfile()
    assert [o.name for o in read_blend(blend)[0].objects] == ["two"]


def test_the_choices_in_the_file_are_respected(blend):
    bpy.data.objects["one"].foamwright.include = True
    bpy.context.scene.foamwright.thickness = "12 mm"
    bpy.context.scene.foamwright.scale = 2.0
    bpy.ops.wm.save_mainfile()
    sculpt, chosen = read_blend(blend)
    assert [o.name for o in sculpt.objects] == ["one"]
    assert chosen["stock"].thickness == 12.0 and chosen["scale"] == 2.0


def test_the_file_is_read_alike_without_the_add_on(blend, registered):
    bpy.data.objects["two"].foamwright.include = True
    bpy.ops.wm.save_mainfile()
    with_it, _ = read_blend(blend)
    registered.unregister()
    try:
        without, _ = read_blend(blend)
        assert not hasattr(bpy.types.Scene, "foamwright")  # as it was found
    finally:
        registered.register()
    assert [o.name for o in without.objects] == ["two"]
    assert (without.vertices == with_it.vertices).all()


def test_reading_never_saves(blend):
    before = blend.read_bytes()
    read_blend(blend)
    assert blend.read_bytes() == before


def test_a_newer_file_cannot_be_read(blend):
    bpy.context.scene.foamwright_schema = schema.SCHEMA + 1
    bpy.ops.wm.save_mainfile()
    with pytest.raises(FoamError) as error:
        read_blend(blend)
    assert error.value.finding.code == "newer-file"


@pytest.mark.parametrize("content", [None, b"this is no .blend file"])
def test_what_blender_cannot_open_is_a_finding(tmp_path, content):
    path = tmp_path / "broken.blend"
    if content:
        path.write_bytes(content)
    with pytest.raises(FoamError) as error:
        read_blend(path)
    assert error.value.finding.code == "unreadable-blend"
    assert "broken.blend" in error.value.finding.message


def test_blenders_command_line_forwards_to_the_command(monkeypatch):
    import types

    calls = []
    stand_in = types.ModuleType("addon.command")
    stand_in.main = lambda argv: calls.append(argv) or 2
    monkeypatch.setitem(sys.modules, "addon.command", stand_in)
    assert commandline.run(["check", "suit.blend"]) == 2 and calls == [["check", "suit.blend"]]


def test_rates_and_prices_of_the_scene_count_and_are_kept(scene, tmp_path):
    usual = Settings(find_stock())
    assert read_settings(scene).rates == usual.rates and read_settings(scene).prices == ()
    group = scene.foamwright
    for name in usual.rates.names():
        assert getattr(group.rates, name) == pytest.approx(getattr(usual.rates, name))
    group.rates.cut, group.prices, group.currency = 3.5, "eva-10=24; cement = 18.5", "EUR"
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "suit.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "suit.blend"))
    settings = read_settings(bpy.context.scene)
    assert settings.rates == usual.rates.changed([("cut", 3.5)]) and settings.currency == "EUR"
    assert [(p.thing, p.each) for p in settings.prices] == [("eva-10", 24.0), ("cement", 18.5)]


@pytest.mark.parametrize("text", ["eva-10", "=3", "eva-10=dear", "eva-10=-4", "cement=nan"])
def test_prices_that_are_none_are_refused(scene, text):
    scene.foamwright.prices = text
    with pytest.raises(FoamError) as caught:
        read_settings(scene)
    assert caught.value.finding.code == "bad-price"
