"""Double-walled sculpts keep their outer face, everything else stays as it is."""

import numpy as np
import pytest
import trimesh

from addon.core import mesh
from addon.core.make import check
from addon.core.model import SEAM, Settings
from addon.core.skin import DOUBLE, OPEN, SOLID, outer_skin, shells
from addon.core.stock import Stock
from tests import shapes


def thickened(points, faces, thickness):
    """The surface with a second one `thickness` further in and a rim of quads between them."""
    inner = points - mesh.vertex_normals(points, faces) * thickness
    count, rim = len(points), []
    for loop in mesh.boundary_loops(faces):
        a = faces.ravel()[loop]
        b = np.roll(a, -1)
        rim += [np.stack([b, a, a + count], 1), np.stack([b, a + count, b + count], 1)]
    return np.concatenate([points, inner]), np.concatenate([faces, faces[:, ::-1] + count, *rim])


SHELLS = {
    "half cylinder": shapes.cylinder(100, np.pi, 150, columns=31),
    "shallow plate": shapes.cylinder(400, 0.3, 150, columns=13),
    "dome": shapes.cap(120, 1.1, 12),
    "dome of faces far smaller than the wall": shapes.cap(120, 1.1, 40),
    "tube open at a slit": shapes.cylinder(110, 5.6, 300, columns=61, rows=25),
}


@pytest.mark.parametrize("name", SHELLS)
def test_a_shell_keeps_exactly_its_outer_face(name):
    points, faces = SHELLS[name]
    shell = shapes.sculpt(thickened(points, faces, 10.0))
    skin = outer_skin(shell)
    assert np.array_equal(skin.faces, faces)
    assert np.array_equal(skin.origin, np.arange(len(faces)))
    assert [f.code for f in skin.findings] == ["double-walled"]
    assert np.array_equal(skin.findings[0].faces, np.arange(len(faces)))


def rounded_dome(radius=120.0, wall=10.0, angle=1.1, columns=60):
    """A spherical shell whose rim is a half circle from the outer to the inner face."""
    rise = np.linspace(0.0, angle, 40)
    turn = np.linspace(0.0, np.pi, 10)[1:-1]
    middle = radius - wall / 2
    away = np.array([np.sin(angle), np.cos(angle)])
    down = np.array([np.cos(angle), -np.sin(angle)])
    rim = middle * away + wall / 2 * (np.cos(turn)[:, None] * away + np.sin(turn)[:, None] * down)
    arc = np.stack([np.sin(rise), np.cos(rise)], axis=1)
    profile = np.concatenate([radius * arc, rim, (radius - wall) * arc[::-1]])
    around = np.linspace(0, 2 * np.pi, columns, endpoint=False)
    points = np.concatenate([
        np.array([[0.0, 0.0, profile[0, 1]]]),
        *(np.stack([r * np.cos(around), r * np.sin(around), np.full(columns, z)], axis=1)
          for r, z in profile[1:-1]),
        np.array([[0.0, 0.0, profile[-1, 1]]])])
    j = np.arange(columns)
    ring = lambda i, k: 1 + i * columns + (j + k) % columns  # noqa: E731
    last = len(profile) - 3
    faces = [np.stack([0 * j, ring(0, 0), ring(0, 1)], axis=1)]
    for i in range(last):
        faces += [np.stack([ring(i, 0), ring(i + 1, 0), ring(i + 1, 1)], axis=1),
                  np.stack([ring(i, 0), ring(i + 1, 1), ring(i, 1)], axis=1)]
    faces.append(np.stack([0 * j + len(points) - 1, ring(last, 1), ring(last, 0)], axis=1))
    return points, np.concatenate(faces)


