"""Every control of ours keeps to Blender's guidelines, and the search finds every operator.

Blender's guidelines (developer.blender.org, Human Interface Guidelines, "Writing Style"; read
from memory): labels in title case, tooltips that begin with a capital and end without a full stop.
"""

import importlib.util
import re
import types

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import menus, operators, panels, preferences, properties  # noqa: E402
from addon.blender.operators import suit  # noqa: E402
from tests.blender.test_blender_panels import Layout, draw, panel  # noqa: E402

# Words that stay small inside a title.
SMALL = {"a", "an", "and", "as", "at", "but", "by", "for", "from", "in", "into", "nor", "of", "off",
         "on", "onto", "or", "per", "than", "the", "to", "with"}
EITHER = {"across", "over", "mm"}  # long prepositions, which style guides treat both ways
# They change nothing in the file: there is nothing to undo or to adjust.
CHANGE_NOTHING = {"foamwright.open_example", "foamwright.refresh_overlay",
                  "foamwright.stop_overlay", "foamwright.show_build", "foamwright.leave_build",
                  "foamwright.go_to_step"}
ASK_FIRST = ("foamwright.open_example", "foamwright.rescale", "foamwright.accept_seams")
OPERATORS = [cls for cls in operators._CLASSES if issubclass(cls, bpy.types.Operator)]
DRAWN = [cls for cls in (*panels._CLASSES, *menus._CLASSES)
         if issubclass(cls, bpy.types.Panel | bpy.types.Menu)]


def rna_of(cls):
    """What Blender knows of an operator, its own properties included."""
    module, name = cls.bl_idname.split(".")
    return getattr(getattr(bpy.ops, module), name).get_rna_type()


def own_properties(rna):
    return [p for p in rna.properties if p.identifier not in ("rna_type", "name", "bl_idname")]


def controls():
    """(where, property) of all that a maker can set."""
    for cls in OPERATORS:
        yield from ((f"{cls.bl_idname}.{p.identifier}", p) for p in own_properties(rna_of(cls))
                    if not p.is_hidden)
    for cls in (*properties._CLASSES, preferences.FoamwrightPreferences):
        names = cls.__annotations__
        yield from ((f"{cls.__name__}.{p.identifier}", p)
                    for p in own_properties(cls.bl_rna) if p.identifier in names and p.description)


def not_title_case(label):
    """The words of a label that are not as they should be."""
    words = re.findall(r"[^\W\d_][\w’']*", label)
    found = []
    for i, word in enumerate(words):
        if i == 0 and label[:1].isalpha():
            fine = not word.islower()
        elif word.lower() not in SMALL:
            fine = not word.islower() or word in EITHER
        else:
            fine = word.islower() or i in (0, len(words) - 1)
        if not fine:
            found.append(word)
    return found


def faults(text):
    """What is wrong with a tooltip."""
    found = []
    if len(text.split()) < 3:
        found.append("too short")
    if not text[:1].isupper() and not text[:1].isdigit():
        found.append("no capital")
    if text.rstrip().endswith("."):
        found.append("full stop")
    if text != text.strip() or "  " in text:
        found.append("blanks")
    return found


@pytest.mark.parametrize(("label", "wrong"), [
    ("Write UV Map", []), ("Left Under Trenches", []), ("Select on Sculpt", []),
    ("Select On Sculpt", ["On"]), ("write Map", ["write"]), ("Page margin", ["margin"]),
    ("Worn On", []), ("+ to −", []), ("Tolerance (mm)", [])])
def test_the_rule_of_titles_can_fail(label, wrong):
    assert not_title_case(label) == wrong


@pytest.mark.parametrize(("text", "count"), [
    ("Cut the foam through here", 0), ("Cut the foam.", 1), ("cut the foam", 1), ("Cut", 1)])
def test_the_rule_of_tooltips_can_fail(text, count):
    assert len(faults(text)) == count


def test_labels_are_titles(registered):
    labels = {cls.bl_idname: cls.bl_label for cls in OPERATORS}
    labels |= {cls.__name__: cls.bl_label for cls in DRAWN}
    for where, prop in controls():
        labels[where] = prop.name
        if prop.type == "ENUM":
            labels |= {f"{where}.{i.identifier}": i.name for i in prop.enum_items}
    assert {w: bad for w, label in labels.items() if (bad := not_title_case(label))} == {}
    assert not [where for where, label in labels.items() if not label]


def test_tooltips_are_whole_and_have_no_full_stop(registered):
    tooltips = {cls.bl_idname: rna_of(cls).description for cls in OPERATORS}
    for where, prop in controls():
        tooltips[where] = prop.description
        if prop.type == "ENUM":
            # The text of a paper is its size.
            tooltips |= {f"{where}.{i.identifier}": i.description for i in prop.enum_items
                         if not re.match(r"[\d.]+ × [\d.]+ (mm|in)", i.description)}
    assert {w: bad for w, text in tooltips.items() if (bad := faults(text))} == {}


def test_text_lengths_tell_how_to_write_a_unit(registered):
    named = {"thickness", "uv_length", "fairing", "notch_spacing", "margin", "overlap"}
    texts = [p for _, p in controls() if p.identifier in named]
    assert {p.identifier for p in texts} == named
    assert all(re.search(r"\d (mm|in)\b", p.description) for p in texts)


def test_every_change_can_be_undone_and_is_shown_in_the_redo_panel(registered):
    for cls in OPERATORS:
        if cls.bl_idname not in CHANGE_NOTHING:
            assert {"REGISTER", "UNDO"} <= set(cls.bl_options), cls.bl_idname
        for prop in own_properties(rna_of(cls)):
            # Places in lists and names of files mean nothing to somebody who adjusts.
            if prop.type == "INT" and prop.default < 0:
                assert prop.is_hidden, f"{cls.bl_idname}.{prop.identifier}"


