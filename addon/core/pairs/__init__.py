"""Repeats and mirror images: printed once, cut as often as needed, and lettered alike."""

from .carry import apply_pairs
from .find import Match, find_pairs

__all__ = ["Match", "apply_pairs", "find_pairs"]
