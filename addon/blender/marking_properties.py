"""What a maker enters for marks without a cut: on curves, which are rows, and on empties."""

import bpy
from bpy.props import BoolProperty, EnumProperty, IntProperty, StringProperty

from .choices import CORNERS, LIES, MARKINGS
from .fields import a_length, foam_changed


class FoamwrightMarking(bpy.types.PropertyGroup):
    """The marks that an object sets."""

    kind: EnumProperty(
        update=foam_changed, name="Marks", description="What is marked on the foam here",
        items=(("NONE", "No Marks", "An ordinary object"), *MARKINGS))
    count: IntProperty(
        update=foam_changed, name="Count",
        description="How many stand in each row; 0: as many as come nearest to the spacing",
        min=0, soft_max=50, max=1000)
    spacing: a_length("Spacing", "About how far apart they stand in a row", "25 mm")
    first: a_length("Start", "How far the first is from the start of the line", "0")
    last: a_length("End", "How far the last is from the end of the line", "0")
    inset: a_length("Beside the Line", "How far beside the line they stand, inward of a rim; less "
                                       "than 0: on the other side", "on it")
    length: a_length("Size", "Diameter, or the length of a slot or patch along the row", "a point")
    width: a_length("Width", "Width of a strip, or of a slot or patch across its row",
                    "as the size; of a strip 15 mm")
    stock: StringProperty(
        update=foam_changed, name="Foam", description="Foam that circles or a strip are cut from, "
        "such as eva-2. Empty: that of the piece")
    lies: EnumProperty(update=foam_changed, name="Strip Lies",
                       description="Where a strip lies on the foam", items=LIES)
    corners: EnumProperty(update=foam_changed, name="Corners",
                          description="How two strips meet at a corner of the line", items=CORNERS)
    mirrored: BoolProperty(
        update=foam_changed, name="Both Sides",
        description="Also set them at the mirror image, on the other side of the wearer")


LENGTHS = ("spacing", "first", "last", "inset", "length", "width")

