"""What the foam says, shown on the sculpt itself."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from .. import live
from .base import Step, wrapped


class FOAMWRIGHT_PT_show(Step, bpy.types.Panel):
    bl_label = "Show on the Sculpt"

    def draw_header(self, context):
        self.layout.prop(context.scene.foamwright, "overlay", text="")

    def draw(self, context):
        layout, group, state = self.layout, context.scene.foamwright, live.state
        layout.active = group.overlay
        layout.row().prop(group, "overlay_shows", expand=True)
        row = layout.row()
        row.active = group.overlay_shows != "LINES"
        row.prop(group, "overlay_opacity", slider=True)
        row = layout.row(align=True)
        if state.job is None:
            row.operator("foamwright.refresh_overlay", icon="FILE_REFRESH")
        else:
            row.progress(factor=state.job.share, text=iface_(state.job.text))
            row.operator("foamwright.stop_overlay", text="", icon="X")
        if group.overlay and state.message:
            wrapped(layout, iface_(state.message), context, "ERROR")
        elif group.overlay and state.faces > live.LARGE and live.outdated():
            wrapped(layout, iface_("A large sculpt: the foam is asked after a pause."), context,
                    "INFO")


CLASSES = (FOAMWRIGHT_PT_show,)
