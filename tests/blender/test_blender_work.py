"""Work in the background: one job at a time, cancelled cleanly, and shown by the operators."""

import threading
import types

import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import changes, work  # noqa: E402
from addon.blender.operators.check import Check  # noqa: E402
from addon.blender.operators.long import LongOperator  # noqa: E402
from addon.blender.operators.templates import MakePattern  # noqa: E402
from addon.core.errors import ERROR, Cancelled, Finding, FoamError  # noqa: E402

SOON = 20.0  # seconds after which a thread of these tests counts as hung


class Gate:
    """Work that says where it is, waits to be let through, and speaks once more."""

    def __init__(self, result="done"):
        self.result, self.inside, self.open = result, threading.Event(), threading.Event()

    def __call__(self, progress):
        progress(0.25, "Flattening KL1")
        self.inside.set()
        assert self.open.wait(SOON)
        progress(0.75, "Flattening KL2")
        return self.result


# --- jobs --------------------------------------------------------------------------


def test_a_job_tells_its_progress_and_returns_its_result():
    gate = Gate()
    job = work.start(gate)
    assert gate.inside.wait(SOON)
    assert not job.over and work.running() is job
    assert (job.share, job.text) == (0.25, "Flattening KL1")
    with pytest.raises(ValueError, match="still at work"):
        job.result()
    gate.open.set()
    assert job.wait(SOON) and work.running() is None
    assert job.result() == "done" and job.share == 0.75


def test_a_cancelled_job_ends_at_its_next_word_of_progress():
    gate = Gate()
    job = work.start(gate)
    assert gate.inside.wait(SOON)
    assert work.stop() is job and job.cancelled and not job.over
    gate.open.set()
    assert job.wait(SOON)
    with pytest.raises(Cancelled):
        job.result()
    assert work.stop() is None


def test_a_job_is_told_that_the_best_so_far_will_do():
    answers, inside, goes_on = [], threading.Event(), threading.Event()

    def search(progress):
        answers.append(progress(0.1, "Nesting foam on mats"))
        inside.set()
        assert goes_on.wait(SOON)
        answers.append(progress(0.2, "Nesting foam on mats"))
        return "best"

    job = work.start(search)
    assert inside.wait(SOON)
    job.settle()
    goes_on.set()
    assert job.wait(SOON) and job.result() == "best" and answers == [False, True]


@pytest.mark.parametrize("error", [
    FoamError(Finding("too-bad", ERROR, "It cannot be.", "")), ZeroDivisionError("a bug")])
def test_what_the_work_raises_is_raised_by_the_result(error):
    def fail(progress):
        raise error

    job = work.start(fail)
    assert job.wait(SOON)
    with pytest.raises(type(error)) as caught:
        job.result()
    assert caught.value is error


def test_jobs_never_overlap():
    first, second = Gate("first"), Gate("second")
    one = work.start(first)
    assert first.inside.wait(SOON)
    two = work.start(second)
    assert one.cancelled and not second.inside.wait(0.1)  # waits for the first to end
    second.open.set()
    first.open.set()
    assert two.wait(SOON) and one.over
    assert two.result() == "second"
    with pytest.raises(Cancelled):
        one.result()


def test_work_in_this_thread_waits_for_the_job():
    gate, order = Gate(), []
    job = work.start(gate)
    assert gate.inside.wait(SOON)
    threading.Timer(0.05, gate.open.set).start()
    assert work.run(lambda progress: order.append(job.over), print) is None
    assert order == [True] and job.cancelled


def test_a_job_cancelled_before_its_turn_never_begins():
    first, second = Gate(), Gate()
    work.start(first)
    assert first.inside.wait(SOON)
    two = work.start(second)
    two.cancel()
    first.open.set()
    assert two.wait(SOON) and not second.inside.is_set()


def test_undo_and_loading_drop_the_job(scene, add_sheet):
    for event in (lambda: bpy.ops.ed.undo(), lambda: bpy.ops.wm.read_homefile(use_empty=True)):
        bpy.ops.ed.undo_push(message="One")
        bpy.ops.ed.undo_push(message="Two")
        gate = Gate()
        job, epoch = work.start(gate), changes.epoch
        assert gate.inside.wait(SOON)
        event()
        assert job.cancelled and changes.epoch > epoch
        gate.open.set()
        assert job.wait(SOON)


def test_unregistering_ends_the_job(registered):
    gate = Gate()
    job = work.start(gate)
    assert gate.inside.wait(SOON)
    threading.Timer(0.05, gate.open.set).start()
    registered.unregister()
    try:
        assert job.over
    finally:
        registered.register()


