"""How well and how fast suits are put together again from their flats."""

from __future__ import annotations

import time

import environment
import numpy as np
from bench_order import tower

from addon.core import make
from addon.core.model import Settings
from addon.core.rebuild import rebuild
from addon.core.stock import find_stock

EXAMPLE = environment.ROOT / "example_scenes" / "ferry_warden.blend"


def rebuilt(quick: bool) -> dict:
    """The example suit and a tower of plates, coarsely and at working resolution."""
    rows = []
    for label, pattern, began in _patterns(quick):
        for coarse in (True, False):
            start = time.process_time()
            found = rebuild(pattern, quick=coarse)
            seconds = time.process_time() - start
            rows.append([
                f"{label}, {'quick' if coarse else 'working'} resolution", len(pattern.pieces),
                seconds, seconds / began, found.rms, found.most,
                max((m.mismatch for m in found.mates), default=0.0),
                float(np.degrees(max((abs(m.fold) for m in found.mates), default=0.0)))])
    return {
        "title": "Suits put together again",
        "header": ["suit", "pieces", "seconds", "times the check", "RMS, mm", "at most, mm",
                   "edges differ, mm", "fold, °"],
        "rows": rows,
        "remarks": ["Seconds are of processor time, once, with the strain map; the check beside it "
                    "is the first of that suit. Deviations are those from the sculpt."],
    }


def _patterns(quick: bool):
    if not quick:
        from addon.blender.read import read_blend

        sculpt, chosen = read_blend(EXAMPLE)
        yield _checked("example suit", sculpt, Settings(**{"stock": find_stock(), **chosen}))
    levels, staves = (1, 4) if quick else (4, 8)
    yield _checked(f"tower of {levels * staves} plates", tower(levels, staves),
                   Settings(find_stock()))


def _checked(label, sculpt, settings):
    start = time.process_time()
    pattern = make.check(sculpt, settings)
    return label, pattern, time.process_time() - start
