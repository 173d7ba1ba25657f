"""How long the files of a suit take to write once its pieces are laid out on mats and pages."""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from addon.core.make import make_pattern
from addon.core.model import SEAM, TRENCH, Pattern, Sculpt, SculptObject, Settings
from addon.core.stock import find_stock
from addon.export.drawing import draw_placed
from addon.export.dxf import dxf
from addon.export.folder import write_all
from addon.export.pdf import write_pattern_pdf
from addon.export.plan import write_plan_pdf
from addon.export.report import report
from addon.export.svg import svg
from example_scenes import armour
from tests.example.conftest import as_sculpt
from tests.shapes import grid

# Name -> half axes across and deep, and height, mm.
SHELLS = {
    "Trunk": (190, 130, 620), "Head": (95, 120, 260), "Left arm": (62, 66, 300),
    "Right arm": (64, 68, 310), "Left cuff": (50, 52, 260), "Right cuff": (52, 54, 270),
    "Left thigh": (95, 100, 420), "Right thigh": (97, 102, 430), "Left greave": (65, 72, 390),
    "Right greave": (67, 74, 400)}


def panelled(shells: Sequence[str], bands: int = 4, gores: int = 5, side: int = 10) -> Sculpt:
    """A suit of uneven ellipsoids, some of SHELLS, each parted into bands x gores pieces of
    side x side squares, with a trench round it; nearly no two of its pieces are alike."""
    parts, faces, start = [], [], 0
    marks: list[tuple[np.ndarray, int]] = []
    for n, (a, b, height) in enumerate(SHELLS[name] for name in shells):
        rows, around = bands * side, gores * side
        turn, level = np.meshgrid(np.arange(around) * 2 * np.pi / around,
                                  np.linspace(-0.9, 1.0, rows + 1))
        phase = np.random.default_rng(n).uniform(0.0, 6.0, (3, 2))
        bumps = 1 + sum(0.02 * np.cos(k * turn + p) * np.cos(3 * level + q)
                        for k, (p, q) in enumerate(phase, 1))
        parts.append(np.stack([a * np.cos(level) * np.cos(turn) * bumps + 500.0 * n,
                               b * np.cos(level) * np.sin(turn) * bumps,
                               height / 2 * np.sin(level) / np.sin(1.0)], axis=-1).reshape(-1, 3))
        row, column = np.divmod(grid(around + 1, rows + 1), around + 1)
        faces.append(row * around + column % around + start)
        index = np.arange(len(parts[-1])).reshape(rows + 1, around) + start
        upright, level, middle = index[:, ::side], index[side:-1:side], index[side // 2]
        marks += [(np.stack([upright[:-1], upright[1:]], axis=-1).reshape(-1, 2), SEAM),
                  (np.stack([level, np.roll(level, -1, axis=1)], axis=-1).reshape(-1, 2), SEAM),
                  (np.stack([middle, np.roll(middle, -1)], axis=-1), TRENCH)]
        start += len(parts[-1])
    triangles = np.concatenate(faces)
    return Sculpt(
        vertices=np.concatenate(parts), faces=triangles,
        edges=np.sort(np.concatenate([edges for edges, _ in marks]), axis=1),
        kinds=np.concatenate([np.full(len(edges), kind) for edges, kind in marks]),
        face_object=np.repeat(np.arange(len(faces)), [len(f) for f in faces]),
        objects=tuple(SculptObject(name) for name in shells),
        polygon=np.arange(len(triangles)) // 2)


def suits(quick: bool) -> Iterator[tuple[str, Pattern]]:
    """Names and patterns; small ones where speed counts."""
    if quick:
        for shells in (["Left cuff"], ["Left cuff", "Right cuff"]):
            yield f"panelled suit of {len(shells)}", make_pattern(
                panelled(shells, bands=1, gores=3, side=3), laid("eva-10"))
        return
    yield "example suit", make_pattern(as_sculpt(armour.suit()), laid(armour.THICK))
    yield "panelled suit", make_pattern(panelled(list(SHELLS)), laid("eva-10"))


def laid(stock: str) -> Settings:
    """Settings with which pieces are laid out soon rather than well."""
    return Settings(find_stock(stock), nest_seconds=0.0)


def writing(quick: bool) -> dict:
    """Seconds of processor time for each kind of file, and for all of them."""
    if not quick:
        seconds(next(suits(True))[1])  # imports and first calls are nobody's merit
    rows = [[f"{name}, {len(pattern.pieces)} pieces", len(pattern.templates),
             len(pattern.pages), len(pattern.mats), *seconds(pattern)]
            for name, pattern in suits(quick)]
    return {
        "title": "Writing the files of a suit",
        "header": ["suit", "templates", "pages", "mats", "pattern.pdf", "plan.pdf",
                   "mats drawn", "SVG", "DXF", "report.json", "all, as the command writes them"],
        "rows": rows,
        "remarks": ["Seconds of processor time on one core, once, after everything has been laid "
                    "out on mats and pages."],
    }


def seconds(pattern: Pattern) -> list[float]:
    """For pattern.pdf, plan.pdf, the drawings of mats, SVG, DXF, report.json, and all at once."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        drawn, first = timed(lambda: [draw_placed(s, pattern, kerf=True) for s in pattern.mats])
        mats = list(zip(pattern.mats, drawn, strict=True))
        rest = [timed(work)[1] for work in (
            lambda: write_pattern_pdf(pattern, out / "pattern.pdf"),
            lambda: write_plan_pdf(pattern, out / "plan.pdf"),
            lambda: [svg(sheet, pattern, drawn=lines) for sheet, lines in mats],
            lambda: [dxf(sheet, pattern, drawn=lines) for sheet, lines in mats],
            lambda: json.dumps(report(pattern)),
            lambda: write_all(pattern, out / "all"))]
    return [*rest[:2], first, *rest[2:]]


def timed(work: Callable) -> tuple:
    """What some work gives, and the seconds of processor time it took."""
    began = time.process_time()
    given = work()
    return given, time.process_time() - began
