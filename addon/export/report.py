"""A pattern -> the records of report.json, in mm and degrees.

The format is versioned and described in docs/report.md; report.schema.json beside this
file is its JSON Schema. Numbers are rounded to 1e-4; a number that has no finite value,
such as the radius of a flat piece, is null.
"""

from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from ..core.errors import Finding
from ..core.model import (
    LAID_ON,
    TRENCH,
    Block,
    Fitted,
    Fold,
    Join,
    JoinSizes,
    Laid,
    Mate,
    Move,
    Part,
    Pattern,
    Piece,
    PieceEdge,
    PointMark,
    Rates,
    Reach,
    Rebuilt,
    Rod,
    Sheet,
    Step,
    Strip,
    Tape,
    Transport,
    Widened,
)
from ..core.stock import Limits, Stock
from .changes import Change, changes
from .existing import existing
from .needs import needs

FORMAT, VERSION = "foamwright-report", 1
SCHEMA = Path(__file__).with_name("report.schema.json")
PLACES = 4


def report(pattern: Pattern, check: bool = False) -> dict[str, Any]:
    """The pattern as plain dictionaries, lists, numbers and strings.

    check: leave out sheets, steps and changes.
    """
    document = {
        "format": FORMAT,
        "version": VERSION,
        "program": program_version(),
        "units": {"length": "mm", "angle": "deg"},
        "title": pattern.settings.title,
        "settings": _settings(pattern),
        "pieces": [_piece(p) for p in pattern.pieces],
        "mates": [_mate(m) for m in pattern.mates],
        "parts": [_part(p) for p in pattern.parts],
        "blocks": [_block(b) for b in pattern.blocks],
        "tapes": [_tape(t) for t in pattern.tapes],
        "rods": [_rod(rod) for rod in pattern.rods],
        "strips": [_strip(s) for s in pattern.strips],
        "marks": [_mark(p.code, m) for p in pattern.pieces for m in p.point_marks],
        "laid": [_laid(one) for one in pattern.laid],
        "widened": [_widened(one) for one in pattern.widened],
        "findings": [_finding(f) for f in pattern.findings],
    }
    if pattern.rebuilt is not None:
        document["rebuild"] = _rebuild(pattern.rebuilt)
    if pattern.fitted is not None:
        document["fit"] = _fit(pattern.fitted)
    if pattern.reach is not None:
        document["reach"] = _reach(pattern.reach)
    if pattern.transport is not None:
        document["transport"] = _transport(pattern.transport)
    if not check:
        document["sheets"] = [_sheet(s) for s in (*pattern.mats, *pattern.pages)]
        document["needs"] = needs(pattern)
        document["steps"] = [_step(s) for s in pattern.steps]
        document["changes"] = [_change(c) for c in changes(pattern)]
        document["existing"] = [{"code": e.code, "state": e.state, "kind": e.kind,
                                 "why": list(e.why)} for e in existing(pattern)]
    return document


@cache
def program_version() -> str:
    """The version in the extension's manifest."""
    manifest = Path(__file__).parents[1] / "blender_manifest.toml"
    return tomllib.loads(manifest.read_text(encoding="utf-8"))["version"]


def _number(value: float) -> float | None:
    value = float(value)
    return round(value, PLACES) + 0.0 if math.isfinite(value) else None


def _degrees(value: float) -> float | None:
    return _number(math.degrees(value))


def _points(array: np.ndarray) -> list[list[float]]:
    return (np.round(array, PLACES) + 0.0).tolist()


