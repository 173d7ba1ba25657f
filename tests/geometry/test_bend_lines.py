"""Bend lines against cylinders and cones, whose rulings and turning are known in closed form."""

import numpy as np
import pytest

from addon.core.bend_lines import bend_lines
from tests import shapes


@pytest.fixture
def lines(laid, foam):
    """lines(shape) -> the bend lines of one piece with its flat."""

    def find(shape, **more):
        regions, layers, flats = laid(shapes.sculpt(shape, **more), foam)
        assert len(regions) == 1
        return bend_lines(regions[0], layers[0], flats[0].points), flats[0].points

    return find


@pytest.mark.parametrize("columns", [9, 49])
@pytest.mark.parametrize(("degrees", "angles"), [
    (40, (40,)), (90, (45, 45)), (120, (40, 40, 40)), (10, ())])
def test_a_cylinder_bends_along_its_axis_by_its_arc(lines, columns, degrees, angles):
    shape = shapes.cylinder(150.0, np.radians(degrees), 200.0, columns=columns)
    found, flat = lines(shape)
    assert np.degrees([b.angle for b in found]) == pytest.approx(angles, abs=0.03 * degrees)
    height = shape[0][:, 2]
    axis = np.linalg.lstsq(np.column_stack([flat, np.ones(len(flat))]), height, rcond=None)[0][:2]
    across = np.array((axis[1], -axis[0])) / np.hypot(*axis)
    low, high = (flat @ across).min(), (flat @ across).max()
    places = sorted(float(b.points.mean(axis=0) @ across) for b in found)
    count = len(angles)
    assert places == pytest.approx(
        [low + (k + 0.5) / count * (high - low) for k in range(count)], abs=0.03 * (high - low))
    for bend in found:
        along = bend.points[1] - bend.points[0]
        assert np.hypot(*along) == pytest.approx(200.0, rel=0.01)  # from rim to rim
        assert abs(along @ across) < 0.01 * 200


@pytest.mark.parametrize(("arc", "count", "over"), [(1.2, 2, 0.05), (2.4, 3, 0.05)])
def test_the_lines_of_a_cone_run_to_its_tip(lines, arc, count, over):
    found, flat = lines(shapes.cone(0.4, 250, 500, arc=arc))
    # The normal of a cone of half angle α turns by arc · cos α across its lines.
    assert sum(b.angle for b in found) == pytest.approx(arc * np.cos(0.4), rel=over)
    assert len(found) == count
    # Where two lines meet is as far from the near rim as the tip is.
    (p, d), (q, e) = ((b.points[0], b.points[1] - b.points[0]) for b in (found[0], found[-1]))
    tip = p + d * np.linalg.solve(np.stack([d, -e], axis=1), q - p)[0]
    assert np.hypot(*(flat - tip).T).min() == pytest.approx(250, rel=0.15)


def test_a_hollow_bends_the_other_way_and_a_wave_both_ways(lines):
    points, faces = shapes.cylinder(150.0, 0.6, 200.0)
    (hollow,), _ = lines((points, faces[:, ::-1]))
    assert hollow.angle == pytest.approx(-0.6, rel=0.05)
    wave = shapes.surface(lambda u, v: (u, v, 25 * np.sin(u / 60)),
                          np.linspace(0, 2 * np.pi * 60, 81), np.linspace(0, 200, 11))
    found, _ = lines(wave)
    assert {np.sign(b.angle) for b in found} == {1.0, -1.0}


def test_domes_and_plates_have_none(lines):
    assert lines(shapes.cap(200.0, 0.4))[0] == ()
    plate = shapes.surface(lambda u, v: (u, v, 0 * u), np.linspace(0, 200, 9),
                           np.linspace(0, 100, 5))
    assert lines(plate)[0] == ()


def test_a_line_stops_at_a_trench(lines):
    """A cylinder with a trench along its axis: each side has its own line."""
    columns, rows = 49, 13
    shape = shapes.cylinder(150.0, np.radians(80), 200.0, columns, rows)
    column = np.arange(rows) * columns + columns // 2
    found, _ = lines(shape, trenches=np.stack([column[:-1], column[1:]], axis=1))
    assert np.degrees([b.angle for b in found]) == pytest.approx((40, 40), abs=3)
