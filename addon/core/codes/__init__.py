"""The codes of pieces and letters of mates: those on templates already printed, and fresh ones.

    letters  the row of letters
    place    where a piece lies on the sculpt
    match    which pieces and seams were there before
    give     give_codes: a code for every region, a letter for every seam that had one
"""

from .give import give_codes, stems
from .letters import letter
from .match import seam_curve
from .place import place

__all__ = ["give_codes", "letter", "place", "seam_curve", "stems"]
