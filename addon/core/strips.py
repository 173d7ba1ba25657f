"""Strips along edges and lines -> straight lengths of foam, cut to fit at their corners.

A strip of thickness t is bent in its thickness: its layer that keeps its length lies
h = g + t n off the line, with n the layer's place from the hollow side of the bend and g how far
its inner face stands off the line. A length s of the line with curvature k towards that side takes
s (1 + k h): round a circle of radius R that is 2 pi (R + h). At a corner of the edge that turns
by f a mitre is f / 2 from square on both strips (half the exterior angle), and the outer face
reaches t tan(f / 2) farther; where strips are butted round an outer corner the first runs on by
t / sin f and the second is cut at 90° - f. A corner within the face is mitred across the width.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import count

import numpy as np

from . import mesh
from .errors import NOTE, WARNING, Finding
from .model import (
    BACK,
    BUTTED,
    FACE,
    FRONT,
    OUTER,
    Piece,
    PieceEdge,
    Sculpt,
    Settings,
    Strip,
    StripEnd,
    StripWay,
    Verdict,
)
from .stock import Stock
from .units import format_length

SHARP = math.radians(25.0)  # a line that turns by more within a short way has a corner there
STEEPEST = math.radians(75.0)
ALIKE = 0.5  # mm, and 0.5 degrees, by which strips that are cut alike may differ


def strips(ways: Sequence[StripWay], sculpt: Sculpt, settings: Settings, room: dict[str, float],
           used: Sequence[str] = ()) -> tuple[tuple[Strip, ...], list[Finding]]:
    """The strips of all ways, those alike as one, and what is wrong with them.

    room: of each stock's name the longest piece that a mat takes, see `make`; used: codes that
    are taken.
    """
    found: list[Finding] = []
    alike: dict[tuple, list[tuple]] = {}
    for way in ways:
        plate = sculpt.objects[way.object].stock or settings.stock
        stock = way.line.stock or plate
        side = sculpt.objects[way.object].side or settings.side
        gap = plate.depths(side)[0] if way.line.lies == FACE else 0.0
        height = gap + stock.thickness * stock.neutral
        for number, (edge, length, ends, radius) in enumerate(_runs(way, stock, height), 1):
            found += _bends(way, stock, radius, gap)
            most = room.get(stock.name, max(stock.sheet))
            cut = length + sum(_longer(end, stock.thickness, way.line.width) for end in ends)
            parts = max(1, math.ceil(cut / most - 1e-9))
            name = f"{way.line.name} {number}"
            if parts > 1:
                found.append(Finding(
                    "strip-in-parts", NOTE,
                    f"The strip along “{name}” is {format_length(cut)} long, more than a mat of "
                    f"{stock.name} takes, so it is cut in {parts} parts.",
                    "Glue them end to end; the joints are square."))
            for k in range(parts):
                own = (ends[0] if k == 0 else StripEnd(),
                       ends[1] if k == parts - 1 else StripEnd())
                cuts = [(round(math.degrees(e.bevel) / ALIKE), round(math.degrees(e.skew) / ALIKE))
                        for e in own]
                if not any(skew for _, skew in cuts):  # it may be turned end for end
                    cuts.sort()
                key = (stock, round(way.line.width / ALIKE), round(length / parts / ALIKE), *cuts)
                alike.setdefault(key, []).append(
                    (name if parts == 1 else f"{name}, part {k + 1}", stock, edge / parts,
                     length / parts, way.line.width, own, sculpt.objects[way.object].name))
    names = (name for n in count(1) if (name := f"ST{n}") not in used)
    return tuple(_strip(next(names), rows) for rows in alike.values()), found


def _runs(way: StripWay, stock: Stock, height: float
          ) -> Iterator[tuple[float, float, tuple[StripEnd, StripEnd], float]]:
    """Of each run between corners its length on the line and on the layer that keeps its length,
    its ends, and the radius of its tightest bend."""
    points, out = way.points, way.out
    closed = way.line.closed and bool(np.allclose(points[0], points[-1]))
    window = max(2 * stock.thickness, 1e-3 * mesh.polyline_length(points))
    if closed:
        ring, vectors = points[:-1], out[:-1]
        n = len(ring)
        twice = mesh.corners(np.concatenate([ring, ring, ring[:1]]), window, SHARP)
        cuts = sorted({int(k) % n for k in twice if n // 2 <= k < n // 2 + n})
        if cuts:
            order = np.append(np.arange(cuts[0], cuts[0] + n), cuts[0]) % n
            points, out = ring[order], vectors[order]
            cuts = [k - cuts[0] for k in cuts[1:]]
        corners = [0, *cuts, n] if cuts or len(twice) else [0, n]
        turned = bool(len(twice))
    else:
        corners = [0, *mesh.corners(points, window, SHARP).tolist(), len(points) - 1]
        turned = False
    steps = np.diff(points, axis=0)
    last = len(corners) - 1
    turns = [_corner(steps, out, k, closed) if (0 < i < last or turned) else None
             for i, k in enumerate(corners)]
    for i in range(last):
        a, b = corners[i], corners[i + 1]
        # At a corner a vector stands between two runs: each takes that of its own side.
        mine = out[a:b + 1].copy()
        if turns[i] is not None:
            mine[0] = mine[1] if b - a > 1 else _square(out, steps, a)
        if turns[i + 1] is not None:
            mine[-1] = mine[-2] if b - a > 1 else mine[0]
        run = points[a:b + 1]
        length = mesh.polyline_length(run + height * mine)
        first, extra = _end(turns[i], way, False, stock.thickness)
        second, more = _end(turns[i + 1], way, True, stock.thickness)
        yield (mesh.polyline_length(run), length + extra + more, (first, second),
               _tightest(run, mine))


def _square(out: np.ndarray, steps: np.ndarray, k: int) -> np.ndarray:
    """The vector at a corner square to the step after it."""
    way = steps[k % len(steps)] / np.linalg.norm(steps[k % len(steps)])
    found = out[k] - (out[k] @ way) * way
    return found / max(np.linalg.norm(found), 1e-12)


def _corner(steps: np.ndarray, out: np.ndarray, k: int, closed: bool) -> tuple[float, float]:
    """How a line turns at a corner: away from what the strip stands off to (convex positive), and
    sideways to the right, seen from outside; radians."""
    before, after = steps[k - 1], steps[k % len(steps)]
    before, after = before / np.linalg.norm(before), after / np.linalg.norm(after)
    up = out[k % len(out)]
    turn = math.atan2(float(np.linalg.norm(np.cross(before, after))), float(before @ after))
    right = np.cross(before, up)
    away, aside = -float(after @ up) + float(before @ up), float(after @ right)
    size = math.hypot(away, aside) or 1.0
    return turn * away / size, turn * aside / size


def _end(turn: tuple[float, float] | None, way: StripWay, last: bool, thickness: float
         ) -> tuple[StripEnd, float]:
    """The cut at a corner, and how much longer the strip is for it."""
    if turn is None:
        return StripEnd(), 0.0
    away, aside = turn
    if way.line.corners == BUTTED and away > SHARP and abs(aside) < SHARP / 2:
        if last:  # the one that comes first runs on
            return StripEnd(), thickness / max(math.sin(away), 0.25)
        return StripEnd(float(np.clip(away - math.pi / 2, -STEEPEST, STEEPEST))), 0.0
    # Turning right, the left side is the longer one, at both ends.
    return StripEnd(float(np.clip(away / 2, -STEEPEST, STEEPEST)),
                    float(np.clip(aside / 2, -STEEPEST, STEEPEST))), 0.0


def _longer(end: StripEnd, thickness: float, width: float) -> float:
    """How far the longest corner of a slanting end reaches beyond the inner face's middle."""
    return (max(0.0, thickness * math.tan(end.bevel))
            + abs(width / 2 * math.tan(end.skew)))