def test_what_is_dangerous_asks_first(registered):
    """Rescaling changes every vertex; opening a file drops what was not saved; accepting seams
    may take off those that were marked."""
    import inspect

    named = {cls.bl_idname: cls for cls in OPERATORS}
    for name in ASK_FIRST:
        asks = inspect.getsource(named[name].invoke)
        assert "invoke_confirm" in asks or "invoke_props_dialog" in asks, name
    remesh = [name for name in named if "remesh" in name]
    assert not remesh, "ask first"


def items_of(menu):
    layout = Layout()
    menu.draw(types.SimpleNamespace(layout=layout), bpy.context)
    return layout


def test_the_search_finds_every_operator_that_is_not_for_one_place_only(registered):
    listed = {name for menu in menus._CLASSES for name in items_of(menu).operators()}
    assert listed == {cls.bl_idname for cls in menus.shown()}
    assert {cls.bl_idname for cls in OPERATORS} - listed == {
        cls.bl_idname for cls in OPERATORS if "INTERNAL" in getattr(cls, "bl_options", ())}
    assert {"foamwright.open_example", "foamwright.check", "foamwright.mark_edges",
            "foamwright.show_flat"} <= listed


@pytest.mark.parametrize("place", list(menus._PLACES))
def test_our_menu_hangs_in_blenders_menus(registered, place):
    layout = Layout()
    for function in getattr(bpy.types, place).draw._draw_funcs:
        if function.__module__ == menus.__name__:
            function(types.SimpleNamespace(layout=layout), bpy.context)
    assert [a for n, a, _ in layout.log if n == "menu"] == [(menus._PLACES[place].__name__,)]


def default_keymaps():
    """Blender's own keymaps: {name: items}; left alone by an empty profile."""
    folder, = bpy.utils.preset_paths("keyconfig")[:1]
    spec = importlib.util.spec_from_file_location(
        "blender_default", f"{folder}/keymap_data/blender_default.py")
    module = importlib.util.module_from_spec(spec)
    import sys

    sys.modules["blender_default"] = module  # its dataclasses look for their module
    try:
        spec.loader.exec_module(module)
        return {name: content["items"]
                for name, _, content in module.generate_keymaps(module.Params())}
    finally:
        del sys.modules["blender_default"]


def test_our_key_is_free_in_edit_mode_and_all_around_it():
    keymaps = default_keymaps()
    around = ("Mesh", "Object Non-modal", "3D View", "3D View Generic", "Frames", "Window",
              "Screen", "Screen Editing", "User Interface", "Region Context Menu")
    assert set(around) <= set(keymaps)

    def used(key):
        return [name for name in around for item in keymaps[name] if all(
            item[1].get(part, False) in (key.get(part, False), -1)
            for part in ("type", "ctrl", "shift", "alt", "oskey"))]

    assert used(dict(type="E", ctrl=True)) == ["Mesh"], "the menu of edges"
    assert used(menus.KEY) == []


def test_the_key_opens_the_marks_and_goes_with_the_extension(registered):
    keys = bpy.context.window_manager.keyconfigs.addon

    def ours():
        return [item for keymap in keys.keymaps for item in keymap.keymap_items
                if item.idname == "wm.call_menu" and "FOAMWRIGHT" in item.properties.name]

    item, = ours()
    assert item.properties.name == "FOAMWRIGHT_MT_marks"
    assert (item.type, item.ctrl, item.shift, item.alt) == ("E", 1, 1, 0)
    registered.unregister()
    assert ours() == []
    registered.register()


def test_a_checkout_has_an_example_that_the_first_screen_opens(scene):
    assert suit.example_file().name == "ferry_warden.blend"
    assert "foamwright.open_example" in draw(panel("FOAMWRIGHT_PT_start")).operators()
    assert bpy.ops.foamwright.open_example() == {"FINISHED"}
    assert sum(o.foamwright.include for o in bpy.data.objects) > 5 and not bpy.data.filepath


def test_lengths_are_shown_in_the_makers_unit(scene, add_sheet, monkeypatch):
    item = add_sheet()
    bpy.context.view_layer.objects.active = item
    item.data["foamwright_uv_mm"] = 1270.0

    def shown():
        words = []
        for name in ("FOAMWRIGHT_PT_foam", "FOAMWRIGHT_PT_object", "FOAMWRIGHT_PT_more",
                     "FOAMWRIGHT_PT_uv"):
            layout = draw(panel(name))
            words += [layout.texts(), *(k["placeholder"] for _, _, k in layout.log
                                        if "placeholder" in k)]
        return " ".join(words)

    assert "10 mm" in shown() and "70 mm" in shown() and "1270 mm" in shown()
    mine = types.SimpleNamespace(unit="in", paper="A4", stock_file="")
    monkeypatch.setattr(preferences, "get", lambda context=None: mine)
    assert "0.39 in" in shown() and "2.76 in" in shown() and "50.00 in" in shown()
    assert not re.search(r"\d mm", shown().replace("EVA sheet 10 mm", "")), shown()


def test_a_length_that_makes_no_sense_is_told_beside_its_field_alone(scene, add_sheet):
    add_sheet()
    scene.foamwright.margin = "wide"
    layout = draw(panel("FOAMWRIGHT_PT_more"))
    assert "“wide” is not a length" in layout.texts()
    assert "wide" not in draw(panel("FOAMWRIGHT_PT_foam")).texts()
