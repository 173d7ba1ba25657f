"""Smooth lines: zigzags along mesh edges are faired once in space and carried to the flats."""

from .carry import border_map, curve, faired_lengths
from .spline import fair, zigzags

__all__ = ["border_map", "curve", "fair", "faired_lengths", "zigzags"]
