"""Step 3, further: rivets, holes and other marks without a cut."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import EnumProperty

from ...core import mesh as kernels
from ...core.errors import ERROR, Finding, FoamError
from .. import copies, guides, markings
from ..choices import MARKINGS
from ..read import is_sculpt, require_scale
from .base import FoamOperator


class SetMarks(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.set_marks"
    bl_label = "Set Marks"
    bl_description = ("Set marks that are not cut lines. In Edit Mode: one at each selected "
                      "vertex where vertices are selected, else a row along the edges. In Object "
                      "Mode: a row along the selected lines, or one at the 3D cursor on the active "
                      "sculpt")
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Marks", description="What is marked on the foam", items=MARKINGS)

    @classmethod
    def poll(cls, context):
        if context.mode in ("EDIT_MESH", "OBJECT"):
            return True
        cls.poll_message_set("Enter Object or Edit Mode first")
        return False

    @classmethod
    def description(cls, context, properties):
        words = next(text for name, _, text in MARKINGS if name == properties.kind)
        return rpt_(words)

    def run(self, context):
        if self.kind == "STRIP" and context.mode == "OBJECT" and not self._on_line(context):
            raise FoamError(Finding(
                "no-line", ERROR, "A strip needs a line.", "Select the edges of an open rim in "
                "Edit Mode, or a line drawn on the sculpt."))
        made = (self._on_meshes(context) if context.mode == "EDIT_MESH" else
                self._on_lines(context) or [self._at_cursor(context)])
        if not made:
            self.report({"INFO"}, rpt_("Select edges for a row, or vertices for single marks."))
            return False
        if context.mode == "OBJECT":
            bpy.ops.object.select_all(action="DESELECT")
            for item in made:
                item.select_set(True)
            context.view_layer.objects.active = made[-1]
        self.report({"INFO"}, rpt_("Select “{name}” in Object Mode to set its sizes.").format(
            name=made[-1].name))

    def _on_meshes(self, context) -> list[bpy.types.Object]:
        made = []
        items = [item for item in context.objects_in_mode_unique_data if is_sculpt(item)]
        for item in items:
            require_scale(item.name, item.matrix_world)
        for item in items:
            bm = bmesh.from_edit_mesh(item.data)
            place = np.array(item.matrix_world)
            points = np.array([v.co for v in bm.verts], dtype=float).reshape(-1, 3)
            points = points @ place[:3, :3].T + place[:3, 3]
            single = context.tool_settings.mesh_select_mode[0] and self.kind != "STRIP"
            edges = [] if single else [
                [v.index for v in e.verts] for e in bm.edges if e.select]
            if edges:
                made.append(markings.add_row(context.scene, item, [
                    (points[way[:-1]], True) if way[0] == way[-1] else (points[way], False)
                    for way in kernels.chains(np.array(edges))], self.kind))
            elif self.kind != "STRIP":
                made += [markings.add_point(context.scene, item, points[v.index], self.kind)
                         for v in bm.verts if v.select]
        return made

    def _on_line(self, context) -> bool:
        return any(guides.is_guide(o) and o.parent and is_sculpt(o.parent)
                   for o in context.selected_objects)

    def _on_lines(self, context) -> list[bpy.types.Object]:
        lines = [line for line in context.selected_objects
                 if guides.is_guide(line) and line.parent and is_sculpt(line.parent)]
        for line in lines:
            require_scale(line.parent.name, line.parent.matrix_world)
        return [markings.add_row(context.scene, line.parent, guides.world_polylines(line),
                                 self.kind) for line in lines]

    def _at_cursor(self, context) -> bpy.types.Object:
        item = context.object
        if item is None or not is_sculpt(item):
            raise FoamError(Finding(
                "no-sculpt", ERROR, "No sculpt is active.", "Make the sculpt active and put the "
                "3D cursor on it, or select lines drawn on it."))
        require_scale(item.name, item.matrix_world)
        place = item.matrix_world
        found = False
        with copies.evaluated(context.scene, [item], [False]) as (shown,):  # it may be hidden
            if len(shown.data.polygons):  # Blender raises where there are none
                found, point, *_ = shown.closest_point_on_mesh(
                    place.inverted_safe() @ context.scene.cursor.location)
        if not found:
            raise FoamError(Finding("no-sculpt", ERROR, f"“{item.name}” has no faces.",
                                    "Choose a mesh with faces."))
        return markings.add_point(context.scene, item, np.array(place @ point), self.kind)


CLASSES = (SetMarks,)
