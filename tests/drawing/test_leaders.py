"""Spots for words round a piece."""

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from addon.export.labels import Space
from addon.export.leaders import Leaders

# The second grows, 90 mm wide, into more than one polygon in GEOS 3.14.
SHAPES = {
    "square": [(0, 0), (50, 0), (50, 50), (0, 50)],
    "sliver": [(0, 2.49), (36.08, 54.59), (34.64, 54.3), (33.19, 54.05), (31.73, 53.84)],
}


@pytest.mark.parametrize("name", SHAPES)
def test_spots_stand_round_a_piece_at_growing_distances(name):
    body = Polygon(SHAPES[name])
    free = Space(body.buffer(200.0).difference(body))
    spots = Leaders(body, Space(body), free).round_about()
    away = shapely.distance(body, shapely.points(spots))
    assert len(spots) > 100
    assert away.min() > 5.0 and 120.0 < away.max() < 130.1
    assert (np.diff(np.round(away)) >= -3.0).all()  # a ring is of chords: a little nearer between
    turn = np.arctan2(*(spots[away > 100.0] - shapely.get_coordinates(body.centroid)).T)
    assert np.diff(np.sort(turn)).max() < 0.2  # on all sides
