"""Step 3: what becomes of lines that were drawn."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_

from ...core.errors import ERROR, Finding, FoamError
from ...core.model import Guide
from .. import carry, guides, knife, marks
from ..finishes import finish_of
from ..read import is_sculpt, mm_per_unit
from .base import FoamOperator


class _LinesOperator(FoamOperator):
    """An operator on the selected lines, or on all lines of the selected objects."""

    @classmethod
    def poll(cls, context):
        if context.mode == "OBJECT" and _chosen(context):
            return True
        cls.poll_message_set("In Object Mode, select lines that were drawn, or their sculpt")
        return False


def _chosen(context) -> list[bpy.types.Object]:
    lines = [o for o in context.selected_objects if guides.is_guide(o)]
    return lines or [line for o in context.selected_objects if is_sculpt(o)
                     for line in guides.guides_of(context.scene, o)]


class CutLines(_LinesOperator, bpy.types.Operator):
    bl_idname = "foamwright.cut_lines"
    bl_label = "Cut Lines into Mesh"
    bl_description = ("Make the selected lines, or all lines of the selected objects, part of the "
                      "mesh: new vertices and marked edges in place of the curves")
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        mm = mm_per_unit(context.scene)
        of_item: dict[bpy.types.Object, list[bpy.types.Object]] = {}
        for line in _chosen(context):
            if line.parent is None or not is_sculpt(line.parent):
                raise FoamError(Finding(
                    "line-without-sculpt", ERROR, f"The line “{line.name}” belongs to no sculpt.",
                    "Parent it to its sculpt again, or delete it."))
            of_item.setdefault(line.parent, []).append(line)
        plans = [knife.plan(context.scene, item, [
            Guide(points, marks.KINDS[line.foamwright.guide], closed, 0, line.name,
                  guides.join_of(line), finish_of(line))
            for line in lines for points, closed in carry.on_bare_mesh(line, mm)])
            for item, lines in of_item.items()]
        count = sum(plan.apply() for plan in plans)
        for line in [line for lines in of_item.values() for line in lines]:
            guides.remove(line)
        self.report({"INFO"}, rpt_("Edges marked: {count}.").format(count=count))


class RemoveLine(_LinesOperator, bpy.types.Operator):
    bl_idname = "foamwright.remove_line"
    bl_label = "Remove Lines"
    bl_description = ("Delete the selected lines, or all lines drawn on the selected objects; "
                      "marks on edges stay")
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        for line in _chosen(context):
            guides.remove(line)


CLASSES = (CutLines, RemoveLine)
