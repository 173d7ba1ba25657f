"""Step 5: which templates must be printed again."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from .. import printed
from .base import Step, wrapped


class FOAMWRIGHT_PT_printed(Step, bpy.types.Panel):
    bl_label = "Since the Last Templates"
    bl_parent_id = "FOAMWRIGHT_PT_templates"

    @classmethod
    def poll(cls, context):
        return super().poll(context) and bool(getattr(context.scene, printed.PROPERTY).record)

    def draw(self, context):
        told = printed.told(context.scene)
        for title, lines in told:
            column = self.layout.column(align=True)
            wrapped(column, iface_(title), context, "NONE" if lines else "CHECKMARK")
            for line in lines:
                wrapped(column.box(), iface_(line), context)
        if not told:
            wrapped(self.layout, iface_("Codes and letters stay as they were printed. What must "
                                        "be printed again is listed here the next time."), context)
        self.layout.operator("foamwright.forget_printed", icon="TRASH")


CLASSES = (FOAMWRIGHT_PT_printed,)
