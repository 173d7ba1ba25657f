"""What a maker enters, kept in the .blend on scenes and objects, and what was found last.

Lengths are text such as "10 mm" or "3/8 in": foam is bought in its own unit,
whatever the scene's units are.
"""

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.model import APART, FREE, HALF, OUTER, REFUSE
from ..core.stock import DEFAULT
from .build_view import FoamwrightAside
from .choices import GROUP, MOCK_UPS, PAPERS, SIDES, SPLITS, TOGETHER, TURNS
from .fields import a_length, foam_changed
from .finding import FoamwrightFinding
from .finishes import WIDTH as FINISH_WIDTH
from .fitting import CLASSES as FIT_CLASSES
from .fitting import FoamwrightFit
from .maps import FoamwrightMap
from .marking_properties import FoamwrightMarking
from .object_properties import STOCK, THICKNESS, FoamwrightObject
from .rates import FoamwrightRates
from .reliefs import FoamwrightRelief
from .seams import FoamwrightSeams, FoamwrightSurface
from .sizes import FoamwrightSize
from .trial import CLASSES as TRIAL_CLASSES
from .trial import FoamwrightTrial
from .wearer import FoamwrightSurvey, FoamwrightWearer
from .wearing import CLASSES as WEARING_CLASSES
from .wearing import FoamwrightReach, FoamwrightTransport
from .widenings import FoamwrightWidening


def _show_again(self, context):
    from . import live

    live.redraw()


