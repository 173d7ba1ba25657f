"""What a suit takes of foam, cement, money and time, worked by hand and read back."""

from __future__ import annotations

import io
import json
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from addon.core.errors import FoamError
from addon.core.make import make_pattern
from addon.core.model import HOOK, Join, Price, Rates, Settings
from addon.core.stock import find_stock
from addon.export.costs import bill, weights
from addon.export.effort import dominant, effort, hands_on
from addon.export.folder import write_all
from addon.export.report import report
from addon.export.shopping import shopping
from example_scenes import armour
from tests.example.conftest import as_sculpt

svgelements = pytest.importorskip("svgelements")


def minutes(pattern):
    return {one.rate: one.minutes for one in effort(pattern, shopping(pattern))}


def test_time_for_a_mitred_box_by_hand(box):
    """Five plates of a box of 200 x 100 x 80 mm and its lid: edges of 4 x (200 + 100 + 80) = 1520
    mm, each cut on two pieces and mitred on both, no piece bent, six faces of 88000 mm2."""
    rates = Rates(trace=1.0, cut=2.0, bevel=5.0, glue=10.0, finish=100.0, drying=7.0)
    work = minutes(replace(box, settings=replace(box.settings, rates=rates)))
    steps = sum(step.kind in ("join", "close") for step in box.steps)
    assert steps > 0
    assert work == pytest.approx({
        "trace": 3.04, "cut": 6.08, "bevel": 15.2, "glue": 15.2, "finish": 8.8,
        "drying": 7.0 * steps}, rel=1e-3)


def test_what_dominates_is_work_and_not_waiting(box):
    slow = replace(box, settings=replace(box.settings, rates=Rates(drying=1e4, glue=50.0)))
    work = effort(slow, shopping(slow))
    assert dominant(work).rate == "glue"
    assert hands_on(work) == pytest.approx(
        sum(one.minutes for one in work if one.rate != "drying"))


def test_weight_and_costs_of_a_box_by_hand(box):
    """88000 mm2 of 10 mm foam of 100 kg/m3 are 0.088 kg; 42992 mm2 of glued faces, half as much
    again, at 7.56 m2 a litre take 8.53 ml; 3.04 m of cut take one blade, and one mat will do."""
    prices = tuple(Price(*pair) for pair in (
        (box.settings.stock.name, 24.0), ("CEMENT", 18.0), ("blade", 0.5), ("velvet", 99.0)))
    priced = replace(box, settings=replace(box.settings, prices=prices, currency="EUR"))
    buy = shopping(priced)
    [(stock, kg)] = weights(buy)
    assert stock.density == 100.0 and kg == pytest.approx(0.088)
    found = bill(priced, buy)
    assert [line.cost for line in found.lines] == pytest.approx([24.0, 18 * 0.00853, 0.5], rel=1e-3)
    assert found.total == pytest.approx(24.0 + 0.1535 + 0.5, rel=1e-3)
    assert found.unpriced == () and found.unused == ("velvet",)


def test_a_removable_join_takes_hook_and_loop_and_no_cement(box):
    mate = box.mates[0]
    held = replace(mate, join=Join(HOOK, count=3, patch=(50.0, 25.0), webbing=300.0))
    other = replace(box, mates=(held, *box.mates[1:]))
    before, after = shopping(box), shopping(other)
    own = sum(mate.lengths) * box.settings.stock.thickness * math.sqrt(2)
    assert before.glue_area - after.glue_area == pytest.approx(own, rel=1e-3)
    assert (after.hook, after.webbing) == (150.0, 300.0) and before.hook == 0
    assert minutes(other)["fasten"] == Rates().fasten


@pytest.mark.parametrize("given", [("cutting", 1.0), ("cut", -1.0), ("coverage", 0.0),
                                   ("cut", float("nan"))])
def test_rates_that_are_none_are_refused(given):
    with pytest.raises(FoamError) as caught:
        Rates().changed([given])
    assert caught.value.finding.code == "bad-rate" and given[0] in caught.value.finding.message


