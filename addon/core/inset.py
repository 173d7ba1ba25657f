"""Areas made smaller all round, by taking a strip along their outlines away.

Not by `buffer` with a negative distance: on some areas with holes that ends the whole program (a
fault of GEOS 3.14, which shapely 2.1 brings).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_POLYGON = 3  # shapely's number for the kind


def inset(area: BaseGeometry, by: float) -> BaseGeometry:
    """What of an area lies at least `by` mm inside its outlines. Lines and points in it, as
    making an area valid leaves them, are dropped."""
    import shapely

    parts = shapely.get_parts(shapely.get_parts(area))
    whole = shapely.multipolygons(parts[shapely.get_type_id(parts) == _POLYGON])
    return whole.difference(whole.boundary.buffer(by))