def _settings(pattern: Pattern) -> dict[str, Any]:
    s = pattern.settings
    return {
        "stock": _stock(s.stock), "face": s.side, "scale": _number(s.scale),
        "seam_angle": None if s.seam_angle is None else _degrees(s.seam_angle),
        "web": _number(s.web), "score_depth": _number(s.score_depth),
        "notch_spacing": _number(s.notch_spacing), "fairing": _number(s.fairing),
        "paper": s.paper, "roll": _number(s.roll), "allowance": _number(s.allowance),
        "gauges": s.gauges, "back_side": s.back_side, "text_outlines": s.text_outlines,
        "mock_up": s.mock_up, "card": _number(s.card), "only": s.only,
        "seed": s.seed, "split": s.split, "turns": s.turns, "together": s.together,
        "holes": s.holes, "nest_seconds": _number(s.nest_seconds),
        "kerf": None if s.kerf is None else _number(s.kerf),
        "girth_heights": [_number(h) for h in s.girth_heights],
        "rates": {name: float(getattr(s.rates, name)) for name in Rates.names()},
        "prices": {price.thing: float(price.each) for price in s.prices}, "currency": s.currency,
        "mat_gap": None if s.mat_gap is None else _number(s.mat_gap),
        "mat_margin": None if s.mat_margin is None else _number(s.mat_margin),
        "joins": _sizes(s.joins),
        "size": None if s.size is None else {
            "name": s.size.name, **{axis: float(getattr(s.size, axis))
                                    for axis in ("across", "deep", "tall")}},
    }


def _sizes(sizes: JoinSizes) -> dict[str, Any]:
    return {"lap": _number(sizes.lap), "patch": [_number(x) for x in sizes.patch],
            **{name: _number(getattr(sizes, name))
               for name in ("webbing", "tail", "slack", "spacing", "spacer")}}


def _stock(stock: Stock) -> dict[str, Any]:
    def limits(state: Limits) -> dict[str, Any]:
        return {"compress": _number(state.compress), "stretch": _number(state.stretch),
                "radius": _number(state.radius)}

    return {
        "name": stock.name, "thickness": _number(stock.thickness),
        "sheet": [_number(x) for x in stock.sheet], "neutral": _number(stock.neutral),
        "cold": limits(stock.cold), "heated": limits(stock.heated),
        "kerf": _number(stock.kerf), "gap": _number(stock.gap),
        "density": _number(stock.density), "grain": stock.grain,
    }


def _piece(piece: Piece) -> dict[str, Any]:
    v = piece.verdict
    return {
        "code": piece.code, "name": piece.name, "object": piece.object, "base": piece.base,
        "stock": piece.stock.name, "thickness": _number(piece.stock.thickness),
        "face": piece.side,
        "verdict": v.kind, "reason": v.reason, "worst": v.worst,
        "utilisation": {"cold": _number(v.cold), "heated": _number(v.heated)},
        "bounds": {"cold": _number(v.cold_bound), "heated": _number(v.heated_bound),
                   "always": _number(v.bound)},
        "largest": {"utilisation": _number(v.largest), "face": v.at},
        "stretch": {"min": _number(v.stretch[0]), "max": _number(v.stretch[1])},
        "radius": _number(v.radius),
        "area": _number(piece.area),
        "outline": _points(piece.front[0]),
        "holes": [_points(ring) for ring in piece.front[1:]],
        "cut": [_points(ring) for ring in piece.cut],
        "up": _points(piece.up),
        "template": piece.template, "copies": piece.copies, "mirrored": piece.mirrored,
        "flipped": piece.flipped,
        "edges": [_edge(e) for e in piece.edges],
        "folds": [_fold(f) for f in piece.folds],
        "finishes": [{"edge": f.edge, "letter": f.letter or None, "kind": f.kind,
                      "width": _number(f.width), "depth": _number(f.depth),
                      "points": _points(f.points)} for f in piece.finishes],
        "bends": [{"angle": _degrees(b.angle), "points": _points(b.points)}
                  for b in piece.bends],
        "gauges": [{"line": _points(g.line), "profile": _points(g.profile)}
                   for g in piece.gauges],
        "notches": [{"point": _points(n.point), "letter": n.letter, "index": n.index}
                    for n in piece.notches],
        "places": [{"of": list(p.of), "on": list(p.on), "letter": p.letter,
                    "lines": [_points(line) for line in p.lines],
                    "ticks": [{"point": _points(t.point), "index": t.index} for t in p.ticks]}
                   for p in piece.places],
    }


def _laid(one: Laid) -> dict[str, Any]:
    return {"piece": one.piece, "on": list(one.on), "kind": LAID_ON, "letter": one.letter,
            "area": _number(one.area), "while_flat": one.early, "over": list(one.seams)}


def _widened(one: Widened) -> dict[str, Any]:
    return {"mate": one.code, "letter": one.letter, "pieces": list(one.pieces),
            "low": _number(one.low), "high": _number(one.high),
            "grown": {"least": _number(one.grown[0]), "most": _number(one.grown[1])},
            "moved": _number(one.moved), "along": list(one.along)}


