"""Every panel is drawn into a layout that only accepts what Blender's own layout would."""

import types

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import panels, schema  # noqa: E402

FUNCTIONS = bpy.types.UILayout.bl_rna.functions
ICONS = set(FUNCTIONS["label"].parameters["icon"].enum_items.keys())


class Layout:
    """Records (function, arguments, keywords); refuses unknown functions, keywords, icons,
    properties and operators."""

    known = set(FUNCTIONS.keys()) | set(bpy.types.UILayout.bl_rna.properties.keys())

    def __init__(self, log=None):
        object.__setattr__(self, "log", [] if log is None else log)

    def __setattr__(self, name, value):
        assert name in self.known, f"a layout has no {name}"

    def __getattr__(self, name):
        assert name in self.known, f"a layout has no {name}"

        def call(*arguments, **keywords):
            allowed = set(FUNCTIONS[name].parameters.keys()) if name in FUNCTIONS else set()
            assert set(keywords) <= allowed, f"{name} takes no {set(keywords) - allowed}"
            assert keywords.get("icon", "NONE") in ICONS, f"no icon {keywords['icon']}"
            self.log.append((name, arguments, keywords))
            if name in ("row", "column", "box", "split"):
                return Layout(self.log)
            if name == "prop":
                assert arguments[1] in arguments[0].bl_rna.properties
            if name == "operator":
                return Properties(arguments[0])

        return call

    def texts(self):
        return " ".join(k["text"] for n, _, k in self.log if "text" in k)

    def operators(self):
        return [a[0] for n, a, _ in self.log if n == "operator"]


class Properties:
    """The properties of an operator button; refuses names the operator lacks."""

    def __init__(self, idname):
        module, name = idname.split(".")
        known = getattr(getattr(bpy.ops, module), name).get_rna_type().properties.keys()
        object.__setattr__(self, "known", known)

    def __setattr__(self, name, value):
        assert name in self.known, f"no operator property {name}"


PANELS = [c for c in panels._CLASSES if issubclass(c, bpy.types.Panel)]


def panel(name):
    return next(c for c in panels._CLASSES if c.__name__ == name)


def draw(cls):
    layout = Layout()
    if cls.poll(bpy.context):
        cls.draw(types.SimpleNamespace(layout=layout), bpy.context)
    return layout


def test_the_layout_of_the_tests_refuses_mistakes(scene):
    layout = Layout()
    for mistake in (lambda: layout.lable(text="x"), lambda: layout.label(txt="x"),
                    lambda: layout.label(text="x", icon="NO SUCH"),
                    lambda: layout.prop(scene.foamwright, "nothing"),
                    lambda: setattr(layout.operator("foamwright.mark_edges"), "nothing", 1)):
        with pytest.raises(AssertionError):
            mistake()
    with pytest.raises(Exception, match="nothing"):
        layout.operator("foamwright.nothing")


def test_every_step_is_drawn_in_order_in_one_tab(scene, add_sheet):
    item = add_sheet()
    bpy.context.view_layer.objects.active = item
    steps = [c for c in PANELS if c.bl_label[0].isdigit()]
    assert [c.bl_label[0] for c in steps] == ["1", "2", "3", "4"]
    assert not draw(panel("FOAMWRIGHT_PT_start")).log
    assert {(c.bl_category, c.bl_space_type, c.bl_region_type) for c in PANELS} == {
        ("Foamwright", "VIEW_3D", "UI")}
    drawn = [name for cls in PANELS for name in draw(cls).operators()]
    assert {"foamwright.add_to_suit", "foamwright.mark_edges", "foamwright.select_marked",
            "foamwright.seams_from_sharp", "foamwright.check", "foamwright.make_pattern",
            "foamwright.make_one_piece"} <= set(drawn)


def test_an_empty_scene_says_what_to_do(scene):
    drawn = {cls.bl_label: layout for cls in PANELS if (layout := draw(cls)).log}
    assert set(drawn) == {"Start"}
    assert "import the sculpt" in drawn["Start"].texts()
    assert "wm.obj_import" in drawn["Start"].operators()


def test_the_parts_of_the_suit_are_named(scene, add_sheet):
    item = add_sheet("gorget")
    assert "gorget" not in draw(panel("FOAMWRIGHT_PT_foam")).texts()
    item.foamwright.include = True
    assert "gorget" in draw(panel("FOAMWRIGHT_PT_foam")).texts()


def test_findings_are_listed_with_their_remedy(scene, add_sheet):
    add_sheet()
    item = scene.foamwright.findings.add()
    item.severity, item.message, item.remedy = "warning", "It is short.", "Make it longer."
    item.places, item.piece = '{"sheet": {"faces": [0]}}', "KL1"
    layout = draw(panel("FOAMWRIGHT_PT_check"))
    assert "KL1: It is short." in layout.texts() and "Make it longer." in layout.texts()
    assert "template_list" in [name for name, *_ in layout.log]
    row = Layout()
    panel("FOAMWRIGHT_UL_findings").draw_item(
        None, bpy.context, row, scene.foamwright, item, 0, None, "", 0)
    assert ("foamwright.select_finding",) in [a for _, a, _ in row.log]


def test_nonsense_in_a_field_is_told_beside_it(scene, add_sheet):
    bpy.context.view_layer.objects.active = add_sheet()
    scene.foamwright.stock = "granite"
    assert "granite" in draw(panel("FOAMWRIGHT_PT_foam")).texts()


def test_a_newer_file_shows_only_the_message(scene, add_sheet):
    add_sheet()
    scene.foamwright_schema = schema.SCHEMA + 1
    drawn = {cls: draw(cls) for cls in PANELS if cls.bl_label[0].isdigit()}
    assert not any(layout.log for layout in drawn.values())
    assert "newer Foamwright" in draw(panel("FOAMWRIGHT_PT_newer")).texts()


def test_every_paper_on_offer_can_be_printed():
    from addon.blender.choices import PAPERS
    from addon.core.nest import PAPERS as PRINTED

    assert {name for name, *_ in PAPERS} <= set(PRINTED)


def test_every_control_has_a_tooltip(scene, add_sheet):
    for name in dir(bpy.ops.foamwright):
        rna = getattr(bpy.ops.foamwright, name).get_rna_type()
        assert len(rna.description) > 20, name
        for prop in rna.properties:
            if prop.identifier != "rna_type" and not prop.is_hidden:
                assert prop.description, f"{name}.{prop.identifier}"
    for group in (scene.foamwright, add_sheet().foamwright):
        for prop in group.bl_rna.properties:
            if prop.identifier not in ("rna_type", "name", "findings", "summary"):
                assert prop.description, prop.identifier
