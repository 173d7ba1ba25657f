"""Every physical piece on a mat, apart from the others, once, and the same every time."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st

from addon.core.errors import Cancelled
from addon.core.model import GRAIN, MATES, MIRRORED, QUARTER, Mate, Placement, Settings, Sheet
from addon.core.nest import NESTING, mats, nest_mats, overlaps
from addon.core.nest.proof import proved
from addon.core.nest.raster import Spot, fill
from addon.core.nest.shapes import placed
from tests.sheets.conftest import FOAM, blob, make_piece, rectangle

QUICK = Settings(FOAM, nest_seconds=0.02)


def counted(sheets) -> Counter:
    return Counter((p.piece, p.mirrored) for s in sheets for p in s.placements)


def same(a: Sheet, b: Sheet) -> bool:
    return a.name == b.name and [(p.piece, p.angle, *p.offset, p.mirrored) for p in a.placements] \
        == [(p.piece, p.angle, *p.offset, p.mirrored) for p in b.placements]


def test_every_physical_piece_is_placed_once_and_mirrored_ones_are_turned_over(settings, blobs):
    users = [replace(p, code=p.code + "R", template=p.code, copies=0, mirrored=0, flipped=True)
             for p in blobs if p.mirrored]
    sheets, findings = nest_mats([*blobs, *users], settings)
    assert not findings
    expected = Counter({(p.code, False): p.copies for p in blobs})
    for p in blobs:  # turned over it goes by the code of the piece that uses it, as long as any do
        expected.update({(p.code + "R", True): p.mirrored > 0, (p.code, True): p.mirrored - 1})
    assert counted(sheets) == +expected


@profile(deadline=None, max_examples=12, database=None)
@given(st.integers(0, 10**6), st.integers(1, 14), st.floats(0, 12))
def test_no_two_pieces_come_nearer_than_the_gap(seed, number, gap):
    rng = np.random.default_rng(seed)
    stock = replace(FOAM, gap=gap, kerf=0.4)
    pieces = [make_piece(f"P{i}", blob(rng, rng.uniform(10, 140)), stock=stock, copies=1,
                         mirrored=int(rng.integers(2))) for i in range(number)]
    sheets, _ = nest_mats(pieces, QUICK)
    for sheet in sheets:
        assert overlaps(sheet, pieces, gap + stock.kerf) == []
        for p in sheet.placements:  # and half of it to the rim
            shape = placed(p, next(q for q in pieces if q.code == p.piece))
            x0, y0, x1, y1 = shape.bounds
            rim = min(x0, y0, sheet.size[0] - x1, sheet.size[1] - y1)
            assert rim >= (gap + stock.kerf) / 2 - 1e-6


def test_the_overlap_check_sees_a_planted_overlap_and_a_piece_off_the_sheet():
    a, b = make_piece("A", rectangle(100, 50)), make_piece("B", rectangle(80, 80))
    for x, gap, wrong in ((99.0, 0, [("A", "B")]), (101.0, 0, []), (101.0, 3, [("A", "B")]),
                          (421.0, 0, [("B", "")])):
        placements = (Placement("A", 0, (0, 0)), Placement("B", np.pi / 2, (x + 80, 0)))
        sheet = Sheet("mat", "m", (500, 500), placements, FOAM)
        assert overlaps(sheet, [a, b], gap) == wrong


def test_a_piece_in_the_hole_of_another_does_not_overlap():
    frame = make_piece("F", rectangle(580, 580), rectangle(480, 480) + 50)
    inner = make_piece("I", rectangle(300, 300))
    sheets, _ = nest_mats([frame, inner], QUICK)
    assert len(sheets) == 1
    assert overlaps(sheets[0], [frame, inner], 3.0) == []


def test_the_same_seed_gives_the_same_layout_and_seconds_are_never_measured(blobs, monkeypatch):
    settings = Settings(FOAM, nest_seconds=0.5, seed=7)
    first, _ = nest_mats(blobs, settings)
    slow = lambda share, words: [share**k for k in range(2000)]  # noqa: E731
    again, _ = nest_mats(blobs, settings, slow)
    assert len(first) == len(again)
    assert all(same(a, b) for a, b in zip(first, again, strict=True))


def test_more_work_never_needs_more_foam():
    rng = np.random.default_rng(2)
    pieces = [make_piece(f"P{i}", blob(rng, rng.uniform(30, 120))) for i in range(16)]

    def used(seconds: float) -> tuple[int, float]:
        sheets, _ = nest_mats(pieces, Settings(FOAM, nest_seconds=seconds))
        by_code = {p.code: p for p in pieces}
        return len(sheets), max(placed(p, by_code[p.piece]).bounds[2]
                                for p in sheets[-1].placements)

    assert used(1.0) <= used(0.0)


def test_sixteen_exact_squares_fill_one_mat():
    # 4 x 147 + 4 x 3 of gap = 600: the grid may lose no more than its cell, so 144 must fit.
    pieces = [make_piece("S", rectangle(144, 144), copies=16)]
    sheets, _ = nest_mats(pieces, QUICK)
    assert [len(s.placements) for s in sheets] == [16]


def test_grain_turns_pieces_by_half_turns_only(blobs):
    grained = replace(FOAM, grain=True)
    sheets, _ = nest_mats([replace(p, stock=grained) for p in blobs], QUICK)
    angles = {round(p.angle, 9) for s in sheets for p in s.placements}
    assert angles <= {0.0, round(np.pi, 9)}


@pytest.mark.parametrize(("turns", "step"), [(QUARTER, np.pi / 2), (GRAIN, np.pi)])
def test_the_maker_says_how_pieces_may_be_turned(blobs, turns, step):
    sheets, findings = nest_mats(blobs, replace(QUICK, turns=turns))
    assert not findings
    angles = np.array([p.angle for s in sheets for p in s.placements])
    assert np.abs(angles / step - np.round(angles / step)).max() < 1e-9


def test_a_strip_that_lies_only_askew_is_too_large_for_quarter_turns():
    strip = make_piece("S", rectangle(700, 40))
    assert not nest_mats([strip], QUICK)[1]
    (finding,) = nest_mats([strip], replace(QUICK, turns=QUARTER))[1]
    assert finding.code == "larger-than-mat" and "quarter turns" in finding.message


@pytest.mark.parametrize("holes", [True, False])
def test_holes_are_used_or_left_free(holes):
    frame = make_piece("F", rectangle(580, 580), rectangle(480, 480) + 50)
    inner = make_piece("I", rectangle(300, 300))
    sheets, findings = nest_mats([frame, inner], replace(QUICK, holes=holes))
    assert not findings and len(sheets) == (1 if holes else 2)


@pytest.mark.parametrize(("gap", "margin"), [(8.0, None), (2.0, 15.0), (12.0, 0.0), (0.0, 0.0)])
def test_gap_and_margin_are_as_the_maker_says(blobs, gap, margin):
    stock = replace(FOAM, kerf=0.4)
    pieces = [replace(p, stock=stock) for p in blobs]
    sheets, findings = nest_mats(pieces, replace(QUICK, mat_gap=gap, mat_margin=margin))
    assert not findings
    near = min((gap if margin is None else 2 * margin) / 2 + 0.2, 20.0)
    by_code = {p.code: p for p in pieces}
    for sheet in sheets:
        shapes = [placed(p, by_code[p.piece]) for p in sheet.placements]
        for i, shape in enumerate(shapes):
            assert all(shape.distance(other) >= gap + 0.4 - 1e-6 for other in shapes[:i])
            x0, y0, x1, y1 = shape.bounds
            assert min(x0, y0, sheet.size[0] - x1, sheet.size[1] - y1) >= near - 1e-6


def test_mirror_images_lie_on_one_mat_where_the_maker_wants_it():
    pieces = [make_piece(f"P{n}", rectangle(280 - n, 400), mirrored=1) for n in range(3)]
    pieces.append(make_piece("S", rectangle(150, 570), copies=3))
    sheets, findings = nest_mats(pieces, replace(QUICK, together=MIRRORED))
    assert not findings
    on = {(p.piece, p.mirrored): n for n, s in enumerate(sheets) for p in s.placements}
    assert all(on[f"P{n}", False] == on[f"P{n}", True] for n in range(3))
    assert sum(len(s.placements) for s in sheets) == 9


def mate(one, other, length):
    return Mate(f"{one}-{other}", "A", ((one, 0), (other, 0)), (length, length), 0.0, (0.0, 0.0),
                np.zeros((2, 3)))


def test_mates_with_the_longest_seams_lie_on_one_mat():
    pieces = [make_piece(code, rectangle(290, 560)) for code in "ABCD"]
    mates = [mate("A", "B", 50.0), mate("A", "D", 90.0), mate("C", "B", 70.0), mate("C", "D", 80.0)]
    sheets, findings = nest_mats(pieces, replace(QUICK, together=MATES), None, mates)
    assert not findings
    assert sorted(sorted(p.piece for p in s.placements) for s in sheets) == [["A", "D"], ["B", "C"]]


def test_a_pair_that_no_mat_takes_is_parted_and_told():
    pieces = [make_piece("L", rectangle(500, 500), mirrored=1)]
    sheets, (finding,) = nest_mats(pieces, replace(QUICK, together=MIRRORED))
    assert [len(s.placements) for s in sheets] == [1, 1]
    assert finding.code == "pair-on-two-mats" and finding.piece == "L"


def test_the_best_layout_so_far_is_kept_when_the_maker_has_seen_enough(blobs):
    told = []

    def enough(share, words):
        told.append(words)
        return len(told) > 2

    patient = replace(QUICK, nest_seconds=100.0)
    sheets, findings = nest_mats(blobs, patient, enough)
    assert not findings and len(told) < 10 and all(w.startswith(NESTING) for w in told)
    assert counted(sheets) == Counter(
        {(p.code, m): 1 for p in blobs for m in (False, True) if not m or p.mirrored})


def test_a_layout_with_a_fault_is_told_whatever_the_packer_thinks(monkeypatch):
    pieces = [make_piece("A", rectangle(100, 50)), make_piece("B", rectangle(80, 80))]
    spots = {"ok": [(0, 5.0), (0, 110.0)], "near": [(0, 5.0), (0, 106.0)],
             "rim": [(0, 5.0), (0, 519.0)]}
    for name, where in spots.items():
        monkeypatch.setattr(mats, "pack", lambda *_, where=where: [
            Spot(k, 0.0, (x, 5.0)) for k, x in where])
        found = nest_mats(pieces, QUICK)[1]
        assert [f.code for f in found] == ["bad-layout"] * (name != "ok")
    monkeypatch.setattr(mats, "pack", lambda *_: [Spot(0, 0.0, (5.0, 5.0)),
                                                  Spot(0, 0.0, (20.0, 20.0))])
    (finding,) = nest_mats(pieces, QUICK)[1]
    assert finding.severity == "error" and "A and B" in finding.message


def test_a_piece_laid_twice_or_never_is_told():
    a, b = make_piece("A", rectangle(100, 50)), make_piece("B", rectangle(80, 80))
    sheet = Sheet("mat", "m", (500, 500), (Placement("A", 0, (5, 5)), Placement("A", 0, (5, 105))),
                  FOAM)
    found = proved([sheet], [a, b], 3.0, 1.5, Counter({"A": 1, "B": 1}))
    assert [(f.code, f.piece) for f in found] == [("bad-layout", "A"), ("bad-layout", "B")]


def test_each_stock_has_mats_of_its_own_size(blobs):
    thin = replace(FOAM, name="EVA 5 mm", thickness=5.0, sheet=(900.0, 400.0))
    pieces = [*blobs[:3], *(replace(p, stock=thin) for p in blobs[3:6])]
    sheets, _ = nest_mats(pieces, QUICK)
    for sheet in sheets:
        assert sheet.kind == "mat" and sheet.size == sheet.stock.sheet
        assert sheet.name.startswith(f"{sheet.stock.name}, mat ")
    assert {p.piece: s.stock for s in sheets for p in s.placements} == {
        p.code: p.stock for p in pieces}


@pytest.mark.parametrize("grain", [False, True])
def test_a_piece_larger_than_the_mat_is_named_and_the_rest_is_nested(settings, grain):
    stock = replace(FOAM, grain=grain)
    # A strip of 700 mm lies across a 600 mm mat (diagonal 848 mm), but not along its grain.
    large = make_piece("BP1", rectangle(1000, 40), stock=stock, source_face=[4, 2])
    strip = make_piece("BP2", rectangle(700, 40), stock=stock, source_face=[9])
    small = make_piece("P1", rectangle(100, 100), stock=stock)
    sheets, findings = nest_mats([large, strip, small], settings)
    assert [f.piece for f in findings] == ["BP1"] + ["BP2"] * grain
    assert all(f.code == "larger-than-mat" and f.severity == "error" and f.remedy
               for f in findings)
    assert list(findings[0].faces) == [2, 4]
    assert {p.piece for s in sheets for p in s.placements} == (
        {"P1"} if grain else {"P1", "BP2"})
    assert all(not overlaps(s, [large, strip, small], stock.gap) for s in sheets)


def test_a_piece_as_large_as_the_mat_allows_has_one_to_itself(settings):
    tight = make_piece("T", rectangle(597, 597))
    sheets, findings = nest_mats([tight, make_piece("P", rectangle(50, 50))], settings)
    assert not findings and sorted(len(s.placements) for s in sheets) == [1, 1]
    assert all(overlaps(s, [tight, make_piece("P", rectangle(50, 50))]) == [] for s in sheets)


def test_progress_runs_from_0_to_1_and_can_cancel(blobs, settings):
    shares = []
    nest_mats(blobs, settings, lambda share, words: shares.append(share))
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] <= 1

    def stop(share, words):
        raise Cancelled

    with pytest.raises(Cancelled):
        nest_mats(blobs, settings, stop)


def test_nothing_to_nest_gives_no_mats(settings):
    assert nest_mats([], settings) == ((), ())


def test_cells_of_a_shape_with_a_hole_agree_with_shapely():
    import shapely
    from shapely.geometry import Polygon

    rng = np.random.default_rng(3)
    rings = [blob(rng, 18) + 25.0, blob(rng, 6) + 25.0]
    x, y = np.meshgrid(np.arange(50) + 0.5, np.arange(52) + 0.5)
    inside = shapely.contains_xy(Polygon(rings[0], rings[1:]), x, y)
    assert np.array_equal(fill(rings, 52, 50) > 0, inside)


def test_what_is_too_large_is_told_in_the_makers_unit():
    piece = make_piece("P1", rectangle(25.4 * 30, 254.0))
    said = [nest_mats([piece], Settings(FOAM, nest_seconds=0.02, unit=unit))[1][0].message
            for unit in ("mm", "in")]
    assert "762 mm × 254 mm" in said[0] and "600 mm × 600 mm" in said[0]
    assert "30.00 in × 10.00 in" in said[1] and " mm" not in said[1].replace(FOAM.name, "")