def _edge(edge: PieceEdge) -> dict[str, Any]:
    return {
        "mate": edge.mate or None, "letter": edge.letter or None,
        "length": _number(edge.length),
        "bevel": {"min": _degrees(edge.bevel.min()), "max": _degrees(edge.bevel.max())},
        "larger": edge.larger or None, "lap": _number(edge.lap),
    }


def _fold(fold: Fold) -> dict[str, Any]:
    return {
        "kind": "trench" if fold.kind == TRENCH else "score", "side": fold.side,
        "depth": _number(fold.depth), "mouth": _number(fold.mouth),
        "fold": {"min": _degrees(fold.fold.min()), "max": _degrees(fold.fold.max())},
        "points": _points(fold.points),
    }


def _mate(mate: Mate) -> dict[str, Any]:
    return {
        "code": mate.code, "letter": mate.letter,
        "edges": [{"piece": code, "edge": index, "length": _number(length)}
                  for (code, index), length in zip(mate.edges, mate.lengths, strict=True)],
        "gap": _number(mate.gap),
        "fold": {"min": _degrees(mate.fold[0]), "max": _degrees(mate.fold[1])},
        "join": _join(mate.join),
        "finish": {"kind": mate.finish.kind, "width": _number(mate.finish.width)},
    }


def _join(join: Join) -> dict[str, Any]:
    return {
        "kind": join.kind, "over": join.over or None, "lap": _number(join.lap),
        "lift": _number(join.lift), "longer": _number(join.longer), "gap": _number(join.gap),
        "count": join.count, "patch": [_number(x) for x in join.patch],
        "webbing": _number(join.webbing), "width": _number(join.width),
    }


def _part(part: Part) -> dict[str, Any]:
    return {"name": part.name, "pieces": list(part.pieces), "way": _way(part.way),
            "turn": part.turn, "joins": list(part.joins)}


def _way(way: tuple[float, float, float] | None) -> list[float | None] | None:
    return None if way is None else [_number(x) for x in way]


def _move(move: Move) -> dict[str, Any]:
    return {"pieces": list(move.pieces), "mates": list(move.mates), "way": _way(move.way),
            "squeeze": move.squeeze, "press": list(move.press)}


def _block(block: Block) -> dict[str, Any]:
    return {"code": block.piece.code, "mates": list(block.mates), "on": list(block.on),
            "length": _number(block.length), "width": _number(block.width),
            "heights": [_number(x) for x in block.heights], "angle": _degrees(block.angle),
            "layers": block.layers, "count": block.piece.copies}


def _tape(tape: Tape) -> dict[str, Any]:
    return {"name": tape.name, "length": _number(tape.length),
            "ends": [{"piece": code, "edge": edge, "share": _number(share)}
                     for code, edge, share in tape.ends]}


def _rod(rod: Rod) -> dict[str, Any]:
    return {
        "code": rod.code, "name": rod.name, "stock": rod.stock.name,
        "diameter": _number(rod.diameter), "length": _number(rod.length),
        "cut_length": _number(rod.longest), "radius": _number(rod.radius),
        "tightest": _points(rod.tightest), "forming": rod.forming, "rise": _number(rod.rise),
        "ends": [{"angle": _degrees(end.angle), "turn": _degrees(end.turn), "on": end.on or None}
                 for end in rod.ends],
    }


def _strip(strip: Strip) -> dict[str, Any]:
    return {"code": strip.piece.code, "on": list(strip.on), "count": strip.piece.copies,
            "stock": strip.piece.stock.name, "width": _number(strip.width),
            "edge": _number(strip.edge), "length": _number(strip.length),
            "cut": [_points(ring) for ring in strip.piece.cut],
            "ends": [{"bevel": _degrees(end.bevel), "skew": _degrees(end.skew)}
                     for end in strip.ends]}


def _mark(code: str, mark: PointMark) -> dict[str, Any]:
    return {"kind": mark.kind, "name": mark.name, "number": mark.number, "piece": code,
            "point": _points(mark.point), "place": _points(mark.place),
            "size": _points(mark.size), "stock": mark.stock or None}


