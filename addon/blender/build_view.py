"""The suit growing step by step in the 3D views: looked at only, and over once that is left.

What is drawn is kept here and nowhere else. Meanwhile the sculpt is put aside, hidden as by H; the
scene lists what was hidden, so that it is shown again whatever comes: leaving, undo, another file,
or a file that was saved by itself meanwhile. What the maker saves has nothing hidden in it.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass

import bpy
import numpy as np
from bpy.app.handlers import persistent
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    FloatProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.errors import FoamError
from . import changes, handlers, trial, work
from .build_draw import Build
from .draw_data import Drawn
from .read import read_scene
from .settings import read_settings

STEP, APART, STEPS = "foamwright_step", "foamwright_apart", "foamwright_steps"


class FoamwrightAside(bpy.types.PropertyGroup):
    """An object that is hidden while the build is looked at, the view layer it is hidden in, and
    whether it was selected, which Blender ends."""

    item: PointerProperty(type=bpy.types.Object)
    layer: StringProperty()
    chosen: BoolProperty()


class FoamwrightBuildStep(bpy.types.PropertyGroup):
    """A line of the list: name: what is done."""


@dataclass
class State:
    """What is looked at. Nothing here is the maker's, and all may be lost.

    scene: its session_uid, 0 while nothing is looked at; names: of the objects of the suit; about:
    digest of what it was built from; count: of changes when that was compared last.
    """

    scene: int = 0
    layer: str = ""
    build: Build | None = None
    step: int = 0
    apart: float = 0.0
    names: tuple[str, ...] = ()
    about: str = ""
    count: int = 0
    outdated: bool = False


state = State()


def is_shown(scene: bpy.types.Scene) -> bool:
    """Is the build of this scene being looked at?"""
    return state.build is not None and state.scene == scene.session_uid


def show(scene: bpy.types.Scene, layer: bpy.types.ViewLayer, build: Build, about: str,
         items: Iterable[bpy.types.Object]) -> None:
    """Look at a build, at its last step, in place of the sculpt. about: digest of what it was
    built from; items: the suit."""
    global state
    leave()
    items = list(items)
    state = State(scene.session_uid, layer.name, build, len(build.stages) - 1,
                  names=tuple(item.name for item in items), about=about, count=changes.count)
    _list()
    _define(len(build.stages))
    _put_aside(scene, layer, items)
    _redraw()


def leave() -> None:
    """Look at the sculpt again; nothing of the build stays."""
    global state
    state = State()
    for scene in bpy.data.scenes:
        _put_back(scene)
    _list()
    _redraw()


def drawn(scene: bpy.types.Scene) -> list[tuple[Drawn, np.ndarray]]:
    """What is drawn now, and how far each is moved (3,); nothing where no build is looked at."""
    return state.build.shown(state.step, state.apart) if is_shown(scene) else []


def look(scene: bpy.types.Scene, layer: bpy.types.ViewLayer) -> bool:
    """Compare the sculpt with what the build is about, where something changed and the maker has
    paused; did it become outdated, or right again?"""
    if (not is_shown(scene) or state.count == changes.count or work.running() is not None
            or time.monotonic() - changes.last < trial.QUIET):
        return False
    before, state.count, state.outdated = state.outdated, changes.count, True
    try:
        with changes.ours(layer):
            settings = read_settings(scene)
            items = [o for name in state.names if (o := scene.objects.get(name))]
            now = trial.about(read_scene(scene, items, settings)[0], settings)
            state.outdated = now != state.about
    except FoamError:
        pass  # it cannot be read as it is now: told where the maker asks about it
    return state.outdated != before


# --- hiding the sculpt -------------------------------------------------------------


def _put_aside(scene: bpy.types.Scene, layer: bpy.types.ViewLayer,
               items: Iterable[bpy.types.Object]) -> None:
    lines = [o for o in scene.objects if o.parent in items and o.foamwright.guide != "NONE"]
    with changes.ours(layer):
        for item in (*items, *lines):
            if item.name in layer.objects and not item.hide_get(view_layer=layer):
                entry = scene.foamwright.aside.add()
                entry.item, entry.layer = item, layer.name
                entry.chosen = item.select_get(view_layer=layer)
                item.hide_set(True, view_layer=layer)


def _put_back(scene: bpy.types.Scene) -> None:
    """Show again what was put aside, here or before the file was opened."""
    aside = scene.foamwright.aside
    for layer in scene.view_layers if len(aside) else ():
        with changes.ours(layer):  # what is seen again is no change
            for entry in aside:
                # A layer that was renamed meanwhile is none of those that are listed.
                mine = entry.layer == layer.name or entry.layer not in scene.view_layers
                if mine and entry.item is not None and entry.item.name in layer.objects:
                    entry.item.hide_set(False, view_layer=layer)
                    if entry.chosen:
                        entry.item.select_set(True, view_layer=layer)
    aside.clear()


@persistent
def _before_saving(*_):
    getattr(bpy.context.window_manager, STEPS).clear()
    for scene in bpy.data.scenes:
        _put_back(scene)


@persistent
def _after_saving(*_):
    scene = next((s for s in bpy.data.scenes if is_shown(s)), None)
    layer = scene.view_layers.get(state.layer) if scene else None
    _list()
    if layer is not None:
        _put_aside(scene, layer, [o for n in state.names if (o := scene.objects.get(n))])


@persistent
def _another_past(*_):
    leave()


_HANDLERS = (("save_pre", _before_saving), ("save_post", _after_saving),
             ("save_post_fail", _after_saving), ("load_post", _another_past),
             ("undo_post", _another_past), ("redo_post", _another_past))


# --- the slider --------------------------------------------------------------------


def _list() -> None:
    """The list of the steps that can be looked at."""
    titles = getattr(bpy.context.window_manager, STEPS)
    titles.clear()
    for stage in state.build.stages if state.build else ():
        titles.add().name = f"{stage.step.number}  {stage.step.title}"


def _redraw() -> None:
    from . import live

    live.redraw()


def _set_step(manager, value: int) -> None:
    count = len(state.build.stages) if state.build else 1
    state.step = min(max(value - 1, 0), count - 1)
    _redraw()


def _set_row(manager, value: int) -> None:
    _set_step(manager, value + 1)


def _set_apart(manager, value: float) -> None:
    state.apart = value
    _redraw()


def _define(count: int) -> None:
    """The slider for so many steps. Properties of the window manager are not undone, and these
    keep their values here alone, so that a file has none of them."""
    setattr(bpy.types.WindowManager, STEP, IntProperty(
        name="Step", description="How far the build has come: the suit as it stands after this "
                                 "step", min=1, max=max(count, 1),
        get=lambda manager: state.step + 1, set=_set_step))


def register() -> None:
    bpy.utils.register_class(FoamwrightBuildStep)
    _define(1)
    manager = bpy.types.WindowManager
    setattr(manager, STEPS, CollectionProperty(type=FoamwrightBuildStep, options={"SKIP_SAVE"}))
    setattr(manager, STEP + "_row", IntProperty(
        name="Step", description="Click a step to see the suit as it stands after it",
        get=lambda manager: state.step, set=_set_row))
    setattr(manager, APART, FloatProperty(
        name="Apart", description="Draw what is put together apart: pieces along the ways they are "
                                  "brought in, and parts along the ways they come off",
        subtype="FACTOR", min=0.0, max=1.0, get=lambda manager: state.apart, set=_set_apart))
    handlers.add(_HANDLERS)
    if hasattr(bpy.data, "scenes"):  # while Blender starts there is no file yet
        leave()


def unregister() -> None:
    handlers.remove(_HANDLERS)
    leave()
    for name in (APART, STEP + "_row", STEPS, STEP):
        delattr(bpy.types.WindowManager, name)
    bpy.utils.unregister_class(FoamwrightBuildStep)
