"""Step 3: marks carried over to the other side of a symmetric sculpt."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import EnumProperty, FloatProperty

from ...core.mirror import mirrored_kinds
from ...core.model import JOIN_BIT
from .. import carry, edge_numbers, finishes, guides, joins, marks
from ..own import require_own
from ..read import is_sculpt, mm_per_unit, require_scale
from .mark import MarkOperator


class MirrorMarks(MarkOperator, bpy.types.Operator):
    bl_idname = "foamwright.mirror_marks"
    bl_label = "Mirror Marks"
    bl_description = ("Give the edges on one side of the sculpt the marks of their mirror images "
                      "on the other, and draw the mirror images of lines across faces. Marked "
                      "edges without a mirror image are selected")
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

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH" or context.mode == "OBJECT" and any(
                is_sculpt(item) for item in context.selected_objects):
            return True
        cls.poll_message_set("Select a sculpt in Object Mode, or enter Edit Mode")
        return False

    def run(self, context):
        edit = context.mode == "EDIT_MESH"
        items = list(context.objects_in_mode_unique_data if edit else {
            item.data: item for item in context.selected_objects if is_sculpt(item)}.values())
        require_own(items)
        for item in items:
            for kind in marks.ATTRIBUTES:
                marks.require_room(item.data, kind)
            joins.require_room(item.data)
            finishes.require_room(item.data)
        changed, without = 0, {}
        for item in items:
            tolerance = self.tolerance / (mm_per_unit(context.scene) * _scale(item))
            done, alone = (_mirror_edit if edit else _mirror_mesh)(
                item, "XYZ".index(self.axis), tolerance, self.direction)
            changed += done + _mirror_drawn(
                context.scene, item, "XYZ".index(self.axis), tolerance, self.direction)
            if len(alone):
                without[item.name] = alone
        if without:
            self._tell(context, items, without)
        elif not changed:
            self.report({"INFO"}, rpt_("Both sides are marked alike already."))
            return False

    def _tell(self, context, items, without: dict[str, np.ndarray]) -> None:
        count = sum(len(alone) for alone in without.values())
        if context.mode == "EDIT_MESH":
            self.show_edges(context)
            for item in items:
                marks.select(bmesh.from_edit_mesh(item.data), without.get(item.name, ()))
                bmesh.update_edit_mesh(item.data, loop_triangles=False, destructive=False)
            text = rpt_("Marked edges without a mirror image: {count}. They are selected; the "
                        "sculpt differs there from side to side, or a larger tolerance is needed.")
        else:
            text = rpt_("Marked edges without a mirror image: {count}. Mirror in Edit Mode to have "
                        "them selected.")
        self.report({"WARNING"}, text.format(count=count))


def _mirror_edit(item: bpy.types.Object, axis: int, tolerance: float,
                 direction: str) -> tuple[int, np.ndarray]:
    """Mirror the edges of a mesh in Edit Mode: how many changed, and those without a partner."""
    points, edges, before = marks.edit_arrays(item)
    kinds, alone = mirrored_kinds(points, edges, before, axis, tolerance, direction)
    bm = bmesh.from_edit_mesh(item.data)
    own = kinds % JOIN_BIT
    for kind in (0, *marks.KINDS.values()):
        if len(chosen := np.flatnonzero((own == kind) & (own != before % JOIN_BIT))):
            marks.set_marks(bm, chosen.tolist(), kind or None)
    for name, numbers in marks.TOLD.items():
        now = numbers(kinds)
        turned = now != numbers(before)
        for number in np.unique(now[turned]).tolist():
            edge_numbers.put(bm, name, np.flatnonzero(turned & (now == number)).tolist(), number)
    done = int(np.count_nonzero(kinds != before))
    if done:
        bmesh.update_edit_mesh(item.data, loop_triangles=False, destructive=False)
    return done, alone


def _mirror_mesh(item: bpy.types.Object, axis: int, tolerance: float,
                 direction: str) -> tuple[int, np.ndarray]:
    """The same for a mesh in Object Mode."""
    before = marks.read_flags(item.data)
    kinds, alone = mirrored_kinds(*marks.mesh_arrays(item.data), before, axis, tolerance, direction)
    done = int(np.count_nonzero(kinds != before))
    if done:
        marks.write_kinds(item.data, kinds % JOIN_BIT)
        for name, numbers in marks.TOLD.items():
            edge_numbers.write(item.data, name, numbers(kinds))
    return done, alone


def _mirror_drawn(scene: bpy.types.Scene, item: bpy.types.Object, axis: int, tolerance: float,
                 direction: str) -> int:
    """Draw the mirror images of the lines across faces of an object; how many were drawn.

    axis: 0, 1 or 2, the object's own; direction: as of `mirrored_kinds`, but no line is taken
    away. A line is not drawn where there is one already, within the tolerance in the object's
    units; so one that is its own image stays alone.
    """
    drawn = guides.guides_of(scene, item)
    if not drawn:
        return 0
    require_scale(item.name, item.matrix_world)
    place = np.array(item.matrix_world)
    back = np.linalg.inv(place)
    known = [((line.foamwright.guide, line.foamwright.join, line.foamwright.finish,
               line.foamwright.finish_width),
              points @ back[:3, :3].T + back[:3, 3], closed)
             for line in drawn for points, closed in guides.world_polylines(line)]
    number = 0
    for kind, points, closed in list(known):
        middle = points[:, axis].mean()
        image = points * np.where(np.arange(3) == axis, -1.0, 1.0)
        if {"POSITIVE": middle < 0, "NEGATIVE": middle > 0, "BOTH": False}[direction] or any(
                kind == other and ring == closed and _far(image, line, ring) <= tolerance
                and _far(line, image, ring) <= tolerance for other, line, ring in known):
            continue
        made = guides.add_guide(scene, item, image @ place[:3, :3].T + place[:3, 3], kind[0],
                                closed)
        (_, made.foamwright.join, made.foamwright.finish,
         made.foamwright.finish_width) = kind
        known.append((kind, image, closed))
        number += 1
    if number:
        carry.bind(scene, [item])
    return number


def _far(points: np.ndarray, line: np.ndarray, ring: bool) -> float:
    """Largest distance of the points (k, 3) from a polyline (m, 3)."""
    line = np.append(line, line[:1], axis=0) if ring or len(line) == 1 else line
    start, step = line[:-1], np.diff(line, axis=0)
    way = points[:, None] - start
    share = np.einsum("ijk,jk->ij", way, step) / np.maximum((step**2).sum(axis=1), 1e-300)
    rest = way - np.clip(share, 0.0, 1.0)[..., None] * step
    return float(np.linalg.norm(rest, axis=2).min(axis=1).max())


def _scale(item: bpy.types.Object) -> float:
    """Mean factor from the object's own lengths to the world's."""
    return max(abs(np.linalg.det(np.array(item.matrix_world)[:3, :3])) ** (1 / 3), 1e-12)


CLASSES = (MirrorMarks,)
