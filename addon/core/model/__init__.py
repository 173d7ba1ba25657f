"""Every record that passes between stages. No algorithms live here.

Lengths are mm and angles radians. Arrays are float64 or int64 and read-only.
The flat of a piece is seen from the front: outside face of the foam up, so a
counter-clockwise outline has the foam on its left. A fold is the angle between
the outward normals of two faces: 0 flat, convex positive, concave negative.
"""

from .finish import EdgeFinish, Finish, finish_numbers, join_numbers
from .fitted import Body, Fitted, GirthFit, PieceFit, Spacer
from .frozen import Frozen
from .join import Join, JoinSizes, Move, Part
from .kinds import (
    APART,
    BACK,
    BUTT,
    BUTT_LINE,
    CUT,
    EXAGGERATED,
    FINISH_BIT,
    FINISHES,
    FLUSH,
    FREE,
    FRONT,
    GLUED,
    GRAIN,
    HALF,
    HOOK,
    INNER,
    INSIDE,
    JOIN_BIT,
    JOINS,
    LAID_ON,
    MATES,
    MIDDLE,
    MIRRORED,
    OUTER,
    OUTSIDE,
    OVERLAP,
    PLANNED,
    QUARTER,
    RECESSED,
    REFUSE,
    REMOVABLE,
    SCORE,
    SEAM,
    SMOOTH,
    SPACER,
    STATES,
    STRAP,
    THIRD,
    TRENCH,
)
from .marking import CIRCLE, DRILL, HOLE, MARKINGS, PATCH, RIVET, Marking, PointMark
from .pattern import Block, Glance, Pattern, Placement, Sheet, Step, Tape
from .piece import Bend, Fold, Gauge, Laid, Mate, Notch, Piece, PieceEdge, Place, Tick
from .printed import Drawn, Printed, PrintedMate, PrintedPiece
from .rates import Price, Rates
from .reach import Meeting, Movement, Reach, Worn
from .rebuilt import Rebuilt, RebuiltMate, RebuiltPiece, RebuiltTrench
from .region import Border, Cut, Layer, Line, Region, Seam, Uncut
from .rod import Rod, RodEnd, RodLine
from .sculpt import Guide, Offcut, Sculpt, SculptObject, Settings, Size
from .strip import BUTTED, CORNERS, FACE, LIES, MITRE, RIM, Strip, StripEnd, StripLine, StripWay
from .transport import Packed, Transport
from .verdict import Demand, Ease, Flat, Verdict
from .widening import Widened, Widening

__all__ = (
    "APART", "BACK", "BUTT", "BUTTED", "BUTT_LINE", "Bend", "Block", "Body", "Border", "CIRCLE",
    "CORNERS", "CUT", "Cut", "DRILL", "Demand", "Drawn", "EXAGGERATED", "Ease", "EdgeFinish",
    "FACE", "FINISHES", "FINISH_BIT", "FLUSH", "FREE", "FRONT", "Finish", "Fitted", "Flat",
    "Fold", "Frozen", "GLUED", "GRAIN", "Gauge", "GirthFit", "Glance", "Guide", "HALF", "HOLE",
    "HOOK", "INNER", "INSIDE", "JOINS", "JOIN_BIT", "Join", "JoinSizes", "LAID_ON", "LIES",
    "Laid", "Layer", "Line", "MARKINGS", "MATES", "MIDDLE", "MIRRORED", "MITRE", "Marking",
    "Mate", "Meeting", "Move", "Movement", "Notch", "OUTER", "OUTSIDE", "OVERLAP", "Offcut",
    "PATCH", "PLANNED", "Packed", "Part", "Pattern", "Piece", "PieceEdge", "PieceFit", "Place",
    "Placement", "PointMark", "Price", "Printed", "PrintedMate", "PrintedPiece", "QUARTER",
    "RECESSED", "REFUSE", "REMOVABLE", "RIM", "RIVET", "Rates", "Reach", "Rebuilt",
    "RebuiltMate", "RebuiltPiece", "RebuiltTrench", "Region", "Rod", "RodEnd", "RodLine",
    "SCORE", "SEAM", "SMOOTH", "SPACER", "STATES", "STRAP", "Sculpt", "SculptObject", "Seam",
    "Settings", "Sheet", "Size", "Spacer", "Step", "Strip", "StripEnd", "StripLine", "StripWay",
    "THIRD", "TRENCH", "Tape", "Tick", "Transport", "Uncut", "Verdict", "Widened", "Widening",
    "Worn", "finish_numbers", "join_numbers",
)
