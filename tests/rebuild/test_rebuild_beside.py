"""The rebuilt suit beside the sculpt: distances by another's measure, places, what is not read."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import make
from addon.core.model import Settings
from addon.core.rebuild import rebuild, tried
from addon.core.stock import find_stock
from tests import shapes
from tests.rebuild.test_rebuild import tube

trimesh = pytest.importorskip("trimesh")

WIDE = 26.0  # mm, of the hill


def with_a_hill(high: float):
    """A tube of 90 mm radius and 200 mm length with one hill of Gauss's shape, and its seam on the
    other side."""
    (points, faces), seam = tube(90.0, 90.0, 200.0, around=64, rows=25)
    grown = 1 + high * np.exp(-(from_the_hill(points) / WIDE) ** 2) / 90.0
    points = points * np.stack([grown, grown, np.ones_like(grown)], axis=1)
    return make.check(shapes.sculpt((points, faces), seam), Settings(find_stock("eva-6")))


def from_the_hill(points):
    """Way (n,) along the tube from the top of the hill, mm: up to 300."""
    turn = np.mod(np.arctan2(points[:, 1], points[:, 0]), 2 * np.pi) - np.pi
    return np.hypot(turn * 90.0, points[:, 2] - 100.0)


@pytest.fixture(scope="module")
def hill():
    pattern = with_a_hill(34.0)
    return pattern, rebuild(pattern)


def test_a_region_beyond_the_limits_is_where_it_comes_out_otherwise(hill):
    """Foam that would have to stretch to more than twice its band does not get there: the tube
    comes out otherwise on the hill and at its foot, and as sculpted behind."""
    pattern, found = hill
    piece = pattern.pieces[0]
    assert piece.verdict.kind == "relief" and piece.verdict.heated > 2.0
    away, off = from_the_hill(piece.vertices), np.linalg.norm(found.pieces[0].moved, axis=1)
    assert off.max() > 5.0 and away[np.argmax(off)] < 2 * WIDE
    far = off > 3.0
    assert far.sum() > 10 and np.median(away[far]) < 2 * WIDE and off[away > 200.0].max() < 3.0
    told = [f for f in tried(pattern).findings if f.code == "comes-out-otherwise"]
    assert [f.piece for f in told] == [piece.code]
    middle = piece.vertices[piece.faces].mean(axis=1)
    named = np.isin(piece.source_face, told[0].faces)
    assert 0 < named.mean() < 0.1 and from_the_hill(middle[named]).max() < 5 * WIDE


def test_a_hill_that_the_foam_takes_comes_out():
    pattern = with_a_hill(12.0)
    assert pattern.pieces[0].verdict.kind == "heat" and rebuild(pattern).most < 2.0


def test_deviation_beside_the_hausdorff_distance_of_trimesh(hill):
    """Each point's deviation is the way to where that point belongs, so no point is nearer to the
    sculpt by it than trimesh's nearest point is; and since a hill that stays too flat is off
    mostly straight across, the largest of both agree within a third."""
    pattern, found = hill
    piece = pattern.pieces[0]
    stands = piece.vertices + found.pieces[0].moved
    meant = trimesh.Trimesh(piece.vertices, piece.faces, process=False)
    built = trimesh.Trimesh(stands, piece.faces, process=False)
    nearest = trimesh.proximity.closest_point_naive
    _, there, _ = nearest(meant, stands)
    _, back, _ = nearest(built, piece.vertices)
    off = np.linalg.norm(found.pieces[0].moved, axis=1)
    assert (there <= off + 1e-6).all() and (back <= off + 1e-6).all()
    hausdorff = max(there.max(), back.max())
    assert 2 / 3 * found.most <= hausdorff <= found.most + 1e-6


@pytest.mark.parametrize("formed", [True, False])
def test_nothing_of_the_sculpt_is_read_but_to_judge(formed):
    """With every position of the sculpt, and every length measured on it, replaced by noise the
    suit comes out the same to the last bit."""
    rng = np.random.default_rng(5)
    pattern = make.check(shapes.sculpt(*shapes.box(140.0, 100.0, 90.0)),
                         Settings(find_stock("eva-6")))
    lost = replace(
        pattern,
        pieces=tuple(replace(p, vertices=rng.normal(0.0, 300.0, p.vertices.shape))
                     for p in pattern.pieces),
        mates=tuple(replace(m, curve=rng.normal(0.0, 300.0, m.curve.shape),
                            lengths=tuple(rng.uniform(1.0, 900.0, 2)))
                    for m in pattern.mates),
        sculpt=replace(pattern.sculpt, vertices=rng.normal(
            0.0, 300.0, pattern.sculpt.vertices.shape)))
    one = rebuild(pattern, quick=True, formed=formed)
    other = rebuild(pattern, lost, quick=True, formed=formed)
    for a, b in zip(one.pieces, other.pieces, strict=True):
        assert np.array_equal(a.moved, b.moved)
