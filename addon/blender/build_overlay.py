"""Draws the suit as it stands at the step of its build that is looked at."""

from __future__ import annotations

import bpy
import gpu
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix

from . import build_view, labels, overlay
from .draw_data import Drawn

_handles: list = []
_batches: dict[int, tuple[Drawn, object, dict[str, object]]] = {}


def draw_build(context: bpy.types.Context, view: Matrix, projection: Matrix,
               linear: bool = False) -> None:
    """Into the picture and depths that are being drawn, as `overlay.draw_view`; it is solid."""
    items = [(context.scene, drawn, Matrix.Translation(off))
             for drawn, off in build_view.drawn(context.scene)]
    for old in set(_batches) - {id(drawn) for _, drawn, _ in items}:
        del _batches[old]
    if not items:
        return
    shown = [(*_on_card(drawn), moved) for _, drawn, moved in items]
    scale, distance = overlay.scales(context)
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.depth_mask_set(True)
    with gpu.matrix.push_pop(), gpu.matrix.push_pop_projection():
        for surface, _, moved in shown:
            if surface is not None:
                overlay.draw_surface(surface, projection, view @ moved, 1.0, scale, linear)
        gpu.state.depth_mask_set(False)
        for edge, share in ((True, overlay.EDGES), (False, overlay.LINES)):
            gpu.matrix.load_projection_matrix(overlay.pulled(projection, share, distance))
            for _, lines, moved in shown:
                gpu.matrix.load_matrix(view @ moved)
                overlay.draw_styled(lines, edge, scale)
        labels.draw(context, items, view, projection, scale)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _on_card(drawn: Drawn) -> tuple[object, dict[str, object]]:
    """Faces, None where there are none, and lines."""
    if id(drawn) not in _batches:
        surface = (batch_for_shader(overlay.surface_shader(), "TRIS", drawn.corners(False))
                   if len(drawn.triangles) else None)
        _batches[id(drawn)] = drawn, surface, {
            kind: overlay.line_batch(ends) for kind, ends in drawn.lines.items() if len(ends)}
    return _batches[id(drawn)][1:]


def _post_view():
    # Whether overlays are shown or not: the sculpt is hidden, so there is nothing else to see.
    draw_build(bpy.context, gpu.matrix.get_model_view_matrix(),
               gpu.matrix.get_projection_matrix(), linear=True)


def register() -> None:
    if not bpy.app.background:
        _handles.append(bpy.types.SpaceView3D.draw_handler_add(
            _post_view, (), "WINDOW", "POST_VIEW"))


def unregister() -> None:
    for handle in _handles:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")
    _handles.clear()
    _batches.clear()
