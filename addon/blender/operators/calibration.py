"""Step 1: measure one's own foam."""

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, StringProperty

from ...core.model import Settings
from .. import calibration
from ..settings import named_stock, read_settings, suit_stock, unit
from .base import FoamOperator


class WriteCalibration(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.write_calibration"
    bl_label = "Write Calibration Sheet"
    bl_description = ("Write a page with a scale, strips and the steps by which you measure how "
                      "your own foam bends and stretches")
    bl_options = {"REGISTER", "UNDO"}

    directory: StringProperty(name="Folder", description="Folder the sheet is written to",
                              subtype="DIR_PATH", options={"SKIP_SAVE"})
    filter_folder: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})

    def invoke(self, context, event):
        if self.directory:
            return self.execute(context)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def run(self, context):
        from ...export.folder import write_calibration

        settings: Settings = read_settings(context.scene)
        path, = write_calibration(settings, bpy.path.abspath(self.directory or "//"))
        self.report({"INFO"}, rpt_("Written: {path}").format(path=path))


class UpdateStock(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.update_stock"
    bl_label = "Update the Stock from Measurements"
    bl_description = ("Reckon the suit's foam with what you measured from now on. It is kept in "
                      "this .blend")
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        scene = context.scene
        calibration.update(scene, named_stock(scene), suit_stock(scene).thickness, unit())
        stock = suit_stock(scene)
        self.report({"INFO"}, rpt_(
            "{foam}: neutral layer {neutral:.3f}, stretch {stretch:.1%}, compression "
            "{compress:.1%} when heated").format(
                foam=stock.name, neutral=stock.neutral, stretch=stock.heated.stretch,
                compress=stock.heated.compress))


class ForgetMeasurements(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.forget_measurements"
    bl_label = "Forget Measurements"
    bl_description = "Reckon the suit's foam as it is shipped or described in its file again"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        return calibration.forget(context.scene, named_stock(context.scene))


CLASSES = (WriteCalibration, UpdateStock, ForgetMeasurements)
