"""Seams proposed for sculpts made by strangers, beside two plain ways to divide a surface."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace

import bench_surfaces as surfaces
import numpy as np

from addon.core import mesh, skin
from addon.core.errors import FoamError
from addon.core.model import Sculpt, Settings
from addon.core.stock import find_stock
from addon.core.suggest import SCALES, suggest_seams
from addon.core.suggest.cluster import patches
from addon.core.suggest.lines import marked
from addon.core.suggest.merge import Parting
from addon.core.suggest.smooth import turning
from addon.core.suggest.verdict import judged
from addon.core.suggest.working import Working, working_surface
from tests.real.wearable import DATA, NAMES, wearable

SETTINGS = Settings(find_stock("eva-10"))
SHARP = np.radians(40.0)  # of the first baseline: seams on every edge folded more


def suggest(quick: bool) -> dict:
    """Proposals for whole sculpts: pieces, seams, and what they ask of the foam."""
    rows = []
    for name, sculpt in sculpts(quick):
        began = time.process_time()
        try:
            found = suggest_seams(sculpt, SETTINGS, scales=SCALES[:1] if quick else SCALES)
        except FoamError as error:
            rows.append([name, f"refused: {error.finding.code}", *["–"] * 7])
            continue
        seconds = (time.process_time() - began) / found.starts
        us = [piece.u for piece in found.pieces]
        rows.append([name, "Foamwright", len(us), sum(not p.formable for p in found.pieces),
                     worst(us), round(found.seams), round(found.darts), round(found.turning),
                     seconds])
        rows += baselines(name, sculpt, len(us))
    return {
        "title": "Seams proposed for a whole sculpt",
        "header": ["sculpt", "way", "pieces", "of them not formable", "worst utilisation",
                   "seams, mm", "darts, mm", "turning, ° per 100 mm", "seconds a start"],
        "rows": rows,
        "remarks": [
            "10 mm foam that takes −5/+10 %, mats of 600 mm, judged on the neutral layer by the "
            "engine itself; a piece is formable if it keeps within the foam's band and its "
            "smallest radius. Seconds are of processor time. Turning is that of seams off "
            "creases. The baselines divide the same surface: at every edge folded by more than "
            "40°; into as many Voronoi cells (furthest points, then Lloyd's steps) or spectral "
            "parts (repeated bisection by the Fiedler vector) as ours has pieces. “None”: a "
            "worst utilisation above 99, or no flat at all."],
    }


def sculpts(quick: bool) -> Iterator[tuple[str, Sculpt]]:
    """Names and sculpts; a dome alone where speed counts or no others are at hand."""
    if quick or not DATA.is_dir():
        yield "dome 70°", Sculpt.plain(*surfaces.round_cap(70, 600))
        return
    for name in NAMES:
        yield name, wearable(name)


def worst(us: list[float]) -> object:
    return float(max(us)) if max(us) < 99 else "none"


def baselines(name: str, sculpt: Sculpt, number: int) -> list[list]:
    outside = skin.outer_skin(sculpt)
    stock = SETTINGS.stock
    working = working_surface(outside, np.arange(len(outside.faces)), stock, SETTINGS.side,
                              SETTINGS.web)
    ways = {"sharp edges": sharp_edges(working), "Voronoi": voronoi(working, number),
            "spectral": spectral(working, number)}
    rows = []
    for way, label in ways.items():
        parting = Parting.of(working, label)
        off = parting.seams & ~working.crease
        seams = [round(float(working.length[parting.seams].sum())), 0,
                 round(turning(working.points, working.edges[off])), "–"]
        try:
            pieces = judged(marked(parting, outside), SETTINGS, stock, SETTINGS.side)
        except FoamError as error:
            count = len(np.unique(label))
            rows.append([name, f"{way} ({error.finding.code})", count, count, "none", *seams])
            continue
        rows.append([name, way, len(pieces), sum(not p.formable for p in pieces),
                     worst([p.u for p in pieces]), *seams])
    return rows


def sharp_edges(working: Working) -> np.ndarray:
    """Label (m,) of the parts between edges that fold by more than SHARP."""
    flat = np.abs(working.fold) < SHARP
    return mesh.components(len(working.faces), working.beside[flat])[1]


def voronoi(working: Working, number: int) -> np.ndarray:
    """Label (m,) of cells about furthest points, without regard to folds."""
    plain = replace(working, fold=np.zeros(len(working.edges)),
                    crease=np.zeros(len(working.edges), dtype=bool),
                    image=np.arange(len(working.faces)))
    return patches(plain, number)


def spectral(working: Working, number: int) -> np.ndarray:
    """Label (m,) by bisecting the largest part along its Fiedler vector until there are enough."""
    from scipy.sparse import coo_matrix, diags
    from scipy.sparse.linalg import eigsh

    centre = working.points[working.faces].mean(axis=1)
    a, b = working.beside.T
    weight = working.length / np.maximum(np.linalg.norm(centre[a] - centre[b], axis=1), 1e-9)
    graph = coo_matrix((weight, (a, b)), shape=(len(centre),) * 2).tocsr()
    graph = graph + graph.T
    label = mesh.components(len(centre), working.beside)[1]
    while label.max() + 1 < number:
        faces = np.flatnonzero(label == np.bincount(label, working.area).argmax())
        part = graph[faces][:, faces]
        laplace = diags(np.asarray(part.sum(axis=1)).ravel()) - part
        start = np.random.default_rng(1).normal(size=len(faces))
        value, vector = eigsh((laplace + 1e-8 * diags(np.ones(len(faces)))).tocsc(), 2,
                              sigma=-1e-6, v0=start)
        fiedler = vector[:, np.argmax(value)]
        order = np.argsort(fiedler)
        area = np.cumsum(working.area[faces][order])
        half = np.searchsorted(area, area[-1] / 2)
        label[faces[order[half:]]] = label.max() + 1
    return label
