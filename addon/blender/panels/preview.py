"""The pieces laid flat beside the sculpt, and a UV map at true scale."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.units import format_length
from .. import true_scale
from ..settings import unit
from .base import Step, wrapped


class FOAMWRIGHT_PT_preview(Step, bpy.types.Panel):
    bl_label = "Flat Preview"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout = self.layout
        row = layout.row(align=True)
        if context.scene.foamwright.flats is None:
            row.operator("foamwright.show_flat", icon="MOD_UVPROJECT")
            return
        row.operator("foamwright.show_flat", text="Update", icon="FILE_REFRESH")
        row.operator("foamwright.remove_flat", text="", icon="X")
        layout.prop(context.scene.foamwright, "follow")
        row = layout.row(align=True)
        row.operator("foamwright.select_flat", icon="RESTRICT_SELECT_OFF")
        row.operator("foamwright.select_on_sculpt", icon="RESTRICT_SELECT_OFF")


class FOAMWRIGHT_PT_uv(Step, bpy.types.Panel):
    bl_label = "UV Map at True Scale"
    bl_parent_id = "FOAMWRIGHT_PT_preview"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(context.scene.foamwright, "uv_length", placeholder=iface_("As Needed"))
        layout.operator("foamwright.write_uv", icon="UV")
        item = context.object
        if item and item.type == "MESH" and true_scale.LENGTH in item.data:
            length = format_length(item.data[true_scale.LENGTH], unit())
            wrapped(layout, iface_("The UV map of this object is {length} wide and high.").format(
                length=length), context, "INFO")
            if true_scale.is_outdated(context.scene, item):
                wrapped(layout, iface_("The object has been made larger or smaller since its UV "
                                       "map was written. Write it again."), context, "ERROR")


CLASSES = (FOAMWRIGHT_PT_preview, FOAMWRIGHT_PT_uv)
