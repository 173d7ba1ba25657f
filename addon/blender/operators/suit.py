"""Step 1: which objects are made of foam; and the example to start from."""

from pathlib import Path

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, StringProperty

from ...core.errors import ERROR, Finding, FoamError
from .. import repairs, view
from ..own import require_own
from ..read import goes_with, suit_objects
from .base import FoamOperator

EXAMPLE = "ferry_warden.blend"
NONE = "Select a mesh object, or a curve with a round bevel, first"


class AddToSuit(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.add_to_suit"
    bl_label = "Add to Suit"
    bl_description = "Make the selected objects of foam"
    bl_options = {"REGISTER", "UNDO"}

    remove: BoolProperty(
        name="Remove", description="Take the selected objects out of the suit instead",
        options={"SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        return rpt_("Take the selected objects out of the suit") if properties.remove else ""

    @classmethod
    def poll(cls, context):
        if any(goes_with(o) for o in context.selected_objects):
            return True
        cls.poll_message_set(NONE)
        return False

    def run(self, context):
        items = [o for o in context.selected_objects if goes_with(o)]
        require_own(items, mesh=False)
        with repairs.object_mode(context, ()):  # where Edit Mode cannot undo it
            for item in items:
                item.foamwright.include = not self.remove
                item.foamwright.leave_out &= self.remove


class RemoveFromSuit(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.remove_from_suit"
    bl_label = "Remove from Suit"
    bl_description = "Take this object out of the suit"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    name: StringProperty(name="Object", description="Name of the object to take out",
                         options={"SKIP_SAVE"})

    def run(self, context):
        item = _named(context, self.name)
        require_own([item], mesh=False)
        with repairs.object_mode(context, ()):
            item.foamwright.include = False


class LeaveOut(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.leave_out"
    bl_label = "Leave Out"
    bl_description = ("Never make the selected objects of foam, such as the body the armour is "
                      "worn on")
    bl_options = {"REGISTER", "UNDO"}

    name: StringProperty(name="Object", description="Name of the object; empty for the selected",
                         options={"SKIP_SAVE", "HIDDEN"})
    back: BoolProperty(name="Bring Back", description="Allow them to be made of foam again",
                       options={"SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        return rpt_("Allow this object to be made of foam again") if properties.back else ""

    def run(self, context):
        items = [_named(context, self.name)] if self.name else [
            o for o in context.selected_objects if goes_with(o)]
        if not items:
            self.report({"INFO"}, rpt_(NONE))
            return False
        require_own(items, mesh=False)
        with repairs.object_mode(context, ()):
            for item in items:
                item.foamwright.leave_out = not self.back
                item.foamwright.include &= self.back


def _named(context: bpy.types.Context, name: str) -> bpy.types.Object:
    item = context.scene.objects.get(name)
    if item is None or not goes_with(item):
        raise FoamError(Finding("no-such-object", ERROR,
                                f"There is no mesh object or rod “{name}”.",
                                "It may have been renamed or deleted; choose it again."))
    return item


def example_file() -> Path | None:
    """The example: inside the extension, or beside it in a checkout; None where it was left out."""
    addon = Path(__file__).parents[2]
    places = (addon / "assets" / EXAMPLE, addon.parent / "example_scenes" / EXAMPLE)
    return next((path for path in places if path.is_file()), None)


class OpenExample(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.open_example"
    bl_label = "Open Example"
    bl_description = "Open a finished, marked suit to try the steps on, as a new file"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context):
        return example_file() is not None

    def invoke(self, context, event):
        if bpy.data.is_dirty:
            return context.window_manager.invoke_confirm(
                self, event, title=rpt_("Open the Example"),
                message=rpt_("Changes in this file that are not saved will be lost."),
                confirm_text=rpt_("Open"))
        return self.execute(context)

    def run(self, context):
        # Read like a start-up file, so that saving never overwrites the extension's copy.
        bpy.ops.wm.read_homefile(filepath=str(example_file()), load_ui=False)
        context = bpy.context  # of the file that is open now
        context.view_layer.update()
        view.frame(context, view.corners_of(suit_objects(context.scene)))


CLASSES = (AddToSuit, RemoveFromSuit, LeaveOut, OpenExample)
