"""What the foam says of the scene, kept up to date while the maker works.

A timer looks whether anything changed. Once the maker has paused, it reads the suit, and a job
in the background checks it with the scene's memory and hands over what to draw as it comes:
the pieces once they are cut, their utilisation once they are flat, letters in the end.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import bpy
from bpy.app.handlers import persistent

from ..core.errors import Cancelled, FoamError
from ..core.model import Glance
from . import build_view, carry, changes, memory, schema, trial, work
from .draw_data import Drawn, carried, draw
from .read import mm_per_unit, read_scene, suit_objects
from .settings import read_settings

LARGE = 200_000  # faces above which the maker must really pause
SHORT, LONG = 0.01, 2.0  # seconds of quiet before the scene is read; the latter for LARGE ones
SHARE, MOST = 2.0, 0.6  # where reading takes long, so many times as long, but no longer than MOST
_BUSY, _IDLE = 0.01, 0.02  # seconds between two looks, with a job at work and without
MISTAKE = ("Foamwright made a mistake here, which the system console tells in full. Change "
           "something, or ask again.")
# While the maker drags something, nothing is read: half of it may be done.
_DRAGGING = ("TRANSFORM_OT", "SCULPT_OT", "MESH_OT", "PAINT_OT", "VIEW3D_OT_select")


@dataclass
class State:
    """Of the scene that is shown. Nothing here is the maker's, and all may be lost.

    drawn: by object, a new dict with each change; placed: where the objects were then (matrices);
    message: why there is no answer; job: at work, if any.
    """

    scene: int = 0
    drawn: dict[str, Drawn] = field(default_factory=dict)
    placed: dict[str, object] = field(default_factory=dict)
    message: str = ""
    job: work.Job | None = None
    faces: int = 0
    seen: tuple | None = None  # state of `changes` when the scene was last read
    signature: bytes = b""
    names: tuple[str, ...] = ()
    cost: float = 0.0  # seconds that reading the scene took
    given_up: bool = False  # the maker stopped the job
    said: tuple[float, str] = (0.0, "")  # how far the sidebar says the job is
    glance: Glance | None = None  # what is drawn
    answered: bytes = b""  # signature of what is drawn


state = State()
_found: deque = deque(maxlen=1)  # what the job hands over


def refresh() -> None:
    """Ask the foam again at the next look, however large the sculpt is and changed or not."""
    state.seen, state.signature = None, b""
    if not bpy.app.timers.is_registered(_look):  # Blender drops a timer that has failed
        bpy.app.timers.register(_look, first_interval=_IDLE, persistent=True)


def stop() -> None:
    """Give up the job at work; it is not taken up again before something changes."""
    if state.job is not None:
        state.given_up = True
        state.job.cancel()


def outdated() -> bool:
    """Has something changed since what is shown was read?"""
    return state.seen is not None and state.seen != (changes.epoch, changes.count)


def _look() -> float:
    window = _window()
    scene = window.scene if window else bpy.context.scene
    layer = window.view_layer if window else bpy.context.view_layer
    if not schema.is_newer(scene) and not bpy.app.is_job_running("RENDER") and any(
            [trial.look(scene, layer), build_view.look(scene, layer)]):
        redraw()
    if not scene.foamwright.overlay or schema.is_newer(scene):
        if state.job is not None:
            state.job.cancel()
        state.seen = None  # it is asked anew once it is switched on
        return 10 * _IDLE
    if bpy.app.is_job_running("RENDER"):
        return _IDLE  # nothing may be made or removed meanwhile
    left = 0.0
    try:
        left = look(scene, layer, window.modal_operators if window else ())
    except Exception:  # a mistake of ours: told as such, for Blender drops a timer that raises
        sys.excepthook(*sys.exc_info())
        state.seen = changes.epoch, changes.count
        _show(scene, {}, MISTAKE)
    if state.job is None:
        return min(_IDLE, left) if left else _IDLE
    said = round(state.job.share, 2), state.job.text
    if said != state.said:
        state.said = said
        redraw(("UI",))
    return _BUSY


def _window() -> bpy.types.Window | None:
    """The window to answer in: of those whose scene shows the overlay the one in which something
    was changed last, else the one that was answered before, else the first."""
    windows = list(bpy.context.window_manager.windows)
    shown = [window for window in windows if window.scene.foamwright.overlay]
    return max(shown or windows, default=None, key=lambda window: (
        window.scene.session_uid == changes.where, window.scene.session_uid == state.scene))


def look(scene: bpy.types.Scene, layer: bpy.types.ViewLayer,
         dragging: Iterable[bpy.types.Operator] = ()) -> float:
    """One look at the scene: take what the job has found, or start one if it is time to.

    dragging: operators the maker is in the middle of. Seconds until what has changed may be read,
    0 where nothing waits for that alone.
    """
    if state.scene != scene.session_uid:
        _forget()
        state.scene = scene.session_uid
    if state.job is not None:
        _take(scene)
    now = changes.epoch, changes.count
    if state.seen == now or any(o.bl_idname.startswith(_DRAGGING) for o in dragging):
        return 0.0
    if state.seen is not None:
        wait = LONG if state.faces > LARGE else max(SHORT, min(SHARE * state.cost, MOST))
        left = changes.last + wait - time.monotonic()
        if left > 0.0:
            return left
    running = work.running()
    if running is None or running is state.job:
        _ask(scene, layer)
    return 0.0


def _ask(scene: bpy.types.Scene, layer: bpy.types.ViewLayer) -> None:
    """Read the suit and let the foam answer, unless nothing that matters has changed."""
    from ..core.make import check

    begin = time.perf_counter()
    try:
        with changes.ours(layer):
            settings = read_settings(scene)
            objects = suit_objects(scene, list(layer.objects.selected)) or [
                o for name in state.names if (o := scene.objects.get(name))]
            sculpt, sources = read_scene(scene, objects, settings)
            for item, source in zip(objects, sources, strict=True):
                if source.ground is not None:
                    carry.follow(scene, item, source.ground, most=1)
    except FoamError as error:
        state.seen = changes.epoch, changes.count
        _show(scene, {}, error.finding.message)
        return
    state.seen = changes.epoch, changes.count
    state.names = tuple(o.name for o in objects)
    state.faces = len(sculpt.faces)
    signature = changes.signature(sculpt, settings)
    state.cost = time.perf_counter() - begin
    if signature == state.signature:
        return
    state.signature = signature
    placed = {o.name: o.matrix_world.copy() for o in objects}
    unit = 1.0 / (mm_per_unit(scene) * settings.scale)
    known, before = memory.of_scene(scene), state.glance

    def see(glance):
        # What did not change keeps its strain and its letters until it has new ones.
        glance = carried(glance, before)
        _found.append((signature, glance, draw(glance, unit), placed))

    def answer(progress):
        return check(sculpt, settings, progress, known, see)

    state.given_up = False
    state.job = work.start(answer)


def _take(scene: bpy.types.Scene) -> None:
    """What the job has found up to now, and how it ended."""
    job, over, message, failed = state.job, state.job.over, state.message, False
    try:
        if over:
            state.job = None
            job.result()
            message = ""
    except Cancelled:
        state.signature = b""
        if not state.given_up:  # something else came first: ask again when that is over
            state.seen = None
    except FoamError as error:
        message, failed = error.finding.message, True
    drawn = None
    while _found:
        signature, glance, drawn, placed = _found.popleft()
        if signature != state.signature:
            drawn = None
    if drawn is not None:
        state.placed, state.glance, state.answered = placed, glance, signature
        _show(scene, drawn, message)
    elif over:  # without a single word on the sculpt as it is, what it was like is shown no more
        unanswered = failed and state.answered != state.signature
        _show(scene, {} if unanswered else state.drawn, message)


def _show(scene: bpy.types.Scene, drawn: dict[str, Drawn], message: str) -> None:
    state.drawn, state.message = drawn, message
    redraw()


def redraw(parts: Sequence[str] = ("WINDOW", "UI")) -> None:
    """Have all 3D views drawn again, and their sidebars, or one of both."""
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                for region in area.regions:
                    if region.type in parts:
                        region.tag_redraw()


def _forget() -> None:
    global state
    if state.job is not None:
        state.job.cancel()
    state = State()
    _found.clear()


@persistent
def _another_file(*_):
    _forget()


def register() -> None:
    bpy.app.handlers.load_post.append(_another_file)
    bpy.app.timers.register(_look, first_interval=_IDLE, persistent=True)


def unregister() -> None:
    if bpy.app.timers.is_registered(_look):  # Blender drops a timer that has failed
        bpy.app.timers.unregister(_look)
    bpy.app.handlers.load_post.remove(_another_file)
    _forget()
