"""Pieces nested on strips and mats beside published instances, and the mats that suits take."""

from __future__ import annotations

import csv
import json
import math
import time
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from bench_suggest import sculpts
from shapely import Polygon

from addon.core import make
from addon.core.model import Piece, Placement, Settings, Sheet
from addon.core.nest import nest_mats, overlaps
from addon.core.nest.pack import pack
from addon.core.nest.raster import WORK_PER_SECOND, Packer, Spot
from addon.core.nest.squeeze import Effort, Squeezer
from addon.core.stock import find_stock
from addon.core.suggest import suggest_seams
from example_scenes import armour
from tests.example.conftest import as_sculpt
from tests.real.wearable import DATA
from tests.sheets.conftest import blob, make_piece

NEST = DATA / "nest"
STRIPS = ("swim", "shirts", "trousers", "albano", "dagli", "marques", "shapes0", "shapes1",
          "jakobs1", "blaz1", "gardeyn0")
# Sheets: least number known, and what another program needs (PackingSolver after 30 s; for the
# last two spyrrow, one sheet after another).
SHEETS = {"TA001": (3, 4), "TA001C5": (3, None), "TM001": (5, 6), "TY001C10": (6, 7),
          "marques": (None, 3), "swim": (None, 5)}
SIDE = 600.0  # mm that strips are high and sheets wide, scaled
SUITS = ("leather breastplate", "metal breastplate", "male torso")
STRIP_SECONDS, SHEET_SECONDS = 40, 5.0
QUARTERS = [k * math.pi / 2 for k in range(4)]

Instance = tuple[list[Polygon], list[list[float]]]  # shapes, and the turns of each


def strips(quick: bool) -> dict:
    """Lengths of strips beside spyrrow's, which is given the time of the clock and ours its time
    of the processor."""
    seconds = 1 if quick else STRIP_SECONDS
    rows = []
    for name, (shapes, turns), paper in strip_instances(quick):
        area = sum(shape.area for shape in shapes)
        rival, cpu = spyrrow_density(name, shapes, turns, seconds)
        ours = area / SIDE / strip_length(shapes, turns, cpu or 1.0)
        label = [name, len(shapes)]
        if rival is None:
            rows.append([*label, "spyrrow is not installed", 100 * ours, None, None, paper])
        else:
            rows.append([*label, cpu, 100 * ours, 100 * rival, 100 * (ours - rival), paper])
    return {
        "title": "Strips of least length, at equal time",
        "header": ["instance", "pieces", "seconds for each", "Foamwright, density in %",
                   "spyrrow alone, density in %", "difference in points",
                   "sparrow, published median, %"],
        "rows": rows,
        "remarks": [
            f"Irregular strip packing instances as published, scaled to strips {SIDE:g} mm high, "
            "with the turns they allow. Seconds are of processor time: spyrrow runs for "
            f"{seconds} s of the clock with one worker, Foamwright for the processor time that it "
            "used. Published: the median of 50 runs of 1,200 s on 16 cores (Gardeyn, Vanden Berghe "
            "and Wauters, “An open-source heuristic to reboot 2D nesting research”, 2025). "
            "Layouts are checked with shapely."],
    }


def mats(quick: bool) -> dict:
    """Numbers of equal sheets for instances whose best layouts are known."""
    rows = []
    for name, (shapes, turns), least, other in sheet_instances(quick):
        counts = []
        for seconds in (0.0, 0.5 if quick else SHEET_SECONDS):
            began = time.process_time()
            spots = pack((SIDE, SIDE), 0.0, shapes, turns, seconds, 1)
            counts += [1 + max(spot.bin for spot in spots), time.process_time() - began]
            sound(shapes, spots)
        full = sum(shape.area for shape in shapes) / SIDE**2
        rows.append([name, len(shapes), full, least or "–", other or "–", *counts])
    return {
        "title": "Equal sheets, as few as possible",
        "header": ["instance", "pieces", "sheets by area", "best known", "another program",
                   "first answer", "seconds", f"given {SHEET_SECONDS:g} s a sheet", "seconds"],
        "rows": rows,
        "remarks": [
            "TA, TM, TY: whole sheets cut into convex pieces (Terashima-Marín and others, 2010), "
            "which only the cut itself fills again; quarter turns are allowed. marques and swim: "
            "the pieces of the strips, for sheets 1.5 times their largest piece. Another program: "
            "PackingSolver after 30 s; for marques and swim spyrrow, one sheet after another. "
            "Seconds are of processor time. Layouts are checked with shapely."],
    }


