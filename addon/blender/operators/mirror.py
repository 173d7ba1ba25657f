"""Step 3: marks carried over to the other side of a symmetric sculpt."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import EnumProperty, FloatProperty

from ...core.mirror import mirrored_kinds
from .. import marks
from ..read import mm_per_unit
from .mark import MarkOperator


class MirrorMarks(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.mirror_marks"
    bl_label = "Mirror Marks"
    bl_description = ("Give the edges on one side of the sculpt the marks of their mirror images "
                      "on the other. Marked edges without a mirror image are selected")
    bl_options = {"REGISTER", "UNDO"}

    axis: EnumProperty(
        name="Axis", description="The object's own axis across which the marks are mirrored",
        items=(("X", "X", "From one side of the object's origin to the other, left and right"),
               ("Y", "Y", "Between the front and the back of the object's origin"),
               ("Z", "Z", "Between above and below the object's origin")))
    direction: EnumProperty(
        name="Direction", description="Which side is the model for the other",
        items=(("POSITIVE", "+ to −", "The side of larger coordinates is the model; marks of "
                                      "the other side are replaced"),
               ("NEGATIVE", "− to +", "The side of smaller coordinates is the model; marks of "
                                      "the other side are replaced"),
               ("BOTH", "Both", "Each side keeps its marks and gets those of the other as well")))
    tolerance: FloatProperty(
        name="Tolerance (mm)",
        description="How far from the exact mirror image a point may lie, in mm",
        default=1.0, min=0.001, soft_max=10.0, precision=2)

    def run(self, context):
        items = list(context.objects_in_mode_unique_data)
        for item in items:
            for kind in marks.ATTRIBUTES:
                marks.require_room(item.data, kind)
        changed = 0
        without: dict[str, np.ndarray] = {}
        for item in items:
            points, edges, before = marks.edit_arrays(item)
            kinds, alone = mirrored_kinds(
                points, edges, before, "XYZ".index(self.axis),
                self.tolerance / (mm_per_unit(context.scene) * _scale(item)), self.direction)
            bm = bmesh.from_edit_mesh(item.data)
            done = sum(marks.set_marks(bm, chosen.tolist(), kind or None)
                       for kind in (0, *marks.KINDS.values())
                       if len(chosen := np.flatnonzero((kinds == kind) & (kinds != before))))
            if done:
                bmesh.update_edit_mesh(item.data, loop_triangles=False, destructive=False)
            changed += done
            if len(alone):
                without[item.name] = alone
        if without:
            self._show(context, items, without)
        elif not changed:
            self.report({"INFO"}, rpt_("Both sides are marked alike already."))
            return False

    def _show(self, context, items, without: dict[str, np.ndarray]) -> None:
        self.show_edges(context)
        for item in items:
            marks.select(bmesh.from_edit_mesh(item.data), without.get(item.name, ()))
            bmesh.update_edit_mesh(item.data, loop_triangles=False, destructive=False)
        count = sum(len(alone) for alone in without.values())
        self.report({"WARNING"}, rpt_(
            "Marked edges without a mirror image: {count}. They are selected; the sculpt differs "
            "there from side to side, or a larger tolerance is needed.").format(count=count))


def _scale(item: bpy.types.Object) -> float:
    """Mean factor from the object's own lengths to the world's."""
    return max(abs(np.linalg.det(np.array(item.matrix_world)[:3, :3])) ** (1 / 3), 1e-12)


CLASSES = (MirrorMarks,)
