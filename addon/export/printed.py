"""What lies printed on the bench: the record by which the next pattern keeps codes and letters.

It stands in report.json as `printed`, and in a .blend.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ..core.codes import place, seam_curve
from ..core.errors import ERROR, Finding, FoamError
from ..core.model import (
    PLANNED,
    STATES,
    Bend,
    Drawn,
    EdgeFinish,
    Fold,
    Gauge,
    Mate,
    Notch,
    Pattern,
    Piece,
    PointMark,
    Printed,
    PrintedMate,
    PrintedPiece,
)
from .existing import state_of
from .words import label_lines

REPORT = "report.json"
PLACES = 3  # decimals of lengths: a hundredth of what counts as a change


def after(pattern: Pattern, kept: Sequence[str] = ()) -> Printed:
    """What is printed once this pattern is.

    kept: codes of the templates that need no new print; they are recorded as they were. Where
    the pattern is one piece alone, all other templates stay as they were.
    """
    earlier, settings = pattern.settings.printed, pattern.settings
    drawn = {p.code: p.drawn for p in earlier.pieces} if earlier else {}
    pieces = [_piece(p, pattern, drawn[p.code] if p.code in kept else None)
              for p in pattern.pieces]
    mates = [_mate(m, pattern) for m in (*pattern.mates, *pattern.beyond)]
    if settings.only is not None and earlier:
        mine = {p.code: p for p in pieces}
        pieces = [mine.pop(p.code, p) for p in earlier.pieces] + list(mine.values())
        again = {(m.letter, frozenset(m.pieces)) for m in mates}
        mates = [m for m in earlier.mates if (m.letter, frozenset(m.pieces)) not in again] + mates
    used = (earlier.codes, earlier.letters) if earlier else (frozenset(), frozenset())
    letters = {e.letter for p in pattern.pieces for e in p.edges if e.letter}
    made = Printed(tuple(pieces), tuple(mates), used[0] | {p.code for p in pieces},
                   used[1] | letters, settings.notch_spacing, "")
    return read(write(made))


def place_of(piece: Piece, pattern: Pattern) -> tuple[np.ndarray, np.ndarray, float]:
    """Points spread over a piece, its centre of area and its area on the sculpt, in mm before
    that was scaled."""
    return place(piece.vertices / pattern.settings.scale, piece.faces)


def _piece(piece: Piece, pattern: Pattern, before: Drawn | None) -> PrintedPiece:
    points, middle, area = place_of(piece, pattern)
    drawn = None
    if piece.template == piece.code:
        face = before or piece
        drawn = Drawn(face.cut, face.front, face.back, face.folds, face.bends, face.notches,
                      face.up, tuple(label_lines(piece, pattern, False)),
                      piece.gauges if pattern.cards else (), face.point_marks, face.finishes)
    state, made = state_of(piece.code, pattern)
    return PrintedPiece(piece.code, piece.object, piece.template, area, points, middle, drawn,
                        state, made)


def _mate(mate: Mate, pattern: Pattern) -> PrintedMate:
    code, index = next(edge for edge in mate.edges if edge[0] in pattern.index)
    piece = pattern.piece(code)
    edge = piece.edges[index]
    curve = mate.curve / pattern.settings.scale
    return PrintedMate(
        mate.letter, (mate.edges[0][0], mate.edges[1][0]), seam_curve(curve),
        len(curve) > 3 and bool(np.linalg.norm(curve[0] - curve[-1]) < 1e-6),
        float(mate.lengths.mean()),
        np.sort([_fraction(n.point, edge.cut, edge.fraction) for n in piece.notches
                 if n.letter == mate.letter and _distance(n.point, edge.cut) < 1e-6]))


def _feet(point: np.ndarray, line: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance of a point from each segment of a line (k, 2), and where on it the foot is."""
    step = np.diff(line, axis=0)
    part = np.einsum("ij,ij->i", point - line[:-1], step)
    part = np.clip(part / np.maximum(np.einsum("ij,ij->i", step, step), 1e-300), 0.0, 1.0)
    return np.linalg.norm(line[:-1] + part[:, None] * step - point, axis=1), part


def _distance(point: np.ndarray, line: np.ndarray) -> float:
    return float(_feet(point, line)[0].min())


def _fraction(point: np.ndarray, line: np.ndarray, fraction: np.ndarray) -> float:
    away, part = _feet(point, line)
    k = int(np.argmin(away))
    return float((1 - part[k]) * fraction[k] + part[k] * fraction[k + 1])


# --- from an earlier run -----------------------------------------------------


def load(path: Path) -> Printed | None:
    """What the report.json at `path` (or in the folder `path`) says was printed; None where it
    says nothing of that kind or is no report of ours.

    Raises FoamError `bad-report` where the record in it is damaged, and OSError.
    """
    path = path / REPORT if path.is_dir() else path
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:  # not JSON, or not UTF-8
        return None
    if not isinstance(document, dict) or not document.get("printed"):
        return None
    try:
        return read(document["printed"])
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise FoamError(Finding(
            "bad-report", ERROR, f"What {path} says of the earlier templates is damaged.",
            "Take that file out of the folder; the codes are then given anew.")) from error


