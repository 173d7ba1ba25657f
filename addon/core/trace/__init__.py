"""Lines on the sculpt that follow the surface and not its triangles."""

from .lay import lay
from .line import SurfaceLine, shortest, through
from .surface import Surface

__all__ = ["Surface", "SurfaceLine", "lay", "shortest", "through"]
