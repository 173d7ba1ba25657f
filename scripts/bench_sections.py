"""What the benchmark measures: one function for each table.

Each takes `quick` and returns title, header, rows and remarks; a row's first cell is its label,
the others are numbers, None or words.
"""

from __future__ import annotations

import time
from statistics import median
from types import ModuleType

import bench_flatteners as flatteners
import bench_surfaces as surfaces
import numpy as np
from bench_nest import mats, strips, suits  # noqa: F401
from bench_order import order_plans as order  # noqa: F401
from bench_overlay import overlay  # noqa: F401
from bench_rebuild import rebuilt as rebuild  # noqa: F401
from bench_suggest import suggest  # noqa: F401
from bench_writing import writing  # noqa: F401
from scipy.optimize import brentq

from addon.core import make
from addon.core.model import Settings
from addon.core.stock import Limits, find_stock

BAND_WORDS = "−5/+10 %"


def rivals(quick: bool) -> dict:
    """One large patch laid flat by every way, turn by turn."""
    count, repeats = (800, 1) if quick else (20_000, 5)
    rows = []
    for label, shape in (("breastplate", surfaces.breastplate(count)),
                         ("cap 60°", surfaces.round_cap(60, count))):
        area, results, absent = surfaces.area(shape), {}, {}
        warm = surfaces.breastplate(200)
        for _ in range(repeats):
            for name, way in flatteners.WAYS.items():
                try:
                    if name not in results:
                        way(*warm)  # imports and first calls are nobody's merit
                    results.setdefault(name, []).append(way(*shape))
                except flatteners.Absent as reason:
                    absent[name] = str(reason)
        ours = median(r.seconds for r in results["Foamwright"])
        for name in flatteners.WAYS:
            start = [f"{label}, {len(shape[1]):,} faces", name]
            if name in absent:
                rows.append([*start, absent[name], None, None, None, None])
                continue
            seconds = median(r.seconds for r in results[name])
            sigma = flatteners.stretch(*shape, results[name][-1].points)
            flipped = int((sigma[:, 1] <= 0).sum())
            rows.append([*start, seconds, seconds / ours,
                         flatteners.worst(sigma, area, flatteners.SPARED),
                         "none: faces turned over" if flipped else
                         flatteners.worst(sigma, area, 0.0), flipped])
    return {
        "title": "One patch, laid flat by three programs",
        "header": ["patch", "way", "seconds", "times ours", "strain over 99 % of the area",
                   "strain everywhere", "faces turned over"],
        "rows": rows,
        "remarks": [
            f"Medians of {repeats}, turn by turn in one process, one core each as far as the "
            "programs obey. Strain is the utilisation of a foam that takes "
            f"{BAND_WORDS} (1 is its limit), after scaling each flat to the size that suits it "
            "best, on the chords of the mesh."],
    }


def caps(quick: bool) -> dict:
    """Spherical caps against the best map that any flattening can reach."""
    count = 600 if quick else 5_000
    rows = []
    for degrees in (30, 60, 90):
        shape = surfaces.round_cap(degrees, count)
        sigma = flatteners.stretch(*shape, flatteners.foamwright(*shape).points)
        bound = float(np.radians(degrees) / np.sin(np.radians(degrees)))
        ratio = float(sigma[:, 0].max() / sigma[:, 1].min())
        # u = (r - 1) / (s + c r) for a band of its own size, turned round to r.
        u = flatteners.worst(sigma, surfaces.area(shape), flatteners.SPARED)
        band = flatteners.BAND
        spared = (1 + band.stretch * u) / (1 - band.compress * u)
        rows.append([f"cap {degrees}°, {len(shape[1]):,} faces", f"{bound:.4f}", f"{ratio:.4f}",
                     100 * (ratio / bound - 1), f"{spared:.4f}", 100 * (spared / bound - 1)])
    return {
        "title": "Spherical caps against Milnor's bound",
        "header": ["cap", "bound α / sin α", "max σ / min σ", "above the bound, %",
                   "over 99 % of the area", "above the bound, %"],
        "rows": rows,
        "remarks": ["No map of a round cap of polar angle α has a smaller ratio of the largest to "
                    "the smallest stretch than α / sin α (Milnor, “A Problem in Cartography”, "
                    "Amer. Math. Monthly 76, 1969)."],
    }


