"""Lines on the sculpt that follow the surface and not its triangles."""

from .curve import fair_through
from .home import Surfaces
from .lay import lay, on_sculpt
from .line import SurfaceLine, needed, shortest, through
from .places import Anchors, Places
from .set_out import Stand, set_out
from .straight_on import straight_on
from .strip_ways import strip_ways
from .surface import Surface

__all__ = ["Anchors", "Places", "Stand", "Surface", "SurfaceLine", "Surfaces", "fair_through",
           "lay", "needed", "on_sculpt", "set_out", "shortest", "straight_on", "strip_ways",
           "through"]