def suits(quick: bool) -> dict:
    """The mats that whole suits take."""
    rows = []
    for name, pieces, settings in suit_instances(quick):
        row = [name, sum(p.copies + p.mirrored for p in pieces)]
        area = {}
        for p in pieces:
            share = Polygon(p.cut[0], p.cut[1:]).area / math.prod(p.stock.sheet)
            area[p.stock] = area.get(p.stock, 0.0) + share * (p.copies + p.mirrored)
        row.append(sum(map(math.ceil, area.values())))
        for seconds in (0.0, 0.1 if quick else settings.nest_seconds):
            began = time.process_time()
            sheets, findings = nest_mats(pieces, Settings(
                settings.stock, nest_seconds=seconds))
            row += [len(sheets), time.process_time() - began]
            if any(finding.code == "bad-layout" for finding in findings):
                raise AssertionError(f"{name}: {findings}")
        rows.append(row)
    return {
        "title": "Mats that suits take",
        "header": ["suit", "pieces", "mats by area", "first answer", "seconds",
                   "as by default", "seconds"],
        "rows": rows,
        "remarks": [
            "The example suit on its own foams; sculpts made by strangers at the size at which "
            "they are worn, with the seams that are proposed for them, in 10 mm foam; and pieces "
            "made up. Mats of 600 mm, 3 mm between pieces, turned freely. Mats by area: fewer "
            "cannot do. Seconds are of processor time. A piece that fits no mat counts as one "
            "that lies on none."],
    }


# --- instances -----------------------------------------------------------------


def strip_instances(quick: bool) -> Iterator[tuple[str, Instance, object]]:
    if quick or not NEST.is_dir():
        for number in (8, 12):
            yield f"{number} made-up shapes", made_up(number), "–"
        return
    with (NEST / "anchors.csv").open(encoding="utf-8") as file:
        medians = {row["instance"]: next(float(value) for key, value in row.items()
                                         if key.startswith("sparrow_paper_median"))
                   for row in csv.DictReader(file)}
    for name in STRIPS:
        shapes, turns, height = read_strip(name)
        yield name, ([scaled(s, SIDE / height) for s in shapes], turns), medians.get(name, "–")


def sheet_instances(quick: bool) -> Iterator[tuple[str, Instance, int | None, int | None]]:
    if quick or not NEST.is_dir():
        for number in (10, 20):
            yield f"{number} made-up shapes", made_up(number), None, None
        return
    for name, (least, other) in SHEETS.items():
        if name in STRIPS:
            shapes, turns, _ = read_strip(name)
            longest = max(max(np.ptp(np.reshape(s.bounds, (2, 2)), axis=0)) for s in shapes)
            yield name, ([scaled(s, SIDE / 1.5 / longest) for s in shapes], turns), least, other
        else:
            shapes, side = read_sheets(name)
            instance = [scaled(s, SIDE / side) for s in shapes], [QUARTERS] * len(shapes)
            yield name, instance, least, other


def suit_instances(quick: bool) -> Iterator[tuple[str, Sequence[Piece], Settings]]:
    settings = Settings(find_stock("eva-10"))
    if not quick:
        warden = Settings(find_stock(armour.THICK))
        yield "example suit", make.check(as_sculpt(armour.suit()), warden).pieces, warden
        for name, sculpt in sculpts(not NEST.is_dir()):
            if name in SUITS or not NEST.is_dir():
                found = suggest_seams(sculpt, settings).accepted(sculpt)
                yield name, make.check(found, settings).pieces, settings
    for number in (10, 20) if quick else (50, 200):
        rng = np.random.default_rng(number)
        yield f"{number} made-up pieces", [
            make_piece(f"P{n}", blob(rng, rng.uniform(30, 130)), stock=settings.stock)
            for n in range(number)], settings