# --- as JSON -----------------------------------------------------------------


def write(printed: Printed) -> dict[str, Any]:
    """The record as plain dictionaries, lists, numbers and strings; mm and degrees."""
    return {
        "codes": sorted(printed.codes), "letters": sorted(printed.letters),
        "notch_spacing": printed.notch_spacing,
        "pieces": [{
            "code": p.code, "object": p.object, "template": p.template,
            "area": round(p.area, 1), "middle": _round(p.middle), "places": _round(p.places, 1),
            "drawn": _write_drawn(p.drawn) if p.drawn else None,
            "state": p.state, "made": _write_drawn(p.made) if p.made else None,
        } for p in printed.pieces],
        "mates": [{
            "letter": m.letter, "pieces": list(m.pieces), "curve": _round(m.curve),
            "closed": m.closed, "length": round(m.length, PLACES),
            "notches": _round(m.notches, 9),
        } for m in printed.mates],
    }


def _write_drawn(drawn: Drawn) -> dict[str, Any]:
    return {
        **{face: [_round(ring) for ring in getattr(drawn, face)]
           for face in ("cut", "front", "back")},
        "folds": [{"points": _round(f.points), "fold": _round(np.degrees(f.fold)),
                   "kind": f.kind, "side": f.side, "depth": round(f.depth, PLACES),
                   "mouth": round(f.mouth, PLACES)} for f in drawn.folds],
        "bends": [{"points": _round(b.points), "angle": round(math.degrees(b.angle), PLACES)}
                  for b in drawn.bends],
        "notches": [{"point": _round(n.point), "inward": _round(n.inward), "letter": n.letter,
                     "index": n.index} for n in drawn.notches],
        "up": _round(drawn.up), "words": list(drawn.words),
        "gauges": [{"line": _round(g.line), "profile": _round(g.profile)} for g in drawn.gauges],
        "point_marks": [{"kind": m.kind, "name": m.name, "number": m.number,
                         "point": _round(m.point), "along": _round(m.along, 9),
                         "size": _round(m.size), "stock": m.stock, "place": _round(m.place)}
                        for m in drawn.point_marks],
        "finishes": [{"points": _round(f.points), "edge": f.edge, "letter": f.letter,
                      "kind": f.kind, "width": round(f.width, PLACES),
                      "depth": round(f.depth, PLACES)} for f in drawn.finishes],
    }


def read(document: dict[str, Any]) -> Printed:
    """The record in what `write` wrote. Raises KeyError, TypeError, ValueError, IndexError or
    AttributeError where it is something else."""
    text = json.dumps(document, sort_keys=True, allow_nan=False)
    return Printed(
        tuple(PrintedPiece(
            p["code"], p["object"], p["template"], float(p["area"]), p["places"], p["middle"],
            _read_drawn(p["drawn"]) if p["drawn"] else None, _state(p),
            _read_drawn(p["made"]) if p.get("made") else None) for p in document["pieces"]),
        tuple(PrintedMate(
            m["letter"], (m["pieces"][0], m["pieces"][1]), m["curve"], bool(m["closed"]),
            float(m["length"]), m["notches"]) for m in document["mates"]),
        frozenset(document["codes"]), frozenset(document["letters"]),
        float(document["notch_spacing"]),
        hashlib.blake2b(text.encode(), digest_size=8).hexdigest())


def _state(piece: dict[str, Any]) -> str:
    """How far a piece is made; records of earlier versions do not tell."""
    state = piece.get("state", PLANNED)
    if state not in STATES:
        raise ValueError(f"unknown state {state!r}")
    return state


def _read_drawn(drawn: dict[str, Any]) -> Drawn:
    rings = [tuple(np.array(ring, dtype=float) for ring in drawn[face])
             for face in ("cut", "front", "back")]
    return Drawn(
        *rings,
        tuple(Fold(f["points"], np.radians(f["fold"]), int(f["kind"]), f["side"],
                   float(f["depth"]), float(f["mouth"])) for f in drawn["folds"]),
        tuple(Bend(b["points"], math.radians(b["angle"])) for b in drawn["bends"]),
        tuple(Notch(n["point"], n["inward"], n["letter"], int(n["index"]))
              for n in drawn["notches"]),
        drawn["up"], tuple(drawn["words"]),
        tuple(Gauge(g["line"], g["profile"]) for g in drawn["gauges"]),
        tuple(PointMark(m["kind"], m["name"], int(m["number"]), m["point"], m["along"], m["size"],
                        m["stock"], m["place"]) for m in drawn.get("point_marks", ())),
        tuple(EdgeFinish(f["points"], int(f["edge"]), f["letter"], f["kind"], float(f["width"]),
                         float(f["depth"])) for f in drawn.get("finishes", ())))


def _round(array: np.ndarray, places: int = PLACES) -> list:
    return (np.round(array, places) + 0.0).tolist()
