"""Large regions are searched on a coarser mesh: the answers are those of the fine one."""

from __future__ import annotations

import numpy as np
import pytest

from addon.core import layer, seams
from addon.core.flatten import coarse
from addon.core.flatten.band import MET, least_utilisation, unmet
from addon.core.flatten.coarse import Coarse
from addon.core.flatten.start import start_of
from addon.core.flatten.system import System, seams_of
from addon.core.model import SEAM, Sculpt
from addon.core.stock import Limits, Stock
from tests import shapes

BAND = Limits(0.05, 0.10, 2.0)
THIN = Stock("foam", 1e-3, heated=BAND)


def saddle():
    return shapes.surface(lambda x, y: (x, y, (x**2 - y**2) / 500),
                          np.linspace(-100, 100, 71), np.linspace(-100, 100, 71))


def barrel():
    """Part of a torus: curved both ways, its outline four arcs."""
    return shapes.surface(
        lambda a, b: ((200 + 80 * np.cos(b)) * np.cos(a), (200 + 80 * np.cos(b)) * np.sin(a),
                      80 * np.sin(b)), np.linspace(0, 1, 71), np.linspace(-0.7, 0.7, 71))


def holed():
    """A bent sheet with an L-shaped outline and a square hole."""
    vertices, faces = shapes.surface(
        lambda x, y: (x, y, 25 * np.cos(x / 60) * np.cos(y / 80)),
        np.linspace(-100, 100, 81), np.linspace(-100, 100, 81))
    x, y, _ = vertices[faces].mean(axis=1).T
    gone = ((x > 20) & (y > 20)) | ((np.abs(x + 40) < 15) & (np.abs(y + 40) < 15))
    used, faces = np.unique(faces[~gone], return_inverse=True)
    return vertices[used], faces.reshape(-1, 3)


SURFACES = {"cap": lambda: shapes.cap(150, np.radians(60), 40), "saddle": saddle,
            "barrel": barrel, "holed": holed}


@pytest.fixture
def started(monkeypatch):
    """started(shape) -> system, start and the coarser mesh, of about 2500 faces."""
    monkeypatch.setattr(coarse, "LEAST", 3)

    def build(shape):
        cut = seams.cut(Sculpt.plain(*shape))
        (region,), (lay,) = cut.regions, layer.layers(cut, [THIN], ["outer"], 0.3)
        system = System(region.faces, lay.lengths, len(region.vertices), seams_of(region, lay),
                        THIN.thickness**2)
        start = start_of(system, region)
        return system, start, Coarse.of(system, start, region)

    return build


@pytest.mark.parametrize("name", SURFACES)
def test_a_coarser_mesh_gives_the_utilisation_of_a_direct_search_within_2_percent(started, name):
    system, start, rough = started(SURFACES[name]())
    assert 8000 <= len(system.faces) < 11000
    assert 2000 < len(rough.system.faces) < 3500
    none = np.empty(0)
    found, _ = rough.least(BAND, none)
    direct = least_utilisation(system, start, BAND, none)
    assert found.u == pytest.approx(direct.u, rel=0.02)
    assert found.u == system.utilisation(found.points, BAND)


@pytest.mark.parametrize("name", SURFACES)
def test_a_coarser_mesh_covers_the_start_and_measures_along_the_surface(started, name):
    system, _, rough = started(SURFACES[name]())
    # Facets lose sagitta at curved rims: chords of 40 and more to a quarter circle.
    assert rough.system.area.sum() == pytest.approx(system.area.sum(), rel=2e-3)
    assert np.asarray(rough.spread.sum(axis=1)) == pytest.approx(1.0)
    assert rough.spread @ rough.start[rough.picked] == pytest.approx(rough.start, abs=1e-6)


@pytest.mark.parametrize("degrees", [30, 60, 90])
def test_a_cap_of_20000_faces_reaches_milnors_bound(started, degrees):
    """alpha / sin alpha (Milnor 1969), on the true largest and smallest stretch."""
    angle = np.radians(degrees)
    system, _, rough = started(shapes.cap(150, angle, 58))
    found, _ = rough.least(BAND, np.empty(0))
    sigma = system.stretch(found.points)
    ratio = sigma[:, 0].max() / sigma[:, 1].min()
    assert 0.998 < ratio / (angle / np.sin(angle)) < 1.005


def test_seams_keep_their_lengths(started, monkeypatch):
    vertices, faces = shapes.surface(
        lambda x, y: (x, y, 40 * np.cos(x / 60) * np.cos(y / 80)),
        np.linspace(-100, 100, 121), np.linspace(-60, 60, 71))
    middle = 60 + 121 * np.arange(71)
    cut = seams.cut(Sculpt.plain(vertices, faces, np.stack([middle[:-1], middle[1:]], axis=1),
                                 np.full(70, SEAM)))
    layers = layer.layers(cut, [THIN] * 2, ["outer"] * 2, 0.3)
    monkeypatch.setattr(coarse, "LEAST", 2)
    for region, lay in zip(cut.regions, layers, strict=True):
        system = System(region.faces, lay.lengths, len(region.vertices), seams_of(region, lay),
                        THIN.thickness**2)
        start, wanted = start_of(system, region), np.ones(system.seams.count)
        rough = Coarse.of(system, start, region)
        assert rough.system.seams.count == system.seams.count > 5
        found, _ = rough.least(BAND, wanted)
        assert unmet(system, found.points, wanted) < 2 * MET
        # On the outline no part of a seam is off by as much as 0.05 mm.
        rest = np.bincount(system.seams.interval, system.seams.lengths)
        now = system.interval_lengths(system.along @ found.points)
        assert np.abs(rest * (now - wanted)).max() < 0.05
        direct = least_utilisation(system, start, BAND, wanted)
        assert found.u == pytest.approx(direct.u, rel=0.02)


def test_detail_finer_than_the_coarse_mesh_is_left_to_the_fine_one(started):
    vertices, faces = shapes.surface(lambda x, y: (x, y, 0 * x), np.linspace(-100, 100, 81),
                                     np.linspace(-100, 100, 81))
    vertices[:, 2] = 3 * (np.arange(len(vertices)) % 40 == 0)
    assert started((vertices, faces))[2] is None
