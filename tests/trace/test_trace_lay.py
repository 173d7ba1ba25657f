"""Guides are cut into the triangles: same shape, sound mesh, lines without gaps."""

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.model import SCORE, SEAM, SMOOTH, TRENCH, Guide, Sculpt, SculptObject
from addon.core.soundness import inspect
from addon.core.trace import Surface, lay
from tests import shapes


def guided(shape, *guides, **more):
    plain = Sculpt.plain(*shape, **more)
    from dataclasses import replace
    return replace(plain, guides=tuple(g if isinstance(g, Guide) else Guide(g) for g in guides))


def assert_same_shape(before, after):
    """Each new triangle lies in the one it came from, wound alike, and together they fill it."""
    size = np.ptp(before.vertices, axis=0).max()
    normal, area = mesh.face_normals(before.vertices, before.faces)
    new_normal, new_area = mesh.face_normals(after.vertices, after.faces)
    total = np.bincount(after.origin, new_area, minlength=len(area))
    assert np.allclose(total, area, rtol=1e-9, atol=1e-14 * size**2)
    assert (new_area > 0).all()
    assert (np.einsum("ij,ij->i", new_normal, normal[after.origin]) > 0.999).all()
    off = np.einsum("ijk,ik->ij", after.vertices[after.faces]
                    - before.vertices[before.faces[after.origin, 0]][:, None],
                    normal[after.origin])
    assert np.abs(off).max() < 1e-9 * size
    assert np.array_equal(after.vertices[:len(before.vertices)], before.vertices)
    assert np.array_equal(after.face_object, before.face_object[after.origin])
    assert np.array_equal(after.polygon, before.polygon[after.origin])
    assert (np.diff(after.origin) >= 0).all()


def rims(sculpt):
    loops = [sculpt.faces.ravel()[loop] for loop in mesh.boundary_loops(sculpt.faces)]
    return sum(mesh.polyline_length(sculpt.vertices[np.append(c, c[0])]) for c in loops)


def assert_sound(before, after):
    """No edge has three faces, no new rim, marks lie on edges, and the count of holes stays."""
    try:
        found = inspect(after)
    except FoamError as error:
        found = error.findings
    assert not {f.code for f in found} - {"implausible-size", "smeared-marks", "mark-on-rim"}
    assert rims(after) == pytest.approx(rims(before), rel=1e-9)
    euler = lambda s: (len(np.unique(s.faces)) - len(np.unique(mesh.half_edges(s.faces)[2]))  # noqa: E731
                       + len(s.faces))
    assert euler(after) == euler(before)


def length_of(sculpt, kind):
    edges = sculpt.edges[(sculpt.kinds & kind) != 0]
    return np.linalg.norm(sculpt.vertices[edges[:, 0]] - sculpt.vertices[edges[:, 1]], axis=1).sum()


def runs(sculpt, kind=SEAM):
    return mesh.chains(sculpt.edges[(sculpt.kinds & kind) != 0])


@pytest.fixture
def dome():
    return shapes.cap(60.0, 1.3, 16)


def on_dome(*polar):
    """Points of a sphere of 60 mm at (polar angle, azimuth)."""
    t, a = np.array(polar, dtype=float).T
    return 60 * np.stack([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)], axis=1)


def test_a_sculpt_without_guides_is_left_alone(dome):
    before = Sculpt.plain(*dome)
    assert lay(before) is before


@pytest.mark.parametrize("kind", [SEAM, TRENCH, SCORE])
def test_a_line_becomes_marked_edges(dome, kind):
    before = guided(dome, Guide(on_dome((0.9, 0.2), (0.8, 2.5)), kind))
    after = lay(before)
    assert_same_shape(before, after)
    assert_sound(before, after)
    assert after.guides == () and set(after.kinds) == {kind | SMOOTH}
    (run,) = runs(after, kind)
    angle = np.arccos(np.cos(0.9) * np.cos(0.8) + np.sin(0.9) * np.sin(0.8) * np.cos(2.3))
    assert length_of(after, kind) == pytest.approx(60 * angle, rel=5e-3)  # a great circle
    ends = after.vertices[run[[0, -1]]]
    ends = ends[np.argsort(ends[:, 0])[::-1]]
    assert np.abs(ends - on_dome((0.9, 0.2), (0.8, 2.5))).max() < 0.5


