"""Names of the kinds of marks, sides and faces."""

SEAM, TRENCH, SCORE = 1, 2, 4  # bit flags of a marked edge
SMOOTH = 8  # a further flag: the edge is part of a line that was cut in, smooth as it is
OUTER, MIDDLE, INNER = "outer", "middle", "inner"  # which face of the foam the sculpt is
REFUSE, BUTT_LINE = "refuse", "butt-line"  # what becomes of a piece larger than a mat
HALF, THIRD = "half", "third"  # sizes of a mock-up
FRONT, BACK = "front", "back"  # faces of a flat piece: front is the outside of the suit
FREE, QUARTER, GRAIN = "free", "quarter", "grain"  # how pieces may be turned on a mat
BUTT, OVERLAP, LAID_ON, HOOK, STRAP, SPACER = (  # what a seam or a face is held by
    "butt", "overlap", "laid-on", "hook-and-loop", "strap", "spacer")
JOINS = ("", BUTT, OVERLAP, HOOK, STRAP, SPACER)  # of a marked edge, by number; "": not chosen
REMOVABLE = (HOOK, STRAP)  # undone to take the suit off
JOIN_BIT = 16  # in the flags of a marked edge, the number of its join stands from this bit on
FLUSH, EXAGGERATED, RECESSED = FINISHES = ("flush", "exaggerated", "recessed")  # of seams
FINISH_BIT = 256  # in the flags of a marked edge, the number of its finish stands from this bit on
PLANNED, CUT, GLUED = STATES = ("planned", "cut", "glued")  # how far a piece is made
OUTSIDE, INSIDE = "outside", "inside"  # from where a seam is pressed
APART, MIRRORED, MATES = "apart", "mirrored", "mates"  # what is kept together on one mat
