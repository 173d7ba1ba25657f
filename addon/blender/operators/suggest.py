"""Seams for a sculpt that has none: proposed, shown, accepted or forgotten."""

from __future__ import annotations

from dataclasses import replace

import bpy
from bpy.app.translations import pgettext_rpt as rpt_

from .. import repairs, schema, seams
from ..choices import SUGGEST
from ..write import store_findings
from .base import FoamOperator
from .long import LongOperator


class SuggestSeams(LongOperator, bpy.types.Operator):
    bl_idname = "foamwright.suggest_seams"
    bl_label = "Suggest Seams"
    bl_description = ("Look for seams and trenches with which the foam takes the shape of the "
                      "suit, in few pieces none of which is larger than the mat. They are shown as "
                      "lines; nothing is cut until you accept them")
    bl_options = {"REGISTER", "UNDO"}

    _replaces = False

    def prepare(self, context):
        from ...core.suggest import suggest_seams

        sculpt, settings = self.read(context)
        group = context.scene.foamwright.seams
        ease, self._replaces = group.ease, group.marks == seams.REPLACE
        if self._replaces:
            sculpt = replace(sculpt, edges=sculpt.edges[:0], kinds=sculpt.kinds[:0], guides=())
        return lambda progress: suggest_seams(sculpt, settings, ease, progress)

    def pattern(self, result):
        return result

    def keep(self, context, result):
        with repairs.object_mode(context, ()):
            seams.store(context.scene, result, self._sculpt, self._sources, self._replaces)
        self._show(context, (*result.findings, *self._sculpt.findings), self._sculpt, "")

    def words(self, result):
        return rpt_("Pieces proposed: {count}; worst strain: {worst:.2f}.").format(
            count=len(result.pieces), worst=result.u)

    def _show(self, context, findings, sculpt, text):
        schema.upgrade(context.scene)
        store_findings(context.scene, findings, sculpt, self._sources, SUGGEST)


class _OnProposal(FoamOperator):
    @classmethod
    def poll(cls, context):
        if context.scene.foamwright.seams.found:
            return True
        cls.poll_message_set("No seams have been suggested")
        return False


class AcceptSeams(_OnProposal, bpy.types.Operator):
    bl_idname = "foamwright.accept_seams"
    bl_label = "Accept Seams"
    bl_description = ("Make the proposed lines seams and trenches of the suit. They are cut when "
                      "the templates are made; the mesh keeps its shape. Where its faces are too "
                      "large for that, a new object takes its place")
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context, event):
        group = context.scene.foamwright.seams
        if group.replaces and (group.edges or group.lines) and not group.coarse:
            return context.window_manager.invoke_confirm(
                self, event, title=rpt_("Replace the Seams"),
                message=rpt_("What you have marked is taken off, and lines you have drawn are "
                             "left out."),
                confirm_text=rpt_("Replace"))
        return self.execute(context)

    def run(self, context):
        coarse = context.scene.foamwright.seams.coarse
        with repairs.object_mode(context, ()):
            made = seams.accept(context)
        names = ", ".join(item.name for item in made)
        if coarse:
            text = rpt_("New objects: {names}. Check the foam now.").format(names=names)
        elif made:
            text = rpt_("Lines added: {count}. Check the foam now.").format(count=len(made))
        else:
            text = rpt_("No lines were needed.")
        self.report({"INFO"}, text)


class ForgetSeams(_OnProposal, bpy.types.Operator):
    bl_idname = "foamwright.forget_seams"
    bl_label = "Forget Suggested Seams"
    bl_description = "Take the proposal and the lines that show it away again"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        with repairs.object_mode(context, ()):
            seams.forget(context.scene)


CLASSES = (SuggestSeams, AcceptSeams, ForgetSeams)
