"""Masks of pixels as rings."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays
from shapely.geometry import Polygon

from addon.export.areas import areas, outlines

MASKS = arrays(bool, array_shapes(min_dims=2, max_dims=2, max_side=12), elements=st.booleans())


@settings(max_examples=60)
@given(MASKS)
def test_rings_run_round_what_the_mask_covers(mask):
    """Against the union of the pixels as GEOS finds it."""
    rows, columns = np.nonzero(mask)
    pixels = shapely.union_all(shapely.box(columns, rows, columns + 1, rows + 1))
    found = shapely.Polygon()
    for ring in outlines(mask):
        assert len(np.unique(ring, axis=0)) == len(ring)
        found = found.symmetric_difference(Polygon(ring))
    assert found.equals(pixels)
    turned = [Polygon(ring).exterior.is_ccw for ring in outlines(mask)]
    assert sum(turned) >= len(shapely.get_parts(pixels)) > 0 or not mask.any()


def test_a_ring_of_pixels_has_a_hole_and_an_island_its_own():
    mask = np.zeros((30, 30), dtype=bool)
    mask[2:28, 2:28] = True
    mask[6:24, 6:24] = False
    mask[10:20, 10:20] = True
    mask[13:17, 13:17] = False
    found = sorted((len(rings), Polygon(rings[0], rings[1:]).area) for rings in areas(mask))
    assert found == [(2, 100.0 - 16.0), (2, 26.0**2 - 18.0**2)]


def test_stairs_become_a_slope_and_specks_go():
    mask = np.zeros((40, 50), dtype=bool)
    mask[:, :40] = np.tri(40, dtype=bool)
    mask[10, 48] = True
    ((slope,),) = areas(mask)
    assert len(slope) == 4 and {(0.0, 0.0), (0.0, 40.0), (40.0, 40.0)} <= set(map(tuple, slope))
    assert not areas(np.eye(5, dtype=bool))  # pixels that share a corner only
