"""Overlaps: foam with which one piece reaches over its mate, and the line it comes to."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
import shapely

from addon.core import make
from addon.core.model import OVERLAP, JoinSizes, Sculpt, Settings
from addon.core.rebuild import rebuild
from addon.core.stock import find_stock
from addon.export.folder import write_all
from tests import shapes
from tests.plan.test_joins import marked

EVA = find_stock("eva-10")


def parted(radius=None, kind=OVERLAP, lap=20.0, folded=False):
    """A plate of 200 x 100 mm, 100 mm of it on either side of a seam, flat, bent with the seam
    round a circle, or folded along it."""
    def at(x, y):
        if folded:
            return x, y, -np.abs(x - 100.0) * 0.5
        return (x, y, 0 * x) if radius is None else (
            x, radius * np.sin(y / radius), radius * np.cos(y / radius))

    points, faces = shapes.surface(at, np.linspace(0, 200, 21), np.linspace(0, 100, 11))
    line = sorted(np.flatnonzero(np.isclose(points[:, 0], 100.0)), key=lambda i: points[i, 1])
    edges = np.sort(np.stack([line[:-1], line[1:]], axis=1), axis=1)
    sculpt = Sculpt.plain(points, faces, edges, [marked(kind)] * len(edges))
    return make.make_pattern(sculpt, Settings(EVA, nest_seconds=0.0, joins=JoinSizes(lap=lap)))


def both(pattern):
    """The piece over the other one, and that; the edge of each at the seam."""
    [mate] = pattern.mates
    over = pattern.piece(mate.join.over)
    under = next(p for p in pattern.pieces if p is not over)
    return over, under, *(next(e for e in p.edges if e.mate) for p in (over, under))


def length(line):
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


@pytest.mark.parametrize("lap", [12.0, 30.0])
def test_a_flat_plate_gets_a_strip_as_wide_as_it_laps(lap):
    over, under, edge, _ = both(parted(lap=lap))
    assert over.area == pytest.approx(100 * 100 + 100 * lap) and under.area == pytest.approx(1e4)
    for rings in (over.front, over.back, over.cut):
        [ring] = rings
        assert shapely.Polygon(ring).area == pytest.approx(over.area)
    assert edge.lap == lap and shapely.distance(
        shapely.LineString(edge.cut), shapely.LineString(edge.points)) == pytest.approx(lap)


def test_round_a_bend_it_is_longer_by_the_arc_of_one_thickness():
    """The plates keep their length at 150 - 5 mm; what lies over one of 10 mm, at 155 mm: an arc
    grows by angle x thickness, 2 pi for a whole turn (Machinery's Handbook, bend allowance)."""
    over, under, edge, other = both(parted(150.0))
    turn = 100.0 / 150.0
    assert length(other.cut) == pytest.approx(turn * 145.0, abs=0.05)
    assert length(edge.cut) == pytest.approx(turn * 155.0, abs=0.05)
    assert over.area - under.area == pytest.approx(20.0 * turn * (145.0 + 155.0) / 2, rel=1e-3)


def test_the_edge_is_square_where_the_seam_was_bevelled():
    """A fold of 53 degrees would be mitred; what laps is cut square on both faces."""
    over, _, edge, _ = both(parted(folded=True))
    assert np.abs(edge.bevel).min() > np.radians(20.0)
    for rings in (over.front, over.back, over.cut):
        far = shapely.LineString(edge.cut)
        assert shapely.Polygon(rings[0]).exterior.distance(far) < 1e-6
        assert shapely.hausdorff_distance(
            shapely.intersection(shapely.LineString([*rings[0], rings[0][0]]), far.buffer(0.01)),
            far) < 0.1
    told = " ".join(text for step in parted(folded=True).steps for text in step.text)
    assert f"{over.code} lies on the outside of" in told and "20 mm over it" in told
    assert f"{over.code}: A" not in told  # no bevel of that edge


def test_the_mate_carries_the_line_it_comes_to_with_ticks_for_its_notches():
    over, under, edge, other = both(parted(150.0))
    [place] = under.places
    [line] = place.lines
    assert (place.of, place.on, place.letter) == ((over.code,), (under.code,), edge.letter)
    assert shapely.hausdorff_distance(
        shapely.LineString(line), shapely.LineString(other.points)) == pytest.approx(20.0, abs=0.1)
    assert shapely.Polygon(under.cut[0]).buffer(0.01).contains(shapely.LineString(line))
    assert [t.index for t in place.ticks] == [n.index for n in over.notches] != []
    for notch in over.notches:
        assert shapely.LineString(edge.cut).distance(shapely.Point(notch.point)) < 0.01
    for tick in place.ticks:
        assert shapely.LineString(line).distance(shapely.Point(tick.point)) < 0.01


def test_twins_get_templates_of_their_own():
    plain, lapping = parted(kind=""), parted()
    assert [p.copies + p.mirrored for p in plain.templates] == [2]
    assert sorted(p.code for p in lapping.templates) == sorted(p.code for p in lapping.pieces)
    assert {(p.copies, p.mirrored, p.flipped) for p in lapping.pieces} == {(1, 0, False)}


def test_read_back_from_the_mat(tmp_path):
    svgelements = pytest.importorskip("svgelements")
    pattern = parted()
    write_all(pattern, tmp_path)
    [path] = (tmp_path / "mats").glob("eva*.svg")
    doc = svgelements.SVG.parse(io.StringIO(path.read_text("utf-8")), ppi=25.4)
    groups = {g.id: g for g in doc.select(lambda e: isinstance(e, svgelements.Group)) if g.id}
    areas = sorted(shapely.Polygon([(p.x, p.y) for p in svgelements.Path(part).as_points()]).area
                   for part in groups["cut"].select(lambda e: isinstance(e, svgelements.Path)))
    assert areas == pytest.approx([10_000.0, 12_000.0], rel=1e-3)
    assert "placement" in groups
    told = json.loads((tmp_path / "report.json").read_text("utf-8"))
    assert sorted(e["lap"] for p in told["pieces"] for e in p["edges"] if e["mate"]) == [0.0, 20.0]


def test_it_is_put_together_again_as_without():
    """The fold of a lapping seam is known though its edge is cut square."""
    lapping, butt = parted(folded=True), parted(kind="", folded=True)
    one, other = rebuild(lapping, quick=True), rebuild(butt, quick=True)
    assert one.most == pytest.approx(other.most, abs=0.05)
    assert abs(one.mates[0].fold) < np.radians(3.0)


def test_without_overlaps_nothing_changes():
    from addon.core.joining import lapped

    pattern = parted(kind="")
    assert lapped(pattern.pieces, pattern.mates) == pattern.pieces
    assert not any(replace(e).lap for p in pattern.pieces for e in p.edges)
