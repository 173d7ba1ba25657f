"""Lines laid along the edges of a mesh, against lines whose path or distance is known."""

import numpy as np
import pytest
import trimesh

from addon.core.snap import lay, stretches


def grid(n=20, side=10.0, diagonals=True):
    """A sheet of n by n squares: points (columns first), edges, the rim's vertices."""
    x, y = np.meshgrid(np.arange(n + 1), np.arange(n + 1))
    points = np.stack([x.ravel(), y.ravel(), 0.0 * x.ravel()], axis=1) * side
    ids = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    edges = [np.stack([ids[:, :-1].ravel(), ids[:, 1:].ravel()], axis=1),
             np.stack([ids[:-1].ravel(), ids[1:].ravel()], axis=1)]
    if diagonals:
        edges.append(np.stack([ids[:-1, :-1].ravel(), ids[1:, 1:].ravel()], axis=1))
    rim = np.unique(np.concatenate([ids[0], ids[-1], ids[:, 0], ids[:, -1]]))
    return points, np.concatenate(edges), ids, rim


def steps_are_edges(path, edges):
    known = {tuple(e) for e in np.sort(edges, axis=1).tolist()}
    return all(tuple(sorted(step)) in known for step in zip(path.tolist(), path[1:].tolist(),
                                                            strict=False))


def distance_to(line, points):
    """Largest distance of the points from a polyline, exactly."""
    a, b = line[:-1, None], line[1:, None]
    along = np.einsum("ijk,ijk->ij", points[None] - a, b - a)
    t = np.clip(along / np.maximum(((b - a) ** 2).sum(axis=2), 1e-300), 0, 1)
    return np.linalg.norm(points[None] - a - t[..., None] * (b - a), axis=2).min(axis=0).max()


def arc(t0, t1, radius, centre, n=60):
    t = np.linspace(t0, t1, n)
    return np.stack([centre[0] + radius * np.cos(t), centre[1] + radius * np.sin(t), 0 * t], axis=1)


def test_a_line_along_edges_becomes_those_edges():
    points, edges, ids, rim = grid()
    for want in (ids[7], ids[:, 3], np.diagonal(ids), ids[4, 3:12]):
        laid = lay(points, edges, [points[want][[0, -1]] + [0.0, 0.0, 0.4]], rim)
        assert np.array_equal(laid.paths[0], want) and laid.lost[0] == pytest.approx(0, abs=1e-9)


def test_a_bent_line_keeps_its_corner():
    points, edges, ids, rim = grid()
    want = np.concatenate([ids[5, 2:10], ids[6:16, 9]])
    assert np.array_equal(lay(points, edges, [points[want]], rim).paths[0], want)


@pytest.mark.parametrize("diagonals", [True, False])
def test_an_arc_is_followed_within_an_edge(diagonals):
    points, edges, _, rim = grid(diagonals=diagonals)
    line = arc(0.2, 2.9, 71.0, (100.0, 60.0))
    (path,) = lay(points, edges, [line], rim).paths
    assert steps_are_edges(path, edges) and len(set(path.tolist())) == len(path)
    assert distance_to(line, points[path]) < 10.0
    assert np.linalg.norm(points[path[[0, -1]]] - line[[0, -1]], axis=1).max() < 10.0 / 2**0.5 + 0.1


def test_a_parallel_of_a_globe_becomes_its_own_ring_of_edges():
    # A globe of meridians and parallels: the edges along a parallel are the line itself.
    n, m = 48, 24
    polar, turn = np.meshgrid(np.pi * np.arange(1, m) / m, 2 * np.pi * np.arange(n) / n,
                              indexing="ij")
    points = 100 * np.stack([np.sin(polar) * np.cos(turn), np.sin(polar) * np.sin(turn),
                             np.cos(polar)], axis=2).reshape(-1, 3)
    ids = np.arange(len(points)).reshape(m - 1, n)
    edges = np.concatenate([np.stack([ids.ravel(), np.roll(ids, -1, axis=1).ravel()], axis=1),
                            np.stack([ids[:-1].ravel(), ids[1:].ravel()], axis=1)])
    line = points[np.append(ids[9], ids[9, 0])] * 1.003
    (path,) = lay(points, edges, [line]).paths
    assert path[0] == path[-1] and set(path.tolist()) == set(ids[9].tolist())
    assert len(path) == n + 1


@pytest.mark.parametrize("turn", [0.0, 1.0, 2.5])
def test_a_great_circle_closes_on_a_ball_of_other_triangles(turn):
    ball = trimesh.creation.icosphere(subdivisions=4, radius=100.0)
    t = np.linspace(0, 2 * np.pi, 200)
    normal, u = np.array([np.sin(turn), 0.3, np.cos(turn)]), np.array([0.1, 1.0, -0.2])
    v = np.cross(normal, u)
    u = np.cross(v, normal)
    line = 100 * (np.cos(t)[:, None] * u / np.linalg.norm(u)
                  + np.sin(t)[:, None] * v / np.linalg.norm(v))
    line[-1] = line[0]
    (path,) = lay(ball.vertices, ball.edges_unique, [line]).paths
    edge = ball.edges_unique_length.mean()
    assert path[0] == path[-1] and len(set(path.tolist())) == len(path) - 1
    assert steps_are_edges(path, ball.edges_unique)
    assert distance_to(line, ball.vertices[path]) < edge
    # A staircase is longer than its line, on triangles by up to 2 / sqrt(3).
    length = np.linalg.norm(np.diff(ball.vertices[path], axis=0), axis=1).sum()
    assert 0.99 < length / (200 * np.pi) < 1.2


