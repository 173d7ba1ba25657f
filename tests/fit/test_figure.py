"""The figure has the measures that it is asked for, and nobody's elsewhere."""

import numpy as np
import pytest

from addon.core.errors import FoamError
from addon.core.figure import figure, own_measures
from addon.core.fit import fitted
from addon.core.fit.clearance import Skin
from addon.core.make import check
from addon.core.measures import MEASURES
from addon.core.mesh import twins
from addon.core.model import Settings
from addon.core.sections import bodies, cut, tape
from addon.core.stock import find_stock
from tests import shapes

# Where girths are taken: part, and height as a share of the stature.
TRUNK = {"hips": ("Trunk", 905 / 1756), "waist": ("Trunk", 1050 / 1756),
         "chest": ("Trunk", 1280 / 1756), "neck": ("Trunk", 1500 / 1756),
         "head": ("Head", 1650 / 1756)}
LIMBS = {"thigh": ("Leg left", "knee left", "hip left", 0.8),
         "calf": ("Leg left", "ankle left", "knee left", 0.68),
         "upper arm": ("Arm left", "elbow left", "shoulder left", 0.75),
         "wrist": ("Arm left", "elbow left", "wrist left", 1.0),
         "forearm": ("Arm left", "wrist left", "elbow left", 0.82)}


def girth(found, name):
    """Measured on the mesh by a plane across the part."""
    if name in TRUNK:
        part, share = TRUNK[name]
        tall = np.ptp(found.body.vertices[:, 2])
        point, way = np.array([0, 0, share * tall]), np.array([0.0, 0, 1])
    else:
        part, low, high, share = LIMBS[name]
        way = found.joints[high] - found.joints[low]
        point = found.joints[low] + share * way
        way = way / np.linalg.norm(way)
    body = found.parts[part]
    side = np.cross(way, (0.0, 1.0, 0.0))
    side /= np.linalg.norm(side)
    frame = np.stack([side, np.cross(way, side)])
    ring = bodies(cut(body.vertices, body.faces, (body.vertices - point) @ way) @ frame.T)[0]
    return tape(np.array(ring.exterior.coords))


def test_where_nothing_is_asked_it_measures_as_nine_people_in_ten():
    """ANSUR II, percentiles 5 to 95 of women and men (core.measures)."""
    found = figure()
    for name in ("stature", *TRUNK, *LIMBS):
        size = np.ptp(found.body.vertices[:, 2]) if name == "stature" else girth(found, name)
        _, women, men = MEASURES[name]
        assert min(women[0], men[0]) <= size <= max(women[2], men[2]), name
        assert size == pytest.approx(own_measures()[name], rel=0.02), name


@pytest.mark.parametrize("group", [1, 2], ids=["women", "men"])
@pytest.mark.parametrize("percentile", [0, 1, 2], ids=["p5", "p50", "p95"])
def test_it_takes_the_measures_of_small_and_large_people(group, percentile):
    wanted = {name: MEASURES[name][group][percentile] for name in ("stature", *TRUNK, *LIMBS)}
    found = figure(wanted)
    assert np.ptp(found.body.vertices[:, 2]) == pytest.approx(wanted["stature"], rel=2e-3)
    for name in (*TRUNK, *LIMBS):
        assert girth(found, name) == pytest.approx(wanted[name], rel=0.025), name


def test_parts_are_closed_outward_and_mirrored():
    found = figure({"chest": 1100.0})
    for name, part in found.parts.items():
        assert (twins(part.faces) >= 0).all(), name
        assert not Skin(part).turned, name
    left, right = found.parts["Arm left"], found.parts["Arm right"]
    assert right.vertices == pytest.approx(left.vertices * (-1, 1, 1))
    assert found.joints["elbow right"] == pytest.approx(found.joints["elbow left"] * (-1, 1, 1))
    assert Skin(found.parts["Trunk"]).distance(found.joints["waist"][None])[0] < 0


@pytest.mark.parametrize(("measures", "words"), [
    ({"wings": 300.0}, "no measure “wings”"), ({"chest": 40.0}, "cannot measure 40 mm"),
    ({"stature": 17.5}, "cannot measure"), ({"waist": float("nan")}, "cannot measure")])
def test_what_no_figure_can_measure_is_refused(measures, words):
    with pytest.raises(FoamError, match="bad-measure") as error:
        figure(measures)
    assert words in error.value.finding.message


def test_a_breast_ring_about_the_figure_is_found_at_its_chest():
    """A round pipe of 2 pi 200 mm inside, about a chest of 1000 mm."""
    found = figure({"chest": 1000.0})
    ring = shapes.sculpt(shapes.cylinder(210.0, 1.98 * np.pi, 700.0, 97, 29))
    pattern = check(ring.__class__.plain(ring.vertices + (0, 0, 800.0), ring.faces),
                    Settings(find_stock("eva-10")))
    girths = {g.name: g for g in fitted(pattern, found.body).fitted.girths}
    assert set(girths) == {"chest", "waist", "hips"}
    assert girths["chest"].body == pytest.approx(1000.0, rel=0.02)
    assert girths["waist"].body < girths["hips"].body
    assert girths["chest"].inside == pytest.approx(2 * np.pi * 200, rel=5e-3)