def test_lines_that_cross_share_a_vertex(dome):
    before = guided(dome, on_dome((0.9, 0.3), (0.9, 3.3)), on_dome((1.0, 1.7), (0.9, 4.9)))
    after = lay(before)
    assert_same_shape(before, after)
    assert_sound(before, after)
    degree = np.bincount(after.edges.ravel())
    assert sorted(degree[degree != 2][degree[degree != 2] > 0]) == [1, 1, 1, 1, 4]


def regions(sculpt):
    """Areas of the parts that the seams leave, ascending."""
    opened, source = mesh.cut_along(sculpt.faces, sculpt.edges[(sculpt.kinds & SEAM) != 0],
                                    len(sculpt.vertices))
    start, stop, _ = mesh.half_edges(opened)
    number, label = mesh.components(len(source), np.stack([start, stop], axis=1))
    area = mesh.face_normals(sculpt.vertices, sculpt.faces)[1]
    return np.sort(np.bincount(label[opened[:, 0]], area, minlength=number))


@pytest.mark.parametrize("miss", [0.0, 0.1, 0.4, 1.5])
def test_three_lines_that_all_but_meet_leave_no_crumb(miss):
    # Over the crown of a dome, by a little beside it: six pieces, as if they met there.
    vertices, faces = shapes.cap(60.0, 1.3, 31)
    turn = np.array([[np.cos(1.1), np.sin(1.1), 0], [-np.sin(1.1), np.cos(1.1), 0], [0, 0, 1.0]])
    across = np.array([[-55.0, 0, 24], [0, 0, 60], [55, 0, 24]])
    lines = [across, across @ turn + [0, miss, 0], across @ turn @ turn + [miss, 0, 0]]
    after = lay(guided((vertices, faces), *lines))
    assert_same_shape(guided((vertices, faces)), after)
    found = regions(after)
    assert len(found) == 1 and found[0] > 50  # their ends stop short of the rim


def test_lines_that_cross_far_apart_stay_where_they_are(dome):
    lines = [on_dome((0.9, 0.3), (0.9, 3.3)), on_dome((1.0, 1.7), (0.9, 4.9)),
             on_dome((0.9, 1.0), (0.9, 2.3))]
    both, alone = lay(guided(dome, *lines)), lay(guided(dome, lines[2]))
    assert length_of(both, SEAM) == pytest.approx(
        length_of(lay(guided(dome, *lines[:2])), SEAM) + length_of(alone, SEAM), rel=1e-3)


def test_lines_across_a_coarse_face_leave_no_slivers():
    # Ten lines fan out over two triangles; no angle need be smaller than the lines make it.
    before = guided(shapes.surface(lambda x, y: (x, y, 0), [0.0, 100.0], [0.0, 100.0]),
                    *(np.array([[0, 10.0 * k + 5, 0], [100, 100 - 10.0 * k - 5, 0]])
                      for k in range(10)))
    after = lay(before)
    assert_same_shape(before, after)
    assert_sound(before, after)
    straight = sum(np.hypot(100, 90 - 20 * k) for k in range(10))
    assert length_of(after, SEAM) == pytest.approx(straight, rel=3e-3)  # they meet in the middle


def test_marks_on_divided_edges_stay_on_both_halves():
    shape = shapes.surface(lambda x, y: (x, y, 0), np.arange(0, 60.0, 10), np.arange(0, 60.0, 10))
    edges, _ = mesh.edge_faces(shape[1])
    middle = edges[(np.abs(shape[0][edges][:, :, 0] - 20) < 1e-9).all(axis=1)]
    before = guided(shape, Guide([[3.0, 23, 0], [47, 29, 0]], SEAM),
                    edges=np.sort(middle, axis=1), kinds=[TRENCH] * len(middle))
    after = lay(before)
    assert_same_shape(before, after)
    assert length_of(after, TRENCH) == pytest.approx(50.0)
    assert length_of(after, SEAM) == pytest.approx(np.hypot(44, 6), rel=1e-3)


def test_a_line_along_edges_needs_no_new_vertices():
    shape = shapes.surface(lambda x, y: (x, y, 0), np.arange(0, 60.0, 10), np.arange(0, 60.0, 10))
    after = lay(guided(shape, [[10.05, 10.1, 0], [39.95, 10.0, 0], [39.9, 40.1, 0]]))
    assert len(after.vertices) == len(shape[0]) and length_of(after, SEAM) == pytest.approx(60.0)


