"""Smeared marks are told from what a maker marks on purpose, planted on grids of known edges.

What real remeshes leave is tested in tests/blender/test_blender_kept_lines.py.
"""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from addon.core.errors import ERROR, WARNING, FoamError
from addon.core.model import SCORE, SEAM, TRENCH, Sculpt
from addon.core.soundness import inspect


class Grid:
    """A sheet of n by n quads, each of two triangles; points are named by column and row."""

    def __init__(self, n=40, side=5.0):
        self.n, self.side = n, side
        i, j = (a.ravel() for a in np.meshgrid(np.arange(n), np.arange(n)))
        corner = self.at(i, j)
        quads = np.stack([corner, corner + 1, corner + n + 2, corner + n + 1], axis=1)
        x, y = np.meshgrid(np.arange(n + 1), np.arange(n + 1))
        points = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1) * side
        self.plain = replace(
            Sculpt.plain(points, np.concatenate([quads[:, :3], quads[:, [0, 2, 3]]])),
            polygon=np.tile(np.arange(len(quads)), 2))

    def at(self, i, j):
        return j * (self.n + 1) + i

    def across(self, j, first=0, last=None):
        """The edges of row j from column `first` to `last`."""
        last = self.n if last is None else last
        return [(self.at(i, j), self.at(i + 1, j)) for i in range(first, last)]

    def up(self, i, first, last):
        return [(self.at(i, j), self.at(i, j + 1)) for j in range(first, last)]

    def band(self, j, first, last):
        """Every edge of the quads between rows j and j + 1."""
        return [*self.across(j, first, last), *self.across(j + 1, first, last),
                *(edge for i in range(first, last + 1) for edge in self.up(i, j, j + 1))]

    def marked(self, edges, kind=SEAM):
        edges = np.unique(np.sort(np.array(edges), axis=1), axis=0)
        return replace(self.plain, edges=edges, kinds=np.full(len(edges), kind))


def smears(sculpt):
    try:
        found = inspect(sculpt)
    except FoamError as error:
        found = error.findings
    return [f for f in found if f.code == "smeared-marks"]


GRID = Grid()
COARSE = Grid(n=8, side=25.0)


# --- smears --------------------------------------------------------------------


def test_a_seam_doubled_into_a_band_of_edges_is_smeared():
    line = GRID.across(20, 0, 12) + GRID.across(20, 30)
    (found,) = smears(GRID.marked(line + GRID.band(20, 12, 30)))
    # 17 edges across the band, 18 along the seam, and 18 runs beside it with its corners.
    assert found.severity == ERROR and f"{17 + 18 + 18} short lines" in found.message
    assert "seams" in found.message and "“sculpt”" in found.message
    assert {tuple(e) for e in found.edges.tolist()} == set(GRID.band(20, 12, 30))


@pytest.mark.parametrize(("kind", "severity"), [
    (SEAM, ERROR), (TRENCH, WARNING), (SCORE, WARNING)])
def test_every_kind_can_be_smeared_and_only_seams_make_it_fatal(kind, severity):
    (found,) = smears(GRID.marked(GRID.band(20, 5, 20), kind))
    assert found.severity == severity and found.remedy


def test_a_seam_in_shreds_is_smeared():
    every_third_lost = [e for i, e in enumerate(GRID.across(20)) if i % 3]
    (found,) = smears(GRID.marked(every_third_lost))
    assert "13 stray ends" in found.message and len(found.edges) == 26


def test_stubs_along_a_seam_are_smears_beside_some_loops():
    stubs = [e for i in range(2, 38, 2) for e in GRID.up(i, 20, 21)]
    boxes = [e for i in (3, 11, 19, 27) for e in GRID.band(19, i, i + 1)]
    (found,) = smears(GRID.marked(GRID.across(20) + stubs + boxes))
    assert "18 stray ends and " in found.message
    assert {tuple(e) for e in found.edges.tolist()} > set(stubs)


