"""What a maker enters for one object, and what is kept on it."""

import bpy
from bpy.props import (
    BoolProperty,
    EnumProperty,
    FloatVectorProperty,
    PointerProperty,
    StringProperty,
)

from ..core.stock import shipped
from .choices import FINISHES, JOINS, MARKS, SIDES
from .fields import foam_changed
from .finishes import WIDTH
from .marking_properties import FoamwrightMarking
from .wearer import AUTO, PLACES


def _stock_names(self, context, text):
    return [(name, stock.title) for name, stock in shipped().items()]


STOCK = dict(update=foam_changed, name="Foam", search=_stock_names, search_options={"SUGGESTION"})
THICKNESS = dict(update=foam_changed, name="Thickness")


def _kept(what: str):
    return PointerProperty(
        type=bpy.types.Curve, name=f"Kept {what.title()}", options={"HIDDEN"},
        description=f"Curve that remembers where the {what} ran, in the object's own space")


class FoamwrightObject(bpy.types.PropertyGroup):
    """What differs on one object of the suit."""

    include: BoolProperty(
        update=foam_changed, name="Part of the Suit",
        description="Make this object of foam. While no object is chosen, the selected ones count")
    leave_out: BoolProperty(
        name="Left Out",
        description="Never make this object of foam, even when it is selected: for the body the "
                    "armour is worn on, props and references")
    body: BoolProperty(
        name="Wearer's Body", options={"HIDDEN"},
        description="This object is the body the suit is worn on, or a part of it")
    stock: StringProperty(
        description="Foam of this object, if another than the suit's", **STOCK)
    thickness: StringProperty(
        description="Thickness of this object's foam with its unit, such as 5 mm or 1/4 in. "
                    "Empty: as the foam says", **THICKNESS)
    side: EnumProperty(
        name="Sculpt Is",
        description="Which face of the foam this object's surface stands for",
        items=(("AUTO", "As the Suit", "As its Solidify modifier says, else as the suit"),
               *SIDES))
    rests: EnumProperty(
        update=foam_changed, name="Lies On",
        description="Whether this object is glued on the face of another",
        items=(("AUTO", "By Contact", "On what it touches with most of its face"),
               ("SELF", "Nothing", "A piece by itself, whatever it touches"),
               ("OBJECT", "An Object", "On the object named")))
    lies_on: PointerProperty(
        type=bpy.types.Object, update=foam_changed, name="Base",
        description="The object that this one is glued on",
        poll=lambda self, item: item.type == "MESH" and item is not self.id_data)
    worn: EnumProperty(
        update=foam_changed, name="Worn On", items=PLACES, default=AUTO,
        description="Part of the body this object goes on, to tell whether its size can be right "
                    "and whether it can be put on")
    kept_seams: _kept("seams")
    kept_trenches: _kept("trenches")
    kept_scores: _kept("score lines")
    kept_matrix: FloatVectorProperty(
        name="Kept Matrix", description="Where the object stood when its lines were kept, row by "
                                        "row", size=16, options={"HIDDEN"})
    guide: EnumProperty(
        update=foam_changed, name="Line",
        description="What the maker does along this curve, where it is a line drawn on a sculpt",
        items=(("NONE", "No Line", "An ordinary curve"), *MARKS))
    join: EnumProperty(
        update=foam_changed, name="Held By",
        description="What holds the foam together along this line, where it is a seam",
        items=JOINS)
    finish: EnumProperty(
        update=foam_changed, name="Finish",
        description="How the seam along this line looks from outside, where it is one",
        items=FINISHES)
    finish_width: StringProperty(update=foam_changed, **WIDTH)
    marking: PointerProperty(
        type=FoamwrightMarking, name="Marking", description="Marks without a cut that it sets")
    proposed: StringProperty(
        name="Proposed", options={"HIDDEN"},
        description="What this line is proposed for, until it is accepted; empty on other lines")
    piece: StringProperty(
        name="Piece", description="Code of the piece this object shows flat; empty on a sculpt",
        options={"HIDDEN"})
    laid: FloatVectorProperty(
        name="Laid", description="Where the flat piece was laid, row by row", size=16,
        options={"HIDDEN"})
    source: PointerProperty(
        name="Sculpt", description="Object of the sculpt that the flat piece comes from",
        type=bpy.types.Object, options={"HIDDEN"})