@pytest.fixture(scope="module")
def suit(tmp_path_factory):
    """The example suit as it is written, and the folder it is in."""
    settings = Settings(find_stock(armour.THICK), nest_seconds=0.0, prices=(
        Price("eva-10", 24.0), Price("eva-6", 9.5), Price("cement", 18.0), Price("blade", 0.5)))
    pattern = make_pattern(as_sculpt(armour.suit(), armour.rails()), settings)
    out = tmp_path_factory.mktemp("suit")
    write_all(pattern, out)
    return pattern, out


def outlines(path):
    """The cut lines of a mat as rings (k, 2), read from its SVG by another's reader."""
    doc = svgelements.SVG.parse(io.StringIO(path.read_text("utf-8")), ppi=25.4)
    (cut,) = [g for g in doc.select(lambda e: isinstance(e, svgelements.Group)) if g.id == "cut"]
    for path in cut.select(lambda e: isinstance(e, svgelements.Path)):
        for part in path.as_subpaths():
            part = svgelements.Path(part)
            yield np.array([[p.x, p.y] for segment in part if not isinstance(
                segment, (svgelements.Move, svgelements.Close))
                for p in (segment.point(t) for t in np.linspace(0, 1, 9)[1:])])


def test_the_shopping_list_of_the_example_suit_by_hand(suit):
    """From the cut lines on its mats alone: areas and lengths with shapely; 100 and 150 kg/m3 as
    docs/stock.md says; a blade lasts 5 m (common practice, no source)."""
    pattern, out = suit
    needs = json.loads((out / "report.json").read_text("utf-8"))["needs"]
    cut, weight, costs = 0.0, 0.0, 0.0
    for foam, name, density, price in zip(needs["foam"], ("eva-sheet-10-mm", "eva-craft-foam-6-mm"),
                                          (100.0, 150.0), (24.0, 9.5), strict=True):
        mats = sorted((out / "mats").glob(f"{name}-mat-*.svg"))
        rings = [shapely.Polygon(ring) for path in mats for ring in outlines(path)]
        whole = [ring for ring in rings if not any(
            ring is not other and other.contains(ring) for other in rings)]
        holes = [ring for ring in rings if ring not in whole]
        area = sum(r.area for r in whole) - sum(r.area for r in holes)
        assert foam["area"] == pytest.approx(area, rel=2e-3)
        assert foam["mats"] == len(mats) and foam["pieces"] == len(whole) and foam["counted"]
        cut += sum(r.length for r in rings)
        weight += area * foam_thickness(foam) * density * 1e-9
        costs += price * len(mats)
        assert foam["weight"] == pytest.approx(area * foam_thickness(foam) * density * 1e-9,
                                               rel=2e-3)
    assert needs["cut"] == pytest.approx(cut, rel=2e-3)
    assert needs["blades"] == math.ceil(cut / 5000.0)
    rods = sum(rod["weight"] for rod in needs["rods"])
    assert needs["weight"] == pytest.approx(weight + rods, rel=2e-3)
    costs += 18.0 * needs["cement"] + 0.5 * needs["blades"]
    assert needs["cost"] == pytest.approx(costs, rel=1e-4)
    assert needs["unpriced"] == [needs["rods"][0]["stock"]]


def foam_thickness(foam):
    return 10.0 if "10 mm" in foam["stock"] else 6.0


def test_cement_of_the_example_suit_by_hand(suit):
    """Two faces of every seam, as long as their edges and the foam wide, askew by the bevel; one
    emblem of 1800 mm2 or so on two faces. 308 square feet a US gallon, half as much again."""
    pattern, _ = suit
    area = 0.0
    for mate in pattern.mates:
        for (code, number), length in zip(mate.edges, mate.lengths, strict=True):
            piece = pattern.piece(code)
            bevel = np.abs(piece.edges[number].bevel).mean()
            area += length * piece.stock.thickness / np.cos(bevel)
    emblem = pattern.piece("EM1")
    area += 2 * shapely.Polygon(emblem.cut[0]).area
    needs = report(pattern)["needs"]
    assert needs["glue_area"] == pytest.approx(area, rel=0.02)
    litres = area / (308 * 0.09290304 / 3.785412 * 1e6) * 1.5
    assert needs["cement"] == pytest.approx(litres, rel=0.02)
