"""Step 2: marks on the edges of the meshes in Edit Mode."""

from __future__ import annotations

import math
from collections.abc import Callable

import bmesh
import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, EnumProperty, FloatProperty

from .. import marks
from .base import FoamOperator

KINDS = (
    ("SEAM", "Seam", "The foam is cut through here and glued edge to edge"),
    ("TRENCH", "Trench", "A V is cut part-way through, so that the foam folds here"),
    ("SCORE", "Score Line", "A shallow cut in the face that opens when it is heated"),
)
_DESCRIPTIONS = {
    ("SEAM", False): "Cut the foam through at the selected edges; they are glued together again",
    ("TRENCH", False): "Cut a V part-way through the foam at the selected edges, to fold it there",
    ("SCORE", False): "Cut a shallow line at the selected edges, which heat opens",
    ("SEAM", True): "Take the seams off the selected edges",
    ("TRENCH", True): "Take the trenches off the selected edges",
    ("SCORE", True): "Take the score lines off the selected edges",
}


class _MarkOperator(FoamOperator):
    """An operator on the edges of every mesh in Edit Mode."""

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH":
            return True
        cls.poll_message_set("Enter Edit Mode first")
        return False

    def each_mesh(self, context: bpy.types.Context,
                  change: Callable[[bmesh.types.BMesh], int]) -> int:
        """Apply `change` to each mesh; it returns how many edges it changed. Their sum."""
        total = 0
        for item in context.objects_in_mode_unique_data:
            changed = change(bmesh.from_edit_mesh(item.data))
            if changed:
                bmesh.update_edit_mesh(item.data, loop_triangles=False, destructive=False)
            total += changed
        return total


class MarkEdges(_MarkOperator, bpy.types.Operator):
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

        def change(bm):
            chosen = [e.index for e in bm.edges if e.select]
            if not self.clear:
                return marks.set_marks(bm, chosen, kind) if chosen else 0
            return marks.set_marks(bm, set(chosen) & set(marks.marked(bm, kind)), None)

        if not self.each_mesh(context, change):
            self.report({"INFO"}, rpt_("No selected edge needed a change."))
            return False


class SeamsFromSharp(_MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.seams_from_sharp"
    bl_label = "Seams at Sharp Folds"
    bl_description = "Mark a seam wherever two faces meet at more than an angle"
    bl_options = {"REGISTER", "UNDO"}

    angle: FloatProperty(
        name="Fold Angle",
        description="Edges between faces folded by more than this many degrees become seams; "
                    "0° is flat",
        subtype="ANGLE", default=math.radians(40), min=math.radians(1), max=math.pi)

    def run(self, context):
        changed = self.each_mesh(context, lambda bm: marks.set_marks(
            bm, marks.sharp(bm, self.angle), marks.SEAM))
        if not changed:
            self.report({"INFO"}, rpt_("No edge is folded sharper than this without a seam."))
            return False


class SelectMarked(_MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_marked"
    bl_label = "Select Marked Edges"
    bl_description = "Select all edges that carry this mark"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Mark", description="The mark to look for",
                       items=KINDS, default="SEAM")
    extend: BoolProperty(name="Extend", description="Keep what is selected already")

    def run(self, context):
        # Only a mode with edges can show that some edges, and not the faces between, are selected.
        context.tool_settings.mesh_select_mode = (False, True, False)
        if not self.extend:
            bpy.ops.mesh.select_all(action="DESELECT")

        def change(bm):
            bm.edges.ensure_lookup_table()
            found = [bm.edges[i] for i in marks.marked(bm, marks.KINDS[self.kind])]
            for edge in found:
                edge.select_set(True)
            bm.select_flush_mode()
            return len(found)

        self.each_mesh(context, change)


CLASSES = (MarkEdges, SeamsFromSharp, SelectMarked)
