"""The base class of operators that are the remedy of a finding, or a repair of the whole suit."""

from __future__ import annotations

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, IntProperty

from ...core.errors import ERROR, Finding, FoamError
from ...export.findings import grouped
from .. import repairs, ticks, write
from ..choices import DONE, OPEN, STALE
from ..read import suit_objects
from .base import FoamOperator


class Remedy(FoamOperator):
    """Acts for a finding, or on the suit, and then says what became of the findings.

    remakes: elements may be added or removed, so that findings no longer know theirs.
    on_objects: it changes objects and not only meshes, which an undo step of Edit Mode does
    not hold, so that Edit Mode is left. by_number: "vertices" or "faces", where it takes them by
    the numbers they had when they were found. asks: title, message and button of the question to
    ask first.
    """

    remakes = True
    on_objects = False
    by_number = ""
    asks: tuple[str, str, str] | None = None

    finding: IntProperty(name="Finding", description="Position in the list", default=-1,
                         options={"HIDDEN", "SKIP_SAVE"})
    everywhere: BoolProperty(
        name="Everywhere", description="Do it for every finding of this kind, not one alone",
        options={"SKIP_SAVE"})

    @classmethod
    def poll(cls, context):
        if any(item.type == "MESH" for item in context.scene.objects):
            return True
        cls.poll_message_set("There is no mesh in this scene")
        return False

    def invoke(self, context, event):
        if not self.asks:
            return self.execute(context)
        title, message, confirm = map(rpt_, self.asks)
        return context.window_manager.invoke_confirm(
            self, event, title=title, message=message, confirm_text=confirm)

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        for prop in self.properties.bl_rna.properties:
            if not prop.is_hidden and prop.identifier not in ("rna_type", "everywhere"):
                layout.prop(self, prop.identifier)
        if self.finding >= 0:
            layout.prop(self, "everywhere")

    def run(self, context):
        findings = context.scene.foamwright.findings
        chosen, items, places = self.target(context)
        with repairs.object_mode(context, () if self.on_objects else items):
            self._require_unchanged(context.scene, chosen, items)
            before = ticks.states(items) if findings else {}
            count = self.repair(context, items, places)
            after = ticks.states(items) if findings else {}
        if not count:
            self.report({"INFO"}, rpt_("Nothing was found to change."))
            return False
        names = {item.name for item in items}
        for index, item in enumerate(findings):
            if index in chosen:
                ticks.turn(item, DONE, before, after)
            elif (self.remakes and item.state == OPEN
                    and names & write.places_of(context.scene, item)[0].keys()):
                ticks.turn(item, STALE, before, after)
        self.report({"INFO"}, rpt_("Changed: {count}. Check again when you are ready.").format(
            count=count))

    def repair(self, context: bpy.types.Context, items: list[bpy.types.Object],
               places: list[dict]) -> int:
        """Change the objects in Object Mode; how much was changed. places: of the findings."""
        raise NotImplementedError

    def target(self, context: bpy.types.Context
               ) -> tuple[list[int], list[bpy.types.Object], list[dict]]:
        """The findings to act for, as places in the list, the objects and their places."""
        findings = context.scene.foamwright.findings
        chosen = self._chosen(findings)
        found = [write.places_of(context.scene, findings[index]) for index in chosen]
        places = [each for each, _, _ in found]
        gone = [name for _, _, names in found for name in names]
        if gone and not any(places):
            raise FoamError(Finding(
                "object-gone", ERROR, f"“{gone[0]}” is no longer in this scene.",
                "Check it again."))
        return chosen, self._items(context, places), places

    def _chosen(self, findings) -> list[int]:
        if self.finding < 0:
            return []
        if self.finding >= len(findings) or findings[self.finding].state == STALE:
            raise FoamError(Finding("no-such-finding", ERROR, "The sculpt has been changed since "
                                    "this was found.", "Check it again."))
        if not self.everywhere:
            return [self.finding]
        step = findings[self.finding].step
        group = next(g for g in grouped(findings) if self.finding in g.members)
        return [i for i in group.members
                if findings[i].step == step and findings[i].state != STALE]

    def _require_unchanged(self, scene, chosen: list[int],
                           items: list[bpy.types.Object]) -> None:
        """Raises FoamError where the numbers of elements may stand for others by now."""
        if not self.by_number:
            return
        now = {item.name: {"vertices": len(item.data.vertices), "faces": len(item.data.polygons)}
               for item in items}
        for index in chosen:
            sizes = write.places_of(scene, scene.foamwright.findings[index])[1]
            for name, (vertices, faces) in sizes.items():
                then = {"vertices": vertices, "faces": faces}
                if name in now and now[name][self.by_number] != then[self.by_number]:
                    raise FoamError(Finding(
                        "changed-since", ERROR, f"“{name}” has been changed since this was found.",
                        "Check it again."))

    def _items(self, context, places: list[dict]) -> list[bpy.types.Object]:
        names = {name for each in places for name in each}
        found = [o for o in context.scene.objects if o.type == "MESH" and o.name in names]
        found = found if names else suit_objects(context.scene, context.selected_objects)
        if not found:
            raise FoamError(Finding(
                "nothing-to-read", ERROR, "No mesh object of the suit is left to work on.",
                "Select the sculpted objects and choose Add to Suit."))
        return found


def elements(places: list[dict], name: str, kind: str) -> list:
    """The "vertices", "edges" or "faces" of one object in several places."""
    return [each for place in places for each in place.get(name, {}).get(kind, ())]
