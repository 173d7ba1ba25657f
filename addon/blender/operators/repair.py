"""Repairs of the sculpt, and other remedies of findings that are an operation in Blender.

With `finding` they act for that finding of the list, or with `everywhere` for all of its kind;
without, on the whole suit, but for the INTERNAL ones, which need its elements. All work in any
mode and come back to it where one undo step can hold what they did.
"""

from __future__ import annotations

import math

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import EnumProperty, FloatProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import marks, repairs
from ..own import require_own
from .base import FoamOperator
from .remedy import Remedy, elements

_KINDS = (
    ("SEAM", "Seam", "Cut the foam through here and glue it edge to edge"),
    ("TRENCH", "Trench", "Cut a V part-way through, so that the foam folds here"),
    ("SCORE", "Score Line", "Cut a shallow line here that heat opens"),
    ("NONE", "No Mark", "Take the marks off"),
)


class MarkFinding(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.mark_finding"
    bl_label = "Mark the Found Edges"
    bl_description = "Mark the edges that a finding names or proposes"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}
    remakes = False
    by_number = "vertices"

    kind: EnumProperty(name="Mark", description="What the maker does at these edges",
                       items=_KINDS, default="SEAM")

    @classmethod
    def description(cls, context, properties):
        kind = next(text for kind, _, text in _KINDS if kind == properties.kind)
        return rpt_("{what}: along the edges this finding names or proposes").format(
            what=rpt_(kind))

    def repair(self, context, items, places):
        if not any(elements(places, item.name, "edges") for item in items):
            raise FoamError(Finding(
                "no-own-edges", ERROR, "The edges found are not edges of your own mesh: "
                "a modifier made them.", "Apply the modifiers, or mark the mesh by hand."))
        kind, count = marks.KINDS.get(self.kind), 0
        for item in items:
            marks.require_room(item.data, kind)
        for item in items:
            edges = elements(places, item.name, "edges")
            count += repairs.change([item], repairs.mark(edges, kind), remakes=bool(
                kind and repairs.lacks(item.data, edges)))
        return count


class _Whole(Remedy):
    """A repair of whole meshes, without a choice."""

    does: repairs.Change

    def repair(self, context, items, places):
        return repairs.change(items, self.does)


