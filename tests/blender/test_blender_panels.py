"""Every panel is drawn into a layout that only accepts what Blender's own layout would."""

import types

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import panels, schema  # noqa: E402
from addon.blender.operators import look_over, repair  # noqa: E402

FUNCTIONS = bpy.types.UILayout.bl_rna.functions
ICONS = set(FUNCTIONS["label"].parameters["icon"].enum_items.keys())


class Layout:
    """Records (function, arguments, keywords), and (operator, keywords, properties) of buttons;
    refuses unknown functions, keywords, icons, properties and operators."""

    known = set(FUNCTIONS.keys()) | set(bpy.types.UILayout.bl_rna.properties.keys())

    def __init__(self, log=None, buttons=None):
        object.__setattr__(self, "log", [] if log is None else log)
        object.__setattr__(self, "buttons", [] if buttons is None else buttons)

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
                return Layout(self.log, self.buttons)
            if name == "prop":
                assert arguments[1] in arguments[0].bl_rna.properties
            if name == "operator":
                shown = Properties(arguments[0])
                self.buttons.append((arguments[0], keywords, shown))
                return shown

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
        object.__setattr__(self, name, value)


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
    assert [c.bl_label[0] for c in steps] == ["1", "2", "3", "4", "5", "6"]
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
    assert "gorget" not in draw(panel("FOAMWRIGHT_PT_suit")).texts()
    item.foamwright.include = True
    assert "gorget" in draw(panel("FOAMWRIGHT_PT_suit")).texts()


def test_every_object_of_the_suit_is_listed_with_its_foam_and_can_be_taken_out(scene, add_sheet):
    for name, stock, thickness in (("belly", "", ""), ("gorget", "eva-4", ""),
                                   ("tasset", "", "1/4 in"), ("mannequin", "", "")):
        group = add_sheet(name).foamwright
        group.include, group.stock, group.thickness = True, stock, thickness
    bpy.data.objects["mannequin"].foamwright.leave_out = True
    layout = draw(panel("FOAMWRIGHT_PT_suit"))
    rows = layout.texts()
    for words in ("belly EVA sheet 10 mm", "gorget EVA craft foam 4 mm", "tasset EVA sheet 6.35 mm",
                  "mannequin left out"):
        assert words in rows, rows
    assert layout.operators().count("foamwright.remove_from_suit") == 3
    bpy.ops.foamwright.remove_from_suit(name="gorget")
    bpy.ops.foamwright.leave_out(name="mannequin", back=True)
    assert "gorget" not in draw(panel("FOAMWRIGHT_PT_suit")).texts()
    assert "left out" not in draw(panel("FOAMWRIGHT_PT_suit")).texts()
    bpy.data.objects["belly"].foamwright.thickness = "thick"
    assert "unclear" in draw(panel("FOAMWRIGHT_PT_suit")).texts()


def test_the_selection_is_listed_while_nothing_is_chosen(scene, add_sheet):
    add_sheet("gorget").select_set(True)
    layout = draw(panel("FOAMWRIGHT_PT_suit"))
    assert "selected objects" in layout.texts() and "gorget" in layout.texts()
    assert "foamwright.remove_from_suit" not in layout.operators()


def listed(scene, *findings, place='{"sheet": {"edges": [[0, 1]]}}'):
    for code, severity, message in findings:
        item = scene.foamwright.findings.add()
        item.code, item.severity, item.message = code, severity, message
        item.remedy, item.places, item.piece = "Make it longer.", place, "KL1"


def rows(layout):
    """Place in the list and text of every button that shows a finding."""
    return [(shown.index, words.get("text")) for name, words, shown in layout.buttons
            if name == "foamwright.select_finding"]


def test_a_finding_is_listed_with_its_remedy_and_buttons(scene, add_sheet):
    add_sheet()
    listed(scene, ("unmarked-fold", "warning", "It folds."))
    layout = draw(panel("FOAMWRIGHT_PT_check"))
    assert "KL1: It folds." in layout.texts() and "Make it longer." in layout.texts()
    kinds = [shown.kind for name, _, shown in layout.buttons if name == "foamwright.mark_finding"]
    assert kinds == ["TRENCH", "SEAM"]
    assert all(shown.finding == 0 and not shown.everywhere for name, _, shown in layout.buttons
               if name == "foamwright.mark_finding")


