"""Proposals of seams on surfaces whose answers are known."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.spatial import cKDTree

from addon.core import mesh, seams
from addon.core.errors import Cancelled, FoamError
from addon.core.make import check
from addon.core.model import SEAM, TRENCH, Guide, Sculpt, Settings
from addon.core.stock import Limits, Stock, find_stock
from addon.core.suggest import Suggestion, _starts, suggest_seams
from addon.core.suggest.verdict import judged
from addon.core.suggest.working import working_surface
from addon.core.trace import lay
from tests.shapes import cap, cylinder, platonic, roof, surface

# −5/+10 % takes an uncut cap up to 52.95°: (1 + s) / (1 - c) = α / sin α (Milnor 1969).
STOCK = Stock("foam 5 mm", 5.0, heated=Limits(0.05, 0.10, 2.0))
SETTINGS = Settings(STOCK)
ONE = (1.0,)  # one start is enough to see


def tube(radius: float, height: float) -> Sculpt:
    points, faces = cylinder(radius, 2 * np.pi, height, columns=33, rows=9)
    column = np.arange(len(points)) % 33
    first = np.where(column == 32, np.arange(len(points)) - 32, np.arange(len(points)))
    used, faces = np.unique(first[faces], return_inverse=True)
    return Sculpt.plain(points[used], faces.reshape(-1, 3))


def dome(x: float, y: float, z: float) -> Sculpt:
    """The upper half of an ellipsoid with these half axes."""
    points, faces = cap(1.0, np.pi / 2, rings=10)
    return Sculpt.plain(points * (x, y, z), faces)


@cache
def proposed(name: str) -> tuple[Sculpt, Suggestion]:
    sculpt = {"tube": lambda: tube(60, 150), "dome": lambda: dome(140, 180, 120),
              "cube": lambda: Sculpt.plain(*platonic("cube", 150.0))}[name]()
    return sculpt, suggest_seams(sculpt, SETTINGS, scales=ONE)


def test_a_cap_that_the_foam_takes_needs_no_seam():
    sculpt = Sculpt.plain(*cap(120, np.radians(44), rings=8))
    found = suggest_seams(sculpt, SETTINGS, scales=ONE)
    assert not found.guides and len(found.pieces) == 1
    assert [finding.code for finding in found.findings] == ["no-seams-needed"]


def test_a_cap_beyond_milnors_bound_is_divided():
    sculpt = Sculpt.plain(*cap(120, np.radians(62), rings=10))
    found = suggest_seams(sculpt, SETTINGS, scales=ONE)
    assert found.guides
    assert len(found.pieces) <= 3 and found.u <= 1
    # Cut in any way, it has the area of the cap, 2 pi R^2 (1 - cos a), less what facets cut off.
    area = 2 * np.pi * 120**2 * (1 - np.cos(np.radians(62)))
    assert sum(piece.area for piece in found.pieces) == pytest.approx(area, rel=0.02)


def test_a_tube_gets_one_seam_from_rim_to_rim():
    sculpt, found = proposed("tube")
    assert len(found.pieces) == 1 and len(found.guides) == 1
    assert found.u < 0.1
    points = found.guides[0].points
    assert np.ptp(points[:, 2]) == pytest.approx(150, abs=1)
    assert mesh.polyline_length(points) == pytest.approx(150, rel=0.05)


def test_a_cube_is_cut_and_folded_at_its_edges():
    _, found = proposed("cube")
    assert found.u < 0.3
    for guide in found.guides:
        on = np.abs(np.abs(guide.points) - 75) < 0.5
        assert (on.sum(axis=1) >= 2).all()
    length = sum(mesh.polyline_length(np.concatenate([g.points, g.points[:1]]) if g.closed
                                      else g.points) for g in found.guides)
    assert length == pytest.approx(12 * 150, rel=0.02)  # every edge a seam or a trench
    assert {g.kind for g in found.guides} == {SEAM, TRENCH}


@pytest.mark.parametrize("name", ["dome", "tube"])
def test_lines_lie_on_the_sculpt_and_cut_it_into_the_pieces_promised(name):
    sculpt, found = proposed(name)
    cut = seams.cut(lay(found.marked(sculpt)))
    assert len(cut.regions) == len(found.pieces)
    areas = sorted(mesh.face_normals(r.vertices, r.faces)[1].sum() for r in cut.regions)
    assert areas == pytest.approx(sorted(p.area for p in found.pieces), rel=0.05)


def test_a_symmetric_sculpt_gets_symmetric_seams():
    _, found = proposed("dome")
    points = np.concatenate([g.points for g in found.guides])
    dense = np.concatenate([resampled(g.points) for g in found.guides])
    assert cKDTree(dense).query(points * (-1, 1, 1))[0].max() < 1.0


def resampled(points: np.ndarray) -> np.ndarray:
    along = mesh.arc_length(points)
    at = np.linspace(0, along[-1], int(along[-1]) + 2)
    return np.stack([np.interp(at, along, x) for x in points.T], axis=1)


def test_halves_that_are_joined_last_make_few_pieces_of_a_round_dome():
    """Joined over the mirror plane too soon, this dome comes out in three pieces; each half of
    it is formable whole."""
    sculpt = Sculpt.plain(*cap(120, 1.5, rings=16))
    found = suggest_seams(sculpt, Settings(find_stock()), scales=ONE)
    assert len(found.pieces) <= 2 and all(piece.formable for piece in found.pieces)
    assert len(check(found.accepted(sculpt), Settings(find_stock())).pieces) == len(found.pieces)


def test_the_same_sculpt_gets_the_same_seams():
    sculpt, found = proposed("dome")
    again = suggest_seams(sculpt, SETTINGS, scales=ONE)
    assert len(again.guides) == len(found.guides)
    for one, other in zip(found.guides, again.guides, strict=True):
        assert np.array_equal(one.points, other.points) and one.kind == other.kind


def test_easier_foam_work_takes_more_pieces():
    sculpt, found = proposed("dome")
    easy = suggest_seams(sculpt, SETTINGS, ease=1.0, scales=ONE)
    assert easy.u <= 0.45 < found.u <= 1
    assert len(easy.pieces) >= len(found.pieces)
    assert easy.seams + easy.darts > found.seams + found.darts


def test_no_piece_is_larger_than_the_mat():
    sculpt = Sculpt.plain(*surface(lambda u, v: (u, v, 0 * u), np.linspace(0, 1000, 21),
                                   np.linspace(0, 200, 5)))
    found = suggest_seams(sculpt, SETTINGS, scales=ONE)
    assert 2 <= len(found.pieces) <= 3
    cut = seams.cut(lay(found.marked(sculpt)))
    assert max(np.ptp(r.vertices[:, 0]) for r in cut.regions) <= 600
    assert found.seams == pytest.approx(200 * (len(found.pieces) - 1), rel=0.1)


def test_what_takes_very_many_mats_is_refused_at_once():
    """A square of 6 m has 36 m², a hundred times a mat of 600 mm."""
    side = np.linspace(0, 6000, 21)
    sculpt = Sculpt.plain(*surface(lambda u, v: (u, v, 0 * u), side, side))
    said: list[str] = []
    with pytest.raises(FoamError) as caught:
        suggest_seams(sculpt, SETTINGS, progress=lambda share, text: said.append(text))
    assert caught.value.finding.code == "too-large-to-suggest"
    assert "36 m²" in caught.value.finding.message and "100 mats" in caught.value.finding.message
    assert [f.code for f in caught.value.findings[1:]] == ["implausible-size"]
    assert said == ["Looking the sculpt over"]


def test_what_takes_several_mats_starts_from_patches_enough():
    """24 mats of 200 mm on 0.96 m² need 24 pieces at least, which takes as many patches."""
    sculpt = Sculpt.plain(*surface(lambda u, v: (u, v, 0 * u), np.linspace(0, 1200, 25),
                                   np.linspace(0, 800, 17)))
    small = replace(STOCK, sheet=(200.0, 200.0))
    working = working_surface(sculpt, np.arange(len(sculpt.faces)), small, "outer", 0.3)
    half = 2 if working.symmetric else 1
    assert all(start.patches * half >= 4 * 24 for start in _starts(working, ONE))


def test_seams_that_are_marked_stay_and_are_not_proposed_again():
    points, faces = cap(120, np.radians(62), rings=12)
    edges, _ = mesh.edge_faces(faces)
    middle = edges[(np.abs(points[edges][:, :, 1]) < 1e-6).all(axis=1)]
    marked = Sculpt.plain(points, faces, middle, [SEAM] * len(middle))
    for guide in suggest_seams(marked, SETTINGS, scales=ONE).guides:
        assert np.abs(guide.points[:, 1]).max() > 5


def test_seams_that_are_drawn_across_faces_stay_as_well():
    points, faces = cap(120, np.radians(62), rings=12)
    turned = points @ np.array([(np.cos(0.1), np.sin(0.1), 0), (-np.sin(0.1), np.cos(0.1), 0),
                                (0, 0, 1)])  # so that the line follows no edges
    edges, _ = mesh.edge_faces(faces)
    middle = edges[(np.abs(points[edges][:, :, 1]) < 1e-6).all(axis=1)]
    rim = np.abs(points[:, 1]) < 1e-6
    line = points[np.flatnonzero(rim)[np.argsort(points[rim][:, 0])]]
    assert len(line) == len(middle) + 1
    sculpt = replace(Sculpt.plain(turned, faces), guides=(Guide(line),))
    settings = Settings(STOCK, scale=1.25)
    found = suggest_seams(sculpt, settings, scales=ONE)
    cut = seams.cut(lay(found.marked(sculpt)))
    assert len(cut.regions) == len(found.pieces) >= 2
    for guide in found.guides:
        assert np.abs(guide.points[:, 1]).max() > 5


def test_sharp_edges_are_seams_before_others_are_proposed():
    """A cube cut at its edges is six flat squares: nothing is left to propose."""
    sculpt = Sculpt.plain(*platonic("cube", 150.0))
    settings = replace(SETTINGS, seam_angle=np.radians(40))
    found = suggest_seams(sculpt, settings, scales=ONE)
    assert len(found.pieces) == 6 and not found.guides
    assert "with the seams it has" in found.findings[0].message
    assert len(check(found.accepted(sculpt), settings).pieces) == 6


def test_a_proposal_holds_when_sharp_edges_are_cut_as_well():
    """A dome with a brim: its foot is a sharp edge, and the dome alone asks too much."""
    points, faces = cap(120, np.radians(62), rings=12)
    rim = np.isclose(points[:, 2], points[:, 2].min())
    ring = np.flatnonzero(rim)[np.argsort(np.arctan2(points[rim][:, 1], points[rim][:, 0]))]
    brim = points[ring] * (1.4, 1.4, 1.0)
    outer, after = len(points) + np.arange(len(ring)), np.roll(np.arange(len(ring)), -1)
    faces = np.concatenate([faces, np.stack([ring, outer, ring[after]], axis=1),
                            np.stack([outer, outer[after], ring[after]], axis=1)])
    sculpt = Sculpt.plain(np.concatenate([points, brim]), faces)
    settings = replace(SETTINGS, seam_angle=np.radians(40))
    found = suggest_seams(sculpt, settings, scales=ONE)
    pattern = check(found.accepted(sculpt), settings)
    assert found.guides and len(pattern.pieces) == len(found.pieces) >= 2
    assert max(p.verdict.heated for p in pattern.pieces) <= 1


def test_a_piece_whose_flat_lies_over_itself_is_no_formable_piece():
    """A strip of a helicoid, three turns long, is a ring on the flat that lies over itself."""
    strip = Sculpt.plain(*surface(
        lambda a, w: ((100 + w) * np.cos(a), (100 + w) * np.sin(a), 12 * a),
        np.linspace(0, 6 * np.pi, 145), np.linspace(0, 30, 4)))
    piece, = judged(strip, SETTINGS, STOCK, "outer")
    assert piece.verdict is not None and piece.u < 1
    assert not piece.formable and piece.why == "Its flat lies over itself."
    assert "overlaps-itself" in {f.code for f in check(strip, SETTINGS).findings}


def test_scale_is_taken_first_and_lines_come_in_the_sculpts_own_units():
    points, faces = cap(12, np.radians(62), rings=10)
    found = suggest_seams(Sculpt.plain(points, faces), Settings(STOCK, scale=10.0), scales=ONE)
    for guide in found.guides:
        assert np.linalg.norm(guide.points, axis=1) == pytest.approx(12, rel=0.02)
    assert found.seams + found.darts > 60


def test_it_can_be_stopped():
    def stop(share: float, text: str) -> None:
        if share > 0:
            raise Cancelled

    with pytest.raises(Cancelled):
        suggest_seams(dome(140, 180, 120), SETTINGS, progress=stop)


@pytest.mark.parametrize("degrees", [28, 40])
def test_a_straight_fold_inside_a_piece_becomes_a_trench(degrees):
    """Two squares of 150 mm make a fold for which the check would ask a mark."""
    points, faces, _ = roof(150, 150, np.radians(degrees), columns=11, rows=11)
    sculpt = Sculpt.plain(points, faces)
    assert "unmarked-fold" in {f.code for f in check(sculpt, SETTINGS).findings}
    found = suggest_seams(sculpt, SETTINGS, scales=ONE)
    assert found.trenches == pytest.approx(150, rel=0.05) and not found.seams
    pattern = check(found.accepted(sculpt), SETTINGS)
    assert len(pattern.pieces) == 1
    assert "unmarked-fold" not in {f.code for f in pattern.findings}