class FoamwrightScene(bpy.types.PropertyGroup):
    """What holds for the whole suit."""

    stock: StringProperty(
        description="Foam the suit is made of: a name from the list, or the path of a TOML file "
                    "that describes your own. Empty: your stock file from the preferences, "
                    f"else {DEFAULT}", **STOCK)
    thickness: StringProperty(
        description="Measured thickness of the foam with its unit, such as 9.2 mm or 3/8 in. "
                    "Empty: as the foam says", **THICKNESS)
    side: EnumProperty(
        name="Sculpt Is",
        description="Which face of the foam the sculpted surface stands for",
        items=SIDES, default=OUTER, update=foam_changed)
    scale: FloatProperty(
        name="Sculpt Scale",
        description="Factor on the size of the sculpt before thickness is counted; "
                    "templates are always printed 1:1",
        default=1.0, min=0.001, soft_min=0.1, max=1000.0, soft_max=10.0, precision=3,
        update=foam_changed)
    paper: EnumProperty(
        name="Paper",
        description="Paper the templates are printed on",
        items=(("PREFERENCES", "As in Preferences", "The paper chosen in the preferences"),
               *PAPERS))
    folder: StringProperty(
        name="Folder",
        description="Folder the templates are written to; files of the same names in it are "
                    "replaced. Empty: you are asked each time",
        subtype="DIR_PATH", options={"PATH_SUPPORTS_BLEND_RELATIVE"})
    fairing: StringProperty(
        name="Smoothing",
        description="Furthest a line that zigzags along the edges of the mesh is moved to become "
                    "smooth, with its unit, such as 0.5 mm. 0: cut it as it is marked")
    web: FloatProperty(
        name="Left Under Trenches",
        description="Foam that a trench leaves uncut, in percent of the thickness: less folds "
                    "more sharply, more is stronger",
        subtype="PERCENTAGE", default=30.0, min=5.0, max=90.0, precision=0)
    score_depth: FloatProperty(
        name="Score Depth",
        description="How deep score lines are cut, in percent of the thickness",
        subtype="PERCENTAGE", default=40.0, min=5.0, max=90.0, precision=0)
    lap: a_length("Overlap", "How far one piece of an overlap reaches over the other", "20 mm")
    patch_length: a_length("Patch Length", "Length of a patch of hook-and-loop", "50 mm")
    patch_width: a_length("Patch Width", "Width of a patch of hook-and-loop", "25 mm")
    webbing: a_length("Webbing", "Width of the webbing of straps", "25 mm")
    tail: a_length("Strap End", "Length of strap that is fixed on each side of a seam", "60 mm")
    slack: a_length("Strap Slack", "Length of strap that goes through the buckle", "120 mm")
    spacing: a_length("Spacing", "Furthest that two patches or straps are apart", "150 mm")
    finish_width: StringProperty(**FINISH_WIDTH)
    spacer: a_length("Spacer", "Height of a spacer between two pieces", "15 mm")
    contact: StringProperty(
        name="Contact",
        description="Furthest that a detail may float over another object, or sink into it, and "
                    "still be glued on it, with its unit, such as 1.5 mm")
    notch_spacing: StringProperty(
        name="Notch Distance",
        description="About how far apart the notches stand along a seam, with its unit, such as "
                    "70 mm or 3 in")
    margin: StringProperty(
        name="Page Margin",
        description="Border of the paper that your printer leaves white, with its unit, such as "
                    "10 mm or 0.5 in")
    overlap: StringProperty(
        name="Page Overlap",
        description="How far pages that show parts of one template overlap, with its unit, such "
                    "as 10 mm or 0.5 in")
    roll: StringProperty(
        name="Roll Width",
        description="Width of the paper where it comes off a roll, with its unit, such as 610 mm "
                    "or 36 in")
    allowance: StringProperty(
        name="Allowance",
        description="Templates on paper show a second line this far outside the cut line, with "
                    "its unit, such as 10 mm or 1/2 in: for foam that is trimmed when it has been "
                    "tried on. Empty: none")
    gauges: BoolProperty(
        name="Forming Gauges",
        description="Also print cards that show to what curve a piece is bent or heated: its inner "
                    "face along the crosses on its template",
        default=True)
    back_side: BoolProperty(
        name="Back Sides",
        description="Also draw what is cut on the back of pieces, mirrored, so that it can be "
                    "laid on the piece when that is turned over")
    text_outlines: BoolProperty(
        name="Words as Outlines",
        description="Draw the words in SVG and DXF files as outlines of their letters, for cutters "
                    "that lack the typeface or pass over words")
    mock_up: EnumProperty(
        name="Mock-Up",
        description="How large a mock-up in card is, to try shape and fit before foam is cut",
        items=MOCK_UPS, default=HALF)
    card: StringProperty(
        name="Card Thickness",
        description="Measured thickness of the card for a mock-up, with its unit, such as 1.5 mm "
                    "or 1/16 in")
    offcuts: StringProperty(
        name="Offcuts",
        description="SVG drawing with the outlines of leftover foam at true size, which is used "
                    "before new mats. A group named like a foam holds that foam's. Empty: none",
        subtype="FILE_PATH", options={"PATH_SUPPORTS_BLEND_RELATIVE"})
    split: EnumProperty(
        name="Large Pieces",
        description="What becomes of a piece that no mat of its foam can take",
        items=SPLITS, default=REFUSE, update=foam_changed)
    turns: EnumProperty(
        name="Turn Pieces", description="How pieces may be turned on a mat",
        items=TURNS, default=FREE, update=foam_changed)
    together: EnumProperty(
        name="Keep Together",
        description="What comes from one mat where one takes it, so that its colour and grain "
                    "are alike",
        items=TOGETHER, default=APART)
    holes: BoolProperty(
        name="Use Holes", description="Small pieces may lie in the holes of large ones",
        default=True)
    kerf: StringProperty(
        update=foam_changed, name="Kerf",
        description="Width that a laser or another cutter takes from the foam, with its unit, such "
                    "as 0.8 mm. Cut lines on mats are moved outward by half of it. Empty: as the "
                    "foam says, 0 for a knife")
    mat_gap: StringProperty(
        update=foam_changed, name="Mat Gap",
        description="Least distance of two pieces on a mat with its unit, such as 5 mm or 1/4 in. "
                    "Empty: as the foam says")
    mat_margin: StringProperty(
        update=foam_changed, name="Mat Margin",
        description="Kept free along the rim of mats and offcuts, with its unit, such as 10 mm or "
                    "1/2 in. Empty: half the gap")
    nest_seconds: FloatProperty(
        name="Layout Time",
        description="About how long to look for a better layout, in seconds for each mat. More "
                    "may save a mat; press Enter meanwhile to go on with the best one so far",
        default=4.0, min=0.0, soft_max=120.0, max=3600.0, precision=0)
    seed: IntProperty(
        name="Layout",
        description="Another number gives another layout of the pieces on the mats",
        default=1, min=0)
    title: StringProperty(
        name="Title",
        description="Name of the suit, printed on every sheet",
        default="Foamwright pattern")
    overlay: BoolProperty(
        name="Show on the Sculpt",
        description="Draw on the sculpt what the foam says of it, and keep that up to date while "
                    "you work. The mesh itself is not changed",
        update=_show_again)
    overlay_shows: EnumProperty(
        name="Show",
        description="What is drawn on the sculpt besides seams, trenches and score lines",
        items=(("PIECES", "Pieces", "Tint every piece and write its code on it, and the letter "
                                    "of the mates on every seam"),
               ("UTILISATION", "Strain", "How much of what the heated foam takes is asked of it, "
                                         "place by place: 1 is all of it"),
               ("TRIAL", "Build", "How far the suit came out beside the sculpt when the build was "
                                  "tried, place by place"),
               ("FIT", "Fit", "How much air there is between the foam and the body, as it was when "
                              "the fit was checked, place by place"),
               ("LINES", "Lines", "Lines and letters alone")),
        update=_show_again)
    overlay_opacity: FloatProperty(
        name="Opacity", description="How strongly the sculpt is covered; less in Edit Mode",
        subtype="FACTOR", default=0.9, min=0.1, max=1.0, update=_show_again)
    wearer: PointerProperty(
        type=FoamwrightWearer, name="Wearer", description="Measures of the one who wears the suit")
    surveys: CollectionProperty(
        type=FoamwrightSurvey, name="Objects", description="What a look over the sculpt found")
    findings: CollectionProperty(type=FoamwrightFinding)
    finding: IntProperty(name="Finding", description="Click a finding to see it on the sculpt")
    uv_length: StringProperty(
        name="Map Size",
        description="Length that one unit of the UV map stands for, with its unit, such as "
                    "1500 mm or 60 in: print the painted image that wide and high. Empty: just "
                    "enough for all pieces")
    follow: BoolProperty(
        name="Follow Selection",
        description="Selecting flat pieces in Object Mode selects their faces on the sculpt, to "
                    "be seen in its Edit Mode. Selecting faces in Edit Mode shades their flat "
                    "pieces",
        default=True)
    flats: PointerProperty(
        name="Flat Preview", description="Collection that holds the pieces laid flat",
        type=bpy.types.Collection)
    summary: StringProperty()  # of the last check, a sentence; empty before the first one
    seams: PointerProperty(
        type=FoamwrightSeams, name="Suggested Seams", description="Seams proposed for the suit")
    fit: PointerProperty(
        type=FoamwrightFit, name="Fit", description="The suit beside its wearer")
    reach: PointerProperty(
        type=FoamwrightReach, name="Movement", description="How far the wearer can move")
    transport: PointerProperty(
        type=FoamwrightTransport, name="Box", description="The parts in a box for transport")
    girth_heights: StringProperty(
        name="Girths At", description="Heights over the wearer's soles at which girths are told as "
                                      "well, with their units, such as 120 cm, 95 cm")
    rates: PointerProperty(
        name="Rates", description="How fast you work, for the time that the plan tells",
        type=FoamwrightRates)
    prices: StringProperty(
        name="Prices", description="What one costs, for the costs in the plan, such as eva-10=24, "
                                   "cement=18, blade=0.5, webbing=1.2: a mat of a foam, a litre "
                                   "of cement, a blade, a metre")
    currency: StringProperty(
        name="Currency", description="What stands after a price, such as EUR", maxlen=8)
    trial: PointerProperty(
        type=FoamwrightTrial, name="Trial Build", description="The suit put together in thought")
    aside: CollectionProperty(
        name="Put Aside", description="What is hidden while the build is looked at, to be shown "
                                      "again", type=FoamwrightAside)
    sizes: CollectionProperty(
        name="Sizes", description="Sizes in which the suit is written in one go",
        type=FoamwrightSize)
    size: IntProperty(name="Chosen Size", description="The size whose measures are shown",
                      options={"HIDDEN"})
    widenings: CollectionProperty(
        name="Widened Seams", description="Seams at which the suit is made wider or narrower",
        type=FoamwrightWidening)
    reliefs: CollectionProperty(
        name="Relief Cuts", description="Cuts proposed for a piece that fails",
        type=FoamwrightRelief)
    relief: IntProperty(name="Relief Cut", description="The proposal that is shown",
                        options={"HIDDEN"})
    relief_piece: StringProperty(
        name="Relieved Piece", description="Code of the piece that the relief cuts are for",
        options={"HIDDEN"})


_CLASSES = (FoamwrightRates, FoamwrightWearer, FoamwrightSurvey, FoamwrightFinding,
            FoamwrightRelief, FoamwrightSurface, FoamwrightSeams, FoamwrightSize, FoamwrightMap,
            FoamwrightWidening, FoamwrightAside, *TRIAL_CLASSES, *FIT_CLASSES, *WEARING_CLASSES,
            FoamwrightMarking, FoamwrightScene, FoamwrightObject)


def is_registered() -> bool:
    """Does Blender know the properties at the moment?"""
    return hasattr(bpy.types.Scene, GROUP)


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)
    setattr(bpy.types.Scene, GROUP, PointerProperty(type=FoamwrightScene))
    setattr(bpy.types.Object, GROUP, PointerProperty(type=FoamwrightObject))


def unregister() -> None:
    delattr(bpy.types.Object, GROUP)
    delattr(bpy.types.Scene, GROUP)
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
