"""Step 3: marked lines kept beside the mesh, and laid on it again when it was made anew."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import EnumProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import lines, lost_lines
from ..own import require_own
from ..read import is_sculpt, read_scene, suit_objects
from ..settings import read_settings
from .base import FoamOperator
from .remedy import Remedy


class KeepLines(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.keep_lines"
    bl_label = "Keep Lines"
    bl_description = ("Remember where the marked lines of the suit run, before a remesh or another "
                      "tool that makes a new mesh. A check of the foam does so too")
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        if any(is_sculpt(item) for item in context.scene.objects):
            return True
        cls.poll_message_set("There is no mesh in this scene")
        return False

    def run(self, context):
        selected = [o for o in (*context.selected_objects, *context.objects_in_mode)
                    if is_sculpt(o)]
        items = list(dict.fromkeys(selected)) or suit_objects(context.scene)
        sculpt, sources = read_scene(context.scene, items, read_settings(context.scene))
        kept, smeared = lines.keep(context.scene, sculpt, sources)
        kept |= lost_lines.keep(context.scene, sculpt, sources)
        if smeared:
            self.report({"WARNING"}, rpt_(
                "Not kept, because their marks are smeared: {names}. What was kept of them "
                "earlier stays.").format(names=", ".join(smeared)))
        elif not kept:
            self.report({"INFO"}, rpt_("No edge is marked. What was kept earlier stays."))
        if not kept:
            return False
        self.report({"INFO"}, rpt_("Lines kept: {count}.").format(count=sum(kept.values())))


class LayLines(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.lay_lines"
    bl_label = "Lay Kept Lines"
    bl_description = ("Mark where the lines ran that were kept, as it was before the mesh was made "
                      "anew. All other marks on the object's edges are taken off")
    bl_options = {"REGISTER", "UNDO"}

    remakes = False

    way: EnumProperty(
        name="Lay as", description="What the lines become",
        items=(("EDGES", "Marks on Edges", "The edges that follow the lines are marked"),
               ("ACROSS", "Lines across Faces", "The lines follow the surface and not its edges; "
                                                "the mesh is not changed")))

    def repair(self, context, items, places):
        chosen = [item for item in items if item.select_get()]
        wanted = chosen if self.finding < 0 and chosen else items
        if self.way == "ACROSS":  # marks that modifiers lose become lines, which they do not
            sculpt, sources = read_scene(context.scene, wanted, read_settings(context.scene))
            lost_lines.keep(context.scene, sculpt, sources)
        ready = [item for item in wanted if lines.kept(item)]
        if not ready:
            raise FoamError(Finding(
                "no-kept-lines", ERROR, "No lines of these objects were kept.",
                "Mark the lines anew. Keep Lines, or a check of the foam, remembers them for the "
                "next time."))
        require_own(ready)
        number = 0
        for item in ready:
            laid, lost = (lines.lay(item) if self.way == "EDGES"
                          else lines.lay_across(context.scene, item))
            number += laid
            if lost > 0.02:
                self.report({"WARNING"}, rpt_(
                    "{share:.0%} of the kept lines of “{name}” lie off its mesh and were not "
                    "laid.").format(share=lost, name=item.name))
        return number


CLASSES = (KeepLines, LayLines)
