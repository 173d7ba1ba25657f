"""Sizes against closed forms: what girths and lengths ask of a sculpt in foam of its thickness."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe

from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import Guide, RodLine, Settings
from addon.core.sizing import Size, inside_girth, size_for, sized
from addon.core.stock import find_stock
from tests import shapes

SETTINGS = Settings(find_stock("eva-10"))


def tube(radius=120.0, high=200.0):
    return shapes.sculpt(shapes.cylinder(radius, 1.98 * np.pi, high, 181, 9))


def perimeter(a, b):
    """4 a E(1 - b2/a2), DLMF 19.30."""
    a, b = max(a, b), min(a, b)
    return 4 * a * ellipe(1 - b**2 / a**2)


@pytest.mark.parametrize("girth", [500.0, 691.15, 900.0])
def test_a_pipe_is_widened_for_its_inside_not_its_outside(girth):
    """Inside it has 2 pi (r - t): the radius for a girth is girth / 2 pi + t."""
    size = size_for(tube(), SETTINGS, "L", girths={100.0: girth})
    assert size.across == size.deep == pytest.approx((girth / (2 * np.pi) + 10.0) / 120.0, rel=2e-3)
    assert size.tall == 1.0
    assert inside_girth(sized(tube(), size), SETTINGS, 100.0) == pytest.approx(girth, abs=0.05)


def test_foam_keeps_its_thickness():
    pattern = check(sized(tube(), Size("L", 1.5, 1.5, 1.0)), SETTINGS)
    piece, = pattern.pieces
    # On the middle of the foam: 1.98 pi (1.5 * 120 - 5) long, and as high as it was.
    assert sorted(np.ptp(piece.flat, axis=0)) == pytest.approx(
        [200.0, 1.98 * np.pi * 175.0], rel=2e-3)


def test_an_ellipse_is_scaled_to_its_girth():
    """The inside of an elliptic pipe is not quite an ellipse: its tape, within 0.5 %, is that of
    half axes less the foam's thickness."""
    oval = sized(tube(), Size("", across=1.5))
    size = size_for(oval, SETTINGS, "M", girths={100.0: 1000.0})
    exact = brentq(lambda k: perimeter(180 * k - 10, 120 * k - 10) - 1000.0, 0.5, 3.0)
    assert size.across == pytest.approx(exact, rel=5e-3)


@pytest.mark.parametrize("scale", [1.0, 2.5])
def test_lengths_are_of_the_suit_as_it_is_built(scale):
    settings = replace(SETTINGS, scale=scale)
    size = size_for(tube(), settings, "S", lengths={"tall": 650.0, "across": 300.0})
    done = sized(tube(), size).vertices * scale
    assert np.ptp(done[:, 2]) == pytest.approx(650.0)
    assert np.ptp(done[:, 0]) == pytest.approx(300.0)
    assert size.deep == 1.0


def test_what_is_drawn_goes_along_and_the_foot_stays():
    line, rod = np.array([[0, -120.0, 50], [0, -120, 150]]), np.array([[0, 0, 0], [0, 0, 100.0]])
    sculpt = replace(tube(), guides=(Guide(line),), rods=(RodLine(rod, 20.0, name="r"),))
    done = sized(sculpt, Size("L", 1.2, 1.2, 2.0))
    assert done.vertices[:, 2].min() == pytest.approx(sculpt.vertices[:, 2].min())
    assert np.ptp(done.guides[0].points[:, 2]) == pytest.approx(200.0)
    radius = np.hypot(*(done.guides[0].points[0] - [0, 0, 0])[:2])
    assert radius == pytest.approx(144.0, abs=0.5)
    assert done.rods[0].diameter == 20.0 and np.ptp(done.rods[0].points[:, 2]) == 200.0


def test_codes_and_letters_stay_the_same():
    shape, corners = shapes.box()
    box = shapes.sculpt(shape, np.concatenate(corners[::2]), np.concatenate(corners[1::2]))
    one, two = (check(sized(box, size), SETTINGS) for size in (
        Size("M"), Size("L", 1.15, 1.05, 1.1)))
    assert [p.code for p in one.pieces] == [p.code for p in two.pieces]
    assert [m.letter for m in one.mates] == [m.letter for m in two.mates]


@pytest.mark.parametrize(("asked", "words"), [
    (dict(girths={100.0: 9e5}), "cannot have a girth"), (dict(girths={999.0: 700.0}), "No foam is"),
    (dict(lengths={"tall": 0.0}), "cannot be 0 mm tall"),
    (dict(lengths={"tall": 99e3}), "times as large"),
    (dict(factors={"deep": 0.0}), "times as large"),
    (dict(factors={"deep": float("nan")}), "times as large")])
def test_nonsense_is_refused(asked, words):
    with pytest.raises(FoamError, match="bad-size") as error:
        sized(tube(), size_for(tube(), SETTINGS, "X", **asked))
    assert words in error.value.finding.message
