"""Look at the pieces flat beside the sculpt, and lay a UV map at true scale on it."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_

from ...core.errors import ERROR, Finding, FoamError
from ...core.units import MM_PER, format_length, parse_length
from .. import flats, own, repairs, true_scale, view, write
from .base import FoamOperator
from .checked import CheckedOperator

_STEP = {"mm": 50.0, "in": 2 * MM_PER["in"]}  # sides of the map are whole multiples of this
_GAP = 10.0  # between pieces on the map, mm: room for paint to run over the edge
_PIXELS = 4096


class ShowFlat(CheckedOperator, bpy.types.Operator):
    bl_idname = "foamwright.show_flat"
    bl_label = "Show Flat"
    bl_description = ("Lay all pieces flat beside the sculpt, with their codes and the letters of "
                      "their mates, in place of those laid before")
    bl_options = {"REGISTER", "UNDO"}

    def prepare(self, context):
        from ...export.flats import sketch

        work, drawings = super().prepare(context), {}

        def draw(progress):
            pattern = work(lambda share, text: progress(0.7 * share, text))
            for number, piece in enumerate(pattern.pieces):
                progress(0.7 + 0.3 * number / len(pattern.pieces), f"Drawing {piece.code}")
                drawings[piece.code] = sketch(piece, pattern)
            return pattern

        self._drawings = drawings
        return draw

    def keep(self, context, pattern):
        super().keep(context, pattern)
        first = context.scene.foamwright.flats is None
        shown = flats.show(context.scene, pattern, self._sources, self._drawings)
        if first:  # they lie aside, out of what the maker looks at
            context.view_layer.update()
            suit = (context.scene.objects.get(source.name) for source in self._sources)
            view.frame(context, view.corners_of([*filter(None, suit), *shown]))


class RemoveFlat(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.remove_flat"
    bl_label = "Remove Flat Pieces"
    bl_description = "Remove the flat pieces beside the sculpt; the sculpt itself is not touched"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        return _has_flats(cls, context)

    def run(self, context):
        return flats.remove(context.scene)


class SelectOnSculpt(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_on_sculpt"
    bl_label = "Select on Sculpt"
    bl_description = "Select the faces of the sculpt that the selected flat pieces come from"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        if any(flats.is_flat(o) for o in context.selected_objects):
            return True
        cls.poll_message_set("Select flat pieces first")
        return False

    def run(self, context):
        chosen = [o for o in flats.shown(context.scene) if o.select_get()]
        if not chosen:
            raise FoamError(Finding(
                "sculpt-gone", ERROR, "The sculpt these pieces come from is no longer there.",
                "Show the pieces flat again."))
        places = flats.places_of(chosen)
        if not places:
            raise FoamError(Finding(
                "no-own-faces", ERROR,
                "These pieces come from faces that only a modifier makes, such as Remesh.",
                "Apply that modifier, and show the pieces flat again."))
        missing = write.select(context, places)
        if missing:
            self.tell_missing(missing, "Show the pieces flat again.")
        return len(missing) < len(places) and _frame()


class SelectFlat(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_flat"
    bl_label = "Select Flat Piece"
    bl_description = "Select the flat pieces that the selected faces of the sculpt belong to"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        return _has_flats(cls, context)

    def run(self, context):
        chosen = {item: _chosen_faces(item) for item in {
            *context.objects_in_mode, *context.selected_objects, context.object}
            if item is not None and item.type == "MESH" and not flats.is_flat(item)}
        found = [flat for flat in flats.shown(context.scene)
                 if np.isin(flats.faces_of(flat), chosen.get(flat.foamwright.source, ())).any()
                 and flat.visible_get()]
        if not found:
            raise FoamError(Finding(
                "no-flat-piece", ERROR, "No selected face of the sculpt belongs to a flat piece.",
                "Select a face of the suit in Edit Mode, or show the pieces flat again."))
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        for item in context.view_layer.objects:
            item.select_set(item in found)
        context.view_layer.objects.active = found[0]
        return _frame()


class WriteUV(CheckedOperator, bpy.types.Operator):
    bl_idname = "foamwright.write_uv"
    bl_label = "Write UV Map"
    bl_description = ("Write a UV map at true scale on the objects of the suit, so that a design "
                      "painted on the sculpt can be printed and laid on the templates. A map of "
                      "the name Foamwright is replaced")
    bl_options = {"REGISTER", "UNDO"}

    _said = ""

    def keep(self, context, pattern):
        from ...core.nest import squared

        if self._job is not None and self._outdated(context):
            raise FoamError(Finding(
                "changed-meanwhile", ERROR, "The sculpt was changed while its pieces were laid "
                "flat, so no UV map was written.", "Write the map again."))
        super().keep(context, pattern)
        unit = pattern.settings.unit
        placements, least = squared(pattern.pieces, _GAP)
        least = _STEP[unit] * np.ceil(least / _STEP[unit] - 1e-9)
        text = context.scene.foamwright.uv_length.strip()
        length = parse_length(text, unit) if text else float(least)
        if length < least:
            raise FoamError(Finding(
                "map-too-small", ERROR,
                f"The pieces do not fit a UV map {format_length(length, unit)} wide.",
                f"Make it {format_length(least, unit)} or more, or leave the length empty."))
        left_out, crossed = self._write(context, pattern, placements, length)
        self._said = rpt_(
            "The UV map is {length} wide and high: an image of {pixels} pixels has {density:.1f} "
            "of them per mm.").format(length=format_length(length, unit), pixels=_PIXELS,
                                      density=_PIXELS / length)
        if crossed:
            self._said += " " + rpt_("Faces that a drawn line crosses lie with one of their "
                                     "pieces: {count}.").format(count=crossed)
        for name, reason in left_out.items():
            self.report({"WARNING"}, rpt_("No UV map on “{name}”: {reason}").format(
                name=name, reason=reason))

    def words(self, result):
        return self._said or super().words(result)

    def _write(self, context, pattern, placements, length) -> tuple[dict[str, str], int]:
        """Names of objects without a map and why; how many faces a drawn line crosses."""
        left_out, crossed, done = {}, 0, set()
        items = [context.scene.objects[source.name] for source in self._sources]
        with repairs.object_mode(context, items):
            for item, source in zip(items, self._sources, strict=True):
                if not source.same:
                    left_out[item.name] = rpt_(
                        "its modifiers make other faces than its own; apply those that do, such "
                        "as Subdivision Surface or Mirror.")
                elif not own.is_own(item):
                    left_out[item.name] = rpt_("it comes from another file; {local}").format(
                        local=rpt_(own.LOCAL))
                elif item.data in done:
                    left_out[item.name] = rpt_(
                        "it shares its mesh with another object; make it single-user.")
                elif (found := true_scale.write(context.scene, item, pattern, source,
                                                placements, length)) is None:
                    left_out[item.name] = rpt_("its mesh has no room for another UV map; remove "
                                               "one.")
                else:
                    done.add(item.data)
                    crossed += len(found)
        if not done:
            name, reason = next(iter(left_out.items()))
            raise FoamError(Finding("no-uv-map", ERROR, f"No UV map on “{name}”: {reason}", ""))
        return left_out, crossed


def _has_flats(cls, context) -> bool:
    if context.scene.foamwright.flats is not None:
        return True
    cls.poll_message_set("Show the pieces flat first")
    return False


def _chosen_faces(item: bpy.types.Object) -> np.ndarray:
    """Selected faces of an object, else the one last clicked."""
    if item.data.is_editmode:
        bm = bmesh.from_edit_mesh(item.data)
        faces = [f.index for f in bm.faces if f.select]
        return np.array(faces or ([bm.faces.active.index] if bm.faces.active else []), dtype=int)
    chosen = np.empty(len(item.data.polygons), dtype=bool)
    item.data.polygons.foreach_get("select", chosen)
    return np.flatnonzero(chosen) if chosen.any() else np.array([item.data.polygons.active])


def _frame() -> None:
    """Show what is selected in the view, where there is one."""
    if bpy.ops.view3d.view_selected.poll():
        bpy.ops.view3d.view_selected()


CLASSES = (ShowFlat, RemoveFlat, SelectOnSculpt, SelectFlat, WriteUV)
