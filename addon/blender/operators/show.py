"""The overlay: asked again, or no longer waited for."""

import bpy

from .. import live


class RefreshOverlay(bpy.types.Operator):
    bl_idname = "foamwright.refresh_overlay"
    bl_label = "Ask Again"
    bl_description = ("Read the sculpt and ask the foam now. Sculpts of more than 200,000 faces "
                      "are otherwise asked after a pause of two seconds")

    @classmethod
    def poll(cls, context):
        return context.scene.foamwright.overlay

    def execute(self, context):
        live.refresh()
        return {"FINISHED"}


class StopOverlay(bpy.types.Operator):
    bl_idname = "foamwright.stop_overlay"
    bl_label = "Stop"
    bl_description = "Stop asking the foam until something changes"

    @classmethod
    def poll(cls, context):
        return live.state.job is not None

    def execute(self, context):
        live.stop()
        return {"FINISHED"}


CLASSES = (RefreshOverlay, StopOverlay)
