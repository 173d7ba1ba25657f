"""Step 2, further: shapes that stand out of the sculpt become pieces that are glued on."""

from __future__ import annotations

import bpy
from bpy.props import StringProperty

from ...core.stock import find_stock
from .. import raised, repairs
from ..own import require_own
from ..settings import read_settings
from .remedy import Remedy, elements


class DetachRaised(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.detach_raised"
    bl_label = "Detach Raised Shapes"
    bl_description = ("Make an object of every shape that stands out with a step all round, glued "
                      "on what then goes on smoothly below it")
    bl_options = {"REGISTER", "UNDO"}
    on_objects = True
    by_number = "faces"

    stock: StringProperty(
        name="Foam", description="Foam of what is glued on, such as eva-6. Empty: the one that is "
                                 "nearest to the height of the step")

    def repair(self, context, items, places):
        settings, made = read_settings(context.scene), 0
        if self.stock:
            find_stock(self.stock)  # says what is wrong with the name
        for item in items:
            faces = elements(places, item.name, "faces")
            if places and not faces:
                continue
            repairs.require_changeable(item, remakes=True)
            made += len(raised.detach(item, context.scene, settings, faces, self.stock))
        return made


class LeaveRaised(Remedy, bpy.types.Operator):
    bl_idname = "foamwright.leave_raised"
    bl_label = "Leave as Sculpted"
    bl_description = ("Keep this shape a part of the surface it is sculpted on; a look over the "
                      "sculpt does not tell of it again")
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}
    remakes = False
    by_number = "faces"

    def repair(self, context, items, places):
        require_own(items)
        return sum(raised.leave(item, elements(places, item.name, "faces")) for item in items)


CLASSES = (DetachRaised, LeaveRaised)
