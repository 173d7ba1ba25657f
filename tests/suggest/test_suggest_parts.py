"""The parts of the search for seams against closed forms and plain ways to the same answer."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.model import Sculpt, Verdict
from addon.core.stock import Limits, Stock
from addon.core.suggest.borders import minimum_cut
from addon.core.suggest.cluster import patches
from addon.core.suggest.creases import creases_of
from addon.core.suggest.propose import Start
from addon.core.suggest.quick import conformal, guess
from addon.core.suggest.refine import Shape, edge_lengths, refined
from addon.core.suggest.shell import (
    base_shell,
    refuse_crowded,
    refuse_detail,
    refuse_failed,
    without,
)
from addon.core.suggest.smooth import turning
from addon.core.suggest.trial import Judge, fits_sheet
from addon.core.suggest.verdict import Judged
from addon.core.suggest.working import working_surface
from tests.shapes import cap, platonic, roof, surface

STOCK = Stock("foam 5 mm", 5.0, heated=Limits(0.05, 0.10, 2.0))


def sides(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    at = points[faces]
    return np.linalg.norm(np.roll(at, -2, axis=1) - np.roll(at, -1, axis=1), axis=2)


@pytest.mark.parametrize("degrees", [30, 45, 60])
def test_the_conformal_scale_of_a_cap(degrees):
    """The stereographic map scales by 1 / cos^2 at half the angle from the pole, so the range of
    the logarithm is 2 ln sec(a / 2)."""
    points, faces = cap(100.0, np.radians(degrees), rings=30)
    rim = np.flatnonzero(points[:, 2] < 100 * np.cos(np.radians(degrees)) + 1e-6)
    scale, _ = conformal(faces, sides(points, faces), rim)
    assert np.ptp(scale) == pytest.approx(-2 * np.log(np.cos(np.radians(degrees / 2))), rel=0.01)


def test_the_guess_is_nothing_for_what_lies_flat():
    points, faces, _ = roof(100, 60, 0.6)
    rim = np.unique(np.concatenate([faces.ravel()[ring] for ring in mesh.boundary_loops(faces)]))
    assert guess(faces, sides(points, faces), rim, STOCK.heated) < 1e-9


def test_refined_faces_lie_on_the_sphere_that_coarse_ones_stand_for():
    points, faces = platonic("icosahedron", 100.0)
    radius = np.linalg.norm(points[0])
    shape = refined(Shape.of(points, faces, np.empty((0, 2), int), np.arange(len(faces))), 12.0,
                    50_000)
    assert edge_lengths(shape).max() < 1.45 * 12
    assert np.linalg.norm(shape.points, axis=1) == pytest.approx(radius, rel=0.02)
    assert np.linalg.norm(points[faces].mean(axis=1), axis=1).min() < 0.8 * radius
    assert len(mesh.edge_faces(shape.faces)[0]) == 1.5 * len(shape.faces)  # still closed


def test_refining_keeps_planes_and_creases():
    points, faces, fold = roof(100, 60, np.radians(70), columns=3, rows=2)
    shape = refined(Shape.of(points, faces, fold, np.arange(len(faces))), 10.0, 50_000)
    area = mesh.face_normals(points, faces)[1].sum()
    assert mesh.face_normals(shape.points, shape.faces)[1].sum() == pytest.approx(area)
    ends = shape.points[shape.creases()]
    assert np.abs(ends[:, :, 0] - 100).max() < 1e-9
    assert np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum() == pytest.approx(60)


def test_a_fold_is_a_crease_when_foam_cannot_bend_so_tightly():
    for degrees, sharp in ((10, False), (70, True)):
        points, faces, fold = roof(100, 60, np.radians(degrees))
        found = creases_of(points, faces, STOCK, "outer")
        assert len(found) == (len(fold) if sharp else 0)
    # 30 deg in strips of 100 mm is a bend of radius 190 mm, in strips of 10 mm one of 19.
    for columns, sharp in ((2, False), (11, True)):
        points, faces, fold = roof(100, 60, np.radians(30), columns=columns)
        assert (len(creases_of(points, faces, Stock("thick", 15.0), "outer")) > 0) == sharp


def strip(flaps: bool) -> tuple[np.ndarray, np.ndarray]:
    """Two walls 90 mm long and 17 mm high that meet at 28 degrees; flaps: with a flange of 40 mm
    square to them above and below."""
    turn = np.radians(28)
    plan = np.array([(0, 0), (90, 0), (90 + 90 * np.cos(turn), 90 * np.sin(turn))])
    rows = [(0, 0), (0, 17), (40, 17)] if flaps else [(0, 0), (0, 17)]
    rows = [(40, 0), *rows] if flaps else rows
    points = np.array([(x, y + out, z) for out, z in rows for x, y in plan])
    faces = [(3 * r + c, 3 * r + c + 1, 3 * r + c + 4) for r in range(len(rows) - 1)
             for c in range(2)]
    faces += [(3 * r + c, 3 * r + c + 4, 3 * r + c + 3) for r in range(len(rows) - 1)
              for c in range(2)]
    return points, np.array(faces)


@pytest.mark.parametrize("flaps", [False, True])
def test_a_fold_across_a_strip_between_creases_is_one_too(flaps):
    """By itself it is a bend of more than 100 mm in 90 mm long facets."""
    points, faces = strip(flaps)
    across = points[creases_of(points, faces, Stock("foam 10 mm", 10.0), "outer")]
    across = across[np.ptp(across[..., 2], axis=1) > 1]
    assert len(across) == flaps
    if flaps:
        assert across[..., 0] == pytest.approx(90) and np.ptp(across[..., 2]) == pytest.approx(17)


def test_refining_leaves_a_wall_between_creases_upright():
    """Its rails stand for arcs in their plane, whatever the flanges beside them stand for."""
    points, faces = strip(True)
    edges, beside = mesh.edge_faces(faces)
    normals, _ = mesh.face_normals(points, faces)
    rails = np.abs(np.einsum("ij,ij->i", *normals[beside].transpose(1, 0, 2))) < 0.1
    shape = refined(Shape.of(points, faces, edges[rails], np.arange(len(faces))), 10.0, 50_000)
    wall = np.abs(normals[:, 2])[shape.source] < 0.1
    tilt = np.abs(mesh.face_normals(shape.points, shape.faces)[0][wall, 2])
    assert rails.sum() == 4 and np.degrees(np.arcsin(tilt.max())) < 5


def test_the_minimum_cut_is_that_of_all_divisions():
    rng = np.random.default_rng(3)
    links = np.array([(i, j) for i in range(7) for j in range(i) if rng.random() < 0.6])
    cost = rng.uniform(0.5, 3.0, len(links))
    first, second = np.arange(7) == 0, np.arange(7) == 6
    side = minimum_cut(first, second, links, cost)

    def total(chosen: np.ndarray) -> float:
        return cost[chosen[links[:, 0]] != chosen[links[:, 1]]].sum()

    least = min(total(np.array([True, *inner, False]))
                for inner in product((False, True), repeat=5))
    assert side[0] and not side[6]
    assert total(side) == pytest.approx(least, abs=1e-2)


def test_the_turning_of_a_circle():
    """A circle of radius R turns by 1 / R radians per mm."""
    angle = np.arange(100) * 2 * np.pi / 100
    points = np.stack([80 * np.cos(angle), 80 * np.sin(angle), 0 * angle], axis=1)
    edges = np.stack([np.arange(100), (np.arange(100) + 1) % 100], axis=1)
    assert turning(points, edges) == pytest.approx(np.degrees(100 / 80), rel=0.03)


def test_a_flat_is_turned_to_fit_the_sheet():
    strip = np.array([0, 640, 640 + 100j, 100j]) * np.exp(0.3j)
    assert not fits_sheet(np.array([0, 640, 640 + 500j, 500j]), (600.0, 600.0))
    assert not fits_sheet(strip, (650.0, 90.0))
    assert fits_sheet(strip, (650.0, 120.0)) and fits_sheet(strip, (120.0, 650.0))
    assert fits_sheet(np.array([0, 700, 700 + 20j, 20j]), (600.0, 600.0))  # on the diagonal


def test_patches_are_connected_and_come_with_their_images():
    points, faces = cap(120, np.radians(70), rings=10)
    working = working_surface(Sculpt.plain(points, faces), np.arange(len(faces)), STOCK, "outer",
                              0.3)
    assert working.symmetric
    label = patches(working, 7)
    assert (working.image[working.image] == np.arange(len(label))).all()
    for one in np.unique(label):
        mine = np.flatnonzero(label == one)
        assert len(np.unique(label[working.image[mine]])) == 1
        links = np.isin(working.beside, mine).all(axis=1)
        local = np.searchsorted(mine, working.beside[links])
        assert mesh.components(len(mine), local)[0] == 1


def test_a_trial_agrees_with_milnor():
    """The best ratio of stretches of a cap is a / sin a; u = (r - 1) / (s + c r)."""
    degrees = 40
    points, faces = cap(120, np.radians(degrees), rings=12)
    working = working_surface(Sculpt.plain(points, faces), np.arange(len(faces)), STOCK, "outer",
                              0.3)
    ratio = np.radians(degrees) / np.sin(np.radians(degrees))
    u = (ratio - 1) / (0.10 + 0.05 * ratio)
    trial = Judge(working, 1.07 * u)(np.arange(len(working.faces)))
    assert trial.why == "" and trial.u <= 1.07 * u
    trial = Judge(working, 0.93 * u)(np.arange(len(working.faces)))
    assert trial.why == "curved" and trial.u > 0.93 * u


def test_a_ball_is_too_detailed_where_foam_is_as_thick_as_its_radius():
    """Mean curvature times thickness is t / R on a ball."""
    points, faces = cap(20.0, np.pi / 2, rings=20)
    whole = Sculpt.plain(points, faces)
    refuse_detail(whole, np.arange(len(faces)), Stock("thin", 20 * 0.57))
    with pytest.raises(FoamError) as caught:
        refuse_detail(whole, np.arange(len(faces)), Stock("thick", 20 * 0.63))
    assert caught.value.finding.code == "too-detailed"


def bumps(length: float, height: float) -> Sculpt:
    """Waves crosswise on a square of 120 mm."""
    at, wave = np.linspace(0, 120, 41), 2 * np.pi / length
    return Sculpt.plain(*surface(
        lambda x, y: (x, y, height * np.sin(wave * x) * np.sin(wave * y)), at, at))


def test_steep_bumps_are_refused_and_gentle_ones_are_not():
    """Waves of 24 mm length bend within less than foam of 5 mm can, those of 150 mm hardly."""
    def refuse(sculpt: Sculpt) -> None:
        working = working_surface(sculpt, np.arange(len(sculpt.faces)), STOCK, "outer", 0.3)
        refuse_crowded(sculpt, working, [Start(6)], 1.0, lambda: None)

    refuse(bumps(150.0, 5.0))
    steep = bumps(24.0, 9.0)
    with pytest.raises(FoamError) as caught:
        refuse(steep)
    assert caught.value.finding.code == "too-detailed"
    assert 0 < len(caught.value.finding.faces) < len(steep.faces)


def test_small_loose_parts_are_details():
    points, faces = cap(100.0, 1.0, rings=8)
    rivet, more = cap(5.0, 1.0, rings=2)
    sculpt = Sculpt.plain(np.concatenate([points, rivet + (0, 0, 200)]),
                          np.concatenate([faces, more + len(points)]))
    built, details = base_shell(sculpt)
    assert built.tolist() == list(range(len(faces)))
    assert details.tolist() == list(range(len(faces), len(faces) + len(more)))
    assert len(without(sculpt, sculpt.faces[details[:1]].ravel()).faces) == len(faces)


def piece(kind: str, u: float) -> Judged:
    verdict = Verdict(kind, 2 * u, u, (1.0, 1.0), 50.0, 0, "")
    return Judged(verdict, "", 1e4, 100.0, np.array([int(100 * u)]))


def test_a_proposal_most_of_which_fails_is_refused():
    good, tight, bad = piece("heat", 0.8), piece("relief", 0.7), piece("relief", 1.4)
    refuse_failed([good, bad])
    refuse_failed([good, tight, tight])  # bends a little too tightly, but can be tried
    with pytest.raises(FoamError) as caught:
        refuse_failed([good, tight, bad])
    assert caught.value.finding.code == "no-seams-found"
    assert caught.value.finding.faces.tolist() == [70, 140]
