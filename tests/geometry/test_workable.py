"""What is hard to cut or weak to handle is found, and nothing else."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core import mesh, seams
from addon.core.make import check
from addon.core.model import BACK, FRONT, SEAM, TRENCH, SculptObject, Settings
from addon.core.stock import Stock, find_stock
from addon.core.workable import findings
from tests import shapes

T = 10.0  # mm, the thickness of the foam in these tests


def plate(inside, size=(160.0, 160.0), cell=2.0):
    """Flat mesh of the cells whose middles (x, y) satisfy inside(x, y)."""
    x, y = (np.arange(0, s + cell / 2, cell) for s in size)
    points, faces = shapes.surface(lambda u, v: (u, v, 0 * u), x, y)
    middle = points[faces].mean(axis=1)
    squares = np.floor(middle[:, :2] / cell) * cell + cell / 2
    used, local = np.unique(faces[inside(*squares.T)], return_inverse=True)
    return points[used], local.reshape(-1, 3)


def disc(radius, rings=12):
    points, faces = shapes.cap(1.0, 1.0, rings)
    reach = np.arccos(np.clip(points[:, 2], -1, 1))
    turn = np.arctan2(points[:, 1], points[:, 0])
    return radius * np.column_stack([reach * np.cos(turn), reach * np.sin(turn), 0 * turn]), faces


def only(shape, stock, trenches=()):
    """The one piece of a sculpt and the region it comes from."""
    sculpt = shapes.sculpt(shape, trenches=trenches)
    (piece,) = check(sculpt, Settings(stock)).pieces
    (region,) = seams.cut(sculpt).regions
    return piece, region


def codes(piece, region):
    return sorted({f.code for f in findings(piece, region)})


def bevelled(piece, degrees):
    """The piece with other bevels: degrees may be a function of the place along an edge."""
    angle = degrees if callable(degrees) else lambda s: np.full(len(s), float(degrees))
    return replace(piece, edges=tuple(
        replace(e, bevel=np.radians(angle(mesh.arc_length(e.cut)))) for e in piece.edges))


# --- strips ------------------------------------------------------------------


def tab(width, length):
    return lambda x, y: (x < 100) | ((x < 100 + length) & (abs(y - 60) < width / 2))


def sized(finding):
    """The first two lengths in a finding's message."""
    return [float(n) for n in re.findall(r"([\d.]+) mm", finding.message)][:2]


@pytest.mark.parametrize("width, length", [(8, 30), (4, 40), (8, 60)])
def test_a_strip_narrower_than_the_foam_is_found_with_its_size(foam, width, length):
    piece, region = only(plate(tab(width, length)), foam)
    (found,) = [f for f in findings(piece, region) if f.code == "narrow-strip"]
    assert sized(found) == pytest.approx([width, length], rel=0.05)
    x = region.vertices[region.faces].mean(axis=1)[:, 0]
    named = np.isin(region.source_face, found.faces)
    assert named[x > 102].all() and not named[x < 98].any()


@pytest.mark.parametrize("width, length", [(12, 60), (8, 14), (20, 20)])
def test_a_strip_that_is_wide_or_short_is_left_alone(foam, width, length):
    piece, region = only(plate(tab(width, length)), foam)
    assert "narrow-strip" not in codes(piece, region)


def test_a_piece_narrower_than_the_foam_is_found(foam):
    piece, region = only(plate(lambda x, y: y < 8), foam)
    (found,) = [f for f in findings(piece, region) if f.code == "narrow-strip"]
    assert sized(found) == pytest.approx([8, 160], rel=0.02)
    assert set(found.faces) == set(region.source_face)


@pytest.mark.parametrize("bridge, expected", [(4, True), (8, True), (12, False)])
def test_a_bridge_between_a_hole_and_the_rim_is_measured(foam, bridge, expected):
    ring = lambda x, y: ~((x > bridge) & (x < bridge + 12) & (abs(y - 60) < 6))  # noqa: E731
    piece, region = only(plate(ring), foam)
    assert len(piece.cut) == 2
    found = [f for f in findings(piece, region) if f.code == "narrow-strip"]
    assert len(found) == expected
    for finding in found:
        assert sized(finding)[0] == pytest.approx(bridge, rel=0.02)


@pytest.mark.parametrize("degrees", [8, 15, 30, 60])
def test_a_tip_may_taper_to_a_point(foam, degrees):
    reach = 20 / np.tan(np.radians(degrees / 2))
    rows = np.linspace(0, 1, 21)
    tip = shapes.surface(lambda u, v: (u, v * 20 * (1 - u / reach), 0 * u),
                         np.linspace(0, 0.999 * reach, 60), 2 * rows - 1)
    assert codes(*only(tip, foam)) == []