# --- changes -----------------------------------------------------------------------


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT", "SCULPT"])
def test_only_changes_of_the_maker_s_meshes_count(scene, add_sheet, read, mode):
    item, layer = add_sheet(), bpy.context.view_layer
    layer.objects.active = item
    bpy.ops.object.mode_set(mode=mode)
    layer.update()
    count = changes.count
    for _ in range(2):
        with changes.ours(layer):
            read(item)
        layer.update()
    assert changes.count == count  # reading is no change
    item.location.x += 1
    with changes.ours(layer):
        read(item)
    assert changes.count > count  # but what was waiting to be noticed is
    bpy.ops.object.mode_set(mode="OBJECT")
    layer.update()
    count = changes.count
    item.location.x += 1
    bpy.context.view_layer.update()
    assert changes.count > count
    count = changes.count
    item.data.vertices[0].co.x += 0.01
    item.data.update()
    bpy.context.view_layer.update()
    assert changes.count > count


def test_a_signature_tells_marks_shape_and_foam_apart(scene, add_sheet, read):
    from addon.blender.settings import read_settings

    def signature():
        return changes.signature(read(item)[0], read_settings(scene))

    item = add_sheet(seams=[(1, 4)])
    first = signature()
    assert signature() == first
    item.data.attributes["uv_seam"].data[0].value = True
    marked = signature()
    scene.foamwright.stock = "eva-4"
    foam = signature()
    item.data.vertices[0].co.x -= 0.01
    assert len({first, marked, foam, signature()}) == 4


# --- operators in a window -----------------------------------------------------------


class Hands:
    """A window, as far as an operator sees it, and what was reported through it."""

    def __init__(self, scene, objects):
        self.status, self.timers = [], set()
        manager = types.SimpleNamespace(
            event_timer_add=lambda step, window: self.timers.add(window) or window,
            event_timer_remove=self.timers.remove, modal_handler_add=lambda operator: True)
        self.context = types.SimpleNamespace(
            scene=scene, selected_objects=objects, window="window", window_manager=manager,
            workspace=types.SimpleNamespace(status_text_set=self.status.append))

    def event(self, operator, kind="TIMER", value="NOTHING"):
        return operator.modal(self.context, types.SimpleNamespace(type=kind, value=value))


def operator_of(cls):
    """The operator's own methods on an object that Blender knows nothing of."""
    def report(self, kind, text):
        self.reports.append((kind.copy().pop(), text))

    # Blender makes instances of its own classes alone, so what lies above them stands in.
    above = next(c for c in cls.__mro__ if not issubclass(c, bpy.types.Operator))
    own = {k: v for c in reversed(cls.__mro__) if issubclass(c, bpy.types.Operator)
           and c.__module__.startswith("addon.") for k, v in vars(c).items()
           if (callable(v) or isinstance(v, bool)) and not k.startswith("__")}
    found = type("Stand", (above,), {**own, "report": report, "directory": ""})()
    found.reports = []
    return found


@pytest.fixture
def gated(monkeypatch):
    """gated(gate): the core's check and make_pattern pass through the gate first."""
    from addon.core import make

    def install(gate):
        def through(true):
            def stand_in(sculpt, settings, progress=None, memory=None):
                gate(progress)
                return true(sculpt, settings, progress, memory)
            return stand_in

        for name in ("check", "make_pattern"):
            monkeypatch.setattr(make, name, through(getattr(make, name)))
        return gate

    return install


@pytest.fixture
def begun(scene, add_sheet, gated):
    """An operator Check at work behind its gate: (operator, hands, gate, sheet)."""
    item, gate = add_sheet(seams=[(1, 4), (4, 7)]), gated(Gate())
    hands, operator = Hands(scene, [item]), operator_of(Check)
    assert operator.begin(hands.context) == {"RUNNING_MODAL"}
    assert gate.inside.wait(SOON)
    yield operator, hands, gate, item
    gate.open.set()
    operator._job.wait(SOON)


def test_what_is_said_at_the_end_may_be_about_what_was_kept(scene, add_sheet):
    class Counts(LongOperator):
        kept = 0

        def prepare(self, context):
            self.read(context)
            return lambda progress: 3

        def keep(self, context, result):
            self.kept = 2 * result

        def words(self, result):
            return f"kept {self.kept}"

        def report(self, kind, text):
            self.said = text

    hands, operator = Hands(scene, [add_sheet()]), Counts()
    assert operator.begin(hands.context) == {"RUNNING_MODAL"}
    assert operator._job.wait(SOON)
    assert hands.event(operator) == {"FINISHED"} and operator.said == "kept 6"


