"""Lines that are seen without asking the foam: proposed ones, and marks in Edit Mode.

Blender shows seams in Edit Mode and no other mark, and a proposed line is a thin curve that the
overlay would hide. What there is to see is found when something has changed, by a timer, and only
then; drawing takes it as it is.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import bmesh
import bpy
import numpy as np
from bpy.app.handlers import persistent

from ..core import mesh as kernels
from . import changes, guides, live, marks, proposals
from .line_styles import PROPOSED, dash_length, inked
from .read import mm_per_unit

_LOOK = 0.1  # seconds between two looks
_CHEAP, _PAUSE = 0.02, 0.5  # seconds; what takes longer waits for such a pause


@dataclass(frozen=True, eq=False)
class Shown:
    """Lines of one kind, ends (2 k, 3) of their straight parts in the world; seen while the
    object of this name is."""

    name: str
    kind: str
    ends: np.ndarray


@dataclass
class _State:
    lines: tuple[Shown, ...] = ()
    seen: tuple | None = None
    cost: float = 0.0


_states: dict[int, _State] = {}  # by scene


def of_scene(scene: bpy.types.Scene) -> tuple[Shown, ...]:
    """The lines to draw."""
    return _states[scene.session_uid].lines if scene.session_uid in _states else ()


def look(scene: bpy.types.Scene, edited: Sequence[bpy.types.Object]) -> bool:
    """Find the lines anew if something has changed; has it? edited: the meshes in Edit Mode."""
    state = _states.setdefault(scene.session_uid, _State())
    now = (changes.epoch, changes.count, scene.foamwright.overlay,
           tuple(item.name for item in edited))
    if now == state.seen or (
            state.cost > _CHEAP and time.monotonic() - changes.last < _PAUSE):
        return False
    begin, before = time.perf_counter(), state.lines
    found = list(_proposed(scene))
    if not scene.foamwright.overlay:  # else that shows them
        found += _marked(scene, edited)
    state.lines, state.seen = tuple(found), now
    state.cost = time.perf_counter() - begin
    return bool(before or found)


def _proposed(scene: bpy.types.Scene) -> Iterator[Shown]:
    for about in (proposals.RELIEF, proposals.SEAMS):
        for line in proposals.shown(scene, about):
            curves = [np.append(points, points[:1], axis=0) if closed else points
                      for points, closed in guides.world_polylines(line)]
            if curves:
                yield _shown(scene, line, PROPOSED[line.foamwright.guide], curves)


def _marked(scene: bpy.types.Scene, edited: Sequence[bpy.types.Object]) -> Iterator[Shown]:
    for item in edited:
        bm = bmesh.from_edit_mesh(item.data)
        place = np.array(item.matrix_world)
        for kind in ("TRENCH", "SCORE"):
            layer = bm.edges.layers.bool.get(marks.ATTRIBUTES[marks.KINDS[kind]])
            chosen = [e for e in bm.edges if e[layer] and not e.hide] if layer else ()
            if chosen:
                bm.verts.index_update()
                ends = np.array([[v.index for v in edge.verts] for edge in chosen])
                points = np.array([v.co[:] for edge in chosen for v in edge.verts])
                _, first, pairs = np.unique(ends, return_index=True, return_inverse=True)
                points = points[first] @ place[:3, :3].T + place[:3, 3]
                yield _shown(scene, item, kind.lower(),
                             [points[chain] for chain in kernels.chains(pairs.reshape(-1, 2))])


def _shown(scene: bpy.types.Scene, item: bpy.types.Object, kind: str,
           curves: list[np.ndarray]) -> Shown:
    mm = mm_per_unit(scene)
    dash = dash_length(mm * np.concatenate(curves)) / mm
    return Shown(item.name, kind, inked(kind, curves, dash))


def _timer() -> float:
    changed = False
    for window in bpy.context.window_manager.windows:
        active = window.view_layer.objects.active
        editing = active is not None and active.type == "MESH" and active.data.is_editmode
        changed |= look(window.scene, [
            item for item in window.view_layer.objects
            if item.type == "MESH" and item.data.is_editmode] if editing else ())
    if changed:
        live.redraw(("WINDOW",))
    return _LOOK


@persistent
def _forget(*_):
    _states.clear()


def register() -> None:
    bpy.app.handlers.load_post.append(_forget)
    if not bpy.app.background:
        bpy.app.timers.register(_timer, first_interval=_LOOK, persistent=True)


def unregister() -> None:
    if bpy.app.timers.is_registered(_timer):
        bpy.app.timers.unregister(_timer)
    bpy.app.handlers.load_post.remove(_forget)
    _forget()
