"""Step 5: start codes and letters anew."""

import bpy
from bpy.props import EnumProperty

from .. import printed
from ..choices import MADE
from .base import FoamOperator


class ForgetPrinted(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.forget_printed"
    bl_label = "Forget Earlier Templates"
    bl_description = ("Give all pieces and seams new codes and letters with the next templates, as "
                      "if none had been printed. Templates you have no longer match then")
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        return bool(getattr(context.scene, printed.PROPERTY).record)

    def run(self, context):
        printed.forget(context.scene)


class SetMade(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.set_made"
    bl_label = "Set All Pieces"
    bl_description = ("Say of all pieces how far they are made. After a change of the design the "
                      "plan tells what to do with what is cut or glued")
    bl_options = {"REGISTER", "UNDO"}

    state: EnumProperty(name="Made", description="How far the pieces are made", items=MADE)

    @classmethod
    def poll(cls, context):
        if getattr(context.scene, printed.PROPERTY).pieces:
            return True
        cls.poll_message_set("Write the templates first")
        return False

    def run(self, context):
        items = getattr(context.scene, printed.PROPERTY).pieces
        before = [item.state for item in items]
        for item in items:
            item.state = self.state
        return before != [item.state for item in items]


CLASSES = (ForgetPrinted, SetMade)
