"""Sculpts nobody would plan: each ends in sound pieces or in a reason, never in a crash."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import SCORE, SEAM, TRENCH, Sculpt, Settings
from addon.core.stock import Stock
from addon.export.drawing import draw_piece
from tests import hard
from tests.shapes import cap, cone, platonic, roof, sculpt, spokes, surface
from tests.sound import mate_faults, pattern_or_reasons

pytestmark = pytest.mark.filterwarnings("error")
SETTINGS = Settings(Stock("foam 5 mm", 5.0))
N = 11  # points along a side of a sheet


def sheet(side=200.0, height=lambda x, y: 0 * x, points=N):
    at = np.linspace(0, side, points)
    return surface(lambda x, y: (x, y, height(x, y)), at, at)


def path(*vertices) -> np.ndarray:
    return np.stack([vertices[:-1], vertices[1:]], axis=1)


def ring(shape, inside) -> np.ndarray:
    """Edges between faces whose middle is inside and those whose middle is not."""
    edges, beside = mesh.edge_faces(shape[1])
    within = inside(shape[0][shape[1]].mean(axis=1))
    return edges[within[beside[:, 0]] != within[beside[:, 1]]]


def torus(rings=16, around=30):
    """Faces that close both ways, and the edges of one circle the long way round."""
    a, b = np.meshgrid(np.arange(around) * 2 * np.pi / around, np.arange(rings) * 2 * np.pi / rings)
    points = np.stack([(100 + 40 * np.cos(b)) * np.cos(a), (100 + 40 * np.cos(b)) * np.sin(a),
                       40 * np.sin(b)], axis=-1).reshape(-1, 3)
    i = np.arange(rings * around).reshape(rings, around)
    east, north = np.roll(i, -1, axis=1), np.roll(i, -1, axis=0)
    quads = np.stack([i, east, np.roll(north, -1, axis=1), north], axis=-1).reshape(-1, 4)
    return ((points, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])),
            path(*i[0], i[0, 0]))


def closed_cone():
    """An annulus that goes all the way round, and one straight line from rim to rim."""
    columns, rows = 49, 13
    points, faces = cone(np.radians(50), 40.0, 150.0, columns=columns, rows=rows)
    number = np.arange(len(points))
    number[columns - 1::columns] -= columns - 1
    used, faces = np.unique(number[faces], return_inverse=True)
    faces = faces.reshape(-1, 3)
    return (points[used], faces), path(*(np.arange(rows) * (columns - 1)))


def spike():
    points, faces = sheet()
    points[N * N // 2, 2] = 300.0
    return points, faces


def pinched():
    """A sheet with two square holes that touch in one corner."""
    points, faces = sheet()
    x, y, _ = points[faces].mean(axis=1).T
    hole = ((60 < x) & (x < 100) & (60 < y) & (y < 100)
            | (100 < x) & (x < 140) & (100 < y) & (y < 140))
    return points, faces[~hole]


def marked(shape, edges, kind) -> Sculpt:
    return Sculpt.plain(*shape, edges, [kind] * len(edges))


CASES = {
    "one triangle": lambda: sculpt(([[0, 0, 0], [100, 0, 0], [0, 100, 0]], [[0, 1, 2]])),
    "a needle beside a seam": lambda: sculpt(
        ([[0, 0, 0], [300, 0, 0], [150, 0.01, 0], [150, -100, 0]], [[0, 1, 2], [0, 3, 1]]),
        [[0, 1]]),
    "holes that touch": lambda: sculpt(pinched()),
    "an annulus": lambda: sculpt(closed_cone()[0]),
    "an annulus with a dart": lambda: sculpt(closed_cone()[0], closed_cone()[1][:5]),
    "an opened annulus": lambda: sculpt(*closed_cone()),
    "a dart to the pole": lambda: sculpt(cap(120.0, 1.0, 12), spokes(*cap(120.0, 1.0, 12), 1)),
    "a slit of one edge inside": lambda: sculpt(sheet(), [[59, 60]]),
    "a closed seam": lambda: sculpt(sheet(), ring(
        sheet(), lambda c: np.hypot(c[:, 0] - 100, c[:, 1] - 100) < 50)),
    "a closed seam that touches the rim": lambda: sculpt(sheet(), path(5, 17, 28, 27, 16, 5)),
    "a seam like an eight": lambda: sculpt(sheet(), path(48, 49, 60, 59, 48, 37, 36, 47, 48)),
    "two pieces with a common vertex": lambda: sculpt(
        ([[0, 0, 0], [100, 0, 0], [0, 100, 0], [-100, 0, 0], [0, -100, 0]],
         [[0, 1, 2], [0, 3, 4]])),
    "a torus opened to a tube": lambda: sculpt(*torus()),
    "a spike": lambda: sculpt(spike()),
    "a dart into a spike": lambda: sculpt(spike(), path(*range(60, 66))),
    "a trench that ends inside": lambda: sculpt(
        roof(100, 100, 0.5)[:2], trenches=roof(100, 100, 0.5)[2][1:4]),
    "a trench folded back": lambda: sculpt(
        roof(100, 100, 3.1)[:2], trenches=roof(100, 100, 3.1)[2]),
    "a seam folded back": lambda: sculpt(roof(100, 100, -3.1)[:2], roof(100, 100, -3.1)[2]),
    "trenches that cross": lambda: sculpt(
        sheet(height=lambda x, y: -0.3 * abs(x - 100) - 0.2 * abs(y - 100)),
        trenches=np.concatenate([path(*range(55, 66)), path(*range(5, 121, N))])),
    "a trench like a ring": lambda: sculpt(
        sheet(), trenches=path(48, 49, 50, 61, 72, 71, 70, 59, 48)),
    "a trench on every edge": lambda: marked(sheet(points=6), mesh.edge_faces(
        sheet(points=6)[1])[0], TRENCH),
    "a score on the rim": lambda: marked(sheet(), path(0, 1, 2, 3, 14, 25), SCORE),
    "every mark at once": lambda: marked(sheet(), path(5, 16, 27, 38, 49), SEAM | TRENCH | SCORE),
    "a mark where no edge is": lambda: marked(sheet(), [[0, 120], [0, 0]], SEAM),
    "far from the origin": lambda: sculpt((sheet()[0] + 1e7, sheet()[1])),
    "a sheet rolled up 2.8 times": lambda: sculpt(hard.rolled_sheet(1000 / 360)),
    "a flat spiral strip": lambda: sculpt(hard.flat_spiral(1000 / 360)),
    "cells a thousand times as long as wide": lambda: sculpt(hard.stretched_sheet(1000)),
    "cells that shrink to a thousandth": lambda: sculpt(hard.graded_sheet(1000)),
    "needles and slivers": lambda: sculpt(hard.needles()),
    "a strip one triangle wide": lambda: sculpt(hard.strip(200)),
    "a strip one triangle wide in steep waves": lambda: sculpt(hard.strip(200, wave=120.0)),
    "a fan of 500 triangles": lambda: sculpt(hard.fan(500)),
    "a steep fan of 500 triangles": lambda: sculpt(hard.fan(500, height=300.0)),
    "a bowl with 36 holes": lambda: sculpt(hard.holed(6)),
    "a bent comb": lambda: sculpt(hard.comb(6)),
    "nine spikes": lambda: sculpt(hard.spikes(100.0)),
    "nine steep spikes": lambda: sculpt(hard.spikes(1000.0)),
    "a horn": lambda: sculpt(hard.horn(300.0, points=20)),
    "a long horn": lambda: sculpt(hard.horn(1000.0, points=20)),
    "a noisy sheet": lambda: sculpt(hard.noisy(2.0)),
    "nothing but noise": lambda: sculpt(hard.noisy(100.0)),
    "a nearly closed sphere": lambda: sculpt(cap(100.0, np.radians(178.0), 18)),
    "an open box without marks": lambda: sculpt(hard.open_box()),
}
# Developable, so flat without strain; but they go round more than once there.
OVERLAPPING = {
    "a cone round 900 degrees": lambda: sculpt(
        cone(np.radians(89), 20.0, 100.0, columns=120, arc=5 * np.pi)),
    **{f"a ramp of {angle} degrees": lambda angle=angle: sculpt(hard.spiral_ramp(angle / 360))
       for angle in (450, 720, 1000)},
    **{f"a cone round {angle} degrees": lambda angle=angle: sculpt(
        cone(np.radians(85), 20.0, 100.0, columns=angle // 6, rows=4, arc=np.radians(angle)))
       for angle in (365, 450, 1000)},
}
# Those that a maker could build are to give pieces; a refusal would be a bug as well.
REFUSED = {
    "cube without a seam": (lambda: sculpt(platonic("cube", 100.0)), "closed-without-seam"),
    "seam that does not open": (lambda: sculpt(platonic("cube", 100.0), [[0, 1]]),
                                "closed-without-seam"),
    "a cube of a nanometre": (lambda: sculpt(platonic("cube", 1e-6)),
                              "implausible-size"),
    "a cube of a kilometre": (lambda: sculpt(platonic("cube", 1e6)),
                              "implausible-size"),
}


@pytest.mark.parametrize("name", CASES)
def test_every_surface_that_can_be_cut_gives_sound_pieces(name):
    pattern, _ = pattern_or_reasons(CASES[name](), SETTINGS)
    assert pattern is not None and not mate_faults(pattern)
    for piece in pattern.pieces:
        assert all(len(ring) >= 3 for ring in piece.cut)
        assert all(edge.length > 0 for edge in piece.edges)
        assert draw_piece(piece, pattern).strokes


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_cut_is_refused_with_places(name):
    build, code = REFUSED[name]
    with pytest.raises(FoamError) as caught:
        check(build(), SETTINGS)
    assert {f.code for f in caught.value.findings} == {code}
    assert all(f.remedy and len(f.faces) + len(f.vertices) + len(f.edges)
               for f in caught.value.findings)


@pytest.mark.parametrize("name", ["holes that touch", "a seam like an eight",
                                  "a closed seam that touches the rim"])
def test_outlines_that_touch_in_a_point_do_not_overlap(name):
    assert "overlaps-itself" not in {f.code for f in check(CASES[name](), SETTINGS).findings}


@pytest.mark.parametrize("name", OVERLAPPING)
def test_a_flat_that_overlaps_itself_is_found_fault_with(name):
    pattern, findings = pattern_or_reasons(OVERLAPPING[name](), SETTINGS)
    assert {f.code for f in findings if f.piece} == {"overlaps-itself"}
    assert pattern.pieces[0].verdict.heated <= 1


@pytest.mark.parametrize("exponent", [-3, -2, -1, 0, 1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("scaled", [False, True], ids=["5 mm foam", "foam to scale"])
def test_any_size_gives_sound_pieces_or_reasons(exponent, scaled):
    size = 10.0**exponent
    points, faces = cap(1.0, np.radians(50.0), 8)
    points *= size / np.ptp(points[:, 0])
    own = replace(SETTINGS, stock=Stock("foam to scale", size / 60)) if scaled else SETTINGS
    pattern, findings = pattern_or_reasons(sculpt((points, faces), spokes(points, faces, 3)), own)
    codes = {f.code for f in findings}
    if pattern is None:
        assert codes == {"tighter-than-thickness" if 0.05 <= size <= 20_000 else
                         "implausible-size"}
    else:
        assert not mate_faults(pattern)
        assert ("implausible-size" in codes) != (5.0 <= size <= 5000.0)
    assert not scaled or (pattern is not None) == (0.05 <= size <= 20_000)


@settings(max_examples=5, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 10_000), rough=st.floats(0.0, 0.7), number=st.integers(2, 9))
def test_smooth_lumps_in_crude_patches_give_sound_pieces_or_reasons(seed, rough, number):
    shape = hard.blob(rough, rings=10, seed=seed)
    seams = hard.borders(shape[1], hard.patches(*shape, number, seed))
    pattern_or_reasons(sculpt(shape, seams), SETTINGS)


@settings(max_examples=5, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 10_000), rough=st.floats(0.0, 0.5), number=st.integers(1, 6))
def test_smooth_lumps_with_seams_at_random_give_sound_pieces_or_reasons(seed, rough, number):
    """Seams that cross, touch, fork and end inside."""
    shape = hard.blob(rough, rings=8, seed=seed)
    pattern_or_reasons(sculpt(shape, hard.random_walks(shape[1], number, 30, seed)), SETTINGS)


@settings(max_examples=12, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 10_000), amount=st.floats(0.0, 60.0), number=st.integers(0, 5),
       ratio=st.floats(1.0, 1000.0))
def test_noisy_uneven_sheets_give_sound_pieces_or_reasons(seed, amount, number, ratio):
    points, faces = hard.graded_sheet(ratio, points=9)
    points[:, 2] += np.random.default_rng(seed).normal(scale=amount, size=len(points))
    seams = hard.random_walks(faces, number, 12, seed) if number else hard.NO_SEAMS
    pattern_or_reasons(sculpt((points, faces), seams), SETTINGS)
