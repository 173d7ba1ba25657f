"""How seams look from outside: edges that are chamfered or set back before they are glued.

An exaggerated seam loses `width` on the outer face and as much on the edge itself, so that it is
cut alike whatever its bevel b is: it reaches w cos b below the face. A recessed one loses a step
`width` wide and a third of the thinner foam deep (common practice, no source). Neither touches
the inner part of the edge, where mates meet, so their lengths stay as they are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import (
    EXAGGERATED,
    FLUSH,
    OVERLAP,
    SPACER,
    Cut,
    EdgeFinish,
    Finish,
    Mate,
    Piece,
)
from ..units import format_length
from .laps import alone, outward

STEP = 1 / 3  # of the thinner foam: how deep edges are set back
_MIDDLE = np.linspace(0.25, 0.75, 11)  # of an edge: where it must leave some of the face


def finished(pieces: Sequence[Piece], mates: Sequence[Mate], cut: Cut,
             chosen: Sequence[tuple[str, Finish]] = ()
             ) -> tuple[tuple[Piece, ...], list[Mate], list[Finding]]:
    """Pieces and mates with the finishes that are marked, or chosen by letters instead; seams
    that cannot have theirs stay flush and are found fault with. mates: of the cut's seams, in
    their order. Raises FoamError `no-such-seam` for a letter that no mate has."""
    wanted = _by_letter(mates, chosen)
    if all(m.finish.kind == FLUSH for m in wanted):
        return tuple(pieces), wanted, []
    known = {p.code: p for p in pieces}
    found = []
    while True:  # what is refused gives others room, and its lines go
        lines = _lines(known, wanted)
        refused = [(k, why) for k, m in enumerate(wanted) if (why := _refusal(m, known, lines))]
        if not refused:
            break
        for k, (message, remedy) in refused:
            found.append(Finding("finish-impossible", ERROR, message, remedy,
                                 edges=_edges(cut, k), piece=wanted[k].edges[0][0]))
            wanted[k] = replace(wanted[k], finish=Finish())
    for code in _unlike(wanted, known):
        known[code] = alone(known[code])
    for code, own in lines.items():
        known[code] = replace(known[code], finishes=tuple(own[k] for k in sorted(own)))
    return tuple(known[p.code] for p in pieces), wanted, found


def _by_letter(mates: Sequence[Mate], chosen: Sequence[tuple[str, Finish]]) -> list[Mate]:
    by, letters = dict(chosen), dict.fromkeys(m.letter for m in mates)
    unknown = [letter for letter in by if letter not in letters]
    if unknown:
        raise FoamError(Finding("no-such-seam", ERROR, f"There is no seam lettered “{unknown[0]}”.",
                                f"Choose of these letters: {', '.join(letters) or 'none'}."))
    return [replace(m, finish=by.get(m.letter, m.finish)) for m in mates]


def _edges(cut: Cut, seam: int) -> np.ndarray:
    line = cut.seams[seam].vertices
    return np.stack([line[:-1], line[1:]], axis=1)


def _unlike(mates: Sequence[Mate], known: dict[str, Piece]) -> list[str]:
    """Pieces that share a template with others whose seams of the same letters look otherwise."""
    looks = defaultdict(set)
    for mate in mates:
        looks[mate.letter].add(mate.finish)
    mixed = {code for m in mates if len(looks[m.letter]) > 1 for code, _ in m.edges}
    shared = {known[code].template for code in mixed}
    return [p.code for p in known.values() if p.template in shared]


# --- what is taken off --------------------------------------------------------


def _lines(known: dict[str, Piece], mates: Sequence[Mate]) -> dict[str, dict[int, EdgeFinish]]:
    """Per piece and edge what is taken off, its lines cut off where they meet."""
    asked: dict[str, dict[int, tuple[Mate, float]]] = defaultdict(dict)
    for mate in mates:
        if mate.finish.kind != FLUSH:
            thin = min(known[code].stock.thickness for code, _ in mate.edges)
            for code, index in mate.edges:
                asked[code][index] = mate, thin
    found: dict[str, dict[int, EdgeFinish]] = {}
    for code, own in asked.items():
        piece = known[code]
        face = _face(piece)
        kept = face.difference(shapely.union_all([
            _band(piece, index, mate.finish.width) for index, (mate, _) in own.items()]))
        rim = face.boundary.buffer(1e-3)
        found[code] = {}
        for index, (mate, thin) in own.items():
            edge, width = piece.edges[index], mate.finish.width
            line = shapely.LineString(_moved(piece, index, width)[1])
            points = _longest(kept.boundary.intersection(line.buffer(2e-3)).difference(rim))
            if len(points) and (points[-1] - points[0]) @ (edge.points[-1] - edge.points[0]) < 0:
                points = points[::-1]
            deep = (width * float(np.cos(edge.bevel).max()) if mate.finish.kind == EXAGGERATED
                    else STEP * thin)
            found[code][index] = EdgeFinish(points, index, mate.letter, mate.finish.kind, width,
                                            deep)
    return found


def _longest(lines: shapely.Geometry) -> np.ndarray:
    """The longest (k, 2) of the lines in a geometry, put together where they meet."""
    parts = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(
        [p for p in shapely.get_parts(lines) if p.geom_type == "LineString" and not p.is_empty])))
    return (shapely.get_coordinates(max(parts, key=shapely.length)) if len(parts)
            else np.empty((0, 2)))


def _face(piece: Piece) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon(piece.front[0], piece.front[1:]))


def _outer(piece: Piece, index: int) -> tuple[np.ndarray, np.ndarray]:
    """An edge (k, 2) of a piece's front face, and unit vectors away from the foam there."""
    edge = piece.edges[index]
    out = outward(edge.points, piece)
    reach = piece.stock.depths(piece.side)[0] * np.tan(edge.bevel)
    return edge.points + out * reach[:, None], out


