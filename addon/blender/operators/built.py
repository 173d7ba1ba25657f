"""Which faces are built of foam: marked by hand, or all but the outer skin left out."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import built, repairs, write
from ..read import read_scene
from ..settings import read_settings
from .edit import EditOperator
from .remedy import Remedy


class SetBuilt(EditOperator, bpy.types.Operator):
    bl_idname = "foamwright.set_built"
    bl_label = "Not Built"
    bl_description = ("Leave the selected faces out of the foam, such as the underside of a solid. "
                      "They stay in the mesh")
    bl_options = {"REGISTER", "UNDO"}

    build: BoolProperty(name="Built", description="Build the selected faces after all",
                        options={"SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        return rpt_("Build the selected faces of foam after all") if properties.build else ""

    def run(self, context):
        items = context.objects_in_mode_unique_data
        for item in items:
            item.update_from_editmode()
            built.require_room(item.data)
        if not self.each_mesh(context, lambda bm: built.set_built(
                bm, [face.index for face in bm.faces if face.select], self.build)):
            self.report({"INFO"}, rpt_("No selected face needed a change."))
            return False


class SelectNotBuilt(EditOperator, bpy.types.Operator):
    bl_idname = "foamwright.select_not_built"
    bl_label = "Select Faces Not Built"
    bl_description = "Select the faces that are left out of the foam"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        context.tool_settings.mesh_select_mode = (False, False, True)
        bpy.ops.mesh.select_all(action="DESELECT")

        def select(bm):
            found = built.left_out(bm)
            bm.faces.ensure_lookup_table()
            for index in found:
                bm.faces[index].hide_set(False)
                bm.faces[index].select_set(True)
            return len(found)

        count = self.each_mesh(context, select)
        self.report({"INFO"}, rpt_("Faces not built: {count}").format(count=count))


class _SkinOperator(Remedy):
    """Finds the outer skin of the double-walled parts of some objects anew."""

    remakes = False

    def skins(self, context: bpy.types.Context, items: list[bpy.types.Object]
              ) -> dict[str, tuple[list[int], list[int]]]:
        """The maker's faces on the outer skin and those on the rest of each object's
        double-walled parts. Raises FoamError `no-double-wall` where no object has any."""
        from ...core import skin, soundness

        sculpt, sources = read_scene(context.scene, items, read_settings(context.scene))
        soundness.inspect(sculpt)
        outer, rest = [np.empty(0, int)], [np.empty(0, int)]
        for shell in skin.shells(sculpt):
            if shell.kind == skin.DOUBLE:
                outer.append(sculpt.polygon[shell.skin])
                rest.append(sculpt.polygon[np.setdiff1d(shell.faces, shell.skin)])
        outer, rest = (np.unique(np.concatenate(each)) for each in (outer, rest))
        found = {}
        for source in sources:
            mine = [source.origin[each[(each >= source.polygons.start)
                                       & (each < source.polygons.stop)] - source.polygons.start]
                    for each in (outer, rest)]
            if (np.concatenate(mine) < 0).any():
                raise FoamError(Finding(
                    "no-own-faces", ERROR, f"A modifier made the walls of “{source.name}”.",
                    "Apply it, or turn it off: the foam brings its own thickness."))
            if len(mine[0]):  # a face that shows on both sides, of a mirrored part, is built
                found[source.name] = (np.unique(mine[0]).tolist(),
                                      np.setdiff1d(mine[1], mine[0]).tolist())
        if not found:
            raise FoamError(Finding(
                "no-double-wall", ERROR, "No part has a wall that foam could be: an outside and "
                "an inside that lie close to each other.",
                "Select the faces that are not to be built by hand, and choose Not Built."))
        return found


class ShowOuterSkin(_SkinOperator, bpy.types.Operator):
    bl_idname = "foamwright.show_outer_skin"
    bl_label = "Show the Outer Skin"
    bl_description = ("Select the faces on the outside of parts that were modelled with both faces "
                      "of the foam, to see whether the outside was found")
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        _, items, _ = self.target(context)
        missing = write.select(context, {name: {"faces": outer} for name, (outer, _)
                                         in self.skins(context, items).items()})
        if missing:
            self.tell_missing(missing, "Show it, or make it local.")


class KeepOuterSkin(_SkinOperator, bpy.types.Operator):
    bl_idname = "foamwright.keep_outer_skin"
    bl_label = "Build Only the Outer Skin"
    bl_description = ("Leave the inside and the rim of parts that were modelled with both faces of "
                      "the foam out of the foam. They stay in the mesh")
    bl_options = {"REGISTER", "UNDO"}

    def repair(self, context, items, places):
        found = self.skins(context, items)
        named = [item for item in items if item.name in found]
        for item in named:
            built.require_room(item.data)
        return sum(repairs.change(
            [item], lambda bm, name=item.name: built.set_built(bm, found[name][1], False),
            remakes=False) for item in named)


CLASSES = (SetBuilt, SelectNotBuilt, ShowOuterSkin, KeepOuterSkin)