def bands(quick: bool) -> dict:
    """Caps on either side of the largest one that foam of certain limits can take."""
    count = 600 if quick else 20_000
    rows = []
    for compress, stretch in ((0.05, 0.10), (0.05, 0.05), (0.10, 0.20)):
        limits = Limits(compress, stretch, radius=2.0)
        ratio = (1 + stretch) / (1 - compress)
        largest = float(np.degrees(brentq(lambda a: a / np.sin(a) - ratio, 0.1, 3.0)))  # noqa: B023
        for degrees in (largest - 0.95, largest + 1.05):
            shape = surfaces.round_cap(degrees, count)
            sigma = flatteners.stretch(*shape, flatteners.foamwright(*shape, limits).points)
            bound = np.radians(degrees) / np.sin(np.radians(degrees))
            rows.append([f"−{100 * compress:.0f}/+{100 * stretch:.0f} %", f"{largest:.2f}°",
                         f"{degrees:.2f}°", float((bound - 1) / (stretch + compress * bound)),
                         *(flatteners.worst(sigma, surfaces.area(shape), spared, limits)
                           for spared in (flatteners.SPARED, 0.0))])
    return {
        "title": "The largest cap that a foam can take",
        "header": ["limits", "largest cap", "cap", "utilisation by Milnor's bound",
                   "ours over 99 % of the area", "ours everywhere"],
        "rows": rows,
        "remarks": ["A cap of polar angle α can be formed exactly while α / sin α is at most "
                    f"(1 + stretch) / (1 − compress). Meshes of {count:,} faces or more; above a "
                    "utilisation of 1 a cap needs relief."],
    }


def meshings(quick: bool) -> dict:
    """One surface in several meshings."""
    count = 800 if quick else 20_000
    rows = []
    for meshing in surfaces.MESHINGS:
        shape = surfaces.breastplate(count, meshing)
        sigma = flatteners.stretch(*shape, flatteners.foamwright(*shape).points)
        rows.append([f"{meshing}, {len(shape[1]):,} faces",
                     *(flatteners.worst(sigma, surfaces.area(shape), spared)
                       for spared in (flatteners.SPARED, 0.0))])
    for row in rows:
        row.insert(2, 100 * (row[1] / rows[0][1] - 1))
    return {
        "title": "One surface, meshed in three ways",
        "header": ["breastplate", "strain over 99 % of the area", "against the grid, %",
                   "strain everywhere"],
        "rows": rows,
        "remarks": [f"Utilisation of a foam that takes {BAND_WORDS}."],
    }


def growth(quick: bool) -> dict:
    """Seconds per face as one surface is meshed more and more finely."""
    counts = (500, 2_000) if quick else (5_000, 20_000, 50_000, 100_000, 200_000, 500_000)
    shapes = [surfaces.breastplate(count) for count in counts]
    seconds = {count: [] for count in counts}
    worst = {}
    for turn in range(1 if quick else 3):
        for count, shape in zip(counts, shapes):
            result = flatteners.foamwright(*shape)
            seconds[count].append(result.seconds)
            if turn == 0:
                worst[count] = flatteners.worst(flatteners.stretch(*shape, result.points),
                                                surfaces.area(shape), flatteners.SPARED)
    rows = [[f"{len(shape[1]):,} faces", median(seconds[count]),
             1e6 * median(seconds[count]) / len(shape[1]), worst[count]]
            for count, shape in zip(counts, shapes)]
    return {
        "title": "Time per face",
        "header": ["breastplate", "seconds", "µs per face", "strain over 99 % of the area"],
        "rows": rows,
        "remarks": ["Final flattening of one surface in meshes of growing fineness; medians of "
                    f"{len(seconds[counts[0]])}, on one core."],
    }