def _moved(piece: Piece, index: int, width: float) -> tuple[np.ndarray, np.ndarray]:
    """The outer edge, a little outside, and the line `width` inside of it, both led on beyond
    their ends where the foam there leaves room for that."""
    line, out = _outer(piece, index)
    outside, inside = line + out, line - out * width
    if np.allclose(line[0], line[-1]):
        return outside, inside
    body = _face(piece)
    for end, step in ((0, line[0] - line[1]), (-1, line[-1] - line[-2])):
        way = step / max(float(np.hypot(*step)), 1e-12)
        # At a corner that juts into the piece the next edge goes on: there it ends.
        if body.contains(shapely.Point(line[end] + 0.2 * way - 0.02 * out[end])):
            continue
        far = 4 * width * way
        outside, inside = (np.insert(x, 0 if end == 0 else len(x), x[end] + far, axis=0)
                           for x in (outside, inside))
    return outside, inside


def _band(piece: Piece, index: int, width: float) -> shapely.Geometry:
    outside, inside = _moved(piece, index, width)
    return shapely.make_valid(shapely.Polygon(np.concatenate([outside, inside[::-1]])))


# --- what foam does not take ---------------------------------------------------


def _refusal(mate: Mate, known: dict[str, Piece], lines: dict[str, dict[int, EdgeFinish]]
             ) -> tuple[str, str] | None:
    """Why a seam cannot have its finish, and what to do; None where it can."""
    if mate.finish.kind == FLUSH:
        return None
    pair = " and ".join(dict.fromkeys(code for code, _ in mate.edges))
    word = "chamfered" if mate.finish.kind == EXAGGERATED else "set back"
    size = format_length(mate.finish.width)
    if mate.join.kind in (OVERLAP, SPACER):
        return (f"The seam {mate.letter} of {pair} cannot be {mate.finish.kind}: one piece lies "
                "over the other there, so that no two edges meet.",
                "Make the seam flush, or hold it otherwise than by an overlap or a spacer.")
    for code, index in mate.edges:
        piece, own = known[code], lines[code][index]
        thick = piece.stock.thickness
        if own.depth >= thick - 1e-9:
            return (f"At {mate.letter}, {code} cannot be {word} by {size}: its foam is only "
                    f"{format_length(thick)} thick.",
                    f"Choose a finish narrower than {format_length(thick)}, or thicker foam.")
        if _too_narrow(piece, index, mate.finish.width, lines[code]):
            return (f"At {mate.letter}, {code} is too narrow to be {word} by {size}: nothing of "
                    "its outer face would be left there.",
                    "Choose a narrower finish, or make the seam flush.")
    return None


def _too_narrow(piece: Piece, index: int, width: float, lines: dict[int, EdgeFinish]) -> bool:
    """Does a finish leave nothing of the face beside the middle half of its edge?"""
    if not len(lines[index].points):
        return True
    own = piece.edges[index].points
    far = [_band(piece, k, other.width) for k, other in lines.items()
           if k != index and _apart(own, piece.edges[k].points)]
    room = _face(piece).difference(shapely.union_all(far)) if far else _face(piece)
    line, out = _outer(piece, index)
    along = mesh.arc_length(line) / max(mesh.polyline_length(line), 1e-12)
    at = np.stack([np.interp(_MIDDLE, along, x) for x in (line - out * width).T], axis=1)
    return not shapely.contains_xy(room, at).all()


def _apart(one: np.ndarray, other: np.ndarray) -> bool:
    """Have two edges no end in common?"""
    ends = np.linalg.norm(one[[0, 0, -1, -1]] - other[[0, -1, 0, -1]], axis=1)
    return bool(ends.min() > 1e-6)
