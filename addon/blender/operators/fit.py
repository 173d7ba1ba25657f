"""Who wears the suit: which objects are the body, a figure to stand in, and how the suit fits."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty

from ...core.errors import ERROR, Finding, FoamError
from ...core.units import format_length
from .. import body, fitting, memory, repairs, settings, write
from ..choices import FIT
from ..own import require_own
from ..read import mm_per_unit, with_body
from .base import FoamOperator
from .long import LongOperator

_COLOUR = (0.60, 0.56, 0.51, 1.0)


class SetBody(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.set_body"
    bl_label = "Set as Body"
    bl_description = ("Take the selected objects for the body of the wearer, to check how the suit "
                      "fits it. They are never made of foam")
    bl_options = {"REGISTER", "UNDO"}

    remove: BoolProperty(
        name="Remove", description="Take the selected objects for the body no longer",
        options={"SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        return rpt_("Take the selected objects for the body no longer") if properties.remove else ""

    @classmethod
    def poll(cls, context):
        if any(body.is_able(o) for o in context.selected_objects):
            return True
        cls.poll_message_set("Select a mesh object first")
        return False

    def run(self, context):
        items = [o for o in context.selected_objects if body.is_able(o)]
        require_own(items, mesh=False)
        with repairs.object_mode(context, ()):  # where Edit Mode cannot undo it
            for item in items:
                item.foamwright.body = not self.remove
                if not self.remove:
                    item.foamwright.leave_out, item.foamwright.include = True, False


class AddFigure(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.add_figure"
    bl_label = "Add Figure"
    bl_description = ("Add a plain figure with the wearer's measures as the body; it stands at the "
                      "middle of the world, looking along -Y. Move and pose it as you like")
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        from ...core.figure import figure

        scene = context.scene
        own = figure(settings.measures(scene)).body.scaled(1 / scene.foamwright.scale)
        with repairs.object_mode(context, ()):
            mesh = write.triangle_mesh("Figure", own.vertices / mm_per_unit(scene), own.faces)
            mesh.shade_smooth()
            item = bpy.data.objects.new("Figure", mesh)
            item.color = _COLOUR
            item.foamwright.body = item.foamwright.leave_out = True
            scene.collection.objects.link(item)
            context.view_layer.update()
            item.select_set(False)  # so that what is selected stays what is built
        self.report({"INFO"}, rpt_("{name} added, {size} tall.").format(
            name=item.name, size=format_length(float(np.ptp(
                own.vertices[:, 2])) * scene.foamwright.scale, settings.unit())))


class CheckFit(LongOperator, bpy.types.Operator):
    bl_idname = "foamwright.check_fit"
    bl_label = "Check the Fit"
    bl_description = ("Measure the air between the foam and the body, and the girths of both, and "
                      "show where the suit presses")
    bl_options = {"REGISTER", "UNDO"}

    def prepare(self, context):
        from ...core.fit import fitted
        from ...core.make import check

        sculpt, chosen = self.read(context)
        sculpt = with_body(context.scene, sculpt)
        if sculpt.body is None:
            raise FoamError(Finding(
                "no-body", ERROR, "No object is marked as the wearer's body.",
                "Select the body and choose Set as Body, or add a figure."))
        known = memory.of_scene(context.scene)

        def work(progress):
            checked = check(sculpt, chosen, lambda share, text: progress(0.6 * share, text), known)
            return checked, fitted(checked, progress=lambda share, text: progress(
                0.6 + 0.4 * share, text))

        return work

    def keep(self, context, result):
        checked, found = result
        super().keep(context, checked)
        scene = context.scene
        with repairs.object_mode(context, ()):
            fitting.store(scene, found, *self._read, self._sources)
        known = set(checked.findings)
        write.store_findings(scene, [f for f in found.findings if f not in known], found.sculpt,
                             self._sources, FIT)
        write.store_boxes(scene, found, self._sources)
        scene.foamwright.overlay, scene.foamwright.overlay_shows = True, "FIT"

    def words(self, result):
        return rpt_("The least clearance is {least}.").format(
            least=format_length(result[1].fitted.least, settings.unit())
            if result[1].fitted.least >= 0 else
            f"−{format_length(-result[1].fitted.least, settings.unit())}")


class ForgetFit(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.forget_fit"
    bl_label = "Forget the Fit"
    bl_description = "Throw away what the check of the fit found"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        if context.scene.foamwright.fit.found:
            return True
        cls.poll_message_set("No fit has been checked")
        return False

    def run(self, context):
        with repairs.object_mode(context, ()):
            fitting.forget(context.scene)
        write.store_findings(context.scene, (), step=FIT)


CLASSES = (SetBody, AddFigure, CheckFit, ForgetFit)
