"""The lists a maker chooses from, as Blender's enum items, and the add-on's own names."""

from ..core.errors import ERROR, NOTE, WARNING
from ..core.model import (
    APART,
    BUTT,
    BUTT_LINE,
    BUTTED,
    CUT,
    EXAGGERATED,
    FACE,
    FLUSH,
    FREE,
    GLUED,
    GRAIN,
    HALF,
    HOOK,
    INNER,
    MATES,
    MIDDLE,
    MIRRORED,
    MITRE,
    OUTER,
    OVERLAP,
    PLANNED,
    QUARTER,
    RECESSED,
    REFUSE,
    RIM,
    SPACER,
    STRAP,
    THIRD,
)
from ..core.nest import ROLL

GROUP = "foamwright"  # property group on scenes and objects

UNITS = (
    ("mm", "Millimetres", "Lengths in millimetres"),
    ("in", "Inches", "Lengths in inches"),
)

PAPERS = (
    ("A4", "A4", "210 × 297 mm"),
    ("A3", "A3", "297 × 420 mm"),
    ("A2", "A2", "420 × 594 mm"),
    ("A1", "A1", "594 × 841 mm"),
    ("A0", "A0", "841 × 1189 mm"),
    ("Letter", "Letter", "8.5 × 11 in (215.9 × 279.4 mm)"),
    ("Tabloid", "Tabloid", "11 × 17 in (279.4 × 431.8 mm)"),
    (ROLL, "Roll", "Paper off a roll: each page as long as it needs to be"),
)

MOCK_UPS = (
    (HALF, "Half Scale", "Half the size of the suit"),
    (THIRD, "Third Scale", "A third of the size of the suit"),
)

SIDES = (
    (OUTER, "Outer Face", "The sculpt is what people see; the foam lies beneath it"),
    (MIDDLE, "Middle", "The sculpt runs through the middle of the foam"),
    (INNER, "Inner Face", "The sculpt is the body side; the foam lies on top of it"),
)

SPLITS = (
    (REFUSE, "Leave Out", "Leave the piece out of the mats and say so, to be parted by a seam"),
    (BUTT_LINE, "Part It", "Part it by straight cuts that are glued edge to edge"),
)

TURNS = (
    (FREE, "Freely", "Pieces lie on the mats as they fit best; along the grain on a foam whose "
                     "file says that it has one"),
    (QUARTER, "Quarter Turns", "Pieces are turned by 90° only"),
    (GRAIN, "Along the Grain", "Pieces stand upright or upside down, so that up on the suit is "
                               "along the mat's height"),
)

TOGETHER = (
    (APART, "Nothing", "Every piece lies where it fits best"),
    (MIRRORED, "Mirror Images", "A piece and its mirror image come from one mat"),
    (MATES, "Mates", "Pieces that are joined come from one mat two by two, those with the longest "
                     "seams first"),
)

MARKS = (
    ("SEAM", "Seam", "The foam is cut through here and glued edge to edge"),
    ("TRENCH", "Trench", "A V is cut part-way through, so that the foam folds here"),
    ("SCORE", "Score Line", "A shallow cut in the face that opens when it is heated"),
)

MARKINGS = (
    ("RIVET", "Rivets", "Centres of rivets, with the diameter of their domes"),
    ("HOLE", "Holes", "Holes or slots that are punched or cut out"),
    ("DRILL", "Drill Points", "Points to be drilled or pierced"),
    ("CIRCLE", "Circles", "Discs of foam that are laid on here"),
    ("PATCH", "Patches", "Patches of hook-and-loop that are glued on here"),
    ("STRIP", "Edge Strip", "A strip of foam along an open edge or a line"),
)

LIES = (
    (RIM, "Against the Edge", "It covers the edge of the foam along an open rim"),
    (FACE, "On the Face", "It is laid on the outside of the foam along the line"),
)

CORNERS = (
    (MITRE, "Mitred", "Both strips are cut at half the angle of a corner"),
    (BUTTED, "Butted", "At outer corners one strip runs on and the other ends square on it"),
)

JOINS = (
    (BUTT, "Glue", "The two edges are glued to each other"),
    (OVERLAP, "Overlap", "The upper piece reaches over the lower one and is glued on it"),
    (HOOK, "Hook-and-Loop", "The seam is not glued: patches of hook-and-loop hold it, so that the "
                            "suit comes apart here"),
    (STRAP, "Straps", "The seam is not glued: straps of webbing with a buckle hold it, so that "
                      "the suit comes apart here"),
    (SPACER, "Spacer", "The upper piece stands off the lower one on a spacer"),
)

FINISHES = (
    (FLUSH, "Flush", "The two outer edges meet, so that the seam is hardly seen"),
    (EXAGGERATED, "Exaggerated", "Both outer edges are chamfered, so that the seam is seen as a V"),
    (RECESSED, "Recessed", "Both outer edges are set back by a step, so that a groove runs along "
                           "the seam"),
)

SEVERITY_ICONS = {ERROR: "CANCEL", WARNING: "ERROR", NOTE: "INFO"}

# Which step found a finding, and what became of it: a remedy was done, or the elements it
# names have changed since.
SCULPT, CHECK, SUGGEST, TRIAL, FIT, REACH, TRANSPORT = STEPS = (
    "SCULPT", "CHECK", "SUGGEST", "TRIAL", "FIT", "REACH", "TRANSPORT")
OPEN, DONE, STALE = STATES = ("OPEN", "DONE", "STALE")

MADE = (
    (PLANNED, "Planned", "Not cut yet"),
    (CUT, "Cut", "Cut from the templates written last, and not glued"),
    (GLUED, "Glued", "Glued to its neighbours"),
)
