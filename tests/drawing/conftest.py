"""Pieces made by hand, with every mark, from simple shapes."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from addon.core.model import (
    BACK,
    FRONT,
    SCORE,
    TRENCH,
    Bend,
    Fold,
    Notch,
    Pattern,
    Piece,
    PieceEdge,
    Placement,
    Sculpt,
    Settings,
    Sheet,
    Verdict,
)
from addon.core.stock import Stock

EVA = Stock("EVA 10 mm", 10.0)
FLAT = Verdict("flat", 0.1, 0.1, (1.0, 1.0), np.inf, 0, "It lies flat.")


def ring(shape):
    """A counter-clockwise ring (k, 2) without the repeated end."""
    return np.array(shape.coords)[:-1] if hasattr(shape, "coords") else np.asarray(shape, float)


def make_piece(code, corners, bevels=(), letters=(), folds=(), holes=(), name="", notches=(),
               stock=EVA, bends=(), **more):
    """A piece with the given outline; edge i runs from corner i to the next.

    corners: list of (k, 2) runs, one per edge, or plain corners; bevels: degrees
    per edge (positive: front larger), each one number or two for its ends.
    """
    runs = [np.atleast_2d(np.asarray(c, float)) for c in corners]
    starts = [run[0] for run in runs]
    runs = [np.concatenate([run, starts[(i + 1) % len(runs)][None]])
            for i, run in enumerate(runs)]
    outline = np.concatenate([run[:-1] for run in runs])
    edges, inner = [], Polygon(outline, holes)
    for i, run in enumerate(runs):
        degrees = bevels[i] if i < len(bevels) else 0.0
        first, last = np.broadcast_to(degrees, 2)
        steps = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
        if first != last:
            finer = np.linspace(0, steps[-1], 40)
            run = np.stack([np.interp(finer, steps, run[:, k]) for k in (0, 1)], axis=1)
            steps = finer
        bevel = np.radians(np.interp(steps, (0, steps[-1]), (first, last)))
        letter = letters[i] if i < len(letters) else ""
        edges.append(PieceEdge(
            points=run, cut=run, fraction=steps / steps[-1], bevel=bevel, mate=letter,
            letter=letter, length=float(steps[-1]),
            larger="" if not bevel.any() else FRONT if bevel.mean() > 0 else BACK))
        if bevel.any():
            widths = np.abs(np.tan(bevel)) * stock.thickness
            for a, b, w in zip(run[:-1], run[1:], (widths[:-1] + widths[1:]) / 2, strict=True):
                inner = inner.difference(LineString([a, b]).buffer(max(w, 1e-6), cap_style="flat"))
    inner = max(getattr(inner, "geoms", [inner]), key=lambda g: g.area)
    rings = (outline, *[np.asarray(h, float) for h in holes])
    small = tuple(ring(r) for r in (inner.exterior, *inner.interiors))
    front_larger = all(e.larger != BACK for e in edges)
    return Piece(
        code=code, name=name, object=0, stock=stock, side="outer", verdict=FLAT,
        vertices=np.zeros((3, 3)), faces=[[0, 1, 2]], source_vertex=[0, 1, 2], source_face=[0],
        flat=np.zeros((3, 2)), stretch=np.ones((1, 2)),
        front=rings if front_larger else small, back=small if front_larger else rings,
        cut=rings, edges=tuple(edges), folds=tuple(folds), notches=tuple(notches),
        bends=tuple(bends),
        template=more.pop("template", code), area=Polygon(outline).area, **more)


def notched(piece, fractions=(0.23, 0.62)):
    """The same piece with notches at fractions of each mated edge."""
    notches = []
    for edge in piece.edges:
        if not edge.letter:
            continue
        chord = edge.cut[-1] - edge.cut[0]
        chord /= np.hypot(*chord)
        for i, f in enumerate(fractions):
            point = [np.interp(f, edge.fraction, edge.cut[:, k]) for k in (0, 1)]
            notches.append(Notch(point, (-chord[1], chord[0]), edge.letter, i + 1))
    return replace(piece, notches=tuple(notches))


def arc(centre, radius, start, stop, count=60):
    angles = np.radians(np.linspace(start, stop, count))
    return np.asarray(centre) + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)


def collection():
    """Pieces of many shapes, by name."""
    plate = notched(make_piece(
        "BP1", [(0, 0), (180, 0), arc((200, 120), 60, 270, 180)[:-1], (140, 210), (0, 210)],
        (45, 30, (5, 25), 0, 20), "ABCDE", name="Breast plate",
        folds=(Fold([(0, 130), (70, 110), (140, 130)], np.radians([40, 40, 52]), TRENCH, BACK,
                    7.0, 6.8),
               Fold([(60, 210), (60, 150)], np.radians([12, 12]), SCORE, FRONT, 4.0, 0.0)),
        bends=(Bend([(90, 5), (110, 205)], np.radians(30)), Bend([(8, 30), (170, 22)], -0.4)),
        holes=[arc((60, 60), 18, 0, -354, 60)], copies=1, mirrored=1))
    concave = notched(make_piece(
        "GR2", [(0, 0), (160, 0), (160, 40), (45, 45), (40, 170), (0, 170)],
        (0, -25, 0, -30, 0, 10), ("F", "G", "", "H", "", "AA"), name="Gorget, left", copies=2))
    strip = make_piece("ST3", [(0, 0), (300, 0), (300, 22), (0, 22)], (0, 0, 0, 0), "JKLM",
                       name="Rim strip", up=(1.0, 0.0))
    curved = make_piece("RM4", [arc((0, 0), 150, 20, 100), arc((0, 0), 128, 100, 20)],
                        (15, 0), "NP", name="Collar rim", up=(0.0, 1.0))
    tiny = make_piece("RV5", [arc((0, 0), 6, 0, 354, 60)], (0,), (), name="Rivet", copies=8,
                      up=(0.0, 0.0))
    small = notched(make_piece("KT6", [(0, 0), (38, 0), (19, 33)], (20, 20, 20), "QRS",
                               name="Knee gusset"), (0.4,))
    needle = make_piece("DN7", [(0, 0), (120, 7), (0, 14)], (0, 0, 0), ("T", "T", ""),
                        name="Dart insert")
    oval = make_piece("CY8", [arc((0, 0), 70, 0, 354, 120) * (1.0, 0.6)], (0,), (),
                      name="Кираса, перед", stock=Stock("Craft foam", 2.0, grain=True))
    return {p.code: p for p in (plate, concave, strip, curved, tiny, small, needle, oval)}


@pytest.fixture(scope="session")
def pieces():
    return collection()


def pattern_of(pieces, mats=(), **more):
    settings = Settings(stock=EVA, **more)
    sculpt = Sculpt.plain(np.eye(3), [[0, 1, 2]])
    return Pattern(settings=settings, sculpt=sculpt, pieces=tuple(pieces), mates=(), mats=mats)


@pytest.fixture(scope="session")
def pattern(pieces):
    """All pieces and one mat with each of them, some turned, one turned over."""
    spots = {"BP1": (15, 20, 0), "GR2": (230, 20, 0), "ST3": (440, 20, 90), "RM4": (380, 400, 180),
             "RV5": (500, 300, 0), "KT6": (310, 110, 33), "DN7": (540, 40, 90),
             "CY8": (90, 500, 30)}
    placements = [Placement(code, np.radians(a), (x, y)) for code, (x, y, a) in spots.items()]
    placements.append(Placement("BP1", np.radians(20), (540, 380), mirrored=True))
    return pattern_of(pieces.values(),
                      (Sheet("mat", "EVA 10 mm, mat 1", (600.0, 600.0), tuple(placements), EVA),))


@pytest.fixture(scope="session")
def build():
    """The makers of test pieces: make_piece, notched, arc, pattern_of."""
    return SimpleNamespace(
        piece=make_piece, notched=notched, arc=arc, pattern=pattern_of, eva=EVA)