@pytest.mark.parametrize("end", [49.0, 49.99, 50.0])
def test_an_end_near_the_rim_joins_it(end):
    shape = shapes.surface(lambda x, y: (x, y, 0), np.arange(0, 60.0, 10), np.arange(0, 60.0, 10))
    after = lay(guided(shape, [[1.2, 13.0, 0], [end, 31.0, 0]]))
    assert_sound(guided(shape), after)
    _, source = mesh.cut_along(after.faces, after.edges, len(after.vertices))
    start, stop, _ = mesh.half_edges(mesh.cut_along(after.faces, after.edges,
                                                    len(after.vertices))[0])
    assert mesh.components(len(source), np.stack([start, stop], axis=1))[0] == 2


@pytest.mark.parametrize("end", [23.2, 24.9, 25.0, 25.2, 26.5])
@pytest.mark.parametrize("order", [1, -1])
def test_an_end_near_another_line_joins_it(end, order):
    shape = shapes.surface(lambda x, y: (x, y, 0), np.arange(0, 60.0, 10), np.arange(0, 60.0, 10))
    lines = [np.array([[0, 25.0, 0], [50, 25, 0]]), np.array([[17.0, 0, 0], [22.0, end, 0]])]
    after = lay(guided(shape, *lines[::order]))
    opened, source = mesh.cut_along(after.faces, after.edges, len(after.vertices))
    start, stop, _ = mesh.half_edges(opened)
    assert mesh.components(len(source), np.stack([start, stop], axis=1))[0] == 3
    assert np.bincount(after.edges.ravel()).max() == 3  # no stub beyond


def test_a_dart_that_ends_far_inside_stays_one():
    shape = shapes.surface(lambda x, y: (x, y, 0), np.arange(0, 60.0, 10), np.arange(0, 60.0, 10))
    after = lay(guided(shape, [[0, 13.0, 0], [31, 27, 0]]))
    (run,) = runs(after)
    assert length_of(after, SEAM) == pytest.approx(np.hypot(31, 14), rel=1e-3)


def test_a_line_round_a_tube_is_closed():
    vertices, faces = shapes.cylinder(30.0, 2 * np.pi, 90.0, 37, 10)
    first = np.arange(len(vertices))
    first[36::37] = np.arange(0, len(vertices), 37)
    angle = np.array([0.4, 2.4, 4.4])
    before = guided((vertices, first[faces]), Guide(np.column_stack(
        [30 * np.cos(angle), 30 * np.sin(angle), np.full(3, 41.0)]), SEAM, closed=True))
    after = lay(before)
    assert_same_shape(before, after)
    (run,) = runs(after)
    assert run[0] == run[-1]
    assert length_of(after, SEAM) == pytest.approx(36 * 2 * 30 * np.sin(np.pi / 36), rel=1e-3)


@pytest.mark.parametrize(("points", "words"), [
    ([[0, 0, 80.0], [20, 0, 56]], "20.0 mm away"),
    ([[0, 0, 60.0]], "no two points"),
    ([[0, 0, 60.0], [0, 0, 60.01]], "too short"),
    ([[0, 0, 60.0], [np.nan, 0, 56]], "no two points"),
    (np.empty((0, 3)), "no two points"),
])
def test_a_line_that_cannot_be_cut_is_named(dome, points, words):
    before = guided(dome, on_dome((0.9, 0.3), (0.9, 3.3)), Guide(points, name="Left arm"))
    after = lay(before)
    (found,) = after.findings
    assert found.code == "guide-off-surface" and words in found.message
    assert "“Left arm”" in found.message and found.remedy
    assert ("modifier" in found.remedy) == ("away" in words)
    assert length_of(after, SEAM) > 80  # the other line is cut all the same


def test_a_line_between_two_parts_is_named(dome):
    vertices, faces = dome
    both = np.concatenate([vertices, vertices + [300.0, 0, 0]])
    after = lay(guided((both, np.concatenate([faces, faces + len(vertices)])),
                       [[0, 0, 60.0], [300.0, 0, 60]]))
    (found,) = after.findings
    assert found.code == "guide-off-surface" and "hang together" in found.message
    assert len(found.faces) == 2


