"""Step 5: the templates and the build plan."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import FoamError
from ...core.model import Settings
from ...core.units import format_length
from ..settings import LENGTHS, PERCENTAGES, defaults, own_length
from .base import Step, wrapped


class FOAMWRIGHT_PT_templates(Step, bpy.types.Panel):
    bl_label = "5  Templates"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        column = layout.column()
        column.prop(group, "title")
        column.prop(group, "paper")
        column.prop(group, "folder")
        column = layout.column()
        large = column.row()
        large.scale_y = 1.4
        large.operator("foamwright.make_pattern", icon="DOCUMENTS")
        column.operator("foamwright.make_one_piece", icon="FACESEL")
        row = layout.row(align=True)
        row.use_property_split = False
        row.prop(group, "mock_up", text="")
        row.operator("foamwright.make_mock_up", icon="CON_SIZELIKE")


_PAPER = ("margin", "overlap", "roll", "allowance", "card")  # lengths that concern paper


class FOAMWRIGHT_PT_more(Step, bpy.types.Panel):
    """What rarely needs a change; an empty length says in grey what holds."""

    bl_label = "More"
    bl_parent_id = "FOAMWRIGHT_PT_templates"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        try:
            usual = defaults()
        except FoamError as error:  # the stock file of the preferences
            wrapped(layout, iface_(error.finding.message), context, "ERROR")
            return
        foam, paper, mats = layout.column(), layout.column(), layout.column()
        for name in PERCENTAGES:
            foam.prop(group, name)
        for name in LENGTHS:
            column = {"kerf": mats, "mat_gap": mats, "mat_margin": mats}.get(
                name, paper if name in _PAPER else foam)
            try:
                own_length(group, name, usual.unit)
                problem = None
            except FoamError as error:
                problem = error.finding
            row = column.row()
            row.alert = problem is not None
            row.prop(group, name, placeholder=_usual(name, usual))
            if problem:
                wrapped(column, f"{iface_(problem.message)} {iface_(problem.remedy)}", context,
                        "ERROR")
        for name in ("gauges", "back_side", "text_outlines"):
            paper.prop(group, name)
        for step in (group.trial, group.reach, group.transport):
            paper.prop(step, "in_plan")
        for name in ("turns", "together", "holes", "offcuts", "split", "nest_seconds", "seed"):
            mats.prop(group, name)


def _usual(name: str, usual: Settings) -> str:
    """What holds where a length is left empty."""
    length = getattr(usual, name)
    if length is None:
        return iface_("As the foam says") if name in ("kerf", "mat_gap") else iface_("Half the gap")
    return format_length(length, usual.unit)


CLASSES = (FOAMWRIGHT_PT_templates, FOAMWRIGHT_PT_more)
