"""Proposed openings: one application makes closed shells, handles and tubes flattenable."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from addon.core import mesh, seams
from addon.core.errors import ERROR, FoamError
from addon.core.make import check
from addon.core.model import SEAM, Sculpt, Settings
from addon.core.openings import handle_finding, propose_opening, tube_finding
from addon.core.stock import Stock
from addon.export.report import report
from tests import shapes

THIN = Settings(Stock("foam 2 mm", 2.0))


def welded(f, u, v, both=False):
    """A surface over a grid of parameters, closed in u (and v) where the ends meet."""
    points, faces = shapes.surface(f, u, v)
    number = np.arange(len(points)).reshape(len(v), len(u))
    number[:, -1] = number[:, 0]
    if both:
        number[-1] = number[0]
    used, faces = np.unique(number.ravel()[faces], return_inverse=True)
    return points[used], faces.reshape(-1, 3)


def tube(radius=40.0, height=200.0, around=32, rows=17):
    return welded(lambda a, z: (radius * np.cos(a), radius * np.sin(a), z),
                  np.linspace(0, 2 * np.pi, around + 1), np.linspace(0, height, rows))


def torus(large=100.0, small=40.0, arc=2 * np.pi, around=33, along=65):
    return welded(lambda b, a: ((large + small * np.cos(b)) * np.cos(a),
                                (large + small * np.cos(b)) * np.sin(a), small * np.sin(b)),
                  np.linspace(0, -2 * np.pi, around), np.linspace(0, arc, along),
                  both=arc == 2 * np.pi)


def ball(axes=(100.0, 100.0, 100.0), count=1500):
    """Hull of points spread evenly over a sphere, stretched."""
    k = np.arange(count) + 0.5
    z, turn = 1 - 2 * k / count, 2 * np.pi * k / shapes.GOLDEN
    r = np.sqrt(1 - z**2)
    points, faces = shapes.hull(np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1))
    return points * axes, faces


def without(shape, gone):
    """The surface less the faces whose middle is where `gone` says."""
    points, faces = shape
    faces = faces[~gone(points[faces].mean(axis=1))]
    used, faces = np.unique(faces, return_inverse=True)
    return points[used], faces.reshape(-1, 3)


def level_set(field, low, high, step):
    """Surface where field(points) changes sign, inside negative: a point in each cell that it
    crosses, a quad round each edge of the grid that it crosses (Gibson 1998)."""
    axes = [np.arange(a, b + step, step) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    value = field(grid)
    cells = np.array(value.shape) - 1
    total, number = np.zeros((*cells, 3)), np.zeros(cells)
    quads = []
    for axis in range(3):
        v, g = np.moveaxis(value, axis, 0), np.moveaxis(grid, axis, 0)
        a, b = v[:-1], v[1:]
        crossed = (a < 0) != (b < 0)
        at = np.argwhere(crossed)
        share = (a / np.where(crossed, a - b, 1.0))[crossed][:, None]
        where = g[:-1][crossed] * (1 - share) + g[1:][crossed] * share
        corner = np.empty((len(at), 4, 3), dtype=int)
        for k, (i, j) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
            cell = np.insert(at[:, 1:] - (i, j), axis, at[:, 0], axis=1)
            np.add.at(total, tuple(cell.T), where)
            np.add.at(number, tuple(cell.T), 1)
            corner[:, k] = cell
        # np.moveaxis leaves the other two axes in order: turned the other way for y.
        outward = (a[crossed] < 0) != (axis == 1)
        corner[~outward] = corner[~outward][:, ::-1]
        quads.append(np.ravel_multi_index(np.moveaxis(corner, -1, 0), cells))
    quads = np.concatenate(quads)
    points = (total / np.maximum(number, 1)[..., None]).reshape(-1, 3)
    used, faces = np.unique(np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]),
                            return_inverse=True)
    return points[used], faces.reshape(-1, 3)


def capsule(a, b, radius):
    """Signed distance from the round rod between two points."""
    a, b = np.array(a, dtype=float), np.array(b, dtype=float)

    def field(p):
        share = np.clip((p - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        return np.linalg.norm(p - a - share[..., None] * (b - a), axis=-1) - radius
    return field


def ring(centre, large, small):
    """Signed distance from a torus about z."""
    def field(p):
        p = p - centre
        return np.hypot(np.hypot(p[..., 0], p[..., 1]) - large, p[..., 2]) - small
    return field


def union(*fields, soft=10.0):
    return lambda p: -soft * np.log(sum(np.exp(-f(p) / soft) for f in fields))


def rings(number):
    """Tori side by side: a closed surface of that genus."""
    return level_set(union(*(ring((140.0 * k, 0, 0), 70, 28) for k in range(number))),
                     (-120, -120, -50), (140 * number - 20, 120, 50), 8.0)


def branches():
    """Three tubes that meet in the middle."""
    ends = [200 * np.array([np.cos(a), np.sin(a), 0]) for a in np.radians([90, 210, 330])]
    joined = level_set(union(*(capsule((0, 0, 0), end, 40) for end in ends)),
                       (-260, -260, -60), (260, 260, 60), 9.0)
    return without(joined, lambda c: np.max(c @ np.array(ends).T, axis=1) > 150 * 200)


def trousers():
    body = union(capsule((-75, 0, 0), (-60, 0, 400), 45), capsule((75, 0, 0), (60, 0, 400), 45),
                 capsule((-30, 0, 400), (30, 0, 400), 75), capsule((0, 0, 400), (0, 0, 600), 90))
    return without(level_set(body, (-160, -120, -60), (160, 120, 720), 12.0),
                   lambda c: (c[:, 2] < 30) | (c[:, 2] > 540))


def mug():
    """A bowl with a handle: open at the top."""
    body = union(capsule((0, 0, 0), (0, 0, 120), 70), lambda p: ring((0, 0, 0), 45, 14)(
        p[..., [0, 2, 1]] - (80, 60, 0)), soft=4.0)
    return without(level_set(body, (-90, -90, -90), (160, 90, 220), 7.0), lambda c: c[:, 2] > 110)


def side_hole():
    return without(tube(around=64, rows=33), lambda c: (
        np.hypot(c[:, 1], c[:, 2] - 90) < 22) & (c[:, 0] > 0))


SHAPES = {
    "sphere": ball, "ellipsoid": lambda: ball((120.0, 80.0, 60.0)), "torus": torus,
    "cube": lambda: shapes.platonic("cube", 100.0), "two rings": lambda: rings(2),
    "three rings": lambda: rings(3), "mug": mug, "tube": tube, "bent tube": lambda: torus(
        arc=np.pi / 2, along=25), "three tubes": branches, "trousers": trousers,
    "tube with a side hole": side_hole,
}


@cache
def shape(name):
    return SHAPES[name]()


@cache
def proposal(name):
    return propose_opening(*shape(name))


def regions(points, faces, edges):
    return seams.cut(shapes.sculpt((points, faces), edges)).regions


def handles(region) -> int:
    edges = len(np.unique(mesh.half_edges(region.faces)[2]))
    return (2 - len(region.vertices) + edges - len(region.faces) - len(region.loops)) // 2


def length(points, edges) -> float:
    return float(np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1).sum())


@pytest.mark.parametrize("name", SHAPES)
def test_the_proposed_edges_open_every_shape_in_one_go(name):
    points, faces = shape(name)
    edges = proposal(name)
    assert len(edges) and (edges[:, 0] < edges[:, 1]).all()
    key = mesh.edge_keys(edges, len(points))
    inner, _ = mesh.edge_faces(faces)
    assert len(np.unique(key)) == len(key)
    assert np.isin(key, mesh.edge_keys(inner, len(points))).all()
    for region in regions(points, faces, edges):
        assert handles(region) == 0 and len(region.loops) >= 1
        assert len(propose_opening(region.vertices, region.faces)) == 0


@pytest.mark.parametrize("name", SHAPES)
def test_what_is_cut_as_proposed_lies_flat_without_a_tube_or_a_handle(name):
    edges = proposal(name)
    pattern = check(Sculpt.plain(*shape(name), edges, [SEAM] * len(edges)), THIN)
    assert not {f.code for f in pattern.findings} & {"tube", "cannot-flatten"}
    for piece in pattern.pieces:
        assert (piece.stretch[:, 1] > 0).all() and piece.area > 0


def test_the_shapes_have_the_handles_and_rims_that_are_meant():
    """Closed: genus = 1 - euler / 2. A grid's outward quads enclose a positive volume."""
    expected = {"sphere": (0, 0), "torus": (1, 0), "two rings": (2, 0), "three rings": (3, 0),
                "mug": (1, 1), "tube": (0, 2), "three tubes": (0, 3), "trousers": (0, 3),
                "tube with a side hole": (0, 3)}
    for name, (genus, rims) in expected.items():
        points, faces = shape(name)
        edges = len(np.unique(mesh.half_edges(faces)[2]))
        assert len(mesh.boundary_loops(faces)) == rims
        assert len(points) - edges + len(faces) == 2 - 2 * genus - rims
        a, b, c = (points[faces[:, i]] for i in range(3))
        assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() > 0