def test_gores_raise_no_finding(checked):
    shape = shapes.cap(150, np.radians(90), 24)
    pattern = checked(shapes.sculpt(shape, shapes.spokes(*shape)))
    assert not {"narrow-strip", "awkward-strip", "bevel-turns"} & {f.code for f in
                                                                   pattern.findings}


@settings(max_examples=30, deadline=None)
@given(st.floats(1.02, 30), st.floats(1.02, 30), st.floats(1, 30), st.integers(2, 9))
def test_a_rectangle_wider_than_the_foam_is_thick_raises_no_finding(width, height, t, cells):
    grid = shapes.surface(lambda u, v: (u, v, 0 * u), np.linspace(0, width * t, cells),
                          np.linspace(0, height * t, 4))
    assert codes(*only(grid, Stock("foam", t))) == []


@pytest.mark.parametrize("width, length, expected", [
    (16, 120, True), (24, 120, True), (24, 80, False), (34, 150, False), (8, 60, True)])
def test_a_long_strip_on_a_larger_piece_is_found(foam, width, length, expected):
    shape = plate(tab(width, length), size=(260, 120))
    assert ("awkward-strip" in codes(*only(shape, foam))) == expected


def test_the_proposed_cut_makes_an_awkward_strip_a_piece_of_its_own(foam):
    shape = plate(tab(20, 120), size=(260, 120))
    piece, region = only(shape, foam)
    (found,) = [f for f in findings(piece, region) if f.code == "awkward-strip"]
    marked = shapes.sculpt(shape, seams=found.edges)
    assert (marked.kinds == SEAM).all() and len(marked.edges)
    pattern = check(marked, Settings(foam))
    areas = sorted(p.area for p in pattern.pieces)
    assert areas == pytest.approx([20 * 120, 100 * 120], rel=0.03)
    assert "awkward-strip" not in {f.code for f in pattern.findings}


def test_a_handle_held_at_both_ends_is_no_awkward_strip(foam):
    bar = lambda x, y: (x < 60) | (x > 200) | (abs(y - 60) < 10)  # noqa: E731
    assert codes(*only(plate(bar, size=(260, 120)), foam)) == []


# --- trenches ----------------------------------------------------------------


def pleated(*folds, apart, wing=80.0, depth=60.0):
    """Flat strips along y with the given folds (degrees) between them, `apart` wide, and wings at
    both ends; with the trench edges along the folds."""
    widths = [wing, *[apart] * (len(folds) - 1), wing]
    heading = np.concatenate([[0.0], np.cumsum(np.radians(folds))])
    x, z, ridge, at = [0.0], [0.0], [], 0.0
    for width, angle in zip(widths, heading, strict=True):
        steps = max(int(width / 4), 2)
        x += list(x[-1] + np.cos(angle) * width * np.arange(1, steps + 1) / steps)
        z += list(z[-1] - np.sin(angle) * width * np.arange(1, steps + 1) / steps)
        ridge.append(len(x) - 1)
        at += width
    y = np.linspace(0, depth, 13)
    points = np.array([[a, b, c] for b in y for a, c in zip(x, z, strict=True)])
    trenches = np.concatenate([np.stack([r + len(x) * np.arange(12),
                                         r + len(x) * np.arange(1, 13)], 1) for r in ridge[:-1]])
    return (points, shapes.grid(len(x), len(y))), trenches


@pytest.mark.parametrize("folds, apart, expected", [
    ((60, 60), 6, True), ((60, 60), 14, False), ((90, 30), 9, True), ((60, -60), 6, False)])
def test_mouths_on_one_face_need_half_of_both_between_them(foam, folds, apart, expected):
    """Mouth 2 d tan(fold / 2) at depth d = 7 mm; see the table of trench mouths."""
    shape, trenches = pleated(*folds, apart=apart)
    piece, region = only(shape, foam, trenches)
    found = [f for f in findings(piece, region) if f.code == "trenches-overlap"]
    assert len(found) == expected
    for finding in found:
        mouths = [14 * np.tan(np.radians(abs(f)) / 2) for f in folds]
        told = [float(n) for n in re.findall(r"([\d.]+) mm", finding.message)]
        assert sorted(told[:2] if not folds[0] == folds[1] else [told[0]] * 2) == pytest.approx(
            sorted(mouths), abs=0.15)
        assert told[-1] == pytest.approx(sum(mouths) / 2, abs=0.15)
        assert np.isin(finding.edges, trenches).all()


