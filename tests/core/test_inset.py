"""Areas made smaller all round."""

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from addon.core.inset import inset


def test_a_square_with_a_hole_by_hand():
    """40 mm wide with a hole of 10: 3 mm in, 34 wide, and the hole 16 wide with round corners."""
    square = shapely.box(0, 0, 40, 40).difference(shapely.box(15, 15, 25, 25))
    left = inset(square, 3.0)
    hole = 10 * 10 + 4 * 10 * 3.0 + 3.1416 * 3.0**2
    assert left.area == pytest.approx(34 * 34 - hole, abs=0.3)  # circles of few corners
    assert inset(square, 20.1).is_empty


def test_what_is_no_area_is_dropped():
    spiked = shapely.make_valid(Polygon([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0), (-5, -5)]))
    assert spiked.geom_type == "GeometryCollection"
    assert inset(spiked, 1.0).equals(shapely.box(1, 1, 9, 9))


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=9),
       st.floats(0.1, 10.0))
def test_what_is_left_keeps_its_distance(corners, by):
    area = shapely.make_valid(Polygon(corners))
    left = inset(area, by)
    assert left.area <= area.area + 1e-9
    for point in shapely.get_coordinates(left)[:50]:
        assert area.boundary is None or area.boundary.distance(Point(point)) > 0.98 * by