@pytest.mark.parametrize("name", ["sphere", "ellipsoid", "cube", "torus", "two rings"])
def test_a_closed_shell_is_parted_in_two_halves_of_about_equal_area(name):
    points, faces = shape(name)
    halves = regions(points, faces, proposal(name))
    areas = [mesh.face_normals(r.vertices, r.faces)[1].sum() for r in halves]
    assert len(halves) == 2 and min(areas) / max(areas) > 0.9


def test_a_ball_is_parted_along_a_great_circle_and_an_ellipsoid_along_its_longest_equator():
    points, _ = shape("sphere")
    line = points[proposal("sphere")].mean(axis=1)
    _, spread, axes = np.linalg.svd(line, full_matrices=False)
    assert np.abs(line @ axes[2]).max() < 8.0  # less than the mesh's edges, about 10 mm
    on = shape("ellipsoid")[0][np.unique(proposal("ellipsoid"))]
    assert np.abs(on[:, 2]).max() < 8.0


def test_a_cube_is_parted_in_three_faces_and_three():
    halves = regions(*shape("cube"), proposal("cube"))
    assert [len(half.faces) for half in halves] == [6, 6]
    assert length(shape("cube")[0], proposal("cube")) == pytest.approx(600.0)  # along its edges


def test_a_torus_is_parted_along_its_equators_and_slit_across():
    """Two equators of radius 140 and 60 mm and a circle of radius 40 mm, as polygons."""
    sides, around = 64, 32
    polygon = 2 * sides * (140 + 60) * np.sin(np.pi / sides)
    polygon += 2 * around * 40 * np.sin(np.pi / around)
    assert length(shape("torus")[0], proposal("torus")) == pytest.approx(polygon)


