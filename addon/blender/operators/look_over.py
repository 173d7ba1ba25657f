"""Step 2: look the sculpt over before it is marked, and put its size right."""

from __future__ import annotations

from dataclasses import replace

import bpy
from bpy.app.translations import pgettext_iface as iface_
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import FloatProperty
from mathutils import Matrix

from ...core.errors import FoamError
from ...core.measures import Mistake, guessed, mistakes, plausible, size_text
from ...core.units import format_length
from .. import raised, schema, wearer
from ..choices import SCULPT
from ..own import require_own
from ..read import longest_side, suit_objects
from ..settings import measures, unit
from ..write import store_findings
from .long import LongOperator
from .remedy import Remedy


class LookOver(LongOperator, bpy.types.Operator):
    bl_idname = "foamwright.look_over"
    bl_label = "Look the Sculpt Over"
    bl_description = ("Tell the size of every object and what it is made of, and look for holes, "
                      "loose parts, faces that look inward and the like. Nothing is changed")
    bl_options = {"REGISTER", "UNDO"}

    def prepare(self, context):
        from ...core.survey import look_over

        sculpt, settings = self.read(context)
        sculpt = replace(sculpt, vertices=sculpt.vertices * settings.scale)
        worn = wearer.worn([context.scene.objects[source.name] for source in self._sources])
        own = measures(context.scene)
        return lambda progress: look_over(sculpt, worn, own, progress)

    def pattern(self, result):
        return result

    def words(self, result):
        surveys, findings = result
        return rpt_("Objects looked over: {objects}. Findings: {findings}.").format(
            objects=len(surveys), findings=len(findings))

    def keep(self, context, result):
        surveys, findings = result
        self._show(context, findings, self._sculpt, "")
        told = unit()
        for survey in surveys:
            item = context.scene.foamwright.surveys.add()
            item.name, item.size, item.kind = survey.name, survey.size, survey.words(told)

    def _show(self, context, findings, sculpt, text):
        schema.upgrade(context.scene)
        store_findings(context.scene, findings, sculpt, self._sources, SCULPT)
        raised.forget_left(context.scene)
        context.scene.foamwright.surveys.clear()


class Rescale(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.rescale"
    bl_label = "Rescale"
    bl_description = ("Make objects larger or smaller about the middle of the scene, where a unit "
                      "was mistaken. You are shown the sizes first")
    bl_options = {"REGISTER", "UNDO"}
    remakes = False
    on_objects = True

    factor: FloatProperty(
        name="Factor", description="The size is multiplied by this",
        default=1.0, min=1e-6, max=1e6, soft_min=0.001, soft_max=1000.0, precision=4)

    def invoke(self, context, event):
        try:
            likely = self._mistakes(context)
        except FoamError as error:
            self.fail(context, error)
            return {"CANCELLED"}
        if not self.properties.is_property_set("factor"):
            self.factor = likely[0].factor if likely else 1.0
        return context.window_manager.invoke_props_dialog(
            self, width=360, title=rpt_("Rescale the Sculpt"), confirm_text=rpt_("Rescale"))

    def draw(self, context):
        super().draw(context)
        self.draw_sizes(context)

    def draw_sizes(self, context: bpy.types.Context) -> None:
        """The size as it is, and what likely mistakes would make of it."""
        column = self.layout.column(align=True)
        try:
            size = longest_side(self.target(context)[1], context.scene)
            likely = self._mistakes(context)
        except FoamError as error:
            column.label(text=iface_(error.finding.message), icon="ERROR", translate=False)
            return
        column.label(text=iface_("Longest side now: {size}").format(size=_text(size)),
                     translate=False)
        for each in likely[:3]:
            column.label(text=iface_("× {factor:.4g}, if {words}: {size}").format(
                factor=each.factor, words=iface_(each.words), size=_text(each.size)),
                translate=False)

    def target(self, context):
        chosen, items, places = super().target(context)
        findings = context.scene.foamwright.findings
        if any(findings[index].code == "implausible-size" for index in chosen):  # of the suit
            items = suit_objects(context.scene, context.selected_objects) or items
        return chosen, items, places

    def repair(self, context, items, places):
        if self.factor == 1.0:
            return 0
        require_own(items)
        larger = Matrix.Scale(self.factor, 4)
        among = set(items)
        for item in items:
            above = item.parent
            while above and above not in among:
                above = above.parent
            if not above:  # else it grows with the object it hangs on
                item.matrix_world = larger @ item.matrix_world
        return len(items)

    def _mistakes(self, context) -> tuple[Mistake, ...]:
        """What would explain the size of the objects."""
        _, items, _ = self.target(context)
        place = items[0].foamwright.worn
        if place == wearer.AUTO:
            place = guessed(items[0].name)
        return mistakes(longest_side(items, context.scene), plausible(
            place, measures(context.scene)))


def _text(mm: float) -> str:
    """A length that may be out of all measure."""
    return format_length(mm, unit()) if 1 <= mm < 10_000 else size_text(mm)


CLASSES = (LookOver, Rescale)
