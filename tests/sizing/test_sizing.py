"""Sizes against closed forms: what girths and lengths ask of a sculpt in foam of its thickness."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe

from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import (
    Guide,
    Marking,
    RodLine,
    Sculpt,
    SculptObject,
    Settings,
    Size,
    StripLine,
)
from addon.core.sizing import inside_girth, record_at, size_for, sized
from addon.core.stock import find_stock
from addon.export.printed import after
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
    box = shapes.sculpt(*boxed())
    one, two = (check(sized(box, size), SETTINGS) for size in (
        Size("M"), Size("L", 1.15, 1.05, 1.1)))
    assert [p.code for p in one.pieces] == [p.code for p in two.pieces]
    assert [m.letter for m in one.mates] == [m.letter for m in two.mates]


def three_pipes():
    """A trunk between two arms, each an object of its own."""
    parts = [shapes.cylinder(radius, 1.98 * np.pi, 200.0, 91, 5) for radius in (120.0, 50.0, 50.0)]
    points, faces, objects, start = [], [], [], 0
    for k, (part, away) in enumerate(zip(parts, (0.0, -250.0, 250.0), strict=True)):
        points.append(part[0] + [away, 0, 0])
        faces.append(part[1] + start)
        objects += [k] * len(part[1])
        start += len(part[0])
    whole = Sculpt.plain(np.concatenate(points), np.concatenate(faces))
    return replace(whole, face_object=np.array(objects), objects=tuple(
        SculptObject(name) for name in ("Trunk", "Arm left", "Arm right")))


def test_girths_of_several_things_are_told_apart_by_name():
    suit = three_pipes()
    with pytest.raises(FoamError, match="bad-size") as error:
        inside_girth(suit, SETTINGS, 100.0)
    assert "goes round 3 things" in error.value.finding.message
    assert "Arm left, Arm right, Trunk" in error.value.finding.remedy
    for name, radius in (("Trunk", 110.0), ("Arm left", 40.0)):
        assert inside_girth(suit, SETTINGS, 100.0, [name]) == pytest.approx(
            2 * np.pi * radius, rel=2e-3)
    size = size_for(suit, SETTINGS, "L", girths={(100.0, ("Trunk",)): 2 * np.pi * 140.0})
    assert size.across == pytest.approx(150 / 120, rel=1e-3)
    with pytest.raises(FoamError, match="is called “Leg”"):
        inside_girth(suit, SETTINGS, 100.0, ["Leg"])


def test_two_halves_go_round_one_thing():
    """A breast and a back plate with a gap between them, each no ring by itself."""
    half, faces = shapes.cylinder(120.0, 0.9 * np.pi, 200.0, 91, 5)
    turned = half * [-1, -1, 1]
    both = Sculpt.plain(np.concatenate([half, turned]),
                        np.concatenate([faces, faces + len(half)]))
    assert inside_girth(both, SETTINGS, 100.0) == pytest.approx(
        2 * 110.0 * (0.9 * np.pi + 2 * np.sin(0.05 * np.pi)), rel=2e-3)


def test_a_record_is_known_at_another_size():
    box = shapes.sculpt(*boxed())
    made = check(box, SETTINGS)
    large = Size("L", 1.3, 1.0, 1.2)
    before = after(made)
    moved = record_at(before, box, large)
    again = record_at(moved, box, Size("M"), large)
    for one, two in zip(before.pieces, again.pieces, strict=True):
        np.testing.assert_allclose(one.places, two.places, atol=1e-6)
    assert all(p.drawn is None for p in moved.pieces) and moved.digest != before.digest
    now = check(sized(box, large), replace(SETTINGS, printed=moved))
    assert [p.code for p in now.pieces] == [p.code for p in made.pieces]


def boxed():
    shape, corners = shapes.box()
    return shape, np.concatenate(corners[::2]), np.concatenate(corners[1::2])


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


def test_what_the_maker_set_on_the_sculpt_goes_along_with_a_size_and_keeps_its_own_sizes():
    plain = tube()
    points = plain.vertices[:6]
    marked = replace(plain, strips=(StripLine(points, 15.0, "hem"),), markings=(
        Marking("rivet", points, size=(8.0, 8.0)),))
    size = Size("L", 1.3, 1.1, 0.9)
    done = sized(marked, size)
    assert not np.allclose(done.vertices[:6], points)
    for one in (*done.strips, *done.markings):
        assert np.allclose(one.points, done.vertices[:6])
    assert done.strips[0].width == 15.0 and (done.markings[0].size == 8.0).all()
