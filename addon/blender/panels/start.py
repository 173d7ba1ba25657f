"""What stands in the sidebar of an empty scene, and of a file this version cannot read."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import FoamError
from .. import schema
from ..operators.suit import example_file
from .base import Step, has_mesh, wrapped


class FOAMWRIGHT_PT_newer(bpy.types.Panel):
    bl_label = "Newer File"
    bl_space_type, bl_region_type, bl_category = "VIEW_3D", "UI", "Foamwright"

    @classmethod
    def poll(cls, context):
        return schema.is_newer(context.scene)

    def draw(self, context):
        try:
            schema.require(context.scene)
        except FoamError as error:
            wrapped(self.layout, iface_(error.finding.message), context, "ERROR")
            wrapped(self.layout, iface_(error.finding.remedy), context, "BLANK1")


class FOAMWRIGHT_PT_start(Step, bpy.types.Panel):
    """The first screen of an empty scene."""

    bl_label = "Start"

    @classmethod
    def poll(cls, context):
        return not has_mesh(context) and not schema.is_newer(context.scene)

    def draw(self, context):
        layout = self.layout
        wrapped(layout, iface_("Model or import the sculpt of your suit, at the size it is worn. "
                               "The steps from foam to templates then appear here."), context,
                "INFO")
        layout.operator("wm.obj_import", text="Import OBJ", icon="IMPORT")
        layout.operator("wm.stl_import", text="Import STL", icon="IMPORT")
        if example_file():
            layout.operator("foamwright.open_example", icon="FILE_BLEND")


CLASSES = (FOAMWRIGHT_PT_newer, FOAMWRIGHT_PT_start)
