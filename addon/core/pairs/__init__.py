"""Repeats and mirror images: printed once, cut as often as needed, and lettered alike."""

from .carry import apply_pairs
from .congruence import Outline, folds_agree, marks_agree, rigid
from .find import Match, find_pairs

__all__ = ["Match", "Outline", "apply_pairs", "find_pairs", "folds_agree",
           "marks_agree", "rigid"]
