"""How far the wearer moves, and the parts in a box."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ..choices import REACH, TRANSPORT
from .base import Step, wrapped
from .findings import draw_findings


class FOAMWRIGHT_PT_movement(Step, bpy.types.Panel):
    bl_label = "Movement"
    bl_parent_id = "FOAMWRIGHT_PT_check"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright.reach
        _field(layout, group, "wanted")
        row = layout.row(align=True)
        row.operator("foamwright.check_movement", icon="ARMATURE_DATA")
        if group.found:
            row.operator("foamwright.forget_wearing", text="", icon="X").box = False
            _outdated(layout, context, group, "The sculpt, the body or what was asked has been "
                                              "changed since. Try the movements again.")
            box = layout.box()
            box.active = not group.outdated
            if not group.lines:
                wrapped(box, iface_("All parts are worn on one side of every joint."), context)
            column = box.column(align=True)
            for index, line in enumerate(group.lines):
                row = column.row(align=True)
                row.operator("foamwright.show_pose", text=line.name, translate=False,
                             icon="CHECKMARK" if line.enough else "ERROR").index = index
                row.label(text=line.told, translate=False)
            if group.shown:
                layout.operator("foamwright.hide_moved", icon="HIDE_ON")
        draw_findings(layout, context, REACH)


class FOAMWRIGHT_PT_box(Step, bpy.types.Panel):
    bl_label = "Transport Box"
    bl_parent_id = "FOAMWRIGHT_PT_check"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright.transport
        _field(layout, group, "box")
        _field(layout, group, "gap")
        row = layout.row(align=True)
        row.operator("foamwright.pack_box", icon="PACKAGE")
        if group.found:
            row.operator("foamwright.forget_wearing", text="", icon="X").box = True
            _outdated(layout, context, group, "The sculpt or the box has been changed since. Pack "
                                              "it again.")
            box = layout.box()
            box.active = not group.outdated
            wrapped(box, group.summary, context)
            column = box.column(align=True)
            for line in group.lines:
                column.label(text=f"{line.told}. {line.name}" if line.enough else line.name,
                             icon="CHECKMARK" if line.enough else "X", translate=False)
            row = layout.row(align=True)
            row.operator("foamwright.show_box", icon="HIDE_OFF")
            if group.shown:
                row.operator("foamwright.hide_moved", text="", icon="HIDE_ON")
        draw_findings(layout, context, TRANSPORT)


def _field(layout, group, name: str) -> None:
    column = layout.column()
    column.use_property_split = True
    column.use_property_decorate = False
    column.prop(group, name)


def _outdated(layout, context, group, text: str) -> None:
    if group.outdated:
        wrapped(layout, iface_(text), context, "ERROR")


CLASSES = (FOAMWRIGHT_PT_movement, FOAMWRIGHT_PT_box)