def test_an_operator_shows_progress_then_its_findings(scene, begun):
    operator, hands, gate, _ = begun
    assert hands.event(operator) == {"PASS_THROUGH"}
    assert "Flattening KL1" in hands.status[-1] and "25" in hands.status[-1]
    assert hands.event(operator, "MIDDLEMOUSE", "PRESS") == {"PASS_THROUGH"}
    assert scene.foamwright.summary == ""
    gate.open.set()
    assert operator._job.wait(SOON)
    assert hands.event(operator) == {"FINISHED"}
    assert operator.reports == [("INFO", scene.foamwright.summary)]
    assert "Pieces: 2" in scene.foamwright.summary
    assert not hands.timers and hands.status[-1] is None


def test_esc_stops_an_operator_and_changes_nothing(scene, begun, fingerprint):
    operator, hands, gate, _ = begun
    before = fingerprint()
    assert hands.event(operator, "ESC", "PRESS") == {"RUNNING_MODAL"}
    assert hands.status[-1] == "Stopping…"
    assert hands.event(operator) == {"PASS_THROUGH"}  # until the work has heard of it
    gate.open.set()
    assert operator._job.wait(SOON)
    assert hands.event(operator) == {"CANCELLED"}
    assert operator.reports == [("INFO", "Stopped. Nothing was written or changed.")]
    assert scene.foamwright.summary == "" and fingerprint() == before
    assert not hands.timers and hands.status[-1] is None


def test_enter_takes_the_best_layout_so_far_but_only_while_pieces_are_nested(scene, begun):
    operator, hands, gate, _ = begun
    assert hands.event(operator, "RET", "PRESS") == {"PASS_THROUGH"}
    assert operator._job._say(0.3) is False and "Enter" not in hands.status[-1]
    operator._job._say(0.6, "Nesting EVA 10 mm on mats")
    hands.event(operator)
    assert "Enter goes on with the best layout" in hands.status[-1]
    assert hands.event(operator, "RET", "PRESS") == {"RUNNING_MODAL"}
    assert operator._job._say(0.6) is True


def test_a_sculpt_changed_meanwhile_is_told(scene, begun):
    operator, hands, gate, item = begun
    item.data.vertices[0].co.y += 0.01
    item.data.update()
    bpy.context.view_layer.update()
    gate.open.set()
    assert operator._job.wait(SOON)
    assert hands.event(operator) == {"FINISHED"}
    (kind, text), = operator.reports
    assert kind == "WARNING" and "changed meanwhile" in text


def test_a_change_that_leaves_the_sculpt_as_it_was_is_not_told(scene, begun):
    operator, hands, gate, item = begun
    changes.note()
    gate.open.set()
    assert operator._job.wait(SOON)
    assert hands.event(operator) == {"FINISHED"}
    assert [kind for kind, _ in operator.reports] == ["INFO"]


def test_a_result_about_an_undone_state_is_not_listed(scene, begun):
    operator, hands, gate, _ = begun
    gate.open.set()
    assert operator._job.wait(SOON)
    bpy.ops.ed.undo_push(message="One")
    bpy.ops.ed.undo_push(message="Two")
    bpy.ops.ed.undo()
    hands.context.scene = bpy.context.scene
    assert hands.event(operator) == {"CANCELLED"}
    assert bpy.context.scene.foamwright.summary == ""
    assert "earlier state" in operator.reports[0][1]


def test_an_operator_that_blender_ends_leaves_nothing_behind(begun):
    operator, hands, gate, _ = begun
    operator.cancel(hands.context)  # as when another file is opened
    assert operator._job.cancelled and not hands.timers and hands.status[-1] is None


@pytest.mark.parametrize("press", [False, True])
def test_templates_are_written_whole_or_not_at_all(scene, add_sheet, gated, tmp_path, press):
    item, gate = add_sheet(), gated(Gate())
    scene.foamwright.folder = str(tmp_path)
    hands, operator = Hands(scene, [item]), operator_of(MakePattern)
    assert operator.begin(hands.context) == {"RUNNING_MODAL"}
    assert gate.inside.wait(SOON)
    if press:
        hands.event(operator, "ESC", "PRESS")
    gate.open.set()
    assert operator._job.wait(60)
    assert hands.event(operator) == ({"CANCELLED"} if press else {"FINISHED"})
    written = sorted(p.name for p in tmp_path.iterdir())
    assert written == ([] if press else ["mats", "pattern.pdf", "plan.html", "plan.pdf",
                                     "report.json"])


def test_one_operator_does_not_push_another_aside(scene, begun):
    operator, hands, gate, item = begun
    other = operator_of(Check)
    assert other.begin(Hands(scene, [item]).context) == {"CANCELLED"}
    assert "still at work" in other.reports[0][1] and not operator._job.cancelled


def test_what_cannot_begin_is_reported(scene):
    hands, operator = Hands(scene, []), operator_of(Check)
    assert operator.begin(hands.context) == {"CANCELLED"}
    assert operator.reports[0][0] == "ERROR" and "Add to Suit" in operator.reports[0][1]
    assert not hands.timers and not hands.status
