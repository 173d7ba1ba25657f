"""How soon the overlay answers a change of the sculpt, in Blender without a window."""

from __future__ import annotations

import time
from statistics import median

import bench_surfaces as surfaces
import numpy as np

FORGET = 60.0  # seconds after which an answer is given up
KINDS = ("pieces, lines and strain, as a first look tells it", "strain of the flat piece",
         "all, with verdict and letters")


def overlay(quick: bool) -> dict:
    """Milliseconds from a change of the mesh to each state of what is drawn."""
    import addon

    addon.register()
    count, repeats = (3_000, 1) if quick else (10_000, 9)
    try:
        thing = _sculpt(surfaces.breastplate(count))
        faces = len(thing.data.polygons)
        _settled()
        runs = [_answers(thing, k) for k in range(repeats + 1)][1:]
    finally:
        addon.unregister()
    return {
        "title": "What the overlay shows, and when",
        "header": ["what is drawn", "ms after the change"],
        "rows": [[kind, 1e3 * median(run[k] for run in runs)] for k, kind in enumerate(KINDS)],
        "remarks": [f"A sculpt of {faces:,} faces in 10 mm foam, all of whose vertices move at "
                    f"once; medians of {repeats}. The time includes the wait for the timer, the "
                    "reading of the mesh and the making of what the graphics card is given."],
    }


def _sculpt(shape):
    import bpy

    vertices, faces = shape
    mesh = bpy.data.meshes.new("sculpt")
    mesh.from_pydata((vertices / 1000.0).tolist(), [], faces.tolist())
    thing = bpy.data.objects.new("sculpt", mesh)
    scene = bpy.context.scene
    scene.collection.objects.link(thing)
    thing.foamwright.include = True
    scene.foamwright.overlay = True
    bpy.context.view_layer.update()
    return thing


def _settled() -> list[float]:
    """Times at which something else was drawn, until the answer is whole."""
    from addon.blender import changes, live

    drawn, times = live.state.drawn, []
    began = time.perf_counter()
    while time.perf_counter() - began < FORGET:
        # As Blender does with a timer; no window stands before it here.
        pause = live._look()
        if live.state.drawn is not drawn:
            drawn = live.state.drawn
            times.append(time.perf_counter())
        if live.state.job is None and live.state.seen == (changes.epoch, changes.count):
            return times
        time.sleep(pause)
    raise RuntimeError(f"no answer within {FORGET:.0f} seconds")


def _answers(thing, number: int) -> list[float]:
    """Seconds from a change until each of KINDS is drawn."""
    import bpy

    mesh = thing.data
    places = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", places)
    places[2::3] += np.float32(3e-4) * np.sin(number + 20 * places[0::3])
    mesh.vertices.foreach_set("co", places)
    mesh.update()
    time.sleep(0.013 * (number % 7))  # so that the timer is met at any time
    began = time.perf_counter()
    bpy.context.view_layer.update()
    times = [t - began for t in _settled()]
    if len(times) != len(KINDS):
        raise RuntimeError(f"drawn {len(times)} times, not {len(KINDS)}")
    return times
