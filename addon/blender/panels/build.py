"""The build, step by step."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.order.cautions import in_words
from .. import build_view
from .base import Step, wrapped


class FOAMWRIGHT_UL_steps(bpy.types.UIList):
    """The steps of the build, one a line."""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property):
        layout.label(text=item.name, translate=False)


class FOAMWRIGHT_PT_build(Step, bpy.types.Panel):
    bl_label = "6  Build"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, manager = self.layout, context.window_manager
        if not build_view.is_shown(context.scene):
            layout.operator("foamwright.show_build", icon="MOD_BUILD")
            return
        row = layout.row(align=True)
        row.operator("foamwright.leave_build", icon="LOOP_BACK")
        if build_view.state.outdated:
            wrapped(layout, iface_("The sculpt has been changed since. Go back to the sculpt and "
                                   "show the build again."), context, "ERROR")
        row = layout.row(align=True)
        row.operator("foamwright.go_to_step", text="", icon="TRIA_LEFT").by = -1
        row.prop(manager, "foamwright_step", slider=True)
        row.operator("foamwright.go_to_step", text="", icon="TRIA_RIGHT").by = 1
        layout.prop(manager, "foamwright_apart", slider=True)
        layout.template_list("FOAMWRIGHT_UL_steps", "", manager, "foamwright_steps", manager,
                             "foamwright_step_row", rows=6)
        step = build_view.state.build.stages[build_view.state.step].step
        for text in step.text:
            wrapped(layout, text, context)
        if step.cautions:
            wrapped(layout, in_words(step.cautions), context, "ERROR")


CLASSES = (FOAMWRIGHT_UL_steps, FOAMWRIGHT_PT_build)