def test_smears_are_found_when_the_mesh_was_subdivided_since():
    fine = Grid(n=120, side=5.0 / 3)
    coarse = GRID.band(20, 12, 30) + GRID.across(20, 0, 12)
    edges = []
    for a, b in coarse:
        (i, j), (k, m) = (divmod(v, 41)[::-1] for v in (a, b))
        at = [(3 * i + s * (k - i), 3 * j + s * (m - j)) for s in range(4)]
        edges += [(fine.at(*p), fine.at(*q)) for p, q in zip(at, at[1:], strict=False)]
    (found,) = smears(fine.marked(edges))
    assert found.severity == ERROR


def test_a_smear_is_counted_on_its_own_object():
    one = GRID.marked(GRID.band(20, 5, 7))
    count = len(one.vertices)
    clean = [GRID.across(j) for j in range(2, 40, 4)]
    other = GRID.marked(np.concatenate(clean))
    both = replace(
        one, vertices=np.concatenate([one.vertices, other.vertices + 500.0]),
        faces=np.concatenate([one.faces, other.faces + count]),
        edges=np.concatenate([one.edges, other.edges + count]),
        kinds=np.concatenate([one.kinds, other.kinds]),
        polygon=np.concatenate([one.polygon, other.polygon + one.polygon.max() + 1]),
        origin=np.arange(2 * len(one.faces)),
        face_object=np.repeat([0, 1], len(one.faces)),
        objects=(replace(one.objects[0], name="left"), replace(one.objects[0], name="right")))
    assert not smears(both)
    more = GRID.marked(GRID.band(20, 5, 20))
    (found,) = smears(replace(both, edges=np.concatenate([more.edges, other.edges + count]),
                              kinds=np.concatenate([more.kinds, other.kinds])))
    assert "“left”" in found.message and found.edges.max() < count


# --- what is meant ---------------------------------------------------------------


def icosahedron(side, kind=SEAM):
    mesh = trimesh.creation.icosahedron()
    mesh.apply_scale(side / mesh.edges_unique_length[0])
    return Sculpt.plain(mesh.vertices, mesh.faces, mesh.edges_unique,
                        np.full(len(mesh.edges_unique), kind))


@pytest.mark.parametrize("sculpt", [
    pytest.param(GRID.marked(GRID.across(20)), id="one seam"),
    pytest.param(GRID.marked(GRID.across(20) + [
        e for i in range(5, 40, 10) for e in GRID.up(i, 0, 20)]), id="T-junctions"),
    pytest.param(GRID.marked(GRID.across(20) + [
        e for i in range(2, 40, 2) for e in GRID.up(i, 20, 23)]), id="darts of 15 mm"),
    pytest.param(GRID.marked(GRID.across(20) + [
        e for i in range(2, 40, 2) for e in GRID.up(i, 20, 22)]), id="darts of 10 mm"),
    pytest.param(GRID.marked(GRID.across(20) + [
        e for i in range(1, 40) for e in GRID.up(i, 20 if i % 2 else 17, 23 if i % 2 else 20)]),
        id="darts on either side in turn"),
    pytest.param(GRID.marked([e for i in range(1, 40) for e in GRID.up(i, 0, 1)]),
                 id="relief cuts of 5 mm at a rim"),
    pytest.param(COARSE.marked(COARSE.across(4) + [
        e for i in range(1, 8) for e in (*COARSE.up(i, 4, 5), *COARSE.up(i, 3, 4))]),
        id="darts of one edge on a coarse mesh"),
    pytest.param(COARSE.marked([e for j in range(8) for e in COARSE.band(j, 0, 8)]),
                 id="coarse grid all marked"),
    pytest.param(COARSE.marked(COARSE.band(3, 2, 7), SCORE), id="row of large squares scored"),
    pytest.param(GRID.marked([e for j in range(40) for e in GRID.band(j, 0, 40)]),
                 id="fine grid all marked"),
    pytest.param(GRID.marked([e for i in range(2, 38, 3) for j in range(2, 38, 3)
                              for e in GRID.across(j, i, i + 1)], SCORE), id="score ornament"),
    pytest.param(icosahedron(80.0), id="large solid, all edges"),
    pytest.param(icosahedron(8.0), id="small gem, all edges"),
    pytest.param(GRID.marked([*GRID.across(20, 0, 18), *GRID.across(20, 20)]), id="a gap"),
])
def test_what_a_maker_marks_on_purpose_is_no_smear(sculpt):
    assert not smears(sculpt)
