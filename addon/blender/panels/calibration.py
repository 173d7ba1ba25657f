"""Step 1: what was measured on one's own foam."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ...core.errors import FoamError
from .. import calibration
from ..settings import suit_stock
from .base import Step, wrapped


class FOAMWRIGHT_PT_measurements(Step, bpy.types.Panel):
    bl_label = "Measurements"
    bl_parent_id = "FOAMWRIGHT_PT_foam"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.operator("foamwright.write_calibration", icon="FILE_TICK")
        column = layout.column()
        for name in calibration.FIELDS:
            column.prop(getattr(context.scene, calibration.PROPERTY), name)
        layout.operator("foamwright.update_stock", icon="FILE_REFRESH")
        try:
            stock = suit_stock(context.scene)
        except FoamError:  # told beside the fields of the foam
            return
        wrapped(layout, iface_(
            "Neutral layer {neutral:.3f}; heated, stretch {stretch:.1%}, compression "
            "{compress:.1%}. From: {origin}").format(
                neutral=stock.neutral, stretch=stock.heated.stretch,
                compress=stock.heated.compress, origin=stock.origin), context)
        if stock.origin.startswith("measured"):
            layout.operator("foamwright.forget_measurements", icon="X")


CLASSES = (FOAMWRIGHT_PT_measurements,)
