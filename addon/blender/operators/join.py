"""Step 3: how seams are held together, and how they look."""

from __future__ import annotations

from types import ModuleType

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ...core.model import SEAM
from .. import finishes, guides, joins, marks
from ..choices import FINISHES, JOINS
from .base import FoamOperator
from .mark import MarkOperator


class _TellSeams(FoamOperator):
    """An operator that says something of the seams at the selected edges or along the selected
    lines."""

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH" or any(map(guides.is_guide, context.selected_objects)):
            return True
        cls.poll_message_set("Enter Edit Mode and select edges, or select lines drawn on a sculpt")
        return False

    @classmethod
    def description(cls, context, properties):
        words = next(text for name, _, text in cls.CHOICES if name == properties.kind)
        return rpt_(words)

    def run(self, context):
        said = self.said()
        changed = (self._edges(context, said) if context.mode == "EDIT_MESH" else
                   self._lines(context, said))
        if not changed:
            self.report({"INFO"}, rpt_("No selected seam needed a change."))
            return False

    def said(self) -> tuple[ModuleType, object, dict[str, str]]:
        """Who keeps it on edges, with what it puts there, and the properties of a line."""
        raise NotImplementedError

    def _edges(self, context: bpy.types.Context, said) -> int:
        keeper, value, _ = said
        for item in context.objects_in_mode_unique_data:
            keeper.require_room(item.data)

        def change(bm):
            chosen = [e.index for e in bm.edges if e.select]
            # Layers that are made make all earlier references stale, so each looks them up.
            made = marks.set_marks(bm, [i for i in chosen if not _is_seam(bm, i)], SEAM)
            return keeper.put(bm, chosen, value) + made

        return MarkOperator.each_mesh(self, context, change)

    def _lines(self, context: bpy.types.Context, said) -> int:
        *_, own = said
        lines = [o.foamwright for o in context.selected_objects
                 if guides.is_guide(o) and o.foamwright.guide == "SEAM"
                 and any(getattr(o.foamwright, name) != value for name, value in own.items())]
        for line in lines:
            for name, value in own.items():
                setattr(line, name, value)
        return len(lines)


class SetJoin(_TellSeams, bpy.types.Operator):
    bl_idname = "foamwright.set_join"
    bl_label = "Hold Seams By"
    bl_description = ("Choose how the foam is held together at the selected edges, which become "
                      "seams, or along the selected lines")
    bl_options = {"REGISTER", "UNDO"}
    CHOICES = JOINS

    kind: EnumProperty(name="Held By", description="What holds the two edges together",
                       items=JOINS)

    def said(self):
        return joins, self.kind, {"join": self.kind}


class SetFinish(_TellSeams, bpy.types.Operator):
    bl_idname = "foamwright.set_finish"
    bl_label = "Finish Seam"
    bl_description = ("Choose how the seam looks from outside at the selected edges, which become "
                      "seams, or along the selected lines")
    bl_options = {"REGISTER", "UNDO"}
    CHOICES = FINISHES

    kind: EnumProperty(name="Finish", description="What is done to both outer edges",
                       items=FINISHES)
    width: StringProperty(**finishes.WIDTH)

    def said(self):
        return (finishes, finishes.chosen(self.kind, self.width).number,
                {"finish": self.kind, "finish_width": self.width})


def _is_seam(bm, index: int) -> bool:
    bm.edges.ensure_lookup_table()
    return bm.edges[index].seam


class _SelectTold(MarkOperator):
    """An operator that selects the seams of which something is said."""

    extend: BoolProperty(name="Extend", description="Keep what is selected already")

    def run(self, context):
        self.show_edges(context, self.extend)
        self.each_mesh(context, lambda bm: marks.select(bm, self.KEEPER.told(bm, self.kind)))


class SelectJoined(_SelectTold, bpy.types.Operator):
    bl_idname = "foamwright.select_joined"
    bl_label = "Select Seams Held By"
    bl_description = "Select all seams that are held together in this way"
    bl_options = {"REGISTER", "UNDO"}
    KEEPER = joins

    kind: EnumProperty(name="Held By", description="The kind of join to look for", items=JOINS)


class SelectFinished(_SelectTold, bpy.types.Operator):
    bl_idname = "foamwright.select_finished"
    bl_label = "Select Seams Finished"
    bl_description = "Select all seams that look like this from outside, whatever the width"
    bl_options = {"REGISTER", "UNDO"}
    KEEPER = finishes

    kind: EnumProperty(name="Finish", description="The finish to look for", items=FINISHES)


CLASSES = (SetJoin, SelectJoined, SetFinish, SelectFinished)
