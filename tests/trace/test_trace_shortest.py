"""Shortest lines on surfaces whose shortest lines are known."""

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.trace import Surface, shortest, through
from tests import shapes


def assert_lies_in_its_faces(line, vertices, faces):
    """Every point is where its weights say, and every step's ends lie in the step's face."""
    corner = vertices[faces[line.face]]
    size = np.ptp(vertices, axis=0).max()
    assert np.allclose(np.einsum("ij,ijk->ik", line.weights, corner), line.points,
                       atol=1e-9 * size)
    assert (line.weights >= 0).all() and np.allclose(line.weights.sum(axis=1), 1)
    for ends in (line.points[:-1], line.points[1:]):
        a, b, c = (vertices[faces[line.across, i]] for i in range(3))
        normal = np.cross(b - a, c - a)
        for p, q in ((a, b), (b, c), (c, a)):
            inward = np.einsum("ij,ij->i", np.cross(normal, q - p), ends - p)
            assert (inward >= -1e-9 * np.linalg.norm(normal, axis=1) * size**2).all()
        off = np.einsum("ij,ij->i", ends - a, normal) / np.linalg.norm(normal, axis=1)
        assert np.abs(off).max(initial=0.0) < 1e-9 * size


def icosphere(radius, times):
    vertices, faces = shapes.platonic("icosahedron", 1.0)
    for _ in range(times):
        start, end, key = mesh.half_edges(faces)
        _, first, edge = np.unique(key, return_index=True, return_inverse=True)
        (a, b, c), (ab, bc, ca) = faces.T, (len(vertices) + edge.reshape(-1, 3)).T
        middle = (vertices[start[first]] + vertices[end[first]]) / 2
        vertices = np.concatenate([vertices, middle])
        faces = np.stack([np.stack(f, axis=1) for f in (
            (a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))], axis=1).reshape(-1, 3)
    return radius * vertices / np.linalg.norm(vertices, axis=1)[:, None], faces


@pytest.mark.parametrize("seed", range(6))
def test_a_great_circle_on_a_sphere(seed):
    vertices, faces = icosphere(100.0, 5)
    rng = np.random.default_rng(seed)
    frame, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    angle = rng.uniform(0.3, 2.2)  # nearly opposite points have many lines almost as short
    picks = 100 * np.array([[1, 0, 0], [np.cos(angle), np.sin(angle), 0]]) @ frame
    line = shortest(vertices, faces, picks)
    assert line.length == pytest.approx(100 * angle, rel=5e-4)  # chord error of 20k faces
    normal = np.cross(*picks) / np.linalg.norm(np.cross(*picks))
    assert np.abs(line.points @ normal).max() < 0.3
    assert_lies_in_its_faces(line, vertices, faces)


def test_a_great_circle_on_a_fine_sphere():
    # So fine that the search for a first way has no points on the sides of faces.
    vertices, faces = icosphere(100.0, 7)
    picks = 100 * np.array([[1.0, 0, 0], [np.cos(1.3), 0.8 * np.sin(1.3), 0.6 * np.sin(1.3)]])
    line = shortest(vertices, faces, picks)
    assert line.length == pytest.approx(130.0, rel=2e-5)
    assert np.abs(line.points @ [0, -0.6, 0.8]).max() < 0.1
    assert_lies_in_its_faces(line, vertices, faces)


@pytest.mark.parametrize("seed", range(6))
def test_a_helix_on_a_cylinder(seed):
    # Unrolled, a prism is a plane: the shortest line is straight there, exactly.
    columns, radius, arc, height = 49, 50.0, 4.0, 120.0
    vertices, faces = shapes.cylinder(radius, arc, height, columns)
    chord = 2 * radius * np.sin(arc / (columns - 1) / 2)
    rng = np.random.default_rng(seed)
    u, z = rng.uniform(0, columns - 1, 2), rng.uniform(0, height, 2)
    at = lambda k: radius * np.array(  # noqa: E731
        [np.cos(arc * k / (columns - 1)), np.sin(arc * k / (columns - 1))])
    picks = [[*((1 - a % 1) * at(np.floor(a)) + a % 1 * at(np.floor(a) + 1)), b]
             for a, b in zip(u, z, strict=True)]
    line = shortest(vertices, faces, picks)
    assert line.length == pytest.approx(np.hypot(chord * (u[1] - u[0]), z[1] - z[0]), rel=1e-9)
    assert_lies_in_its_faces(line, vertices, faces)
    # Of the round cylinder, the helix: its height grows evenly with the angle.
    turn = np.unwrap(np.arctan2(line.points[:, 1], line.points[:, 0]))
    even = np.interp(turn, *zip(*sorted([(turn[0], z[0]), (turn[-1], z[1])]), strict=True))
    assert np.abs(line.points[:, 2] - even).max() < 0.02 * height


