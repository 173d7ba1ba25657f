"""Working copies of objects as their modifiers show them, made and removed in one go."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import bpy
import numpy as np

from . import anchors

ORIGIN = "foamwright_polygon"  # on working copies only: the maker's face each face came from


@contextmanager
def evaluated(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object], drawn: Sequence[bool]
               ) -> Iterator[list[bpy.types.Object]]:
    """Evaluated working copies without Solidify, in a scene of their own that is then removed;
    those of drawn objects tell where their corners lie in the maker's own faces."""
    stage = bpy.data.scenes.new(".foamwright")
    copies = []
    try:
        stage.frame_current = scene.frame_current
        if any(item.mode == "SCULPT" for item in objects):
            bpy.ops.ed.flush_edits()  # strokes live in the session until now
        for item, lines in zip(objects, drawn, strict=True):
            if item.data.is_editmode:
                item.update_from_editmode()  # and so do marks just set
            copy = item.copy()
            copies.append(copy)
            copy.hide_viewport = False  # Blender does not evaluate what is disabled there
            copy.data = mesh = item.data.copy()
            stage.collection.objects.link(copy)
            for modifier in [m for m in copy.modifiers if m.type == "SOLIDIFY"]:
                copy.modifiers.remove(modifier)
            if old := mesh.attributes.get(ORIGIN):
                mesh.attributes.remove(old)
            origin = mesh.attributes.new(ORIGIN, "INT", "FACE")
            origin.data.foreach_set("value", np.arange(len(mesh.polygons), dtype=np.int32))
            if lines:
                anchors.prepare(mesh)
        layer = stage.view_layers[0]
        layer.update()
        yield [copy.evaluated_get(layer.depsgraph) for copy in copies]
    finally:
        bpy.data.scenes.remove(stage)
        for copy in copies:
            mesh = copy.data
            bpy.data.objects.remove(copy)
            if not mesh.users:
                bpy.data.meshes.remove(mesh)
