"""A small sculpt and its pattern, made once."""

import math

import pytest
import trimesh

from addon.core.make import make_pattern
from addon.core.model import Sculpt, Settings
from addon.core.stock import find_stock


@pytest.fixture(scope="session")
def cube():
    """A closed cube of 150 mm."""
    return trimesh.creation.box((150.0, 150.0, 150.0))


@pytest.fixture(scope="session")
def cube_file(cube, tmp_path_factory):
    path = tmp_path_factory.mktemp("input") / "cube.obj"
    cube.export(path)
    return path


@pytest.fixture(scope="session")
def cube_pattern(cube):
    """Its pattern: six squares of 6 mm foam, seamed along the edges, laid on more than one mat."""
    foam = find_stock("eva-6")
    small = Settings(stock=type(foam)(**{**vars(foam), "sheet": (340.0, 340.0)}),
                     seam_angle=math.radians(40), nest_seconds=0.2, title="Cube")
    return make_pattern(Sculpt.plain(cube.vertices, cube.faces, name="Cube"), small)