def made_up(number: int) -> Instance:
    rng = np.random.default_rng(number)
    return ([Polygon(blob(rng, rng.uniform(40, 120), 12)) for _ in range(number)],
            [[0.0, math.pi]] * number)


def read_strip(name: str) -> tuple[list[Polygon], list[list[float]], float]:
    data = json.loads((NEST / "strip" / f"{name}.json").read_text("utf-8"))
    shapes, turns = [], []
    for item in data["items"]:
        shape = Polygon(item["shape"]["data"])
        shapes += [shape] * item["demand"]
        turns += [np.radians(item["allowed_orientations"]).tolist()] * item["demand"]
    return shapes, turns, float(data["strip_height"])


def read_sheets(name: str) -> tuple[list[Polygon], float]:
    """Number of pieces, width, height, then per piece its corners; see the set's own notes."""
    words = [float(word) for word in
             (NEST / "fixed-bins" / f"{name}.txt").read_text("utf-8").split()]
    shapes, at = [], 3
    for _ in range(int(words[0])):
        count = int(words[at])
        shapes.append(Polygon(np.reshape(words[at + 1 : at + 1 + 2 * count], (-1, 2))))
        at += 1 + 2 * count
    return shapes, words[1]


_SCALED: dict[tuple[int, float], Polygon] = {}


def scaled(shape: Polygon, factor: float) -> Polygon:
    """The same object for the same shape: the packer knows copies by that."""
    key = id(shape), factor
    if key not in _SCALED:
        _SCALED[key] = shapely.transform(shape, lambda points: points * factor)
    return _SCALED[key]


# --- the ways -----------------------------------------------------------------


def strip_length(shapes: list[Polygon], turns: list[list[float]], seconds: float) -> float:
    """Least length of a strip of SIDE found in so many seconds of processor time."""
    began = time.process_time()
    longest = max(max(np.ptp(np.reshape(s.bounds, (2, 2)), axis=0)) for s in shapes)
    wide = 2.5 * sum(shape.area for shape in shapes) / SIDE + longest
    spots = Packer((wide, SIDE), 0.0, shapes, turns).best(0.0, 1)
    effort = Effort(2 * seconds * WORK_PER_SECOND,
                    lambda share: time.process_time() - began > seconds)
    squeezer = Squeezer(shapes, turns, 0.0, SIDE, np.zeros(len(shapes), bool), effort)
    layout = squeezer.layout([s.angle for s in spots], [0] * len(spots),
                             [s.offset for s in spots])
    layout, length = squeezer.shorter(layout, np.random.default_rng(1))
    forms = [squeezer.depths.forms[k] for k in layout.form]
    sound(shapes, [Spot(0, form.angle, tuple(corner - form.low))
                   for form, corner in zip(forms, layout.corner, strict=True)], length)
    return length


def spyrrow_density(name: str, shapes: list[Polygon], turns: list[list[float]],
                    seconds: int) -> tuple[float | None, float | None]:
    """Density and seconds of processor time; None where it is not installed."""
    try:
        import spyrrow
    except ImportError:
        return None, None
    items = [spyrrow.Item(str(n), list(shape.exterior.coords)[:-1], demand=1,
                          allowed_orientations=np.degrees(turn).tolist())
             for n, (shape, turn) in enumerate(zip(shapes, turns, strict=True))]
    instance = spyrrow.StripPackingInstance(name, strip_height=SIDE, items=items)
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=seconds, num_workers=1, seed=1)
    began = time.process_time()
    return instance.solve(config).density, time.process_time() - began


def sound(shapes: list[Polygon], spots: Sequence[Spot], width: float = SIDE) -> None:
    """Raises where shapes overlap or leave their sheet, by the product's own look at a layout."""
    pieces = [make_piece(f"P{n}", np.asarray(shape.exterior.coords)[:-1])
              for n, shape in enumerate(shapes)]
    for b in {spot.bin for spot in spots}:
        sheet = Sheet("mat", "sheet", (width * (1 + 1e-9), SIDE * (1 + 1e-9)), tuple(
            Placement(f"P{n}", spot.angle, spot.offset)
            for n, spot in enumerate(spots) if spot.bin == b))
        wrong = overlaps(sheet, pieces)
        if wrong:
            raise AssertionError(f"not a sound layout: {wrong}")
