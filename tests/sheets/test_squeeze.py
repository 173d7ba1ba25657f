"""Layouts made better: convex parts, depths on a lattice, exact pushing, and fewer rectangles."""

import math

import numpy as np
import pytest
import shapely
import shapely.ops
from shapely import Polygon, affinity

from addon.core.nest.compact import compact
from addon.core.nest.convex import convex_parts, forms, simple
from addon.core.nest.depth import Depths
from addon.core.nest.pack import pack
from addon.core.nest.squeeze import Effort, Squeezer
from tests.sheets.conftest import blob, rectangle


def star(rng, radius, count=12):
    """An outline with deep bays, nowhere self-crossing."""
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    r = radius * rng.uniform(0.3, 1.0, count)
    return Polygon(np.stack([r * np.cos(t), r * np.sin(t)], axis=1))


def form_of(shape, angle=0.0):
    parts = convex_parts(shape)
    return forms(shape, [angle], max(map(len, parts)), parts)[0]


def lying(form, corner):
    return affinity.translate(form.shape, *corner)


@pytest.mark.parametrize("seed", range(6))
def test_convex_parts_are_convex_and_make_up_the_shape(seed):
    rng = np.random.default_rng(seed)
    shape = star(rng, 50.0, 5 + 4 * seed)
    if seed % 2:
        shape = shape.difference(shape.centroid.buffer(4.0))
    parts = [Polygon(part) for part in convex_parts(shape)]
    assert all(part.exterior.is_ccw for part in parts)
    assert all(part.convex_hull.area == pytest.approx(part.area, rel=1e-6) for part in parts)
    assert sum(part.area for part in parts) == pytest.approx(shape.area, rel=1e-9)
    assert shapely.union_all(parts).symmetric_difference(shape).area < 1e-6 * shape.area


def test_a_simpler_outline_covers_the_shape_and_hardly_more():
    shape = Polygon(blob(np.random.default_rng(3), 80.0, 400))
    plain = simple(shape, 0.1)
    assert len(plain.exterior.coords) < 150 and plain.buffer(1e-9).covers(shape)
    assert shape.buffer(0.21).covers(plain)
    assert simple(Polygon(rectangle(9, 9)), 0.1).equals(Polygon(rectangle(9, 9)))


@pytest.mark.parametrize("gap", [0.0, 3.0])
def test_depths_tell_where_shapes_overlap_as_shapely_does(gap):
    rng = np.random.default_rng(5)
    one, other = form_of(star(rng, 40.0)), form_of(star(rng, 30.0), 0.7)
    step = 4.0
    depth, row, column = Depths([one, other], gap, step).between(0, 1)
    seen = 0
    for r in range(0, depth.shape[0], 2):
        for c in range(0, depth.shape[1], 2):
            moved = lying(other, ((c - column) * step, (r - row) * step))
            if depth[r, c] == 0:  # free, but for what half a step may hide
                assert one.shape.buffer(gap / 2 - step / 2).distance(
                    moved.buffer(gap / 2 - step / 2)) > 0
            if depth[r, c] > 1.5:
                seen += 1
                assert one.shape.distance(moved) < gap or one.shape.intersects(moved)
    assert seen > 20
    back, r0, c0 = Depths([other, one], gap, step).between(0, 1)
    assert np.array_equal(back[::-1, ::-1] > 0, depth > 0)
    assert (r0, c0) == (depth.shape[0] - 1 - row, depth.shape[1] - 1 - column)


def test_squares_are_pushed_together_to_the_gap():
    square = form_of(Polygon(rectangle(10, 10)))
    start = np.array([(0.0, 0.0), (25.0, 1.0), (60.0, 2.0)])
    for _ in range(8):
        start, length = compact([square] * 3, start, 12.0, 1.0, 6.0)
    assert length == pytest.approx(32.0, abs=1e-4)
    assert np.sort(start[:, 0]) == pytest.approx([0.0, 11.0, 22.0], abs=1e-4)


def test_shapes_are_pushed_apart_exactly_or_what_is_missing_is_told():
    square = form_of(Polygon(rectangle(10, 10)))
    start = np.array([(0.0, 0.0), (8.0, 0.0), (15.0, 0.0)])
    corners, left = compact([square] * 3, start, 10.0, 1.0, 6.0, 33.0)
    assert left == pytest.approx(0.0, abs=1e-9)
    laid = [lying(square, corner) for corner in corners]
    assert min(laid[0].distance(laid[1]), laid[1].distance(laid[2])) >= 1.0
    assert compact([square] * 3, start, 10.0, 1.0, 6.0, 31.0)[1] == pytest.approx(1.0, abs=1e-3)


def test_a_cut_up_square_is_laid_into_one_again():
    # Four quarters, cut by lines that meet askew, on two rectangles: one of 104 mm takes them.
    whole = Polygon(rectangle(100, 100))
    cuts = [shapely.LineString([(20, -1), (70, 101)]), shapely.LineString([(-1, 60), (101, 30)])]
    halves = shapely.ops.split(whole, cuts[0]).geoms
    shapes = [part for half in halves for part in shapely.ops.split(half, cuts[1]).geoms]
    assert len(shapes) == 4
    effort = Effort(2e8)
    squeezer = Squeezer(shapes, [[0.0]] * 4, 0.0, 104.0, np.zeros(4, bool), effort)
    layout = squeezer.layout([0.0] * 4, [0, 0, 1, 1], [
        np.zeros(2) - shape.bounds[:2] for shape in shapes])
    found = squeezer.fewer(layout, 104.0, [(i,) for i in range(4)], 1, np.random.default_rng(1))
    assert set(found.bin) == {0} and squeezer.is_sound(found, 104.0)


def test_what_goes_together_stays_together_on_fewer_rectangles():
    rng = np.random.default_rng(8)
    shapes = [Polygon(blob(rng, rng.uniform(40, 90), 30)) for _ in range(14)]
    together = [(0, 9), (3, 5), *((i,) for i in range(14) if i not in (0, 9, 3, 5))]
    spots = pack((500.0, 500.0), 3.0, shapes, [[0.0, math.pi]] * 14, 2.0, 1, together=together)
    assert spots[0].bin == spots[9].bin and spots[3].bin == spots[5].bin
    for b in {spot.bin for spot in spots}:
        laid = [affinity.translate(affinity.rotate(shape, spot.angle, (0, 0), use_radians=True),
                                   *spot.offset)
                for shape, spot in zip(shapes, spots, strict=True) if spot.bin == b]
        for i, shape in enumerate(laid):
            assert all(shape.distance(other) >= 3.0 - 1e-6 for other in laid[:i])
            assert shapely.box(1.5, 1.5, 498.5, 498.5).buffer(1e-6).covers(shape)


def test_a_strip_is_shortened_and_stays_sound():
    rng = np.random.default_rng(2)
    shapes = [star(rng, 30.0) for _ in range(10)]
    effort = Effort(1e8)
    squeezer = Squeezer(shapes, [[0.0, math.pi]] * 10, 1.0, 100.0, np.zeros(10, bool), effort)
    start = [np.array([70.0 * n, 20.0]) - shape.bounds[:2] for n, shape in enumerate(shapes)]
    layout = squeezer.layout([0.0] * 10, [0] * 10, start)
    found, length = squeezer.shorter(layout, np.random.default_rng(1))
    assert length < 0.6 * squeezer.length(layout) and squeezer.is_sound(found, length)