@pytest.mark.parametrize(("name", "shortest"), [
    ("tube", 200.0), ("bent tube", 60 * np.pi / 2), ("tube with a side hole", 200.0)])
def test_a_tube_is_slit_along_the_shortest_straight_line(name, shortest):
    assert length(shape(name)[0], proposal(name)) == pytest.approx(shortest, rel=2e-3)


def test_a_side_hole_stays_a_hole():
    (region,) = regions(*shape("tube with a side hole"), proposal("tube with a side hole"))
    assert len(region.loops) == 2


@pytest.mark.parametrize("name", ["three tubes", "trousers"])
def test_a_branching_tube_stays_one_piece(name):
    (region,) = regions(*shape(name), proposal(name))
    assert len(region.loops) == 1


def test_a_tube_is_slit_in_its_valley():
    """A tube like a heart: the shortest lines from rim to rim are all equally long."""
    points, faces = welded(
        lambda a, z: ((60 - 25 * np.exp(-(a - np.pi)**2 / 0.1)) * np.cos(a),
                      (60 - 25 * np.exp(-(a - np.pi)**2 / 0.1)) * np.sin(a), z),
        np.linspace(0, 2 * np.pi, 65), np.linspace(0, 200, 33))
    on = points[np.unique(propose_opening(points, faces))]
    assert (on[:, 0] < 0).all() and np.abs(on[:, 1]).max() < 5.0


def test_a_handle_is_cut_through_where_it_is_thin():
    """Round the handle's rod, of radius 14 mm, not round the bowl."""
    edges = proposal("mug")
    (region,) = regions(*shape("mug"), edges)
    assert len(region.loops) == 1
    assert length(shape("mug")[0], edges) < 2 * np.pi * 14 * 1.3 + 2 * 110


