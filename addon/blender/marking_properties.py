"""What a maker enters for marks without a cut: on curves, which are rows, and on empties."""

import bpy
from bpy.props import BoolProperty, EnumProperty, IntProperty, StringProperty

from . import changes
from .choices import CORNERS, LIES, MARKINGS


def _changed(self: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    changes.note()


def _length(name: str, what: str, usual: str):
    return StringProperty(name=name, update=_changed,
                          description=f"{what}, with its unit. Empty: {usual}")


class FoamwrightMarking(bpy.types.PropertyGroup):
    """The marks that an object sets."""

    kind: EnumProperty(
        update=_changed, name="Marks", description="What is marked on the foam here",
        items=(("NONE", "No Marks", "An ordinary object"), *MARKINGS))
    count: IntProperty(
        update=_changed, name="Count",
        description="How many stand in each row; 0: as many as come nearest to the spacing",
        min=0, soft_max=50, max=1000)
    spacing: _length("Spacing", "About how far apart they stand in a row", "25 mm")
    first: _length("Start", "How far the first is from the start of the line", "0")
    last: _length("End", "How far the last is from the end of the line", "0")
    inset: _length("Beside the Line", "How far beside the line they stand, inward of a rim; less "
                                      "than 0: on the other side", "on it")
    length: _length("Size", "Diameter, or the length of a slot or patch along the row", "a point")
    width: _length("Width", "Width of a strip, or of a slot or patch across its row",
                   "as the size; of a strip 15 mm")
    stock: StringProperty(
        update=_changed, name="Foam", description="Foam that circles or a strip are cut from, such "
        "as eva-2. Empty: that of the piece")
    lies: EnumProperty(update=_changed, name="Strip Lies",
                       description="Where a strip lies on the foam", items=LIES)
    corners: EnumProperty(update=_changed, name="Corners",
                          description="How two strips meet at a corner of the line", items=CORNERS)
    mirrored: BoolProperty(
        update=_changed, name="Both Sides",
        description="Also set them at the mirror image, on the other side of the wearer")


LENGTHS = ("spacing", "first", "last", "inset", "length", "width")

