"""Draws a line while it is drawn: thin, over everything, its picks as points."""

from __future__ import annotations

from collections.abc import Callable

import bpy
import numpy as np

_COLOUR, _EDGE = (0.95, 0.45, 0.1, 1.0), (0.05, 0.05, 0.05, 0.8)
_PICK, _NEAR = (1.0, 1.0, 1.0, 1.0), (1.0, 0.8, 0.2, 1.0)
Shown = tuple[list[np.ndarray], np.ndarray, int]


def start(shown: Callable[[], Shown]) -> object:
    """Draw what `shown` gives in every view: polylines (k, 3) and picks (p, 3) of the world, and
    which pick lies under the pointer, -1 for none. Returns a handle for `stop`."""
    if bpy.app.background:
        return None
    return bpy.types.SpaceView3D.draw_handler_add(_draw, (shown,), "WINDOW", "POST_VIEW")


def stop(handle: object) -> None:
    """Draw no more."""
    if handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")


def _draw(shown: Callable[[], Shown]) -> None:
    import gpu
    from gpu_extras.batch import batch_for_shader

    lines, picks, near = shown()
    scale = bpy.context.preferences.system.ui_scale or 1.0  # 0 while there is no window
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("NONE")
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    region = gpu.state.viewport_get()
    for width, colour in ((3.5, _EDGE), (1.5, _COLOUR)):
        for line in lines:
            batch = batch_for_shader(shader, "LINE_STRIP", {"pos": line.astype(np.float32)})
            shader.bind()
            shader.uniform_float("viewportSize", region[2:])
            shader.uniform_float("lineWidth", width * scale)
            shader.uniform_float("color", colour)
            batch.draw(shader)
    if len(picks):
        shader = gpu.shader.from_builtin("POINT_UNIFORM_COLOR")
        shader.bind()
        for size, colours in ((9, [_EDGE] * len(picks)),
                              (6, [_NEAR if i == near else _PICK for i in range(len(picks))])):
            gpu.state.point_size_set(size * scale)
            for pick, colour in zip(picks, colours, strict=True):
                shader.uniform_float("color", colour)
                batch_for_shader(shader, "POINTS", {"pos": [pick.astype(np.float32)]}).draw(shader)
    gpu.state.blend_set("NONE")
