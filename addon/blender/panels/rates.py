"""Step 5, further: what the plan reckons time and money by."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import FoamError
from ...core.model import Rates
from ..rates import read_prices
from .base import Step, wrapped


class FOAMWRIGHT_PT_rates(Step, bpy.types.Panel):
    bl_label = "Time and Costs"
    bl_parent_id = "FOAMWRIGHT_PT_templates"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        column = layout.column()
        column.prop(group, "prices")
        column.prop(group, "currency")
        try:
            read_prices(group.prices)
        except FoamError as error:
            wrapped(layout, iface_(error.finding.message), context, "ERROR")
        column = layout.column(align=True)
        for name in Rates.names():
            column.prop(group.rates, name)


CLASSES = (FOAMWRIGHT_PT_rates,)