def sculpt(quick: bool) -> dict:
    """The check of a large sculpt, stage by stage."""
    thing = surfaces.torso(8_000 if quick else 1_000_000)
    times, pattern = checked(thing, 1 if quick else 3)
    kinds = [piece.verdict.kind for piece in pattern.pieces]
    verdicts = ", ".join(f"{kinds.count(kind)} × {kind}" for kind in sorted(set(kinds)))
    return {
        "title": "A whole sculpt, checked",
        "header": ["stage", "seconds", "share, %"],
        "rows": times,
        "remarks": [f"A torso of {len(thing.faces):,} faces, seamed into {len(kinds)} pieces of "
                    f"10 mm foam ({verdicts}); the median run of {1 if quick else 3}."],
    }


def piece(quick: bool) -> dict:
    """The first answer for one piece whose marks have changed."""
    thing = surfaces.bare(surfaces.breastplate(800 if quick else 10_000))
    times, _ = checked(thing, 1 if quick else 7)
    return {
        "title": "A piece that has changed, checked again",
        "header": ["stage", "seconds", "share, %"],
        "rows": times,
        "remarks": [f"A breastplate of {len(thing.faces):,} faces in 10 mm foam, as the only piece "
                    f"of a sculpt; the median run of {1 if quick else 7}, after one to warm up."],
    }


# --- stages ------------------------------------------------------------------


LEAST = 0.001  # share of the whole that is worth a row


class Watched:
    """Stands for a stage of the pattern, or a class of it, and notes the time spent in what is
    called on it, without that which other stages take that are handed to it."""

    def __init__(self, watched: ModuleType | type, stage: str, spent: dict, inside: list):
        self._watched, self._stage, self._spent, self._inside = watched, stage, spent, inside

    def __getattr__(self, name: str):
        found = getattr(self._watched, name)
        if isinstance(found, type):
            return Watched(found, self._stage, self._spent, self._inside)
        return self._timed(found) if callable(found) else found

    def __call__(self, *arguments, **named):
        return self._timed(self._watched)(*arguments, **named)

    def _timed(self, function):
        def timed(*arguments, **named):
            began = time.perf_counter()
            self._inside.append(0.0)
            try:
                return function(*arguments, **named)
            finally:
                seconds = time.perf_counter() - began
                others = self._inside.pop()
                if self._inside:
                    self._inside[-1] += seconds
                self._spent[self._stage] = self._spent.get(self._stage, 0.0) + seconds - others
        return timed


def checked(thing, repeats: int) -> tuple:
    """Rows of (stage, seconds, share) of the median run of make.check, and its pattern; stages
    that take less than a thousandth are counted with the rest."""
    settings = Settings(stock=find_stock("eva-10"))
    make.check(surfaces.bare(surfaces.breastplate(800)), settings)  # imports
    stages = {name: value for name, value in vars(make).items()
              if isinstance(value, ModuleType) and value.__name__.startswith("addon.core.")}
    runs = []
    for _ in range(repeats):
        spent = {}
        inside = []
        vars(make).update({name: Watched(stage, name, spent, inside)
                           for name, stage in stages.items()})
        try:
            began = time.perf_counter()
            pattern = make.check(thing, settings)
            runs.append((time.perf_counter() - began, spent))
        finally:
            vars(make).update(stages)
    whole, spent = sorted(runs, key=lambda run: run[0])[len(runs) // 2]
    rows = [[stage, seconds, 100 * seconds / whole] for stage, seconds in spent.items()
            if seconds >= LEAST * whole]
    between = whole - sum(row[1] for row in rows)
    rows.append(["the rest", between, 100 * between / whole])
    return [*rows, ["whole check", whole, 100.0]], pattern