class MergeVertices(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.merge_vertices"
    bl_label = "Merge Vertices"
    bl_description = ("Make one vertex of those that lie on each other, so that faces which look "
                      "joined are joined")
    bl_options = {"REGISTER", "UNDO"}

    distance: FloatProperty(
        name="Distance", description="Vertices nearer to each other than this become one, in the "
        "object's own units. 0: those that lie on each other", subtype="DISTANCE", default=0.0,
        min=0.0, soft_max=0.1, precision=6)

    def repair(self, context, items, places):
        return repairs.change(items, repairs.merge(self.distance))


class DissolveThin(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.dissolve_thin_faces"
    bl_label = "Dissolve Thin Faces"
    bl_description = "Dissolve faces that have no area and edges that have no length"
    bl_options = {"REGISTER", "UNDO"}

    distance: FloatProperty(
        name="Distance", description="Edges shorter than this and faces lower than this are "
        "dissolved, in the object's own units. 0: those without length or height",
        subtype="DISTANCE", default=0.0, min=0.0, soft_max=0.1, precision=6)

    def repair(self, context, items, places):
        return repairs.change(items, repairs.dissolve_thin(self.distance))


class TurnFacesOutward(_Whole, bpy.types.Operator):
    bl_idname = "foamwright.turn_faces_outward"
    bl_label = "Turn Faces Outward"
    bl_description = ("Make all faces of a part look one way, and those of a closed part outward, "
                      "so that the foam knows its outside")
    bl_options = {"REGISTER", "UNDO"}
    does = staticmethod(repairs.turn_outward)
    remakes = False


class DeleteLoose(_Whole, bpy.types.Operator):
    bl_idname = "foamwright.delete_loose"
    bl_label = "Delete Loose Vertices"
    bl_description = "Delete vertices and edges that belong to no face"
    bl_options = {"REGISTER", "UNDO"}
    does = staticmethod(repairs.delete_loose)
    asks = ("Delete Loose Vertices", "Vertices and edges without a face will be deleted.",
            "Delete")


class DeleteNowhere(_Whole, bpy.types.Operator):
    bl_idname = "foamwright.delete_nowhere"
    bl_label = "Delete Vertices That Lie Nowhere"
    bl_description = "Delete vertices whose position is not a number, and their faces"
    bl_options = {"REGISTER", "UNDO"}
    does = staticmethod(repairs.delete_nowhere)
    asks = ("Delete Vertices", "Vertices that lie nowhere will be deleted with their faces, "
            "which leaves holes.", "Delete")


class DeleteDoubledFaces(_Whole, bpy.types.Operator):
    bl_idname = "foamwright.delete_doubled_faces"
    bl_label = "Delete Doubled Faces"
    bl_description = "Delete all but one of the faces that lie on the same corners"
    bl_options = {"REGISTER", "UNDO"}
    does = staticmethod(repairs.delete_doubled)
    asks = ("Delete Doubled Faces", "One face of each pair on the same corners will be deleted.",
            "Delete")


class DeleteInnerFaces(_Whole, bpy.types.Operator):
    bl_idname = "foamwright.delete_inner_faces"
    bl_label = "Delete Inner Faces"
    bl_description = ("Delete faces inside a part, which have three or more faces at each of their "
                      "edges")
    bl_options = {"REGISTER", "UNDO"}
    does = staticmethod(repairs.delete_inner)
    asks = ("Delete Inner Faces", "Faces with three or more faces at each of their edges will be "
            "deleted.", "Delete")


class FillHoles(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.fill_holes"
    bl_label = "Fill the Hole"
    bl_description = "Close the hole that was found with a face"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}
    by_number = "vertices"

    def repair(self, context, items, places):
        return sum(repairs.change([item], repairs.fill(elements(places, item.name, "edges")))
                   for item in items)


class DeleteCrumbs(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.delete_crumbs"
    bl_label = "Delete Crumbs"
    bl_description = "Delete the small loose parts that were found"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}
    by_number = "faces"
    asks = ("Delete Crumbs", "The small loose parts that were found will be deleted.", "Delete")

    def repair(self, context, items, places):
        return sum(repairs.change([item], repairs.delete_parts(
            elements(places, item.name, "faces"))) for item in items)


class SeparateParts(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.separate_parts"
    bl_label = "Separate Loose Parts"
    bl_description = ("Make an object of every part that is not joined to another, so that each "
                      "can have its own foam")
    bl_options = {"REGISTER", "UNDO"}
    on_objects = True

    def repair(self, context, items, places):
        before = len(context.scene.objects)
        require_own(items)
        for item in items:
            with context.temp_override(object=item, active_object=item, selected_objects=[item],
                                       selected_editable_objects=[item]):
                bpy.ops.mesh.separate(type="LOOSE")
        return len(context.scene.objects) - before


class ApplyScale(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.apply_scale"
    bl_label = "Apply Scale"
    bl_description = ("Give the mesh the size and handedness its object shows, so that a mirrored "
                      "object no longer turns its faces inside out")
    bl_options = {"REGISTER", "UNDO"}
    remakes = False
    on_objects = True

    def repair(self, context, items, places):
        changed = [item for item in items if tuple(item.scale) != (1.0, 1.0, 1.0)]
        if self.finding >= 0:  # of a scale that turns faces inside out or takes all size
            changed = [item for item in changed if math.prod(item.scale) <= 0.0]
            mirroring = [item for item in items if item not in changed
                         and item.parent and item.matrix_world.is_negative]
            if mirroring and not changed:
                raise FoamError(Finding(
                    "mirrored-by-parent", ERROR, f"“{mirroring[0].name}” is mirrored by "
                    f"“{mirroring[0].parent.name}”, its parent.", "Clear the parent with Object > "
                    "Parent > Clear and Keep Transformation, then apply the scale."))
        require_own(changed)
        # Blender 5 turns the faces of what was mirrored over by itself, Blender 4 does not.
        name = "corrective_flip_normals"
        choice = {name: False} if name in (
            bpy.ops.object.transform_apply.get_rna_type().properties) else {}
        mirrored = [item for item in changed if item.matrix_world.is_negative]
        if changed:
            with context.temp_override(object=changed[0], active_object=changed[0],
                                       selected_objects=changed,
                                       selected_editable_objects=changed):
                bpy.ops.object.transform_apply(
                    location=False, rotation=False, scale=True, isolate_users=True, **choice)
        for item in mirrored:
            if not item.matrix_world.is_negative:  # else a parent mirrors it, still
                item.data.flip_normals()
        return len(changed)


class UseMetric(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.use_metric"
    bl_label = "Use Metric Units"
    bl_description = ("Give the scene metric units, one Blender unit for a metre, so that the "
                      "sculpt keeps the size it was read at")
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    def run(self, context):
        units = context.scene.unit_settings
        units.system, units.scale_length = "METRIC", 1.0  # the latter did not count until now


CLASSES = (UseMetric, MarkFinding, MergeVertices, DissolveThin, TurnFacesOutward, DeleteLoose,
           DeleteNowhere, DeleteDoubledFaces, DeleteInnerFaces, FillHoles, DeleteCrumbs,
           SeparateParts, ApplyScale)