def test_a_rounded_rim_is_left_out_with_the_inner_face():
    points, faces = rounded_dome()
    skin = outer_skin(shapes.sculpt((points, faces)))
    away = np.linalg.norm(points[skin.faces], axis=2)
    assert np.quantile(away, 0.9) == pytest.approx(120.0) and away.min() > 115.0
    assert len(mesh.boundary_loops(skin.faces)) == 1
    # Area of a spherical cap, 2 π R² (1 - cos α); the rim adds at most its outer quarter.
    cap = 2 * np.pi * 120**2 * (1 - np.cos(1.1))
    area = mesh.face_normals(points, skin.faces)[1].sum()
    assert 0.99 * cap < area < cap + np.pi / 2 * 5 * 2 * np.pi * 120


def test_the_inner_face_of_a_sphere_is_smaller_as_steiner_says():
    """Area factor of an offset by h: 1 + 2 H h + K h^2 (Steiner), so 0.81 for R 100, h -10."""
    points, faces = shapes.cap(100, 1.2, 16)
    both = thickened(points, faces, 10.0)
    area = lambda f: mesh.face_normals(both[0], f)[1].sum()  # noqa: E731
    kept = area(outer_skin(shapes.sculpt(both)).faces)
    # Averaged normals tilt by half a facet at the rim, hence the per cent.
    assert area(both[1][len(faces):2 * len(faces)]) / kept == pytest.approx(0.81, rel=1e-2)


@pytest.mark.parametrize("shape", [shapes.platonic("cube", 80), shapes.platonic("icosahedron", 80),
                                   shapes.cap(100, 1.2, 8)])
def test_solids_and_single_surfaces_are_returned_untouched(shape):
    sculpt = shapes.sculpt(shape)
    assert outer_skin(sculpt) is sculpt


def test_marks_of_the_outer_face_stay_and_others_go():
    points, faces = SHELLS["dome"]
    both = thickened(points, faces, 10.0)
    seam = shapes.spokes(points, faces, number=2)
    skin = outer_skin(shapes.sculpt(both, np.concatenate([seam, seam + len(points)])))
    assert np.array_equal(skin.edges, np.sort(seam, axis=1))
    assert (skin.kinds == SEAM).all()


def test_findings_and_pieces_speak_of_the_sculpt_as_it_was_read():
    """The lower of two shells lies after a stretch of dropped faces and still finds its own."""
    first = thickened(*SHELLS["shallow plate"], 10.0)
    points, faces = thickened(*shapes.cap(150, np.radians(60), 12), 10.0)
    count, before = len(first[0]), len(first[1])
    sculpt = shapes.sculpt((np.concatenate([first[0], points + 900]),
                            np.concatenate([first[1], faces + count])))
    pattern = check(sculpt, Settings(Stock("foam", 10.0)))
    plate, dome = pattern.pieces
    assert pattern.sculpt.faces.shape == sculpt.faces.shape
    assert np.array_equal(np.sort(dome.source_face),
                          before + np.arange(len(shapes.cap(150, 1.0, 12)[1])))
    (relief,) = [f for f in pattern.findings if f.code in ("needs-relief", "try-on-scrap")]
    assert set(relief.faces) <= set(dome.source_face)


def test_every_part_is_of_one_kind():
    """A thick dome, a thin sheet and a ball in one object, apart from each other."""
    dome = thickened(*shapes.cap(120, 1.1, 12), 10.0)
    sheet = shapes.cylinder(400, 0.3, 150, columns=13)
    ball = trimesh.creation.icosphere(subdivisions=2, radius=50)
    parts = [dome, sheet, (ball.vertices, ball.faces)]
    points, faces, count = [], [], 0
    for number, (p, f) in enumerate(parts):
        points.append(np.asarray(p) + [1000 * number, 0, 0])
        faces.append(np.asarray(f) + count)
        count += len(p)
    found = shells(shapes.sculpt((np.concatenate(points), np.concatenate(faces))))
    assert [shell.kind for shell in found] == [DOUBLE, OPEN, SOLID]
    assert [len(shell.faces) for shell in found] == [len(f) for f in faces]
    assert found[0].wall == pytest.approx(10.0, rel=0.05)
    assert np.array_equal(found[0].skin, np.arange(len(shapes.cap(120, 1.1, 12)[1])))
    assert len(found[1].skin) == len(found[2].skin) == 0