def test_both_legs_of_a_narrow_bend_are_followed_to_its_tip():
    points, edges, _, rim = grid(n=30)
    line = np.array([[50, 100, 0], [200, 100, 0], [200, 118, 0], [50, 118, 0]], dtype=float)
    (path,) = lay(points, edges, [line], rim).paths
    assert points[path][:, 0].max() >= 190.0
    assert distance_to(line, points[path]) < 10.0 and len(path) > 28


def test_lines_that_meet_end_in_one_vertex_and_ends_by_the_rim_go_onto_it():
    points, edges, _, rim = grid()
    meeting = np.array([93.0, 104.0, 0.0])
    lines = [np.array([meeting, far]) for far in
             ([2.0, 31.0, 0.0], [198.0, 77.0, 0.0], [120.0, 199.5, 0.0], [66.0, 66.0, 0.0])]
    paths = lay(points, edges, lines, rim).paths
    assert {int(p[0]) for p in paths} == {int(paths[0][0])}
    assert [int(p[-1]) in set(rim.tolist()) for p in paths] == [True, True, True, False]


def test_an_end_on_the_middle_of_a_line_or_a_ring_meets_it_there():
    points, edges, _, rim = grid()
    ring = arc(0, 2 * np.pi, 62.0, (98.0, 102.0))
    ring[-1] = ring[0]
    for line in (ring, arc(0.2, 2.9, 71.0, (100.0, 60.0))):
        joint = line[23]
        inward = np.array([joint, [100.0, 100.0, 0.0]])
        outward = np.array([[30.0, 180.0, 0.0], joint])
        path, other, third = lay(points, edges, [line, inward, outward], rim).paths
        assert other[0] == third[-1] and other[0] in path
        assert steps_are_edges(path, edges)
        once = path[:-1] if path[0] == path[-1] else path
        assert len(set(once.tolist())) == len(once)  # no stub where they meet


def test_a_line_stays_on_the_side_of_a_thin_wall_that_looks_its_way():
    points, edges, ids, rim = grid()
    count = len(points)
    # Two sheets 3 mm apart, joined at the rim; only the normals tell the front from the back.
    both = np.concatenate([points + [0, 0, 1.5], points - [0, 0, 1.5]])
    wall = np.concatenate([edges, edges + count, np.stack([rim, rim + count], axis=1)])
    normals = np.repeat([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]], count, axis=0)
    line = points[ids[7, [2, 18]]]
    for away in (-2.0, 0.0, 2.0):
        for side, offset in ((1.0, 0), (-1.0, count)):
            laid = lay(both, wall, [line + [0, 0, away]], (), normals, [[[0, 0, side]] * 2])
            assert np.array_equal(laid.paths[0], ids[7, 2:19] + offset)
    (none,) = lay(points, edges, [line], rim, normals[:count], [[[0.0, 0.0, -1.0]] * 2]).lost
    assert none == 1.0


def test_a_line_is_laid_where_it_lies_on_the_mesh_and_the_rest_is_told():
    points, edges, ids, rim = grid()
    off = np.array([[-100.0, 50.0, 0.0], [100.0, 50.0, 0.0]])
    gone = np.array([[0.0, 0.0, 500.0], [100.0, 0.0, 500.0]])
    laid = lay(points, edges, [gone, off], rim)
    assert np.array_equal(laid.paths[0], ids[5, :11]) and len(laid.paths) == 1
    # On the mesh to one and a half edges beyond its rim.
    assert laid.lost == pytest.approx([1.0, (100 - 15) / 200], abs=0.03)


def test_the_stretches_of_a_line_on_the_mesh_are_cut_off_it():
    points, edges, ids, _ = grid()
    on = points[ids[5, [2, 9]]]
    through = np.array([[-100.0, 50.0, 0.0], [300.0, 50.0, 0.0]])
    ring = arc(0, 2 * np.pi, 62.0, (98.0, 102.0))
    ring[-1] = ring[0]
    half = ring + [100.0, 0.0, 0.0]
    found = stretches(points, edges, [on, on + [0, 0, 100.0], through, ring, half])
    assert [len(parts) for parts in found] == [1, 0, 1, 1, 1]
    assert found[0][0] is on and np.array_equal(found[3][0], ring)
    (part,) = found[2]
    assert part[[0, -1], 0] == pytest.approx([-15.0, 215.0], abs=5.0)
    (part,) = found[4]  # the left part of the ring, in one stretch
    assert part[:, 0].max() < 216 and np.linalg.norm(np.diff(part, axis=0), axis=1).max() < 6.0
    assert stretches(points, np.empty((0, 2), int), [on]) == [[]]


def test_loose_vertices_and_empty_input_are_no_trouble():
    points, edges, ids, rim = grid()
    points = np.concatenate([points, points[ids[7]] + [3.0, 0.0, 0.0]])
    assert np.array_equal(lay(points, edges, [points[ids[7]]], rim).paths[0], ids[7])
    assert lay(points, np.empty((0, 2), int), [points[:2]]).lost.tolist() == [1.0]
    assert lay(points, edges, []).paths == () == lay(points, edges, []).lines
    assert lay(points, edges, [points[[3, 3]]]).lost.tolist() == [1.0]
