"""Shapes that stand out of one sculpted surface: found, let down, made a piece of their own."""

from __future__ import annotations

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import SEAM, Sculpt, Settings
from addon.core.raised import all_apart, apart, findings, lowered, nearest_stock, raised
from addon.core.stock import find_stock, shipped
from tests import shapes
from tests.raised_shapes import disc, frame, plate, square, to_the_rim

EVA10, STOCKS = find_stock("eva-10"), list(shipped().values())


@pytest.mark.parametrize("inside", [square, disc, frame])
@pytest.mark.parametrize("height", [6.0, -4.0])
def test_a_step_all_round_is_found_with_its_height(inside, height):
    [one] = raised(Sculpt.plain(*plate(height, inside)))
    # Heights are told by the straight way down to the foot's edges, chords of the bend.
    assert one.height == pytest.approx(height, abs=0.01) and one.spread < 0.01
    cells = sum(inside(i, j) for i in range(40) for j in range(40))
    assert len(one.top) == 2 * cells


def test_what_has_no_step_all_round_is_none():
    assert raised(Sculpt.plain(*plate(6.0, to_the_rim))) == []  # runs out at the rim
    assert raised(Sculpt.plain(*plate(0.5))) == []  # a crease of the sculpt, no foam is so thin
    assert raised(Sculpt.plain(*plate(45.0))) == []  # a box standing on the plate
    points, faces = shapes.platonic("cube", 60.0)
    assert raised(Sculpt.plain(points * (1.0, 1.0, 0.2), faces)) == []  # a plate as a solid
    assert raised(Sculpt.plain(*shapes.cylinder(100.0, 2.0, 100.0))) == []


@pytest.mark.parametrize("inside", [square, disc, frame])
@pytest.mark.parametrize("finer", [False, True])
def test_let_down_the_surface_goes_on_as_if_there_had_been_nothing(inside, finer):
    """The plate is a cylinder of 150 mm again, whole, and as large: 200 x 200 mm."""
    for height in (6.0, -4.0):
        sculpt = Sculpt.plain(*plate(height, inside, finer=finer))
        [one] = raised(sculpt)
        down = lowered(sculpt, one)
        used = down.vertices[np.unique(down.faces)]
        # Chords of 5 mm lie 0.02 mm inside of the circle, and what is between is smoothed.
        assert np.abs(np.hypot(used[:, 0], used[:, 2]) - 150.0).max() < 0.15
        normals, area = mesh.face_normals(down.vertices, down.faces)
        assert area.sum() == pytest.approx(200.0 * 200.0, rel=3e-4) and area.min() > 0.1
        out = used[:, [0, 2]].mean(axis=0)
        assert len(mesh.boundary_loops(down.faces)) == 1 and (normals[:, [0, 2]] @ out > 0).all()
        assert set(np.flatnonzero(down.top)) == set(np.flatnonzero(np.isin(down.source, one.top)))


def test_a_shape_becomes_a_piece_of_the_nearest_foam_glued_on():
    """Machinery's Handbook, bend allowance L = angle (inside radius + k t): glued on the outside
    of the plate, the 50 mm of arc at 150 mm take 50 / 150 * (150 + k t) of foam."""
    sculpt = Sculpt.plain(*plate(6.0), name="Plate")
    [one] = raised(sculpt)
    stock = nearest_stock(STOCKS, one.height)
    assert stock.thickness == 6.0
    pattern = check(apart(sculpt, Settings(EVA10), one, stock), Settings(EVA10))
    base, detail = pattern.pieces
    assert detail.base == base.code and detail.stock is stock and detail.name == "Plate detail"
    assert [p.verdict.kind for p in pattern.pieces] == ["bend", "bend"]
    area = mesh_area(detail.cut[0])
    assert area == pytest.approx(50.0 / 150.0 * (150.0 + stock.neutral * 6.0) * 65.0, rel=2e-3)
    assert mesh_area(base.cut[0]) == pytest.approx(
        200.0 / 150.0 * (150.0 - 10.0 + EVA10.neutral * 10.0) * 200.0, rel=2e-3)
    assert {f.code for f in pattern.findings}.isdisjoint({"needs-relief", "unmarked-fold"})
    # As it was sculpted it cannot be made.
    assert {"needs-relief", "unmarked-fold"} <= {
        f.code for f in check(sculpt, Settings(EVA10)).findings}


