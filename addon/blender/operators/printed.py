"""Step 5: start codes and letters anew."""

import bpy

from .. import printed
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


CLASSES = (ForgetPrinted,)
