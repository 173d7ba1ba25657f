"""Parts pieces larger than a mat along butt lines: straight cuts across the flat.

A butt line is proposed on the flat piece and handed back as a guide on the sculpt. Cut in there
as a seam, its parts are pieces like any other, with mates, notches and places on the mats.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from string import ascii_lowercase
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..errors import NOTE, Finding
from ..model import SEAM, Guide, Piece, Placement, Sculpt, Settings
from .rules import Rules
from .shapes import fitting_angle, footprint, narrow_angle, turned_extents

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

DEPTH = 30.0  # mm: least mean depth of a part behind the cut; common practice, no source
NEAR, COSTS = 15.0, 3.0  # mm, and how much a cut this near to a line, notch or corner counts more
TURNS = np.radians(np.arange(0.0, 180.0, 15.0))
STEPS = 24  # places tried at each turn
ALIKE = 10.0  # mm: of cuts that differ by less, the one that parts more evenly is taken
LEVEL = 1e-6  # mm: a vertex this near to the line counts as on its left

Line = tuple[np.ndarray, np.ndarray]  # a point (2,) and a unit vector (2,)


def butt_lines(pieces: Iterable[Piece], sculpt: Sculpt, settings: Settings) -> tuple[Guide, ...]:
    """Seams to lay on the sculpt that part every piece which fits no mat of its stock.

    One line for each such piece, so that a piece of three mats asks for two rounds. It is the
    shortest of those tried that leave the fewest mats' worth of parts, counted longer where it
    runs near trenches, score lines, notches and corners; no part is shallower behind it than
    `DEPTH`. Pieces that share a template are parted alike. A piece that cannot be parted so
    gets none. Lengths as in the sculpt the pieces come from. settings: for gap, margin and turns.
    """
    pieces = list(pieces)
    known = {piece.code: piece for piece in pieces}
    lines: dict[str, Line | None] = {}
    guides = []
    for piece in pieces:
        template = known.get(piece.template, piece)
        if template.code not in lines:
            lines[template.code] = _line(template, Rules.of(template.stock, settings))
        line = lines[template.code]
        if line is None:
            continue
        thing = int(sculpt.face_object[piece.source_face[0]])
        guides += [Guide(points, SEAM, object=thing, name=f"butt line of {piece.code}")
                   for points in _on_surface(piece, _carried(line, template, piece))]
    return tuple(guides)


def parted(whole: Iterable[Piece], pieces: Iterable[Piece]) -> list[Finding]:
    """What to tell the maker of pieces that became several: their parts' codes start alike."""
    pieces = {piece.code: piece for piece in pieces}
    findings = []
    for piece in whole:
        parts = [p for code, p in pieces.items() if code.rstrip(ascii_lowercase) == piece.code]
        if piece.code in pieces or not parts:
            continue
        size = " × ".join(f"{side:.0f} mm" for side in np.ptp(piece.cut[0], axis=0))
        codes = ", ".join(p.code for p in parts)
        findings.append(Finding(
            "parted-for-mat", NOTE,
            f"Piece {piece.code} measures {size} and does not fit a mat of {piece.stock.name}, so "
            f"it is parted into {codes} by butt lines.",
            "Glue the parts edge to edge while they lie flat, then form them as one. To part it "
            "elsewhere, mark a seam of your own.",
            faces=np.unique(piece.source_face), piece=parts[0].code))
    return findings


