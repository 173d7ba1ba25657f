"""Thickness: lengths on the neutral layer against sheet-metal handbooks and closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core import layer, mesh, seams
from addon.core.stock import Stock
from tests import shapes

IN = 2540.0  # a hundred inches in mm: the small bends are drawn a hundredfold


def bend_length(radius, thickness, neutral, angle, side="inner", width=40.0):
    """Flat length of a bend whose sculpted face has the given radius, through the stage."""
    sculpt = shapes.sculpt(shapes.cylinder(radius, angle, width, columns=97, rows=5))
    cut = seams.cut(sculpt)
    stock = Stock("sheet", thickness, neutral=neutral)
    lay = layer.layers(cut, [stock], [side], 0.3)[0]
    return max(mesh.along(lay.lengths, b.half).sum() for b in cut.regions[0].borders)


@pytest.mark.parametrize("degrees, radius, thickness, neutral, inches", [
    # Machinery's Handbook, length of metal in a 90 degree bend L = 0.64 T + 1.57 R, scaled by the
    # angle: its example prints 1.338 in; 0.64 / 1.57 puts the neutral line at 0.4076 T.
    (180, 3 / 8, 1 / 8, 0.64 / 1.57, 2 * (0.64 / 8 + 1.57 * 3 / 8)),
    (60, 5 / 8, 1 / 8, 0.64 / 1.57, (0.64 / 8 + 1.57 * 5 / 8) * 2 / 3),
    # The bend-allowance formula A (R + K T) of any sheet-metal text, R = T = 0.125 in, K = 0.44.
    (90, 0.125, 0.125, 0.44, 0.2827),
])
def test_bends_have_the_length_of_the_handbook(degrees, radius, thickness, neutral, inches):
    length = bend_length(radius * IN, thickness * IN, neutral, np.radians(degrees)) / IN
    # The book rounds pi / 2 to 1.57 (0.05 %) and prints three decimals.
    assert length == pytest.approx(inches, rel=1e-3)


def test_the_handbooks_whole_example_adds_up():
    """Machinery's Handbook: 3.5 in straight, a bend of 180 and one of 60 degrees: 5.545 in."""
    k = 0.64 / 1.57
    bends = [bend_length(r * IN, IN / 8, k, a) for r, a in ((3 / 8, np.pi), (5 / 8, np.pi / 3))]
    assert 3.5 + sum(bends) / IN == pytest.approx(5.545, abs=0.002)


def test_a_closed_ring_is_shorter_inside_by_the_turn_of_its_thickness(foam):
    """2 pi t, 62.8 mm for 10 mm foam (derived: circles of radius R and R - t)."""
    outer = bend_length(200, 10, 0.999999, 2 * np.pi, side="inner")
    inner = bend_length(200, 10, 0.000001, 2 * np.pi, side="inner")
    assert outer - inner == pytest.approx(2 * np.pi * 10, abs=0.05)


@pytest.mark.parametrize("side, radius", [("outer", 95), ("middle", 100), ("inner", 105)])
def test_the_sculpt_is_the_face_that_it_is_said_to_be(side, radius):
    assert bend_length(100, 10, 0.5, np.pi / 2, side) == pytest.approx(np.pi / 2 * radius, rel=1e-4)


@pytest.mark.parametrize("neutral", [0.5, 0.6])
def test_the_neutral_layer_lies_on_the_hollow_side_of_either_bend(neutral):
    """On an S of two arcs the layer changes side: A (R - (1-k) t) convex, A (R + (1-k) t)
    concave, seen from an outer sculpt whose hollow radii are R - t and R."""
    stock = Stock("sheet", 10.0, neutral=neutral)
    for sign in (1, -1):
        points, faces = shapes.cylinder(100, np.pi / 2, 40, columns=33, rows=5)
        if sign < 0:
            faces = faces[:, ::-1]
        cut = seams.cut(shapes.sculpt((points, faces)))
        lay = layer.layers(cut, [stock], ["outer"], 0.3)[0]
        longest = max(mesh.along(lay.lengths, b.half).sum() for b in cut.regions[0].borders)
        hollow = 90 if sign > 0 else 100
        assert longest == pytest.approx(np.pi / 2 * (hollow + neutral * 10), rel=1e-4)


