"""What a look over tells of meshes that others made, beside what is known of them."""

from pathlib import Path

import pytest
import trimesh

from addon.core.skin import DOUBLE, SOLID
from addon.core.survey import look_over
from addon.files import read_mesh

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"

# Parts and boundary loops as counted by their collector with other tools, after welding.
KNOWN = {
    "armour/Armor_Metal.glb": (3, 0), "armour/Armor_Leather.glb": (1, 0),
    "armour/Helmet2.glb": (1, 0), "armour/ShoulderPads.glb": (2, 0),
    "armour/SciFiHelmet_welded.ply": (16, 18), "sculpts/os_spot_low_resolution.obj": (1, 0),
    "sculpts/os_goathead.obj": (1, 0), "bodies/mh_male_generic.obj": (1, 0),
}


def read(name, unit):
    path = DATA / name
    if not path.exists():
        pytest.skip("the collection of meshes is not here")
    return read_mesh(path, unit)


@pytest.mark.parametrize("name", KNOWN)
def test_parts_and_rims_are_those_known(name):
    (survey,), findings = look_over(read(name, "cm"))
    assert (survey.parts, survey.rims) == KNOWN[name]
    assert ("loose-parts" in [f.code for f in findings]) == (survey.parts > 1)


@pytest.mark.parametrize("name", KNOWN)
def test_the_box_is_that_of_another_library(name):
    (survey,), _ = look_over(read(name, "m"))
    loaded = trimesh.load(DATA / name, force="mesh")
    assert sorted(survey.size) == pytest.approx(sorted(1000 * loaded.extents), rel=1e-5)


@pytest.mark.parametrize(("name", "kinds"), [
    ("armour/Armor_Metal.glb", {DOUBLE: 3}), ("armour/ShoulderPads.glb", {SOLID: 2}),
    ("sculpts/os_goathead.obj", {SOLID: 1}), ("bodies/mh_male_generic.obj", {SOLID: 1})])
def test_shells_are_told_from_solids(name, kinds):
    (survey,), _ = look_over(read(name, "cm"))
    assert survey.kinds == kinds


def test_a_figure_in_decimetres_is_as_tall_as_a_person():
    """1748 mm, as its maker says; as metres it is a giant, and the factor is told."""
    right = read("bodies/mh_male_generic.obj", "cm")
    (survey,), _ = look_over(right)
    assert 10 * max(survey.size) == pytest.approx(1748, abs=1)
    _, findings = look_over(read("bodies/mh_male_generic.obj", "m"))
    (size,) = (f for f in findings if f.code in ("implausible-size", "unlikely-size"))
    assert "times a person's height" in size.message and "were read as" in size.message
