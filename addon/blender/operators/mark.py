"""Step 3: marks on the edges of the meshes in Edit Mode."""

from __future__ import annotations

import math

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, EnumProperty, FloatProperty

from .. import marks
from ..choices import MARKS as KINDS
from .edit import EditOperator

_DESCRIPTIONS = {
    ("SEAM", False): "Cut the foam through at the selected edges; they are glued together again",
    ("TRENCH", False): "Cut a V part-way through the foam at the selected edges, to fold it there",
    ("SCORE", False): "Cut a shallow line at the selected edges, which heat opens",
    ("SEAM", True): "Take the seams off the selected edges",
    ("TRENCH", True): "Take the trenches off the selected edges",
    ("SCORE", True): "Take the score lines off the selected edges",
}


class MarkOperator(EditOperator):
    """An operator on the edges of every mesh in Edit Mode."""

    def require_room(self, context: bpy.types.Context, kind: int) -> None:
        """Raises FoamError, before anything is changed, where one of the meshes has no room."""
        for item in context.objects_in_mode_unique_data:
            marks.require_room(item.data, kind)

    def show_edges(self, context: bpy.types.Context, extend: bool = False) -> None:
        """Get ready to select edges: in a mode that can show that some edges, and not the faces
        between them, are selected."""
        context.tool_settings.mesh_select_mode = (False, True, False)
        if not extend:
            bpy.ops.mesh.select_all(action="DESELECT")


class MarkEdges(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.mark_edges"
    bl_label = "Mark Edges"
    bl_description = "Mark the selected edges for the foam; an edge carries one mark"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Mark", description="What the maker does at these edges",
                       items=KINDS, default="SEAM")
    clear: BoolProperty(name="Clear", description="Take this mark off the selected edges instead",
                        options={"SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        return rpt_(_DESCRIPTIONS[properties.kind, properties.clear])

    def run(self, context):
        kind = marks.KINDS[self.kind]
        self.require_room(context, kind)

        def change(bm):
            chosen = [e.index for e in bm.edges if e.select]
            if not self.clear:
                return marks.set_marks(bm, chosen, kind) if chosen else 0
            return marks.set_marks(bm, set(chosen) & set(marks.marked(bm, kind)), None)

        if not self.each_mesh(context, change):
            self.report({"INFO"}, rpt_("No selected edge needed a change."))
            return False


class MarksFromSharp(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.seams_from_sharp"
    bl_label = "Marks at Sharp Folds"
    bl_description = ("Mark every edge where two faces meet at more than an angle. Edges that "
                      "carry a mark keep it")
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Mark", description="What the maker does at these edges",
                       items=KINDS, default="SEAM")
    angle: FloatProperty(
        name="Fold Angle",
        description="Edges between faces folded by more than this many degrees are marked; "
                    "0° is flat",
        subtype="ANGLE", default=math.radians(40), min=math.radians(1), max=math.pi)
    flagged: BoolProperty(
        name="Edges Marked Sharp",
        description="Also mark the edges that you marked sharp, however little they are folded")

    def run(self, context):
        kind = marks.KINDS[self.kind]
        self.require_room(context, kind)

        def change(bm):
            taken = set().union(*(marks.marked(bm, each) for each in marks.KINDS.values()))
            return marks.set_marks(bm, [i for i in marks.sharp(bm, self.angle, self.flagged)
                                        if i not in taken], kind)

        if not self.each_mesh(context, change):
            self.report({"INFO"}, rpt_("No edge without a mark is folded sharper than this."))
            return False


class SelectMarked(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_marked"
    bl_label = "Select Marked Edges"
    bl_description = "Select all edges that carry this mark"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Mark", description="The mark to look for",
                       items=KINDS, default="SEAM")
    extend: BoolProperty(name="Extend", description="Keep what is selected already")

    def run(self, context):
        self.show_edges(context, self.extend)
        self.each_mesh(context, lambda bm: marks.select(
            bm, marks.marked(bm, marks.KINDS[self.kind])))


CLASSES = (MarkEdges, MarksFromSharp, SelectMarked)