@pytest.mark.parametrize("fold", [-2.0, -0.5, 0.3, 1.5])
def test_straight_over_a_fold(fold):
    vertices, faces, _ = shapes.roof(60.0, 80.0, fold)
    s = np.array([12.3, 101.7])
    y = np.array([5.5, 71.0])
    picks = [[s[0], y[0], 0.0],
             [60 + (s[1] - 60) * np.cos(fold), y[1], -(s[1] - 60) * np.sin(fold)]]
    line = shortest(vertices, faces, picks)
    assert line.length == pytest.approx(np.hypot(s[1] - s[0], y[1] - y[0]), rel=1e-12)
    assert_lies_in_its_faces(line, vertices, faces)


def test_over_a_cone():
    # Unrolled, a cone of half angle w is a sector: the line is the chord over the angle a sin w.
    half, far = np.radians(25), 150.0
    vertices, faces = shapes.cone(half, 20.0, far, columns=193, rows=25)
    on = lambda a, s: [s * np.sin(half) * np.cos(a), s * np.sin(half) * np.sin(a),  # noqa: E731
                       -s * np.cos(half)]
    a, s = 1.9, (120.0, 110.0)
    line = shortest(vertices, faces, [on(0.7, s[0]), on(0.7 + a, s[1])])
    expected = np.sqrt(s[0]**2 + s[1]**2 - 2 * s[0] * s[1] * np.cos(a * np.sin(half)))
    assert line.length == pytest.approx(expected, rel=1e-3)
    assert np.linalg.norm(line.points, axis=1).min() == pytest.approx(
        s[0] * s[1] * np.sin(a * np.sin(half)) / expected, rel=2e-3)  # nearest to the tip


def test_the_spider_and_the_fly():
    # Dudeney's room of 30 x 12 x 12 feet: 40 feet, over five of the six walls (1903).
    corners = np.array([[x, y, z] for x in (0, 30.0) for y in (0, 12.0) for z in (0, 12.0)])
    vertices, faces = shapes.hull(corners)
    line = shortest(vertices, faces, [[0, 6, 11], [30, 6, 1]])
    assert line.length == pytest.approx(40.0, rel=1e-9)


def test_round_the_corner_of_a_hole():
    # A square of 8 x 8 cells without the middle 2 x 2: the string bends at a corner of the hole.
    vertices, faces = shapes.surface(lambda x, y: (x, y, 0), np.arange(9.0), np.arange(9.0))
    middle = vertices[faces].mean(axis=1)
    faces = faces[(np.abs(middle[:, :2] - 4) > 1).any(axis=1)]
    line = shortest(vertices, faces, [[1.3, 3.6, 0], [6.8, 3.6, 0]])
    around = np.hypot(1.7, 0.6) + 2 + np.hypot(1.8, 0.6)
    assert line.length == pytest.approx(around, rel=1e-12)
    assert_lies_in_its_faces(line, vertices, faces)


@pytest.mark.parametrize("meshing", shapes.MESHINGS)
def test_the_triangles_do_not_matter(meshing):
    points, faces = shapes.disc(meshing, 20)
    vertices = np.column_stack([100 * points, np.zeros(len(points))])
    surface = Surface(vertices, faces)
    for seed in range(10):
        rng = np.random.default_rng(seed)
        radius, angle = 95 * np.sqrt(rng.uniform(size=2)), rng.uniform(0, 2 * np.pi, 2)
        picks = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), [0, 0]])
        line = through(surface, picks)
        assert line.length == pytest.approx(np.linalg.norm(picks[1] - picks[0]), rel=1e-9)


