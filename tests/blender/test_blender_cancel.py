"""Whatever a maker breaks off leaves the file as it was; and every operator is tried somewhere."""

import re
import threading
import types
from pathlib import Path

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import operators, work  # noqa: E402
from addon.blender.operators import suit, templates  # noqa: E402
from addon.blender.operators.long import LongOperator  # noqa: E402
from tests.blender.test_blender_work import SOON, Hands, operator_of  # noqa: E402

ALL = {cls.bl_idname.split(".")[1]: cls for step in operators.STEPS for cls in step.CLASSES
       if issubclass(cls, bpy.types.Operator)}
LONG = {name: cls for name, cls in ALL.items() if issubclass(cls, LongOperator)}


@pytest.mark.parametrize("name", sorted(LONG))
def test_esc_stops_all_long_work_and_leaves_the_file_as_it_was(scene, add_sheet, fingerprint, name):
    item, inside, gate = add_sheet(seams=[(1, 4), (4, 7)]), threading.Event(), threading.Event()
    operator, hands = operator_of(LONG[name]), Hands(scene, [item])

    def prepare(context):
        operator.read(context)

        def slow(progress):
            inside.set()
            assert gate.wait(SOON)
            progress(0.5, "never told")

        return slow

    operator.prepare = prepare
    before = fingerprint()
    assert operator.begin(hands.context) == {"RUNNING_MODAL"}
    assert inside.wait(SOON) and hands.event(operator) == {"PASS_THROUGH"}
    assert hands.event(operator, "ESC", "PRESS") == {"RUNNING_MODAL"}
    gate.set()
    assert operator._job.wait(SOON)
    assert hands.event(operator) == {"CANCELLED"}
    assert operator.reports == [("INFO", "Stopped. Nothing was written or changed.")]
    assert fingerprint() == before and not hands.timers and hands.status[-1] is None
    assert work.running() is None


def test_long_work_is_what_it_says():
    assert {"check", "look_over", "suggest_relief", "suggest_seams", "show_flat", "write_uv",
            "make_pattern", "make_one_piece"} <= set(LONG)


@pytest.mark.parametrize("cls", [templates.MakePattern, templates.MakeOnePiece])
def test_a_folder_that_is_not_chosen_writes_nothing(scene, add_sheet, cls):
    asked = []
    item = add_sheet()
    operator, hands = operator_of(cls), Hands(scene, [item])
    hands.context.window_manager.fileselect_add = asked.append
    assert operator.invoke(hands.context, None) == {"RUNNING_MODAL"}
    assert asked == [operator] and work.running() is None and not operator.reports


@pytest.mark.parametrize("dirty", [True, False])
def test_the_example_asks_before_changes_are_lost(scene, add_sheet, monkeypatch, dirty):
    asked = {}
    manager = types.SimpleNamespace(
        invoke_confirm=lambda *_, **words: asked.update(words) or {"CANCELLED"})
    monkeypatch.setattr(suit, "bpy", types.SimpleNamespace(
        data=types.SimpleNamespace(is_dirty=dirty)))
    operator = types.SimpleNamespace(execute=lambda context: {"FINISHED"})
    result = suit.OpenExample.invoke(
        operator, types.SimpleNamespace(window_manager=manager), None)
    assert result == ({"CANCELLED"} if dirty else {"FINISHED"})
    assert ("will be lost" in asked.get("message", "")) == dirty


def test_every_operator_is_tried():
    tests = [path for path in Path(__file__).parent.glob("test_*.py") if path != Path(__file__)]
    words = set(re.findall(r"\w+", "\n".join(path.read_text("utf-8") for path in tests)))
    assert [name for name in ALL if name not in words] == []
