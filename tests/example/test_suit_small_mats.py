"""The example suit on mats that its largest pieces do not fit."""

from dataclasses import replace

from addon.core.make import make_pattern
from addon.core.model import BUTT_LINE, Settings
from addon.core.nest import overlaps
from addon.core.stock import find_stock
from tests.example.conftest import as_sculpt


def small(stock):
    return replace(stock, sheet=(300.0, 300.0))


def test_large_plates_are_parted_alike_on_both_sides_and_all_fit(plates):
    sculpt = as_sculpt(plates)
    sculpt = replace(sculpt, objects=tuple(replace(o, stock=small(o.stock))
                                           for o in sculpt.objects))
    pattern = make_pattern(sculpt, Settings(small(find_stock()), split=BUTT_LINE,
                                            nest_seconds=0.1))
    codes = {f.code for f in pattern.findings}
    assert "parted-for-mat" in codes and "larger-than-mat" not in codes
    for mat in pattern.mats:
        assert overlaps(mat, pattern.pieces, mat.stock.gap + mat.stock.kerf) == []
    assert sum(len(m.placements) for m in pattern.mats) == len(pattern.pieces)
    parted = {p.code for p in pattern.pieces if p.code[-1] in "ab"}
    assert len(parted) >= 6
    pairs = [p for p in pattern.pieces if p.code in parted and p.template != p.code]
    assert pairs and all(p.template in parted for p in pairs)  # left and right are cut alike
    assert max(m.gap for m in pattern.mates) < 0.05