def opened_trenches(piece, degrees, side=BACK):
    """The piece with all its trenches folded by so much."""
    half = np.tan(np.radians(degrees) / 2)
    return replace(piece, folds=tuple(
        replace(f, fold=np.full(len(f.points), np.radians(degrees)), side=side,
                mouth=2 * f.depth * half) for f in piece.folds))


def marked_lines(shape, *tests):
    """Edges of a flat mesh both ends of which satisfy one of the tests (x, y)."""
    edges, _ = mesh.edge_faces(shape[1])
    x, y = shape[0][:, 0], shape[0][:, 1]
    return np.concatenate([edges[on[edges].all(axis=1)] for on in (t(x, y) for t in tests)])


@pytest.mark.parametrize("side", [FRONT, BACK])
def test_trenches_may_cross_and_run_out_at_the_rim(foam, side):
    shape = plate(lambda x, y: x < 161)
    lines = marked_lines(shape, lambda x, y: x == 80, lambda x, y: y == 60)
    piece, region = only(shape, foam, lines)
    assert len(piece.folds) == 4
    assert codes(opened_trenches(piece, 90, side), region) == []


@pytest.mark.parametrize("away, expected", [(4, True), (6, True), (8, False), (20, False)])
def test_a_mouth_keeps_off_the_edge(foam, away, expected):
    shape = plate(lambda x, y: x < 161)
    piece, region = only(shape, foam, marked_lines(shape, lambda x, y: x == away))
    piece = opened_trenches(piece, 90)  # 14 mm wide
    assert codes(piece, region) == (["trenches-overlap"] if expected else [])


# --- bevels ------------------------------------------------------------------


@pytest.mark.parametrize("fold, expected", [(110, False), (118, False), (124, True),
                                            (-124, True)])
def test_bevels_beyond_sixty_degrees_are_found_on_both_mates(checked, fold, expected):
    points, faces, seam = shapes.roof(150, 90, np.radians(fold))
    pattern = checked(shapes.sculpt((points, faces), seam))
    found = [f for f in pattern.findings if f.code == "steep-bevel"]
    assert {f.piece for f in found} == ({p.code for p in pattern.pieces} if expected else set())
    for finding in found:
        assert set(map(tuple, np.sort(finding.edges, axis=1))) == set(map(tuple, np.sort(seam, 1)))


@settings(max_examples=40, deadline=None)
@given(st.floats(20, 70), st.floats(0.3, 3), st.sampled_from([-1, 1]))
def test_a_bevel_turns_over_round_a_disc_smaller_than_its_inset(degrees, ratio, sign):
    """The inner face of a cone-edged disc has the radius R - t tan(b) (derived)."""
    t = 1.0
    radius = ratio * t * np.tan(np.radians(degrees))
    piece, region = only(disc(30.0), Stock("foam", 10.0))
    k = radius / 30.0
    piece = bevelled(enlarged(piece, k, thickness=t), sign * degrees)
    if abs(ratio - 1) > 0.05 and radius > 0.26 * t:  # a tighter bend is a corner
        assert ("bevel-turns" in codes(piece, region)) == (ratio < 1)


def test_the_bevel_of_a_hole_opens_outward_and_never_turns_over():
    piece, region = only(plate(lambda x, y: np.hypot(x - 60, y - 60) > 16), Stock("foam", 2.0))
    turn = np.linspace(0, 2 * np.pi, 200)
    circle = 60 + 8 * np.stack([np.cos(turn), -np.sin(turn)], axis=1)
    hole = region.loops[1][0]
    edges = list(piece.edges)
    edges[hole] = replace(edges[hole], points=circle, cut=circle, fraction=turn / turn[-1],
                          bevel=np.full(200, np.radians(45)))
    piece = replace(piece, edges=tuple(edges), stock=Stock("foam", 12.0))
    assert "bevel-turns" not in codes(piece, region)
    edges[hole] = replace(edges[hole], points=circle[::-1], cut=circle[::-1])
    assert "bevel-turns" in codes(replace(piece, edges=tuple(edges)), region)


@pytest.mark.parametrize("sides", [4, 6, 10])
def test_a_bevelled_polygon_has_corners_and_no_bends(sides):
    turn = np.arange(sides) * 2 * np.pi / sides
    corners = np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    rim = np.concatenate([(1 - s) * corners + s * np.roll(corners, -1, axis=0)
                          for s in np.linspace(0, 1, 12, endpoint=False)[:, None]])
    rim = rim[np.argsort(np.arctan2(rim[:, 1], rim[:, 0]))]
    count = len(rim)
    fan = np.stack([np.arange(count), np.roll(np.arange(count), -1), np.full(count, count)], 1)
    piece, region = only((100 * np.concatenate([rim, [[0, 0, 0]]]), fan), Stock("foam", T))
    assert codes(bevelled(piece, 55), region) == []