def _tightest(points: np.ndarray, out: np.ndarray) -> float:
    """Smallest radius of a run towards or away from the strip, mm: that of a circle through
    points about a tenth of it apart."""
    along = mesh.arc_length(points)
    even = np.linspace(0.0, along[-1], 21)
    p = np.stack([np.interp(even, along, x) for x in points.T], axis=1)
    a, b = p[1:-1] - p[:-2], p[2:] - p[1:-1]
    turn = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), (a * b).sum(axis=1))
    return float((along[-1] / 20) / max(float(turn.max(initial=0.0)), 1e-9))


def _bends(way: StripWay, stock: Stock, radius: float, gap: float) -> list[Finding]:
    least = stock.heated.radius * stock.thickness
    if radius + gap >= least:
        return []
    return [Finding(
        "strip-bends-too-tightly", WARNING,
        f"The strip along “{way.line.name}” is bent to {format_length(radius)}; heated foam of "
        f"{format_length(stock.thickness)} takes {format_length(least)}.",
        "Take a thinner foam for it, or widen the bend of its line.")]


def _strip(code: str, rows: Sequence[tuple]) -> Strip:
    _, stock, edge, length, width, ends, thing = rows[0]
    t = stock.thickness
    reach = [[t * math.tan(e.bevel) for e in ends], [width / 2 * math.tan(e.skew) for e in ends]]

    def ring(faces: Sequence[float]) -> np.ndarray:
        """The rectangle, with its ends moved out by (start, end), and aslant."""
        (a, b), (p, q) = faces, reach[1]
        return np.array([(-a + p, 0.0), (length + b - q, 0.0), (length + b + q, width),
                         (-a - p, width)])

    outer, inner = ring(reach[0]), ring((0.0, 0.0))
    cut = ring([max(r, 0.0) for r in reach[0]])
    low = cut.min(axis=0)
    outer, inner, cut = outer - low, inner - low, cut - low
    bevels = (0.0, ends[1].bevel, 0.0, ends[0].bevel)
    edges = []
    for k, bevel in enumerate(bevels):
        line = cut[[k, (k + 1) % 4]]
        edges.append(PieceEdge(
            points=line, cut=line, fraction=(0.0, 1.0), bevel=(bevel, bevel),
            length=float(np.hypot(*(line[1] - line[0]))),
            larger="" if abs(bevel) < math.radians(1.0) else FRONT if bevel > 0 else BACK))
    none = np.empty(0)
    x, y = cut.T
    piece = Piece(
        code=code, name=rows[0][0] if len(rows) == 1 else "Strip", object=thing, stock=stock,
        side=OUTER, verdict=Verdict("bend", 0.0, 0.0, (1.0, 1.0), np.inf, -1,
                                    "It is bent along its line."),
        vertices=none.reshape(0, 3), faces=none.reshape(0, 3), source_vertex=none,
        source_face=none, flat=none.reshape(0, 2), stretch=none.reshape(0, 2), front=(outer,),
        back=(inner,), cut=(cut,), edges=tuple(edges), up=(0.0, 0.0),
        area=float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2, template=code, copies=len(rows))
    return Strip(piece, tuple(row[0] for row in rows), edge, length, width, ends)
