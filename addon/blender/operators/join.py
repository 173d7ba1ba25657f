"""Step 3: how seams are held together, and how they look."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ...core.model import SEAM
from .. import finishes, guides, joins, marks
from ..choices import FINISHES, JOINS
from .base import FoamOperator
from .mark import MarkOperator


class SetJoin(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.set_join"
    bl_label = "Hold Seams By"
    bl_description = ("Choose how the foam is held together at the selected edges, which become "
                      "seams, or along the selected lines")
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Held By", description="What holds the two edges together",
                       items=JOINS)

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH" or any(map(guides.is_guide, context.selected_objects)):
            return True
        cls.poll_message_set("Enter Edit Mode and select edges, or select lines drawn on a sculpt")
        return False

    @classmethod
    def description(cls, context, properties):
        words = next(text for name, _, text in JOINS if name == properties.kind)
        return rpt_(words)

    def run(self, context):
        changed = (self._edges(context) if context.mode == "EDIT_MESH" else
                   self._lines(context))
        if not changed:
            self.report({"INFO"}, rpt_("No selected seam needed a change."))
            return False

    def _edges(self, context: bpy.types.Context) -> int:
        items = context.objects_in_mode_unique_data
        for item in items:
            joins.require_room(item.data)

        def change(bm):
            chosen = [e.index for e in bm.edges if e.select]
            # Layers that are made make all earlier references stale, so each looks them up.
            made = marks.set_marks(bm, [i for i in chosen if not _is_seam(bm, i)], SEAM)
            return joins.set_joins(bm, chosen, self.kind) + made

        return MarkOperator.each_mesh(self, context, change)

    def _lines(self, context: bpy.types.Context) -> int:
        lines = [o for o in context.selected_objects
                 if guides.is_guide(o) and o.foamwright.guide == "SEAM"
                 and o.foamwright.join != self.kind]
        for line in lines:
            line.foamwright.join = self.kind
        return len(lines)


class SetFinish(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.set_finish"
    bl_label = "Finish Seam"
    bl_description = ("Choose how the seam looks from outside at the selected edges, which become "
                      "seams, or along the selected lines")
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Finish", description="What is done to both outer edges",
                       items=FINISHES)
    width: StringProperty(**finishes.WIDTH)

    @classmethod
    def poll(cls, context):
        return SetJoin.poll.__func__(cls, context)

    @classmethod
    def description(cls, context, properties):
        words = next(text for name, _, text in FINISHES if name == properties.kind)
        return rpt_(words)

    def run(self, context):
        finish = finishes.chosen(self.kind, self.width)
        changed = (self._edges(context, finish.number) if context.mode == "EDIT_MESH" else
                   self._lines(context))
        if not changed:
            self.report({"INFO"}, rpt_("No selected seam needed a change."))
            return False

    def _edges(self, context: bpy.types.Context, number: int) -> int:
        for item in context.objects_in_mode_unique_data:
            finishes.require_room(item.data)

        def change(bm):
            chosen = [e.index for e in bm.edges if e.select]
            made = marks.set_marks(bm, [i for i in chosen if not _is_seam(bm, i)], SEAM)
            return finishes.set_finishes(bm, chosen, number) + made

        return MarkOperator.each_mesh(self, context, change)

    def _lines(self, context: bpy.types.Context) -> int:
        lines = [o.foamwright for o in context.selected_objects
                 if guides.is_guide(o) and o.foamwright.guide == "SEAM"
                 and (o.foamwright.finish, o.foamwright.finish_width) != (self.kind, self.width)]
        for line in lines:
            line.finish, line.finish_width = self.kind, self.width
        return len(lines)


class SelectFinished(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_finished"
    bl_label = "Select Seams Finished"
    bl_description = "Select all seams that look like this from outside, whatever the width"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Finish", description="The finish to look for", items=FINISHES)
    extend: BoolProperty(name="Extend", description="Keep what is selected already")

    def run(self, context):
        self.show_edges(context, self.extend)
        self.each_mesh(context, lambda bm: marks.select(bm, finishes.looking(bm, self.kind)))


def _is_seam(bm, index: int) -> bool:
    bm.edges.ensure_lookup_table()
    return bm.edges[index].seam


class SelectJoined(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_joined"
    bl_label = "Select Seams Held By"
    bl_description = "Select all seams that are held together in this way"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Held By", description="The kind of join to look for", items=JOINS)
    extend: BoolProperty(name="Extend", description="Keep what is selected already")

    def run(self, context):
        self.show_edges(context, self.extend)
        self.each_mesh(context, lambda bm: marks.select(bm, joins.joined(bm, self.kind)))


CLASSES = (SetJoin, SelectJoined, SetFinish, SelectFinished)
