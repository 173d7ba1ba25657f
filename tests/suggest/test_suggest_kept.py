"""Seams and trenches that a sculpt has hold in proposals, on coarse sculpts as on fine ones."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from addon.core import mesh, seams
from addon.core.make import check
from addon.core.model import SEAM, TRENCH, Guide, Sculpt, Settings
from addon.core.stock import Limits, Stock
from addon.core.suggest import Suggestion, suggest_seams
from addon.core.suggest.kept import Kept
from addon.core.suggest.working import working_surface
from addon.core.trace import lay
from tests.shapes import cap

STOCK = Stock("foam 5 mm", 5.0, heated=Limits(0.05, 0.10, 2.0))
SETTINGS = Settings(STOCK)
ANGLE = np.radians(62)
COARSE, FINE = 3, 12  # rings of a dome of 120 mm: facets lie up to 2.2 mm and 0.1 mm off it


def meridian(points: np.ndarray, faces: np.ndarray, axis: int) -> np.ndarray:
    """Edges (k, 2) of a cap in the plane square to an axis."""
    edges, _ = mesh.edge_faces(faces)
    return edges[(np.abs(points[edges][:, :, axis]) < 1e-6).all(axis=1)]


def dome(rings: int, seam_along: str) -> Sculpt:
    """A dome with a seam over its crown, in its mirror plane or square to it."""
    points, faces = cap(120.0, ANGLE, rings)
    if seam_along == "plane":
        points = points @ np.array([(0, 1, 0), (-1, 0, 0), (0, 0, 1.0)])
    seam = meridian(points, faces, 0 if seam_along == "plane" else 1)
    return Sculpt.plain(points, faces, seam, [SEAM] * len(seam))


@cache
def proposed(rings: int, seam_along: str) -> tuple[Sculpt, Suggestion]:
    sculpt = dome(rings, seam_along)
    return sculpt, suggest_seams(sculpt, SETTINGS, scales=(1.0,))


def rim_length(sculpt: Sculpt) -> float:
    start, end, _ = mesh.half_edges(sculpt.faces)
    rim = mesh.twins(sculpt.faces) < 0
    return float(np.linalg.norm(sculpt.vertices[start[rim]] - sculpt.vertices[end[rim]],
                                axis=1).sum())


@pytest.mark.parametrize("seam_along", ["plane", "across"])
@pytest.mark.parametrize("rings", [COARSE, FINE])
def test_a_kept_seam_is_a_seam_of_the_smooth_surface_and_no_rim(rings, seam_along):
    _, found = proposed(rings, seam_along)
    assert found.coarse == (rings == COARSE)
    smooth = found.smooth
    assert rim_length(smooth) == pytest.approx(2 * np.pi * 120 * np.sin(ANGLE), rel=0.03)
    assert len(mesh.boundary_loops(smooth.faces)) == 1
    line = smooth.vertices[smooth.edges[(smooth.kinds & SEAM) != 0]]
    axis = 0 if seam_along == "plane" else 1
    on = (np.abs(line[:, :, axis]) < 0.5).all(axis=1)
    length = np.linalg.norm(line[on, 1] - line[on, 0], axis=1).sum()
    assert length == pytest.approx(2 * 120 * ANGLE, rel=0.02)  # over the crown from rim to rim


@pytest.mark.parametrize("seam_along", ["plane", "across"])
def test_what_is_accepted_on_a_coarse_sculpt_has_the_kept_seam_as_a_mate(seam_along):
    sculpt, found = proposed(COARSE, seam_along)
    pattern = check(found.accepted(sculpt), SETTINGS)
    assert len(pattern.pieces) == len(found.pieces) >= 2
    assert all(piece.verdict.heated <= 1 for piece in pattern.pieces)
    axis = 0 if seam_along == "plane" else 1
    kept = [mate for mate in pattern.mates if np.abs(mate.curve[:, axis]).max() < 1]
    assert sum(mate.lengths[0] for mate in kept) == pytest.approx(2 * 120 * ANGLE, rel=0.05)


def dome_with_trench(rings: int, drawn: bool) -> Sculpt:
    """A dome beyond what the foam takes, with a trench up one side to a third of its height,
    marked on edges or drawn across faces."""
    points, faces = cap(120.0, np.radians(75), rings)
    edges = meridian(points, faces, 1)
    side = edges[(points[edges][:, :, 0] > 120 * np.sin(np.radians(25)) - 1e-6).all(axis=1)]
    if not drawn:
        return Sculpt.plain(points, faces, side, [TRENCH] * len(side))
    angle = np.radians(np.linspace(25, 75, 40))
    line = 118 * np.stack([np.sin(angle), 0.12 + 0 * angle, np.cos(angle)], axis=1)
    return replace(Sculpt.plain(points, faces), guides=(Guide(line, TRENCH),))


@pytest.mark.parametrize("rings, drawn", [(3, True), (12, False)])
def test_a_kept_trench_stays_a_trench(rings, drawn):
    sculpt = dome_with_trench(rings, drawn)
    found = suggest_seams(sculpt, SETTINGS, scales=(1.0,))
    assert found.coarse == (rings == 3) and found.seams + found.darts > 50
    pattern = check(found.accepted(sculpt), SETTINGS)
    assert len(pattern.pieces) == len(found.pieces)
    trenches = sum(mesh.polyline_length(fold.points) for piece in pattern.pieces
                   for fold in piece.folds if fold.kind == TRENCH)
    # An arc of 50 degrees from its rim up; the flat is formed from the middle of the foam.
    assert trenches == pytest.approx(118 * np.radians(50), rel=0.1)
    # It is there once: nothing is proposed where it runs.
    for guide in found.guides:
        near = np.abs(guide.points[:, 1] - (14.4 if drawn else 0)) < 2
        assert not (near & (guide.points[:, 0] > 55)).sum() > 2


def test_lines_of_one_side_alone_make_a_sculpt_unsymmetric():
    points, faces = cap(120.0, ANGLE, 8)
    whole = np.arange(len(faces))
    edges = meridian(points, faces, 1)
    half = edges[(points[edges][:, :, 0] > -1e-6).all(axis=1)]
    for chosen, alike in ((edges, True), (half, False), (edges[:0], True)):
        sculpt = Sculpt.plain(points, faces, chosen, [TRENCH] * len(chosen))
        assert Kept(sculpt, whole, TRENCH).alike(np.array([1.0, 0, 0]), 0.0) == alike
        working = working_surface(sculpt, whole, STOCK, "outer", 0.3)
        assert working.symmetric == alike
        length = working.length[working.trench].sum()
        assert length == pytest.approx(120 * ANGLE * len(chosen) / 8, rel=0.02)


def test_kept_seams_of_a_fine_sculpt_cut_it_as_before():
    sculpt, found = proposed(FINE, "across")
    cut = seams.cut(lay(found.marked(sculpt)))
    assert len(cut.regions) == len(found.pieces)
