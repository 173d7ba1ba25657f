"""Suits put together again from their flats: closed forms, and errors planted to be found."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import make, mesh
from addon.core.errors import FoamError
from addon.core.model import Settings
from addon.core.rebuild import rebuild
from addon.core.rebuild.assembly import assembled
from addon.core.rebuild.holding import Measures
from addon.core.rebuild.judge import moved_onto
from addon.core.rebuild.settle import settled
from addon.core.rebuild.shell import Shell
from addon.core.stock import find_stock
from tests import shapes

STOCK = find_stock("eva-6")


def pattern_of(shape, seams=(), trenches=(), stock=STOCK, **more):
    return make.check(shapes.sculpt(shape, seams, trenches), Settings(stock, **more))


def tube(radius, top, height, around=48, rows=13):
    """A tube or frustum that closes in itself, open at both ends, and the edges of one line
    along it."""
    turn = np.arange(around) * 2 * np.pi / around
    share = np.linspace(0.0, 1.0, rows)[:, None]
    r = radius + (top - radius) * share
    points = np.stack([r * np.cos(turn), r * np.sin(turn),
                       np.broadcast_to(height * share, (rows, around))], axis=2).reshape(-1, 3)
    i = np.arange(rows * around).reshape(rows, around)
    right = np.roll(i, -1, axis=1)
    quads = np.stack([i[:-1], right[:-1], right[1:], i[1:]], axis=2).reshape(-1, 4)
    return ((points, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])),
            np.stack([i[:-1, 0], i[1:, 0]], axis=1))


def stands(pattern, result):
    """Where every vertex of the sculpt (n, 3) came out."""
    points = np.full(pattern.sculpt.vertices.shape, np.nan)
    for piece, own in zip(pattern.pieces, result.pieces, strict=True):
        points[piece.source_vertex] = piece.vertices + own.moved
    return points


def test_a_rectangle_closes_to_its_cylinder():
    shape, seam = tube(60.0, 60.0, 120.0)
    pattern = pattern_of(shape, seam)
    assert len(pattern.pieces) == 1
    found = stands(pattern, rebuild(pattern))
    middle = found[np.abs(shape[0][:, 2] - 60.0) < 1e-6]
    centre = middle.mean(axis=0)
    assert np.linalg.norm(middle - centre, axis=1).mean() == pytest.approx(60.0, rel=0.005)


def test_a_sector_closes_to_its_cone():
    shape, seam = tube(90.0, 40.0, 110.0)
    pattern = pattern_of(shape, seam)
    found = stands(pattern, rebuild(pattern))
    for height, radius in ((0.0, 90.0), (110.0, 40.0)):
        ring = found[np.abs(shape[0][:, 2] - height) < 1e-6]
        size = np.linalg.norm(ring - ring.mean(axis=0), axis=1)
        assert size.mean() == pytest.approx(radius, rel=0.005)


def test_twelve_pentagons_close_to_a_dodecahedron():
    vertices, faces = shapes.platonic("dodecahedron", 80.0)
    normals = mesh.face_normals(vertices, faces)[0]
    edges, beside = mesh.edge_faces(faces)
    folded = np.einsum("ij,ij->i", *normals[beside.T]) < 0.999
    pattern = pattern_of((vertices, faces), edges[folded])
    assert len(pattern.pieces) == 12 and len(pattern.mates) == 30
    result = rebuild(pattern)
    assert result.rms < 0.1 and result.most < 0.3
    # Its faces meet at 116.565 degrees (any table of the regular solids): folds of 63.435.
    found = stands(pattern, result)
    assert np.allclose([m.fold for m in result.mates], 0.0, atol=np.radians(0.3))
    turned = mesh.face_normals(found, faces)[0]
    folds = np.degrees(np.arccos(np.einsum("ij,ij->i", *turned[beside[folded].T])))
    assert folds.mean() == pytest.approx(63.435, abs=0.2)
    assert not result.open_parts


def scaled(piece, factor):
    """A piece cut too small or too large, but for its thickness."""
    edges = tuple(replace(e, points=factor * e.points, cut=factor * e.cut,
                          length=factor * e.length) for e in piece.edges)
    return replace(piece, flat=factor * piece.flat, edges=edges,
                   folds=tuple(replace(f, points=factor * f.points) for f in piece.folds),
                   gauges=())


def with_piece(pattern, piece):
    return replace(pattern, pieces=tuple(piece if p.code == piece.code else p
                                         for p in pattern.pieces))


@pytest.fixture(scope="module")
def walls():
    shape, corners = shapes.box()
    return pattern_of(shape, np.concatenate(corners[:1] + corners[2:3]),
                      np.concatenate(corners[1:2] + corners[3:]))


def test_what_is_cut_right_comes_out_right(walls):
    assert len(walls.pieces) == 2
    result = rebuild(walls)
    assert result.rms < 0.3 and result.most < 1.0
    assert max(m.mismatch for m in result.mates) < 0.3
    assert max(abs(m.fold) for m in result.mates) < np.radians(1.0)
    assert max(t.offset for t in result.trenches) < 0.6
    assert {code for part in result.open_parts for code in part} == {
        p.code for p in walls.pieces}


def test_a_piece_cut_too_small_shows_in_the_lengths_of_its_seams():
    shape, seams = _three_plates()
    pattern = pattern_of(shape, seams)
    small = pattern.pieces[1]
    result = rebuild(pattern, with_piece(pattern, scaled(small, 0.97)))
    for mate, found in zip(pattern.mates, result.mates, strict=True):
        touches = small.code in {code for code, _ in mate.edges}
        assert (found.mismatch > 2.0) == touches


def _three_plates():
    """A curved plate in four strips, side by side."""
    shape = shapes.cylinder(150.0, 1.6, 120.0, 33, 13)
    column = [np.arange(13) * 33 + k for k in (8, 16, 24)]
    return shape, np.concatenate([np.stack([c[:-1], c[1:]], axis=1) for c in column])


def test_a_bevel_cut_wrong_shows_in_the_fold_of_its_seam(walls):
    mate = walls.mates[0]
    built = walls
    for code, number in mate.edges:
        piece = built.piece(code)
        edges = list(piece.edges)
        edges[number] = replace(edges[number], bevel=edges[number].bevel + np.radians(5.0))
        built = with_piece(built, replace(piece, edges=tuple(edges)))
    result = rebuild(walls, built)
    errors = {m.code: abs(m.fold) for m in result.mates}
    assert max(errors, key=errors.get) == mate.code
    assert errors[mate.code] > np.radians(5.0)


def test_a_trench_cut_aside_shows_in_the_line_of_its_fold(walls):
    piece = next(p for p in walls.pieces if p.folds)
    fold = piece.folds[0]
    along = fold.points[-1] - fold.points[0]
    aside = 3.0 * np.array([-along[1], along[0]]) / np.linalg.norm(along)
    moved = replace(piece, folds=(replace(fold, points=fold.points + aside), *piece.folds[1:]))
    result = rebuild(walls, with_piece(walls, moved))
    offset = {t.piece: t.offset for t in result.trenches}
    assert max(offset, key=offset.get) == piece.code
    assert 1.5 < offset[piece.code] < 4.5


def test_what_the_foam_does_not_take_comes_out_otherwise_and_is_found():
    easy = rebuild(pattern_of(shapes.cap(120.0, np.radians(45.0), rings=16)))
    hard = rebuild(pattern_of(shapes.cap(120.0, np.radians(85.0), rings=16)))
    assert easy.rms < 1.0 and hard.rms > 3 * easy.rms


def test_the_right_way_out_and_not_its_mirror_image():
    shape = shapes.cap(120.0, np.radians(50.0), rings=14)
    pattern = pattern_of(shape)
    found = stands(pattern, rebuild(pattern))
    rim = found[np.isclose(shape[0][:, 2], shape[0][:, 2].min())]
    facing = np.cross(rim[1] - rim[0], rim[len(rim) // 3] - rim[0])
    there = shape[0][np.isclose(shape[0][:, 2], shape[0][:, 2].min())]
    way = np.cross(there[1] - there[0], there[len(rim) // 3] - there[0])
    assert ((found[0] - rim.mean(axis=0)) @ facing > 0) == (
        (shape[0][0] - there.mean(axis=0)) @ way > 0)


def test_it_does_not_read_where_the_sculpt_was():
    pattern = pattern_of(*_three_plates())
    lost = replace(pattern, pieces=tuple(replace(
        p, vertices=np.zeros_like(p.vertices)) for p in pattern.pieces))
    one, other = rebuild(pattern, quick=True), rebuild(pattern, lost, quick=True)
    for a, b in zip(one.pieces, other.pieces, strict=True):
        assert np.allclose(a.moved, b.moved, atol=1e-6)


def test_the_derivative_is_that_of_the_energy(walls):
    assembly = assembled(walls, 25.0)
    rng = np.random.default_rng(3)
    x = np.column_stack([assembly.flat, 10 * np.sin(assembly.flat[:, 0] / 40)])
    x = x + 0.3 * rng.normal(size=x.shape)
    shell = Shell(assembly, 1.0, Measures.none(len(x)))
    way = rng.normal(size=x.shape)
    step = 1e-5
    real = (shell.residual(x + step * way) - shell.residual(x - step * way)) / (2 * step)
    told = shell.derivative(x) @ way.ravel()
    hinges = slice(3 * len(assembly.faces), 3 * len(assembly.faces) + len(assembly.hinge))
    ties = slice(hinges.stop, None)
    assert np.allclose(real[:hinges.start], told[:hinges.start], atol=1e-4)
    assert np.allclose(real[ties], told[ties], atol=1e-4 * np.abs(told[ties]).max())
    inside = assembly.kind == 0
    assert np.allclose(real[hinges][inside], told[hinges][inside], atol=1e-4)


def test_the_energy_only_falls():
    pattern = pattern_of(*_three_plates())
    assembly = assembled(pattern, 30.0)
    x = np.column_stack([assembly.flat + 200.0 * assembly.of_vertex[:, None],
                         np.zeros(len(assembly.flat))])
    shell = Shell(assembly, 1.0)
    before = shell.residual(x)
    after = shell.residual(settled(shell, x, 5))
    assert after @ after < before @ before


def test_moved_onto_never_mirrors():
    rng = np.random.default_rng(1)
    points = rng.normal(size=(20, 3))
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    goal = points @ turn + (3.0, -2.0, 8.0)
    assert np.allclose(moved_onto(points, goal, np.ones(20)), goal)
    mirrored = points * (1, 1, -1)
    assert np.linalg.norm(moved_onto(points, mirrored, np.ones(20)) - mirrored) > 1.0


def test_without_pieces_there_is_nothing():
    pattern = replace(pattern_of(*_three_plates()), pieces=(), mates=())
    with pytest.raises(FoamError) as caught:
        rebuild(pattern)
    assert caught.value.finding.code == "nothing-to-rebuild"
