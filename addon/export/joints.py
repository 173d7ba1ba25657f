"""Where the pages of a template that is larger than a page meet: no words stand there."""

from __future__ import annotations

import shapely

from ..core.model import Pattern, Sheet
from ..core.nest import tile_window
from .labels import CLEAR
from .pages import page_marks, tile_sheets


class Joints:
    """The pages of one template in the coordinates of one of them, `sheet`.

    windows: the part of the template that each page is responsible for.
    """

    def __init__(self, sheet: Sheet, pattern: Pattern):
        self.windows: list[shapely.Geometry] = []
        marks = []
        (here,) = sheet.placements
        for other in tile_sheets(pattern, sheet.tile[0]):
            shift = here.offset - other.placements[0].offset
            low, high = (tile_window(other, pattern.settings)[i:i + 2] + shift for i in (0, 2))
            self.windows.append(shapely.box(*low, *high))
            drawn = page_marks(other, pattern).moved(shift)
            marks += [shapely.LineString(stroke.points) for stroke in drawn.strokes
                      if stroke.layer in ("guide", "notch")]
        self.marks = shapely.union_all(marks).buffer(CLEAR, quad_segs=2)
        self.pages = shapely.union_all(self.windows)

    def clear(self, room: shapely.Geometry) -> shapely.Geometry:
        """The part of a region that is printed, off the joints and the crosses on them."""
        return room.intersection(self.pages).difference(self.marks)
