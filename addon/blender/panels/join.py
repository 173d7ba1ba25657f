"""Step 3, further: how seams are held together, by what sizes, and how they look."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.model import JoinSizes
from ...core.model.finish import USUAL
from ...core.units import format_length
from .. import guides
from ..choices import FINISHES, JOINS
from ..settings import JOIN_LENGTHS, PATCH, length_problem, unit
from .base import Step, wrapped


class FOAMWRIGHT_PT_joins(Step, bpy.types.Panel):
    bl_label = "Joins"
    bl_parent_id = "FOAMWRIGHT_PT_mark"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout = self.layout
        column = layout.column(align=True)
        for kind, name, _ in JOINS:
            row = column.row(align=True)
            row.operator("foamwright.set_join", text=name).kind = kind
            row.operator("foamwright.select_joined", text="",
                         icon="RESTRICT_SELECT_OFF").kind = kind
        column = layout.column()
        column.use_property_split = True
        column.use_property_decorate = False
        line = context.object
        if line and guides.is_guide(line) and line.foamwright.guide == "SEAM":
            column.prop(line.foamwright, "join", text="This Line")
        usual = JoinSizes()
        for name in JOIN_LENGTHS:
            length = dict(zip(PATCH, usual.patch, strict=True)).get(name) or getattr(usual, name)
            row = column.row()
            problem = length_problem(context.scene.foamwright, name)
            row.alert = problem is not None
            row.prop(context.scene.foamwright, name, placeholder=format_length(length, unit()))
            if problem:
                wrapped(column, f"{iface_(problem.message)} {iface_(problem.remedy)}", context,
                        "ERROR")


class FOAMWRIGHT_PT_finishes(Step, bpy.types.Panel):
    bl_label = "Seam Finishes"
    bl_parent_id = "FOAMWRIGHT_PT_mark"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        column = layout.column(align=True)
        for kind, name, _ in FINISHES:
            row = column.row(align=True)
            put = row.operator("foamwright.set_finish", text=name)
            put.kind, put.width = kind, group.finish_width
            row.operator("foamwright.select_finished", text="",
                         icon="RESTRICT_SELECT_OFF").kind = kind
        column = layout.column()
        column.use_property_split = True
        column.use_property_decorate = False
        column.prop(group, "finish_width", text="Width",
                    placeholder=format_length(USUAL, unit()))
        line = context.object
        if line and guides.is_guide(line) and line.foamwright.guide == "SEAM":
            column.prop(line.foamwright, "finish", text="This Line")
            column.prop(line.foamwright, "finish_width", text="Its Width",
                        placeholder=format_length(USUAL, unit()))


CLASSES = (FOAMWRIGHT_PT_joins, FOAMWRIGHT_PT_finishes)