def test_what_lies_flat_gets_no_cut():
    x = np.linspace(0, 200, 21)
    sheet = shapes.surface(lambda x, y: (x, y, 0 * x), x, x)
    holed = without(sheet, lambda c: (np.abs(c[:, :2] - 100) < 30).all(axis=1))
    dome = without(shapes.cap(150.0, 1.2), lambda c: np.hypot(c[:, 0], c[:, 1]) < 20)
    for case in (sheet, holed, dome, shapes.cone(np.radians(75), 30.0, 150.0)):
        assert len(propose_opening(*case)) == 0


def test_inner_edges_of_the_makers_faces_are_never_proposed():
    for name in ("sphere", "torus", "three tubes", "mug"):
        points, faces = shape(name)
        # Faces in pairs, as quads are after they were triangulated.
        edges, beside = mesh.edge_faces(faces)
        polygon = np.arange(len(faces))
        free = np.ones(len(faces), dtype=bool)
        inside = []
        for edge, (a, b) in zip(edges, beside, strict=True):
            if free[a] and free[b]:
                free[[a, b]] = False
                polygon[b] = a
                inside.append(edge)
        found = propose_opening(points, faces, polygon)
        count = len(points)
        assert not np.isin(mesh.edge_keys(found, count), mesh.edge_keys(inside, count)).any()
        assert all(handles(r) == 0 for r in regions(points, faces, found))


def test_the_proposal_is_the_same_every_time_and_follows_the_shape_when_it_is_moved():
    points, faces = shape("two rings")
    assert np.array_equal(propose_opening(points, faces), proposal("two rings"))
    turn = np.linalg.qr(np.random.default_rng(3).normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    moved = propose_opening(3.0 * points @ turn.T + (50, 20, -400), faces)
    assert length(points, moved) == pytest.approx(length(points, proposal("two rings")), rel=0.02)


def test_parts_are_opened_each_by_itself():
    one, two = shape("tube"), shape("cube")
    points = np.concatenate([one[0], two[0] + 500])
    faces = np.concatenate([one[1], two[1] + len(one[0])])
    both = np.concatenate([proposal("tube"), proposal("cube") + len(one[0])])
    assert np.array_equal(propose_opening(points, faces), both)


def test_the_refusal_of_a_closed_part_carries_the_line():
    with pytest.raises(FoamError) as caught:
        check(shapes.sculpt(shape("ellipsoid")), THIN)
    finding = caught.value.finding
    assert finding.code == "closed-without-seam" and "proposed line" in finding.remedy
    assert np.array_equal(np.unique(np.sort(finding.edges, axis=1), axis=0), proposal("ellipsoid"))


@pytest.mark.parametrize(("name", "make", "code"), [
    ("tube", tube_finding, "tube"), ("mug", handle_finding, "cannot-flatten")])
def test_findings_carry_the_line_in_the_numbers_of_the_sculpt(name, make, code):
    points, faces = shape(name)
    ball_points, ball_faces = shape("cube")
    both = np.concatenate([ball_points + 500, points])
    sculpt = Sculpt.plain(both, np.concatenate([ball_faces, faces + len(ball_points)]),
                          proposal("cube"), [SEAM] * len(proposal("cube")))
    region = max(seams.cut(sculpt).regions, key=lambda r: len(r.faces))
    finding = make(region, "A1")
    assert (finding.code, finding.severity, finding.piece) == (code, ERROR, "A1")
    assert np.array_equal(np.unique(np.sort(finding.edges, axis=1), axis=0),
                          proposal(name) + len(ball_points))


def test_the_line_is_in_the_report():
    pattern = check(shapes.sculpt(shapes.cylinder(80, 2.0, 100)), THIN)
    (region,) = seams.cut(shapes.sculpt(shape("tube"))).regions
    document = report(replace(pattern, findings=(tube_finding(region),)), check=True)
    (found,) = document["findings"]
    assert np.array_equal(np.unique(np.sort(found["edges"], axis=1), axis=0), proposal("tube"))


def test_a_ring_that_is_no_tube_by_itself_is_slit_all_the_same_when_a_finding_asks():
    points, faces = tube(radius=100.0, height=4.0, rows=2)
    assert len(propose_opening(points, faces)) == 0
    (region,) = seams.cut(shapes.sculpt((points, faces))).regions
    assert len(tube_finding(region).edges) == 1