def test_many_findings_of_a_kind_are_one_line_that_opens_and_steps_on(scene, add_sheet):
    add_sheet()
    listed(scene, ("tube", "error", "Tube."),
           *[("unmarked-fold", "warning", f"Fold {i}.") for i in range(5)],
           ("needs-heat", "note", "Heat."))
    layout = draw(panel("FOAMWRIGHT_PT_check"))
    assert "To put right: 1" in layout.texts() and "To decide on: 5" in layout.texts()
    assert (1, "Folds without a mark (5)") in rows(layout)
    assert (0, "Tubes to be opened: KL1") in rows(layout)
    assert "Fold 0." not in layout.texts()
    scene.foamwright.finding = 3
    layout = draw(panel("FOAMWRIGHT_PT_check"))
    assert "KL1: Fold 2." in layout.texts() and "3 of 5" in layout.texts()
    assert (3, "Folds without a mark (5)") in rows(layout)  # shown again; the arrows step on
    assert [row for row in rows(layout) if row[1] == ""] == [(2, ""), (4, "")]
    every = [shown for name, _, shown in layout.buttons
             if name == "foamwright.mark_finding" and shown.everywhere]
    assert len(every) == 2 and "All 5" in layout.texts()
    scene.foamwright.finding = 5
    assert (1, "") in rows(draw(panel("FOAMWRIGHT_PT_check")))  # and round again


def test_a_finding_that_was_dealt_with_says_so(scene, add_sheet):
    add_sheet()
    listed(scene, ("unmarked-fold", "warning", "It folds."))
    scene.foamwright.findings[0].state = "DONE"
    assert "Check again to be sure" in draw(panel("FOAMWRIGHT_PT_check")).texts()
    scene.foamwright.findings[0].state = "STALE"
    layout = draw(panel("FOAMWRIGHT_PT_check"))
    assert "has been changed since" in layout.texts()
    assert len(rows(layout)) == 1  # no button to select elements that may be others by now


def test_findings_of_another_step_are_not_listed(scene, add_sheet):
    add_sheet()
    listed(scene, ("flipped-normals", "error", "It looks inward."))
    scene.foamwright.findings[0].step = "SCULPT"
    assert "inward" not in draw(panel("FOAMWRIGHT_PT_check")).texts()


def test_the_sculpt_step_tells_what_each_object_is(scene, add_sheet):
    bpy.context.view_layer.objects.active = add_sheet("gorget")
    item = scene.foamwright.surveys.add()
    item.name, item.size, item.kind = "gorget", (200, 0, 200_000), "Single surface"
    gone = scene.foamwright.surveys.add()
    gone.name, gone.kind = "pauldron", "Closed solid"
    layout = draw(panel("FOAMWRIGHT_PT_sculpt"))
    assert "200 mm × 0 mm × 200 m" in layout.texts() and "Single surface" in layout.texts()
    assert "pauldron" not in layout.texts()
    assert "Nothing was found amiss" in layout.texts()
    listed(scene, ("small-hole", "note", "It has a hole."))
    scene.foamwright.findings[0].step = "SCULPT"
    layout = draw(panel("FOAMWRIGHT_PT_sculpt"))
    assert "amiss" not in layout.texts() and "foamwright.fill_holes" in layout.operators()
    assert "gorget Goes On" in draw(panel("FOAMWRIGHT_PT_wearer")).texts()


def test_faces_are_left_out_in_edit_mode(scene, add_sheet):
    bpy.context.view_layer.objects.active = add_sheet()
    assert "Enter Edit Mode" in draw(panel("FOAMWRIGHT_PT_built")).texts()
    bpy.ops.object.mode_set(mode="EDIT")
    assert {"foamwright.set_built", "foamwright.select_not_built"} <= set(
        draw(panel("FOAMWRIGHT_PT_built")).operators())


@pytest.mark.parametrize("finding", [-1, 0])
@pytest.mark.parametrize("name", ["merge_vertices", "mark_finding", "rescale"])
def test_remedies_show_what_can_be_adjusted(scene, add_sheet, name, finding):
    add_sheet("sheet").select_set(True)
    listed(scene, ("unmarked-fold", "warning", "It folds."))
    cls = next(c for c in (*repair.CLASSES, *look_over.CLASSES)
               if c.bl_idname == f"foamwright.{name}")
    known = getattr(bpy.ops.foamwright, name).get_rna_type()
    stand_in = types.SimpleNamespace(
        layout=Layout(), properties=types.SimpleNamespace(bl_rna=known), bl_rna=known,
        finding=finding, everywhere=False)
    stand_in.target = types.MethodType(look_over.Remedy.target, stand_in)
    for method in ("_mistakes", "_chosen", "_items"):
        if hasattr(cls, method):
            setattr(stand_in, method, types.MethodType(getattr(cls, method), stand_in))
    if name == "rescale":
        look_over.Remedy.draw(stand_in, bpy.context)
        cls.draw_sizes(stand_in, bpy.context)
        assert "Longest side now: 200 mm" in stand_in.layout.texts()
    else:
        cls.draw(stand_in, bpy.context)
    shown = [a[1] for n, a, _ in stand_in.layout.log if n == "prop"]
    assert ("everywhere" in shown) == (finding >= 0) and "finding" not in shown
    assert {"distance", "kind", "factor"} & set(shown)


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
    from addon.core.nest import ROLL

    assert {name for name, *_ in PAPERS} == {*PRINTED, ROLL}


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