@pytest.mark.parametrize("over, expected", [(5, True), (10, True), (25, False), (100, False)])
def test_a_bevel_may_change_by_thirty_degrees_per_thickness(foam, over, expected):
    piece, region = only(plate(lambda x, y: x < 161, cell=8.0), foam)
    ramp = lambda s: np.interp(s, [60, 60 + over], [0, 45])  # noqa: E731
    fine = replace(piece, edges=tuple(resampled(e) for e in piece.edges))
    assert codes(bevelled(fine, ramp), region) == (["bevel-turns"] if expected else [])


def resampled(edge):
    along = mesh.arc_length(edge.cut)
    at = np.linspace(0, along[-1], 400)
    take = lambda a: np.stack([np.interp(at, along, x) for x in a.T], axis=1)  # noqa: E731
    return replace(edge, points=take(edge.points), cut=take(edge.cut), bevel=np.zeros(400),
                   fraction=np.interp(at, along, edge.fraction))


# --- scale -------------------------------------------------------------------


def enlarged(piece, k, thickness=None):
    """The piece at another scale, its foam with it."""
    t = k * piece.stock.thickness if thickness is None else thickness
    rings = lambda face: tuple(k * r for r in face)  # noqa: E731
    return replace(
        piece, stock=replace(piece.stock, thickness=t), vertices=k * piece.vertices,
        flat=k * piece.flat, front=rings(piece.front), back=rings(piece.back),
        cut=rings(piece.cut), area=k * k * piece.area,
        edges=tuple(replace(e, points=k * e.points, cut=k * e.cut, length=k * e.length)
                    for e in piece.edges),
        folds=tuple(replace(f, points=k * f.points, depth=k * f.depth, mouth=k * f.mouth)
                    for f in piece.folds))


@pytest.fixture(scope="module")
def faulty(foam):
    """Pieces with every kind of fault, and their regions."""
    shape, trenches = pleated(60, 60, apart=6)
    strip, strip_region = only(plate(tab(8, 60)), foam)
    round_, round_region = only(disc(30.0), foam)
    cases = [(strip, strip_region), only(shape, foam, trenches),
             (bevelled(enlarged(round_, 0.2, T), 65), round_region)]
    assert {c for case in cases for c in codes(*case)} == {
        "steep-bevel", "bevel-turns", "narrow-strip", "awkward-strip", "trenches-overlap"}
    return cases


@settings(max_examples=15, deadline=None)
@given(st.floats(-3, 3))
def test_scaling_sculpt_and_stock_together_changes_no_finding(faulty, power):
    k = 10.0**power
    for piece, region in faulty:
        told = [[(f.code, f.severity, f.vertices.tolist(), f.edges.tolist(), f.faces.tolist())
                 for f in findings(p, replace(region, vertices=s * region.vertices))]
                for s, p in ((1.0, piece), (k, enlarged(piece, k)))]
        assert told[0] == told[1]


def test_findings_of_a_check_do_not_depend_on_scale(foam):
    shape, trenches = pleated(60, 60, apart=6)
    told = set()
    for k in (0.3, 1.0, 2.0):
        pattern = check(shapes.sculpt((k * shape[0], shape[1]), trenches=trenches),
                        Settings(replace(foam, thickness=k * T)))
        told.add(tuple((f.code, f.edges.tobytes()) for f in pattern.findings))
        assert {TRENCH} == set(pattern.sculpt.kinds)
    assert len(told) == 1 and "trenches-overlap" in {code for code, _ in told.pop()}


@pytest.mark.parametrize(("side", "where"), [("outer", ["inside"]), ("inner", ["outside"]),
                                             ("middle", ["outside", "inside"])])
def test_where_thick_foam_meets_thin_the_step_is_told(side, where):
    vertices, faces, fold = shapes.roof(120.0, 80.0, np.radians(50))
    thin, thick = (replace(find_stock("eva-10").with_thickness(t), name=f"{t:g}")
                   for t in (6.0, 10.0))
    sculpt = shapes.sculpt((vertices, faces), fold)
    right = vertices[faces].mean(axis=1)[:, 0] > 120

    def found(left):
        parted = replace(sculpt, face_object=right.astype(int),
                         objects=(SculptObject("left", left), SculptObject("right", thick)))
        return [f for f in check(parted, Settings(stock=thick, side=side)).findings
                if f.code == "thickness-step"]

    assert found(thick) == []
    (step,) = found(thin)
    size = "2 mm" if side == "middle" else "4 mm"
    told = " and of ".join(f"{size} {face}" for face in where)
    assert f"a step of {told}." in step.message and len(step.edges) == len(fold)