def mesh_area(ring) -> float:
    x, y = np.asarray(ring).T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def test_marks_elsewhere_stay_and_those_on_the_step_go():
    points, faces = plate(6.0)
    start, end, _ = mesh.half_edges(faces)
    edges = np.unique(np.sort(np.stack([start, end], axis=1), axis=1), axis=0)
    sculpt = Sculpt.plain(points, faces, edges, np.full(len(edges), SEAM))
    [one] = raised(sculpt)
    made = apart(sculpt, Settings(EVA10), one, STOCKS[0])
    assert 0 < len(made.edges) < len(edges) and made.edges.min() >= 0
    far = np.abs(made.vertices[made.edges].mean(axis=1)[:, 1] - 5.0) < 3.0
    old = np.abs(points[edges].mean(axis=1)[:, 1] - 5.0) < 3.0
    assert far.sum() == old.sum() > 0
    assert len(np.unique(made.faces)) == len(made.vertices)


def test_two_shapes_are_told_and_made_one_after_the_other():
    two = plate(6.0, lambda i, j: square(i, j) or (26 <= i < 34 and 15 <= j < 28))
    sculpt = Sculpt.plain(*two, name="Plate")
    shapes_found = raised(sculpt)
    told = findings(sculpt, shapes_found, STOCKS)
    assert [f.code for f in told] == ["raised-shape"] * 2
    assert "6 mm" in told[0].message and "EVA craft foam 6 mm" in told[0].message
    assert sorted(map(len, (f.faces for f in told))) == sorted(len(o.top) for o in shapes_found)
    sculpt = all_apart(sculpt, Settings(EVA10), STOCKS)
    assert raised(sculpt) == [] and [o.name for o in sculpt.objects] == [
        "Plate", "Plate detail", "Plate detail 2"]
    assert [p.base for p in check(sculpt, Settings(EVA10)).pieces][1:] == ["PL1", "PL1"]


def test_what_is_raised_on_something_raised_lies_on_that():
    points, faces = plate(4.0, lambda i, j: square(i, j) and not (14 <= i < 20 and 18 <= j < 25))
    # The floor of the hollow, left at the level of the plate, goes up to twice that height.
    level, arc = np.hypot(points[:, 0], points[:, 2]), np.arctan2(points[:, 0], points[:, 2])
    floor = ((level < 150.01) & (np.abs(arc * 150.0 + 15.0) < 15.1)
             & (np.abs(points[:, 1] - 107.5) < 17.6))
    points[floor] *= np.stack([158.0 / level, np.ones(len(level)), 158.0 / level], axis=1)[floor]
    made = all_apart(Sculpt.plain(points, faces, name="Plate"), Settings(EVA10), STOCKS)
    pieces = check(made, Settings(EVA10)).pieces
    base, lower, upper = sorted(pieces, key=lambda p: -p.area)
    assert [p.stock.thickness for p in (base, lower, upper)] == [10.0, 4.0, 4.0]
    assert [p.base for p in (base, lower, upper)] == ["body", base.code, lower.code]


@pytest.mark.parametrize("scale", [0.5, 3.0])
def test_heights_are_those_of_the_suit_as_built(scale):
    points, faces = plate(6.0)
    made = all_apart(Sculpt.plain(points / scale, faces), Settings(EVA10, scale=scale), STOCKS)
    assert [o.stock.thickness for o in made.objects[1:]] == [6.0]


def test_a_rim_that_does_not_go_with_its_foot_is_refused_with_the_place():
    points, faces = plate(6.0)
    [one] = raised(Sculpt.plain(points, faces))
    twisted = np.array(points)
    rim = np.unique(faces[one.top])
    twisted[rim] = twisted[rim][np.random.default_rng(1).permutation(len(rim))]
    with pytest.raises(FoamError) as caught:
        lowered(Sculpt.plain(twisted, faces), one)
    assert caught.value.finding.code == "not-lowered"
    assert set(caught.value.finding.faces) == set(one.top)