def _rebuild(found: Rebuilt) -> dict[str, Any]:
    bare = found.unformed
    return {
        "rms": _number(found.rms), "max": _number(found.most),
        "without_strain_map": {"rms": _number(bare[0]), "max": _number(bare[1])} if bare else None,
        "pieces": [{"code": p.code, "rms": _number(p.rms), "max": _number(p.most)}
                   for p in found.pieces],
        "mates": [{"code": m.code, "mismatch": _number(m.mismatch), "fold": _degrees(m.fold)}
                  for m in found.mates],
        "trenches": [{"piece": t.piece, "number": t.number, "offset": _number(t.offset)}
                     for t in found.trenches],
        "open_parts": [list(part) for part in found.open_parts],
    }


def _fit(found: Fitted) -> dict[str, Any]:
    return {
        "body": found.body, "least": _number(found.least),
        "pieces": [{"code": p.code, "least": _number(p.least), "mean": _number(p.mean),
                    "pressing": _number(p.pressing)} for p in found.pieces],
        "girths": [{"name": g.name, "height": _number(g.height), "body": _number(g.body),
                    "inside": _number(g.inside), "ease": _number(g.ease),
                    "wanted": _number(g.wanted), "round": _number(g.round)}
                   for g in found.girths],
        "spacers": [{"piece": s.piece, "point": _points(s.point), "on_flat": _points(s.on_flat),
                     "height": _number(s.height)} for s in found.spacers],
    }


def _reach(found: Reach) -> dict[str, Any]:
    return {
        "body": found.body or None,
        "worn": [{"part": w.part, "pieces": list(w.pieces), "segment": w.segment,
                  "told": w.asked, "away": _number(w.away)} for w in found.worn],
        "movements": [{
            "name": m.name, "side": m.side, "start": _degrees(m.start), "most": _degrees(m.most),
            "reached": _degrees(m.reached), "accuracy": _degrees(m.accuracy),
            "needed": None if m.needed is None else _degrees(m.needed), "enough": m.enough,
            "short": _number(m.short), "meeting": None if m.meeting is None else {
                "pieces": list(m.meeting.pieces), "parts": list(m.meeting.parts),
                "point": _points(m.meeting.point), "depth": _number(m.meeting.depth)}}
            for m in found.movements],
        "crossing": [list(pair) for pair in found.crossing],
    }


def _transport(found: Transport) -> dict[str, Any]:
    return {
        "box": [_number(x) for x in found.box], "gap": _number(found.gap), "fits": found.fits,
        "certain": found.fits or found.certain, "why": found.why, "left": list(found.left),
        "height": _number(found.height),
        "packed": [{"part": p.part, "pieces": list(p.pieces), "turn": np.round(p.turn, 9).tolist(),
                    "offset": _points(p.offset), "low": _points(p.low), "high": _points(p.high)}
                   for p in found.packed],
    }


def _sheet(sheet: Sheet) -> dict[str, Any]:
    tile = None
    if sheet.tile:
        tile = dict(zip(("piece", "row", "column", "rows", "columns"), sheet.tile, strict=True))
    return {
        "kind": sheet.kind, "name": sheet.name, "size": [_number(x) for x in sheet.size],
        "stock": sheet.stock.name if sheet.stock else None, "tile": tile,
        "placements": [{"piece": p.piece, "angle": _degrees(p.angle), "mirrored": p.mirrored,
                        "offset": _points(p.offset)} for p in sheet.placements],
        "outline": [_points(ring) for ring in sheet.outline],
    }


def _step(step: Step) -> dict[str, Any]:
    return {"number": step.number, "kind": step.kind, "title": step.title, "part": step.part,
            "text": list(step.text), "pieces": list(step.pieces), "mates": list(step.mates),
            "moves": [_move(move) for move in step.moves], "cautions": list(step.cautions)}


def _change(change: Change) -> dict[str, Any]:
    return {"code": change.code, "name": change.name, "kind": change.kind,
            "why": list(change.why)}


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code, "severity": finding.severity, "message": finding.message,
        "remedy": finding.remedy, "piece": finding.piece or None,
        "vertices": finding.vertices.tolist(), "edges": finding.edges.tolist(),
        "faces": finding.faces.tolist(),
    }
