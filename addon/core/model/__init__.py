"""Every record that passes between stages. No algorithms live here.

Lengths are mm and angles radians. Arrays are float64 or int64 and read-only.
The flat of a piece is seen from the front: outside face of the foam up, so a
counter-clockwise outline has the foam on its left. A fold is the angle between
the outward normals of two faces: 0 flat, convex positive, concave negative.
"""

from .frozen import Frozen
from .kinds import (
    APART,
    BACK,
    BUTT_LINE,
    FREE,
    FRONT,
    GRAIN,
    HALF,
    INNER,
    MATES,
    MIDDLE,
    MIRRORED,
    OUTER,
    QUARTER,
    REFUSE,
    SCORE,
    SEAM,
    SMOOTH,
    THIRD,
    TRENCH,
)
from .pattern import Glance, Pattern, Placement, Sheet, Step, Tape
from .piece import Bend, Fold, Gauge, Mate, Notch, Piece, PieceEdge
from .printed import Drawn, Printed, PrintedMate, PrintedPiece
from .rebuilt import Rebuilt, RebuiltMate, RebuiltPiece, RebuiltTrench
from .region import Border, Cut, Layer, Line, Region, Seam, Uncut
from .rod import Rod, RodEnd, RodLine
from .sculpt import Guide, Offcut, Sculpt, SculptObject, Settings
from .verdict import Demand, Ease, Flat, Verdict

__all__ = (
    "APART", "BACK", "BUTT_LINE", "Bend", "Border", "Cut", "Demand", "Drawn", "Ease", "FREE",
    "FRONT", "Flat", "Fold", "Frozen", "GRAIN", "Gauge", "Glance", "Guide", "HALF", "INNER",
    "Layer", "Line", "MATES", "MIDDLE", "MIRRORED", "Mate", "Notch", "OUTER", "Offcut",
    "Pattern", "Piece", "PieceEdge", "Placement", "Printed", "PrintedMate", "PrintedPiece",
    "QUARTER", "REFUSE", "Rebuilt", "RebuiltMate", "RebuiltPiece", "RebuiltTrench", "Region",
    "Rod", "RodEnd", "RodLine", "SCORE", "SEAM", "SMOOTH", "Sculpt", "SculptObject", "Seam",
    "Settings", "Sheet", "Step", "THIRD", "TRENCH", "Tape", "Uncut", "Verdict",
)
