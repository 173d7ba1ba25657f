"""Names of the kinds of marks, sides and faces."""

SEAM, TRENCH, SCORE = 1, 2, 4  # bit flags of a marked edge
SMOOTH = 8  # a further flag: the edge is part of a line that was cut in, smooth as it is
OUTER, MIDDLE, INNER = "outer", "middle", "inner"  # which face of the foam the sculpt is
REFUSE, BUTT_LINE = "refuse", "butt-line"  # what becomes of a piece larger than a mat
HALF, THIRD = "half", "third"  # sizes of a mock-up
FRONT, BACK = "front", "back"  # faces of a flat piece: front is the outside of the suit
FREE, QUARTER, GRAIN = "free", "quarter", "grain"  # how pieces may be turned on a mat
APART, MIRRORED, MATES = "apart", "mirrored", "mates"  # what is kept together on one mat