def _line(piece: Piece, rules: Rules) -> Line | None:
    """The line that parts a piece best; None where it fits a mat or none parts it."""
    from shapely.geometry import LineString, Point
    from shapely.ops import split, unary_union

    room, allowed = rules.room(piece.stock), rules.turns
    shape = footprint(piece)
    if fitting_angle(shape, room, allowed) is not None:
        return None
    near = unary_union([
        *(LineString(fold.points) for fold in piece.folds),
        *(Point(notch.point) for notch in piece.notches),
        *(Point(end) for edge in piece.edges for end in edge.cut[[0, -1]])]).buffer(NEAR)
    whole, best = _mats(shape, room, allowed), None
    for point, along in _tried(shape):
        cut = LineString([point - 1e5 * along, point + 1e5 * along])
        chord = cut.intersection(shape)
        cost = chord.length + COSTS * chord.intersection(near).length
        if not chord.length:
            continue
        parts = list(split(shape, cut).geoms)
        needs = [_mats(part, room, allowed) for part in parts]
        key = (max(sum(needs), whole), round(cost / ALIKE), -min(part.area for part in parts))
        if len(parts) < 2 or max(needs) >= whole or (best is not None and key >= best[0]):
            continue
        if min(_depth(part, cut) for part in parts) >= DEPTH:
            best = key, (point, along)
    return best[1] if best else None


def _tried(shape: BaseGeometry) -> Iterator[Line]:
    """Lines across a shape, square to its least rectangle first."""
    points = np.asarray(shape.convex_hull.exterior.coords)
    for turn in -narrow_angle(shape) + TURNS:
        along = np.array([math.cos(turn), math.sin(turn)])
        across = np.array([-along[1], along[0]])
        low, high = (points @ across).min(), (points @ across).max()
        for step in (np.arange(STEPS - 1) + 1) / STEPS:
            yield (low + step * (high - low)) * across, along


def _mats(shape: BaseGeometry, room: np.ndarray, allowed: tuple[float, ...] | None) -> int:
    """How many mats the shape's bounding box needs side by side, at the best turn; 1: it fits."""
    if fitting_angle(shape, room, allowed) is not None:
        return 1
    turns = np.asarray(allowed) if allowed else narrow_angle(shape) + np.array([0.0, np.pi / 2])
    return max(2, int(np.ceil(turned_extents(shape, turns) / room).prod(axis=1).min()))


def _depth(part: BaseGeometry, cut: BaseGeometry) -> float:
    """Mean depth of a part behind the cut, mm."""
    side = part.boundary.intersection(cut.buffer(LEVEL)).length
    return part.area / side if side else math.inf


def _carried(line: Line, template: Piece, piece: Piece) -> Line:
    """The line on another piece that is cut from the same template."""
    if piece is template:
        return line
    motion = Placement("", piece.turn, np.zeros(2), piece.flipped)
    centre = np.array([footprint(p).centroid.coords[0] for p in (template, piece)])
    point, along = (motion.apply(v[None])[0] for v in (line[0] - centre[0], line[1]))
    return point + centre[1], along


def _on_surface(piece: Piece, line: Line) -> list[np.ndarray]:
    """Where the line runs on the formed piece: points (k, 3) on the sides of its triangles, in
    order, for each stretch of it."""
    point, along = line
    off = (piece.flat - point) @ np.array([-along[1], along[0]])
    left = off > -LEVEL
    off = np.where(np.abs(off) < LEVEL, LEVEL, off)  # no line through a vertex: all cross sides
    _, _, key = mesh.half_edges(piece.faces)
    start, end = piece.faces.ravel(), np.roll(piece.faces, -1, axis=1).ravel()
    crossed = left[start] != left[end]
    at: dict[int, np.ndarray] = {}
    faces: dict[int, list[int]] = {}
    for half in np.flatnonzero(crossed):
        a, b = start[half], end[half]
        t = off[a] / (off[a] - off[b])
        at[int(key[half])] = (1 - t) * piece.vertices[a] + t * piece.vertices[b]
        faces.setdefault(int(half // 3), []).append(int(key[half]))
    beyond: dict[int, list[int]] = {}
    for one, other in faces.values():
        beyond.setdefault(one, []).append(other)
        beyond.setdefault(other, []).append(one)
    runs, done = [], set()
    for side in beyond:
        if side in done or len(beyond[side]) != 1:
            continue
        run, here = [side], beyond[side][0]
        while here is not None:
            run.append(here)
            here = next((n for n in beyond[here] if n != run[-2]), None)
        done.update(run)
        runs.append(np.array([at[side] for side in run]))
    return runs