def test_from_vertex_to_vertex_along_edges():
    vertices, faces = shapes.surface(lambda x, y: (x, y, 0), np.arange(9.0), np.arange(9.0))
    line = shortest(vertices, faces, [[1, 2, 0], [7, 2, 0], [7, 7, 0], [2, 2, 0]])
    assert line.length == pytest.approx(6 + 5 + np.hypot(5, 5))
    assert_lies_in_its_faces(line, vertices, faces)
    assert np.allclose(line.points[line.picks], [[1, 2, 0], [7, 2, 0], [7, 7, 0], [2, 2, 0]])
    assert sorted(np.max(line.weights, axis=1)) == [1.0] * len(line.points)  # vertices only


def test_a_closed_line_comes_back():
    vertices, faces = shapes.cylinder(30.0, 2 * np.pi, 90.0, 37, 10)
    seam = np.abs(vertices[:, 1]) < 1e-9  # weld the tube
    first = np.arange(len(vertices))
    first[36::37] = np.arange(0, len(vertices), 37)
    assert seam[first[36::37]].all()
    vertices, faces = vertices, first[faces]
    angle = np.array([0.4, 2.4, 4.4])
    picks = np.column_stack([30 * np.cos(angle), 30 * np.sin(angle), np.full(3, 41.0)])
    line = shortest(vertices, faces, picks, closed=True)
    assert line.closed and np.allclose(line.points[0], line.points[-1])
    assert line.length == pytest.approx(36 * 2 * 30 * np.sin(np.pi / 36), rel=1e-9)
    assert len(line.picks) == 4


def test_one_pick_is_a_point():
    vertices, faces = shapes.cap(50.0, 1.0, 6)
    line = shortest(vertices, faces, [[1.0, 2.0, 60.0]])
    assert len(line.points) == 1 and line.length == 0
    assert_lies_in_its_faces(line, vertices, faces)


def test_two_parts_are_told_apart():
    vertices, faces = shapes.cap(50.0, 1.0, 6)
    both = np.concatenate([vertices, vertices + [0, 0, 200]])
    with pytest.raises(FoamError) as error:
        shortest(both, np.concatenate([faces, faces + len(vertices)]), [[0, 0, 50], [0, 0, 250]])
    assert error.value.finding.code == "no-line"


@pytest.mark.parametrize("scale", [1e-4, 1.0, 1e4])
def test_size_does_not_matter(scale):
    vertices, faces = shapes.cap(50.0, 1.2, 20)
    picks = np.array([[20.0, 3, 45], [-30, -14, 38], [5, 33, 37]])
    line = shortest(vertices, faces, picks)
    other = shortest(scale * vertices, faces, scale * picks)
    assert other.length == pytest.approx(scale * line.length, rel=1e-9)
    assert len(other.points) == len(line.points)


def test_the_nearest_point_is_the_nearest():
    rng = np.random.default_rng(3)
    vertices, faces = shapes.platonic("dodecahedron", 20.0)
    fine, small = shapes.cap(3.0, 1.0, 8)
    vertices, faces = (np.concatenate([vertices, fine + [0, 0, 40]]),
                       np.concatenate([faces, small + len(vertices)]))
    places = rng.normal(size=(50, 3)) * 30
    foot = Surface(vertices, faces).nearest(places)
    # Brute force: a dense sample of every face can be no nearer, and comes close.
    u = np.array([(i / 60, j / 60, 1 - (i + j) / 60) for i in range(61) for j in range(61 - i)])
    sample = np.einsum("pi,fij->fpj", u, vertices[faces]).reshape(-1, 3)
    brute = np.array([np.linalg.norm(sample - p, axis=1).min() for p in places])
    assert (foot.distance <= brute + 1e-9).all() and (foot.distance > brute - 0.5).all()
    assert np.allclose(np.linalg.norm(foot.points - places, axis=1), foot.distance)