def test_a_line_keeps_to_its_object(dome):
    # Two skins 1 mm apart: the line belongs to the inner one, though the outer is nearer.
    vertices, faces = dome
    inner = vertices * 59 / 60
    sculpt = Sculpt(
        vertices=np.concatenate([vertices, inner]),
        faces=np.concatenate([faces, faces + len(vertices)]), edges=np.empty((0, 2)), kinds=(),
        face_object=np.repeat([0, 1], len(faces)), objects=(SculptObject("a"), SculptObject("b")),
        polygon=np.arange(2 * len(faces)),
        guides=(Guide(on_dome((0.9, 0.2), (0.8, 2.5)), object=1),))
    after = lay(sculpt)
    assert_same_shape(sculpt, after)
    assert (after.face_object[np.isin(after.faces, after.edges).all(axis=1)] == 1).all()
    assert set(np.bincount(after.origin)[:len(faces)]) == {1}


@pytest.mark.parametrize("faces, times", [
    ([[0, 2, 3], [0, 3, 1], [0, 1, 5], [0, 5, 4], [0, 6, 7], [0, 7, 1]], 3),  # a third wing
    ([[0, 2, 3], [0, 3, 1], [0, 5, 1], [0, 4, 5]], 2),  # the second wing lies inside out
])
@pytest.mark.parametrize("start", [-30.0, 0.0])
def test_faces_that_meet_in_no_sound_pair_are_divided_together(faces, times, start):
    vertices = np.array([[0, 0, 0], [0, 50, 0], [50, 0, 0], [50, 50, 0], [-50, 0, 0],
                         [-50, 50, 0], [0, 0, 50], [0, 50, 50.0]])
    lines = [[[start, 15.0, 0], [0, 20, 0]], [[0, 20.0, 0], [30, 25, 0]]]
    after = lay(guided((vertices, faces), *lines))
    along = np.flatnonzero((after.vertices[:, [0, 2]] == 0).all(axis=1)
                           & (after.vertices[:, 1] < 50.1))
    edges, count = np.unique(np.sort(np.concatenate(
        [after.faces[:, [i, (i + 1) % 3]] for i in range(3)]), axis=1), axis=0, return_counts=True)
    at_spine = np.isin(edges, along).all(axis=1)
    assert at_spine.sum() == len(along) - 1 > 1 and (count[at_spine] == times).all()


@pytest.mark.parametrize("seed", range(40))
def test_many_lines_on_any_mesh(seed):
    rng = np.random.default_rng(seed)
    meshing = shapes.MESHINGS[seed % 3]
    scale = 10.0 ** rng.uniform(-2, 3)
    flat, faces = shapes.disc(meshing, int(rng.integers(2, 14)), seed)
    height = rng.normal(size=3) * rng.uniform(0, 1)
    raise_ = lambda p: np.column_stack([p, height[0] * p[:, 0]**2 + height[1] * p[:, 1]**3  # noqa: E731
                                        + height[2] * p[:, 0] * p[:, 1]])
    shape = (scale * raise_(flat), faces)
    surface = Surface(*shape)
    guides = []
    for _ in range(rng.integers(1, 9)):
        picks = rng.uniform(-0.7, 0.7, (rng.integers(2, 6), 2))
        if rng.uniform() < 0.3:  # through vertices
            picks[0] = flat[rng.integers(len(flat))]
        if rng.uniform() < 0.3 and guides:  # from a line before
            start = guides[-1].points[0, :2] / scale
            picks[-1] = start
        places = surface.nearest(scale * raise_(picks)).points
        guides.append(Guide(places, int(rng.choice([SEAM, TRENCH, SCORE])),
                            closed=bool(rng.uniform() < 0.3)))
    edges, _ = mesh.edge_faces(faces)
    marks = np.sort(edges[rng.uniform(size=len(edges)) < 0.05], axis=1)
    before = guided(shape, *guides, edges=marks, kinds=[SEAM] * len(marks))
    after = lay(before)
    assert_same_shape(before, after)
    assert_sound(before, after)
    assert not [f for f in after.findings if "away" in f.message]
    # Every laid line hangs together: it ends loose only where a guide ends or turns back, or
    # where an end was trimmed.
    alone = np.bincount(after.edges.ravel(), minlength=len(after.vertices)) == 1
    laid = np.unique(after.edges[(after.kinds & SMOOTH) != 0])
    picks = np.concatenate([g.points for g in guides])
    for end in after.vertices[laid[alone[laid]]]:
        assert np.linalg.norm(picks - end, axis=1).min() < min(2.3, 0.3 * scale)
    # What was a seam still is, to the last hundredth of a millimetre.
    assert length_of(after, SEAM) >= length_of(before, SEAM) * (1 - 1e-9)
