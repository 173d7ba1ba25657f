"""Seams that are to be seen: chamfered or set back along both outer edges."""

import io
import json

import numpy as np
import pytest
import shapely

from addon.core import make
from addon.core.errors import FoamError
from addon.core.model import (
    EXAGGERATED,
    FINISH_BIT,
    FLUSH,
    OVERLAP,
    RECESSED,
    SEAM,
    Finish,
    Sculpt,
    Settings,
    finish_numbers,
    join_numbers,
)
from addon.core.stock import find_stock
from addon.export.folder import write_all
from tests import shapes
from tests.plan.test_joins import marked

EVA = find_stock("eva-10")
PLAIN = Finish()


def parted(finish=PLAIN, slope=0.0, join="", deep=100.0, **settings):
    """A plate of 200 x `deep` mm, 100 mm of it on either side of a seam, flat or folded there."""
    points, faces = shapes.surface(lambda x, y: (x, y, -np.abs(x - 100.0) * slope),
                                   np.linspace(0, 200, 21), np.linspace(0, deep, 11))
    line = sorted(np.flatnonzero(np.isclose(points[:, 0], 100.0)), key=lambda i: points[i, 1])
    edges = np.sort(np.stack([line[:-1], line[1:]], axis=1), axis=1)
    kind = (marked(join) if join else SEAM) + finish.number * FINISH_BIT
    sculpt = Sculpt.plain(points, faces, edges, [kind] * len(edges))
    return make.make_pattern(sculpt, Settings(EVA, nest_seconds=0.0, **settings))


@pytest.mark.parametrize("finish", [Finish(EXAGGERATED, 4.0), Finish(RECESSED, 12.34), Finish()])
def test_a_finish_is_kept_in_the_flags_of_an_edge_beside_its_join(finish):
    flags = marked(OVERLAP) + finish.number * FINISH_BIT
    assert Finish.of(finish_numbers(flags)) == finish
    assert join_numbers(flags) == join_numbers(marked(OVERLAP)) > 0 and flags & SEAM


@pytest.mark.parametrize(("kind", "deep"), [(EXAGGERATED, 4.0), (RECESSED, 10.0 / 3)])
def test_on_a_flat_plate_both_edges_lose_their_width(kind, deep):
    """A square edge: a chamfer of 45 degrees is as deep as it is wide; a step is a third of the
    foam deep (common practice, no source)."""
    plain, seen = parted(), parted(Finish(kind, 4.0))
    assert [m.finish for m in seen.mates] == [Finish(kind, 4.0)]
    for piece, before in zip(seen.pieces, plain.pieces, strict=True):
        [own] = piece.finishes
        edge = next(e for e in piece.edges if e.mate)
        assert (own.kind, own.width, own.letter) == (kind, 4.0, edge.letter)
        assert own.depth == pytest.approx(deep)
        assert shapely.LineString(own.points).length == pytest.approx(100.0, abs=0.1)
        assert shapely.hausdorff_distance(shapely.LineString(own.points),
                                          shapely.LineString(edge.points)) == pytest.approx(4.0)
        assert shapely.Polygon(piece.front[0]).contains_properly(
            shapely.LineString(own.points).interpolate(0.5, normalized=True))
        assert not before.finishes
        assert np.allclose(piece.cut[0], before.cut[0])  # what is cut first stays as it was


def test_neither_bevels_nor_the_lengths_of_mates_change():
    plain, seen = parted(slope=0.5), parted(Finish(EXAGGERATED, 3.0), slope=0.5)
    [before], [after] = plain.mates, seen.mates
    assert after.lengths.tolist() == before.lengths.tolist() and after.gap == before.gap
    for one, other in zip(plain.pieces, seen.pieces, strict=True):
        assert all(np.array_equal(a.bevel, b.bevel)
                   for a, b in zip(one.edges, other.edges, strict=True))
    # As much is cut off the bevelled edge as off the face, so it reaches w cos b below the face.
    fold = 2 * np.arctan(0.5)
    assert [f.depth for p in seen.pieces for f in p.finishes] == pytest.approx(
        [3.0 * np.cos(fold / 2)] * 2, abs=1e-3)


