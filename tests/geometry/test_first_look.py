"""The first look at a piece's strain, beside closed forms and beside what the search finds."""

import numpy as np
import pytest

from addon.core import flatten, layer, make, mesh, seams
from addon.core.model import Settings
from addon.core.stock import find_stock
from tests import shapes

STOCK = find_stock("eva-10")


def looked(sculpt, side="outer"):
    """Region and first look of each piece of a sculpt."""
    return [(region, flatten.first_look(
        region, STOCK.heated,
        lambda points, normals, faces: layer.rest_lengths(points, normals, faces, STOCK, side)))
        for region in seams.cut(sculpt, 0.5).regions]


def most(region, sigma):
    """Utilisation of the heated foam that 99 % of the area keep within."""
    area = mesh.face_normals(region.vertices, region.faces)[1]
    return mesh.largest_but(STOCK.heated.utilisation(sigma), area, 0.01 * area.sum())


@pytest.mark.parametrize("degrees", [35.0, 60.0, 80.0])
def test_on_a_round_cap_it_comes_near_the_least_there_is(degrees):
    # Milnor, "A Problem in Cartography", Amer. Math. Monthly 76 (1969): sup / inf of the stretch
    # is at least a / sin a, which the azimuthal equidistant map reaches.
    a = np.radians(degrees)
    (region, sigma), = looked(shapes.sculpt(shapes.cap(150.0, a, rings=30)))
    ratio, c, s = a / np.sin(a), STOCK.heated.compress, STOCK.heated.stretch
    least = (ratio - 1) / (s + ratio * c)  # (1 + s u) / (1 - c u) = ratio
    assert 0.95 * least < most(region, sigma) < 1.1 * least


@pytest.mark.parametrize("f", [
    lambda u, v: (200 * np.sin(u), 400 * v, 200 * np.cos(u)),
    lambda u, v: ((150 + 60 * v) * np.sin(1.5 * u), 200 * v, (150 + 60 * v) * np.cos(1.5 * u))])
def test_what_is_developable_asks_for_next_to_nothing(f):
    (region, sigma), = looked(shapes.sculpt(_surface(f)))
    assert most(region, sigma) < 0.06


def test_a_trench_is_no_strain():
    # Two planes that meet in a straight fold of 60 degrees; the trench is cut for that.
    vertices, faces = _surface(lambda u, v: (
        150 * u * np.where(u > 0, np.cos(np.pi / 3), 1.0), 150 * v,
        -150 * u * np.where(u > 0, np.sin(np.pi / 3), 0.0)))
    middle = np.flatnonzero(np.abs(vertices[:, 0]) < 1e-9)
    middle = middle[np.argsort(vertices[middle, 1])]
    fold = np.stack([middle[:-1], middle[1:]], axis=1)
    (region, sigma), = looked(shapes.sculpt((vertices, faces), trenches=fold))
    assert most(region, sigma) < 0.06
    (region, smooth), = looked(shapes.sculpt((vertices, faces)))
    assert most(region, smooth) > 2 * most(region, sigma)  # unmarked, the fold is told


def test_it_is_near_what_the_search_finds_and_comes_before_it():
    thing = shapes.sculpt(_surface(lambda u, v: (
        150 * u, 180 * v, 40 * np.cos(1.8 * u) + 25 * np.cos(2 * v))))
    seen = []
    pattern = make.check(thing, Settings(STOCK), see=seen.append)
    assert [(len(g.sigma), len(g.verdicts)) for g in seen] == [(1, 0), (1, 0), (1, 1)]
    first, final = (STOCK.heated.utilisation(g.sigma[0]) for g in seen[:2])
    # Inside the band there are many flats as good, so faces are alike on the whole only.
    assert np.abs(first - final).mean() < 0.2 * pattern.pieces[0].verdict.heated
    assert most(seen[0].cut.regions[0], seen[0].sigma[0]) == pytest.approx(
        pattern.pieces[0].verdict.heated, rel=0.15)


def test_only_what_has_changed_is_looked_at():
    vertices, faces = _surface(lambda u, v: (150 * u, 300 * v, 40 * np.cos(u)), rows=120)
    row = np.flatnonzero(np.abs(vertices[:, 1] - vertices[60 * 45, 1]) < 1e-9)
    seam = np.stack([row[:-1], row[1:]], axis=1)
    memory, seen = make.Memory(), []
    make.check(shapes.sculpt((vertices, faces), seam), Settings(STOCK), memory=memory)
    vertices = vertices.copy()
    vertices[vertices[:, 1] > vertices[row[0], 1] + 20.0, 2] += 3.0
    make.check(shapes.sculpt((vertices, faces), seam), Settings(STOCK), memory=memory,
               see=seen.append)
    changed = [r.vertices[:, 1].max() > 200 for r in seen[0].cut.regions]
    assert [look is not None for look in seen[0].sigma] == changed and sum(changed) == 1


def test_small_pieces_and_ones_with_fine_necks_have_none():
    (_, sigma), = looked(shapes.sculpt(shapes.cap(150.0, 0.8, rings=8)))
    assert sigma is None
    vertices, faces = _surface(lambda u, v: (150 * u, 150 * v, 0 * u))
    middle = vertices[faces].mean(axis=1)
    neck = (np.abs(middle[:, 0]) > 20) | (np.abs(middle[:, 1]) < 5) | (middle[:, 1] > 140)
    kept, faces = np.unique(faces[neck], return_inverse=True)
    (region, sigma), = looked(shapes.sculpt((vertices[kept], faces.reshape(-1, 3))))
    assert len(region.loops) == 2 and sigma is None


def _surface(f, columns=45, rows=45):
    """A surface over [-1, 1]^2, finely enough meshed to be looked at coarsely."""
    return shapes.surface(f, np.linspace(-1, 1, columns), np.linspace(-1, 1, rows))
