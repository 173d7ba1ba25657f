"""Mirror images in a mesh, on grids where every partner is known by its column."""

import numpy as np
import pytest

from addon.core.mesh import edge_keys
from addon.core.mirror import edge_partners, mirrored_kinds, vertex_partners
from addon.core.model import SCORE, SEAM, TRENCH


def grid(columns=6, rows=3, spacing=10.0):
    """A grid of points centred on x = 0, and its edges along x and along z."""
    n, m = columns + 1, rows + 1
    x, z = np.meshgrid((np.arange(n) - columns / 2) * spacing, np.arange(m) * spacing)
    points = np.stack([x.ravel(), np.cos(x / 30).ravel(), z.ravel()], axis=1)
    ids = np.arange(n * m).reshape(m, n)
    edges = np.concatenate([np.stack([ids[:, :-1].ravel(), ids[:, 1:].ravel()], axis=1),
                            np.stack([ids[:-1].ravel(), ids[1:].ravel()], axis=1)])
    return points, edges, ids


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_the_partner_lies_in_the_opposite_column(axis):
    points, _, ids = grid()
    points = np.roll(points, axis, axis=1)
    assert np.array_equal(vertex_partners(points, axis, 0.1), ids[:, ::-1].ravel())


def test_partners_are_found_within_the_tolerance_only_and_are_mutual():
    points, _, ids = grid()
    moved = points + np.random.default_rng(1).uniform(-0.5, 0.5, points.shape)
    # The image of a moved point is off its partner by no more than twice the way to a corner.
    assert np.array_equal(vertex_partners(moved, 0, np.sqrt(3.0)), ids[:, ::-1].ravel())
    points[ids[0, 0], 2] += 4.0
    found = vertex_partners(points, 0, 3.9)
    assert found[ids[0, 0]] == -1 and found[ids[0, -1]] == -1
    found = vertex_partners(points, 0, 4.1)
    assert found[ids[0, 0]] == ids[0, -1] and found[ids[0, -1]] == ids[0, 0]


def test_every_edge_of_a_symmetric_grid_has_a_partner_and_those_in_the_plane_are_their_own():
    points, edges, ids = grid()
    partner = edge_partners(edges, vertex_partners(points, 0, 0.1))
    assert np.array_equal(partner[partner], np.arange(len(edges)))
    own = edges[partner == np.arange(len(edges))]
    middle = ids[:, ids.shape[1] // 2]
    assert np.array_equal(np.sort(edge_keys(own, len(points))),
                          np.sort(edge_keys(np.stack([middle[:-1], middle[1:]], 1), len(points))))


def test_an_edge_without_its_mirror_image_has_no_partner():
    points, edges, ids = grid()
    left = np.flatnonzero((edges == [ids[0, 0], ids[0, 1]]).all(axis=1))[0]
    partner = edge_partners(np.delete(edges, left, axis=0), vertex_partners(points, 0, 0.1))
    assert (partner < 0).sum() == 1
    assert edge_partners(np.empty((0, 2), int), np.empty(0, int)).shape == (0,)
    assert vertex_partners(np.empty((0, 3)), 0, 1.0).shape == (0,)


def marks(*named):
    """Kinds on the grid's edges: (row, column, kind) of edges along x, counted from the left."""
    points, edges, _ = grid()
    kinds = np.zeros(len(edges), dtype=int)
    for row, column, kind in named:
        kinds[6 * row + column] = kind
    return points, edges, kinds


@pytest.mark.parametrize(("direction", "expected"), [
    ("POSITIVE", {(0, 5): SEAM, (0, 0): SEAM}),
    ("NEGATIVE", {(1, 1): TRENCH, (1, 4): TRENCH, (0, 0): SCORE, (0, 5): SCORE}),
    ("BOTH", {(0, 5): SEAM, (0, 0): SCORE, (1, 1): TRENCH, (1, 4): TRENCH}),
])
def test_one_side_replaces_the_other_or_both_are_completed(direction, expected):
    points, edges, kinds = marks((0, 5, SEAM), (0, 0, SCORE), (1, 1, TRENCH))
    made, alone = mirrored_kinds(points, edges, kinds, 0, 0.1, direction)
    assert {(i // 6, i % 6): made[i] for i in np.flatnonzero(made)} == expected
    assert not len(alone)


def test_mirroring_twice_changes_nothing_more():
    points, edges, _ = grid()
    kinds = np.random.default_rng(2).choice([0, SEAM, TRENCH, SCORE], len(edges))
    for direction in ("POSITIVE", "NEGATIVE", "BOTH"):
        once, _ = mirrored_kinds(points, edges, kinds, 0, 0.1, direction)
        assert np.array_equal(mirrored_kinds(points, edges, once, 0, 0.1, direction)[0], once)


def test_marked_edges_without_a_partner_are_told():
    points, edges, kinds = marks((0, 5, SEAM), (2, 4, SEAM))
    points[0, 2] -= 5.0  # the far end of the image of the first
    made, alone = mirrored_kinds(points, edges, kinds, 0, 0.1, "POSITIVE")
    assert alone.tolist() == [5] and np.count_nonzero(made) == 3
    assert not len(mirrored_kinds(points, edges, kinds, 0, 0.1, "NEGATIVE")[1])


def test_a_vertex_that_lies_nowhere_has_no_partner_and_the_others_keep_theirs():
    points = np.array([(-1.0, 0, 0), (np.nan, 0, 0), (1.0, 0, 0), (0, np.inf, 0), (0, 2, 0)])
    assert vertex_partners(points, 0, 0.1).tolist() == [2, -1, 0, -1, 4]
    assert vertex_partners(points[[1, 3]], 0, 0.1).tolist() == [-1, -1]
