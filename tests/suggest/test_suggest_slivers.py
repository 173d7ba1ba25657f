"""No piece that is proposed is a sliver: a disc of 30 mm lies in every one, but between creases."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from addon.core import mesh
from addon.core.make import check
from addon.core.model import SEAM, Guide, Pattern, Sculpt, Settings
from addon.core.stock import Limits, Stock
from addon.core.suggest import suggest_seams
from addon.core.suggest.merge import Parting
from addon.core.suggest.tidy import narrow, without_slivers
from addon.core.suggest.trial import Judge
from addon.core.suggest.working import working_surface
from tests.shapes import cap, surface

NARROW = 30.0  # mm
SOFT = Stock("soft 5 mm", 5.0, heated=Limits(0.05, 0.10, 2.0))
STIFF = Stock("stiff 5 mm", 5.0, heated=Limits(0.02, 0.05, 2.0))
THICK = Stock("foam 10 mm", 10.0)


def humps() -> Sculpt:
    """Two humps on a plane, one beside the other."""
    return Sculpt.plain(*surface(
        lambda x, y: (x, y, 45 * np.exp(-(x**2 + y**2) / 2500)
                      + 45 * np.exp(-((x - 110)**2 + (y - 40)**2) / 2500)),
        np.linspace(-120, 200, 33), np.linspace(-110, 140, 26)))


def channel(height: float) -> Sculpt:
    """Two flanges 60 mm wide and a wall between them, square to both, along an arc of 250 mm
    radius: the wall and the flanges are pieces, with a crease between."""
    radius = np.array([190, 205, 220, 235, 250, 250, 250, 265, 280, 295, 310.0])
    rise = np.array([0, 0, 0, 0, 0, 0.5, 1, 1, 1, 1, 1]) * height
    k = np.arange(11)
    return Sculpt.plain(*surface(
        lambda a, i: (np.interp(i, k, radius) * np.cos(a), np.interp(i, k, radius) * np.sin(a),
                      np.interp(i, k, rise)), np.linspace(0, 1.2, 25), k))


def proposed(sculpt: Sculpt, stock: Stock, scale: float = 1.0) -> tuple[tuple[Guide, ...], Pattern]:
    settings = Settings(stock)
    found = suggest_seams(sculpt, settings, scales=(scale,))
    return found.guides, check(found.accepted(sculpt), settings)


def slivers(pattern: Pattern) -> list[int]:
    """Pieces in whose flat no disc of NARROW mm lies."""
    found = []
    for index, piece in enumerate(pattern.pieces):
        corner = piece.flat[piece.faces]
        flat = shapely.union_all([shapely.Polygon(t).buffer(1e-3) for t in corner])
        if flat.buffer(-NARROW / 2 + 0.1).is_empty:
            found.append(index)
    return found


def test_no_piece_of_a_smooth_sculpt_is_a_sliver():
    _, pattern = proposed(humps(), STIFF, 1.6)
    assert len(pattern.pieces) >= 2 and slivers(pattern) == []
    assert all(piece.verdict.kind != "relief" for piece in pattern.pieces)


@pytest.mark.parametrize("width", [8.0, 20.0, 28.0])
def test_a_strip_across_a_formable_piece_is_taken_in(width):
    """On a cap of 40 degrees, which is formable whole: a strip from rim to rim, and what is left
    on both sides, come out as pieces of which none is narrow."""
    points, faces = cap(120.0, np.radians(40), rings=14)
    working = working_surface(Sculpt.plain(points, faces), np.arange(len(faces)), SOFT, "outer",
                              0.3)
    x = working.points[working.faces].mean(axis=1)[:, 1]
    label = np.where(np.abs(x) < width / 2, 0, np.where(x > 0, 1, 2))
    if working.symmetric:  # every piece is its own image
        assert (label[working.image] == label).all()
    parting = Parting.of(working, label)
    assert 0 in narrow(parting)
    without_slivers(parting, Judge(working, 1.0), lambda: None)
    assert narrow(parting) == []


def test_a_sliver_that_no_neighbour_can_take_whole_is_shared_out():
    """Three strips of a hemisphere: the middle one with either side is more than the foam
    takes, but half of it with each is not."""
    points, faces = cap(120.0, np.radians(66), rings=16)
    working = working_surface(Sculpt.plain(points, faces), np.arange(len(faces)), SOFT, "outer",
                              0.3)
    y = working.points[working.faces].mean(axis=1)[:, 1]
    label = np.where(np.abs(y) < 13, 0, np.where(y > 0, 1, 2))
    parting, judge = Parting.of(working, label), Judge(working, 0.65)
    assert narrow(parting) == [0]
    assert judge(parting.faces({0, 1})).why and judge(parting.faces({0, 2})).why
    without_slivers(parting, judge, lambda: None)
    assert len(np.unique(parting.label)) == 2 and narrow(parting) == []


def test_a_narrow_piece_between_creases_stays_one():
    sculpt = channel(20.0)
    guides, pattern = proposed(sculpt, THICK)
    edges, beside = mesh.edge_faces(sculpt.faces)
    normals, _ = mesh.face_normals(sculpt.vertices, sculpt.faces)
    sharp = np.einsum("ij,ij->i", *normals[beside].transpose(1, 0, 2)) < 0.7
    creases = cKDTree(sculpt.vertices[np.unique(edges[sharp])])
    narrow = slivers(pattern)
    assert len(narrow) >= 1 and {guide.kind for guide in guides} >= {SEAM}
    for index in narrow:
        piece = pattern.pieces[index]
        outline = np.concatenate([piece.vertices[piece.faces.ravel()[loop]]
                                  for loop in mesh.boundary_loops(piece.faces)])
        assert (creases.query(outline)[0] < 6).mean() > 0.6