@pytest.mark.parametrize("offset_side, factor", [("outer", 0.95**2), ("inner", 1.05**2)])
def test_an_offset_sphere_has_the_area_of_steiners_formula(foam, offset_side, factor):
    """Area factor 1 + 2 H h + K h^2 (Steiner): R = 100, h = -5 or +5."""
    cut = seams.cut(shapes.sculpt(shapes.cap(100, np.radians(60), 30)))
    lay = layer.layers(cut, [foam], [offset_side], 0.3)[0]
    skin = layer.layers(cut, [Stock("skin", 1e-9)], ["outer"], 0.3)[0]
    heron = lambda s: np.sqrt(np.prod([s.sum(1) / 2] + [s.sum(1) / 2 - s[:, k] for k in range(3)],  # noqa: E731
                                      axis=0)).sum()
    assert heron(lay.lengths) / heron(skin.lengths) == pytest.approx(factor, rel=1e-4)


def test_curvature_of_a_sphere_and_a_saddle():
    """1/R both ways on a sphere; +1/a and -1/a at the middle of z = (y^2 - x^2) / 2a."""
    bend = layer.fit_surface(*shapes.cap(80, np.radians(50), 24)).curvature
    assert np.allclose(bend, 1 / 80, rtol=0.01)
    x = np.linspace(-20, 20, 21)
    points, faces = shapes.surface(lambda u, v: (u, v, (v**2 - u**2) / 120), x, x)
    bend = layer.fit_surface(points, faces).curvature
    assert np.allclose(bend[len(points) // 2], (1 / 60, -1 / 60), rtol=0.01)


@pytest.mark.parametrize("name, dihedral", [
    # Dihedral angles of the Platonic solids, any table of solids (e.g. Coxeter 1973, table I).
    ("tetrahedron", 70.5288), ("cube", 90.0), ("octahedron", 109.4712),
    ("dodecahedron", 116.5651), ("icosahedron", 138.1897)])
def test_platonic_solids_are_bevelled_at_half_their_fold(checked, name, dihedral):
    pattern = checked(shapes.sculpt(shapes.platonic(name, 120)), seam_angle=np.radians(20))
    bevels = np.degrees(np.concatenate([e.bevel for p in pattern.pieces for e in p.edges]))
    assert np.allclose(bevels, (180 - dihedral) / 2, atol=1e-3)
    cut_back = 10 * np.tan(np.radians(180 - dihedral) / 2)
    for piece in pattern.pieces:
        inset = np.sqrt(piece.area) - np.sqrt(_area(piece.back[0]))
        # Every side moves in by t tan(bevel), so areas go as the square of the inradius.
        inradius = 2 * piece.area / sum(e.length for e in piece.edges)
        assert inset / np.sqrt(piece.area) == pytest.approx(cut_back / inradius, rel=1e-6)


@pytest.mark.parametrize("sides, tilt, mitre", [
    # Compound mitres of a tapered box, walls 15 or 30 degrees from vertical: saw tilt
    # asin(cos(a) sin(pi/n)); published compound-mitre tables agree.
    (4, 15, 43.080), (6, 15, 28.879), (8, 30, 19.355)])
def test_a_tapered_box_is_bevelled_as_the_mitre_tables_say(checked, sides, tilt, mitre):
    turn = np.arange(sides) * 2 * np.pi / sides
    low, high, height = 150.0, 150.0 + 100 * np.tan(np.radians(tilt)), 100.0
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    # Distances are to the walls; corners stand further out by 1 / cos(pi / n).
    out = 1 / np.cos(np.pi / sides)
    points = np.concatenate([np.column_stack([ring * low * out, np.zeros(sides)]),
                             np.column_stack([ring * high * out, np.full(sides, height)])])
    i = np.arange(sides)
    j = (i + 1) % sides
    faces = np.concatenate([np.stack([i, j, j + sides], 1), np.stack([i, j + sides, i + sides], 1)])
    edges = np.stack([i, i + sides], axis=1)
    pattern = checked(shapes.sculpt((points, faces), edges))
    bevels = np.degrees([m.fold / 2 for m in pattern.mates])
    assert np.allclose(bevels, mitre, atol=1e-3)


@pytest.mark.parametrize("degrees, mouth5, mouth10", [
    # V of depth d closing at fold f: mouth 2 d tan(f / 2) (plane trigonometry).
    (30, 2.679, 5.359), (45, 4.142, 8.284), (60, 5.774, 11.547), (90, 10.0, 20.0)])
def test_trench_mouths(checked, degrees, mouth5, mouth10):
    points, faces, fold = shapes.roof(120, 60, np.radians(degrees))
    for depth, mouth in ((5, mouth5), (10, mouth10)):
        stock = Stock("foam", depth / 0.7)
        (piece,) = checked(shapes.sculpt((points, faces), trenches=fold), stock=stock,
                           web=0.3).pieces
        assert piece.folds[0].mouth == pytest.approx(mouth, abs=6e-4)
        assert piece.folds[0].depth == pytest.approx(depth)


@pytest.mark.parametrize("side", ["outer", "inner"])
@pytest.mark.parametrize("sign", [1, -1])
def test_flat_length_across_a_trench(laid, foam, side, sign):
    """Hinge face's length - 2 web tan(f/2) + k web f (derived from the V's pivot).

    The hinge is the outer face at a convex fold and the inner one at a concave fold; a
    fold of 60 degrees with 3 mm web shortens the outer face's length by 1.893 mm."""
    fold, web = np.radians(60), 3.0
    points, faces, edges = shapes.roof(100, 60, sign * fold)
    regions, layers, flats = laid(shapes.sculpt((points, faces), trenches=edges), foam, side)
    hinge = 200.0
    if (side, sign) in (("outer", -1), ("inner", 1)):
        hinge += 2 * 10 * np.tan(fold / 2)
    expected = hinge - 2 * web * np.tan(fold / 2) + 0.5 * web * fold
    assert np.ptp(flats[0].points @ _axes(flats[0].points), axis=0).max() == pytest.approx(
        expected, abs=0.01)
    assert np.degrees(layers[0].line_folds[0]) == pytest.approx(sign * 60)


def test_a_seam_keeps_both_sides_at_their_own_length(laid, foam):
    """Normals that average across the fold would lose 2 t tan(f / 2) / 2 here."""
    points, faces, edges = shapes.roof(100, 60, np.radians(90))
    _, _, flats = laid(shapes.sculpt((points, faces), seams=edges), foam)
    for flat in flats:
        assert np.sort(np.ptp(flat.points @ _axes(flat.points), axis=0)) == pytest.approx(
            (60, 100), abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.2, 3.0), st.floats(5, 40), st.floats(0.3, 0.7))
def test_rest_lengths_scale_with_the_sculpt_and_the_foam(scale, thickness, neutral):
    points, faces = shapes.cap(300, 0.5, 6)
    lengths = []
    for s in (1.0, scale):
        cut = seams.cut(shapes.sculpt((points * s, faces)))
        stock = Stock("foam", thickness * s, neutral=neutral)
        lengths.append(layer.layers(cut, [stock], ["outer"], 0.3)[0].lengths)
    assert np.allclose(lengths[1], lengths[0] * scale, rtol=1e-8)


def _area(ring):
    from shapely.geometry import Polygon

    return Polygon(ring).area


def _axes(points):
    """Rotation (2, 2) to the sides of the points' smallest rectangle."""
    from shapely.geometry import MultiPoint

    corner = np.array(MultiPoint(points).minimum_rotated_rectangle.exterior.coords)
    u = (corner[1] - corner[0]) / np.linalg.norm(corner[1] - corner[0])
    return np.array([[u[0], -u[1]], [u[1], u[0]]])