def test_on_a_bevelled_edge_the_width_is_measured_on_the_outer_face():
    seen = parted(Finish(EXAGGERATED, 3.0), slope=0.5)
    for piece in seen.pieces:
        [own] = piece.finishes
        front = shapely.Polygon(piece.front[0])
        middle = shapely.LineString(own.points).interpolate(0.5, normalized=True)
        assert front.exterior.distance(middle) == pytest.approx(3.0, abs=0.01)


def test_letters_choose_instead_of_marks_and_unknown_ones_are_refused():
    [letter] = {m.letter for m in parted().mates}
    chosen = parted(Finish(RECESSED, 5.0), finishes=((letter, Finish(EXAGGERATED, 2.0)),))
    assert {f.kind for p in chosen.pieces for f in p.finishes} == {EXAGGERATED}
    flush = parted(Finish(RECESSED, 5.0), finishes=((letter, Finish()),))
    assert not any(p.finishes for p in flush.pieces)
    with pytest.raises(FoamError, match="no seam lettered “Q”"):
        parted(finishes=(("Q", Finish(RECESSED, 5.0)),))


@pytest.mark.parametrize(("asked", "words"), [
    (dict(finish=Finish(EXAGGERATED, 10.0)), "foam is only 10 mm thick"),
    (dict(finish=Finish(RECESSED, 100.0)), "too narrow"),
    (dict(finish=Finish(RECESSED, 4.0), join=OVERLAP), "lies over the other"),
])
def test_what_the_foam_does_not_take_stays_flush_and_is_told(asked, words):
    pattern = parted(**asked)
    [found] = [f for f in pattern.findings if f.code == "finish-impossible"]
    assert words in found.message and found.remedy
    assert len(found.edges) == 10
    assert not any(p.finishes for p in pattern.pieces)
    assert [m.finish.kind for m in pattern.mates] == [FLUSH]


def test_a_card_mock_up_has_none():
    pattern = parted(Finish(EXAGGERATED, 4.0), mock_up="half")
    assert not any(p.finishes for p in pattern.pieces)


def test_the_plan_tells_how_they_are_cut_and_kept_free_of_cement():
    for kind, words in ((EXAGGERATED, "chamfered by 4 mm"),
                        (RECESSED, "set back by 4 mm, 3.3 mm deep")):
        pattern = parted(Finish(kind, 4.0))
        [step] = [s for s in pattern.steps if "seam" in s.title.lower() and "inish" in s.title]
        told = " ".join(step.text)
        assert words in told and "no cement" in told


def test_read_back_from_the_mat_and_the_report(tmp_path):
    svgelements = pytest.importorskip("svgelements")
    write_all(parted(Finish(EXAGGERATED, 4.0)), tmp_path)
    [path] = (tmp_path / "mats").glob("eva*.svg")
    doc = svgelements.SVG.parse(io.StringIO(path.read_text("utf-8")), ppi=25.4)
    groups = {g.id: g for g in doc.select(lambda e: isinstance(e, svgelements.Group)) if g.id}
    lengths = [shapely.LineString([(p.x, p.y) for p in svgelements.Path(part).as_points()]).length
               for part in groups["finish"].select(lambda e: isinstance(e, svgelements.Path))]
    assert len(lengths) == 2 and lengths == pytest.approx([100.0] * 2, abs=0.2)
    told = json.loads((tmp_path / "report.json").read_text("utf-8"))
    assert [m["finish"] for m in told["mates"]] == [{"kind": EXAGGERATED, "width": 4}]
    assert [(f["kind"], f["width"], f["depth"]) for p in told["pieces"]
            for f in p["finishes"]] == [(EXAGGERATED, 4, 4)] * 2


def test_twins_whose_seams_look_alike_still_share_a_template():
    seen = parted(Finish(EXAGGERATED, 4.0))
    assert [p.copies + p.mirrored for p in seen.templates] == [2]
