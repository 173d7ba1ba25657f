"""Placement outlines on the flats of what is under a laid-on piece, and notches against them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from itertools import count

import numpy as np
import shapely

from .. import mesh
from ..codes import letter
from ..locate import locate
from ..model import Laid, Mate, Notch, Piece, Place, Tick
from .under import Under

STEP = 4.0  # mm between points of a placement outline
SPACING = 120.0  # mm between notches, about
FEWEST, MOST = 3, 9  # notches of one piece
GROWS = 0.35  # by which the widest gap between notches is larger than the narrowest
TURNS = 24  # starts that are tried for the row of notches
CORNER = np.radians(30.0)
ALIKE = 0.5  # mm by which outlines of pieces that share a template may differ and be one
FITS = 0.5  # mm by which a piece may miss its place and still be laid on while flat


def placed(pieces: Sequence[Piece], mates: Sequence[Mate], unders: Sequence[Under | None],
           used: Collection[str], nearest: Callable
           ) -> tuple[tuple[Piece, ...], tuple[Laid, ...]]:
    """The pieces with placement outlines and notches, and how each is laid on.

    pieces: with their templates, in the order of the regions that `unders` is about. used: letters
    that are taken. Repeats of a template share letter and notches; a template shows the outlines
    of all pieces it serves. What is under another comes first.
    """
    if not any(unders):
        return tuple(pieces), ()
    at = {p.code: k for k, p in enumerate(pieces)}
    taken = {*used, *(mate.letter for mate in mates)}
    fresh = (name for name in map(letter, count()) if name not in taken)
    made = list(pieces)
    letters: dict[str, str] = {}
    rows: dict[str, list[Notch]] = {}
    for piece, lies in zip(pieces, unders, strict=True):
        code = piece.template or piece.code
        if lies is not None and code not in letters:
            letters[code] = next(fresh)
            rows[code] = _notches(pieces[at[code]], letters[code])
    for k, piece in enumerate(pieces):
        code = piece.template or piece.code
        if code in rows:  # a piece by itself that shares the template has the notches too
            made[k] = replace(piece, notches=(
                *piece.notches, *_carried(rows[code], pieces[at[code]], piece)))
        if unders[k] is not None:  # bent with its base, it is formed by no gauge
            gauges = () if piece.verdict.kind == "bend" else piece.gauges
            made[k] = replace(made[k], base=pieces[unders[k].on[0]].code, gauges=gauges)
    surfaces = {r: nearest(pieces[r].vertices, pieces[r].faces)
                for lies in unders if lies for r in lies.on}
    joined = _seams(mates)
    laid = []
    for k in _bottom_up(unders):
        lies, piece = unders[k], made[k]
        own = letters[piece.template or piece.code]
        ticks = [n for n in piece.notches if n.letter == own]
        drawn, meets = _outlines(piece, ticks, lies.on, made, surfaces)
        for r, place in drawn.items():
            made[r] = replace(made[r], places=(*made[r].places, replace(place, letter=own)))
        bases = tuple(pieces[r].code for r in lies.on)
        laid.append(Laid(piece.code, bases, own, lies.area,
                         len(bases) == 1 and _flat(piece, made[lies.on[0]], meets),
                         tuple(m for pair, found in joined.items() if pair <= set(bases)
                               for m in found)))
    return tuple(_gathered(made)), tuple(laid)


def _bottom_up(unders: Sequence[Under | None]) -> list[int]:
    done: list[int] = []

    def add(k: int) -> None:
        for r in unders[k].on:
            if unders[r] is not None and r not in done:
                add(r)
        if k not in done:
            done.append(k)

    for k, lies in enumerate(unders):
        if lies is not None:
            add(k)
    return done


def _seams(mates: Sequence[Mate]) -> dict[frozenset, list[str]]:
    found: dict[frozenset, list[str]] = {}
    for mate in mates:
        pair = frozenset(code for code, _ in mate.edges)
        if len(pair) == 2:
            found.setdefault(pair, []).append(mate.code)
    return found


# --- notches -----------------------------------------------------------------


def _notches(piece: Piece, name: str) -> list[Notch]:
    """Notches round the outside of a piece, on free edges alone.

    The gaps between them grow from one to the next, so that the piece fits its place neither
    shifted, nor turned, nor turned over; the row starts where it keeps furthest from corners.
    """
    ring = np.append(piece.cut[0], piece.cut[0][:1], axis=0)
    arc = mesh.arc_length(ring)
    number = int(np.clip(round(arc[-1] / SPACING), FEWEST, MOST))
    gaps = 1 + GROWS * np.arange(number) / (number - 1)
    row = np.cumsum(gaps / gaps.sum()) * arc[-1]
    steps = np.diff(ring, axis=0)
    turn = np.abs(np.angle(np.exp(1j * np.diff(np.arctan2(*steps[:, ::-1].T),
                                               append=np.arctan2(*steps[0, ::-1])))))
    sharp = arc[1:][turn > CORNER]
    starts = np.arange(TURNS) / TURNS * arc[-1]
    away = [(np.abs((row + s)[:, None] - sharp + arc[-1] / 2) % arc[-1] - arc[-1] / 2)
            for s in starts]
    best = starts[int(np.argmax([np.abs(a).min(initial=np.inf) if len(sharp) else 0.0
                                 for a in away]))]
    places = np.sort((row + best) % arc[-1])
    glued = [shapely.LineString(e.cut) for e in piece.edges if e.mate]
    found = []
    for place in places:
        k = min(int(np.searchsorted(arc, place, side="right")) - 1, len(steps) - 1)
        along = steps[k] / max(np.linalg.norm(steps[k]), 1e-12)
        point = ring[k] + along * (place - arc[k])
        if any(line.distance(shapely.Point(point)) < 1.0 for line in glued):
            continue
        found.append(Notch(point, np.array([-along[1], along[0]]), name, len(found) + 1))
    return found


def _motion(template: Piece, piece: Piece) -> Callable[[np.ndarray], np.ndarray]:
    """What carries points (k, 2) of a template onto a piece that has its lines."""
    source = template.cut[0] @ np.diag([-1.0 if piece.flipped else 1.0, 1.0])
    target = piece.cut[0][::-1] if piece.flipped else piece.cut[0]
    flip = np.array([-1.0 if piece.flipped else 1.0, 1.0])
    a, b = source.mean(axis=0), target.mean(axis=0)
    p, q = (source - a) @ [1, 1j], (target - b) @ [1, 1j]
    turn = np.vdot(p, q)
    turn /= max(abs(turn), 1e-300)
    spin = np.array([[turn.real, turn.imag], [-turn.imag, turn.real]])
    return lambda points: (np.asarray(points) * flip - a) @ spin + b


def _back(template: Piece, piece: Piece) -> Callable[[np.ndarray], np.ndarray]:
    """The other way: from a piece's flat onto its template."""
    move = _motion(template, piece)
    origin = move(np.zeros((1, 2)))[0]
    axes = move(np.eye(2)) - origin
    return lambda points: (np.asarray(points) - origin) @ axes.T


def _carried(row: Sequence[Notch], template: Piece, piece: Piece) -> list[Notch]:
    if template.code == piece.code:
        return list(row)
    move = _motion(template, piece)
    return [replace(n, point=move(n.point[None])[0],
                    inward=move((n.point + n.inward)[None])[0] - move(n.point[None])[0])
            for n in row]


# --- outlines ----------------------------------------------------------------


def _outlines(piece: Piece, notches: Sequence[Notch], on: Sequence[int], pieces: Sequence[Piece],
              surfaces: dict) -> tuple[dict[int, Place], list[tuple[np.ndarray, np.ndarray]]]:
    """Per base the place of a piece on its flat; and the points of its outlines as flat, with
    those on the base with most of it."""
    lines: dict[int, list[np.ndarray]] = {r: [] for r in on}
    meets = []
    for ring in piece.back:
        flat = _dense(np.append(ring, ring[:1], axis=0))
        home, where = _onto(piece, flat, on, pieces, surfaces)
        for r in on:
            lines[r] += [where[r][run] for run in _runs(home == r)]
        meets.append((flat, where[on[0]]))
    ticks: dict[int, list[Tick]] = {r: [] for r in on}
    for notch in notches:
        ends = np.array([notch.point, notch.point + notch.inward])
        home, where = _onto(piece, ends, on, pieces, surfaces)
        root, tip = where[int(home[0])]
        inward = (tip - root) / max(np.linalg.norm(tip - root), 1e-9)
        ticks[int(home[0])].append(Tick(root, inward, notch.index))
    return {r: Place(tuple(lines[r]), tuple(ticks[r]), "", (piece.code,), (pieces[r].code,))
            for r in on if lines[r]}, meets


def _onto(piece: Piece, flat: np.ndarray, on: Sequence[int], pieces: Sequence[Piece],
          surfaces: dict) -> tuple[np.ndarray, dict[int, np.ndarray]]:
    """Places (k, 2) of a flat, on the flats of the pieces under it; and the nearest of those."""
    face, weight = locate(piece.flat, piece.faces, flat)
    space = np.einsum("ki,kij->kj", weight, piece.vertices[piece.faces[face]])
    away, where = [], {}
    for r in on:
        foot = surfaces[r].nearest(space)
        corner = pieces[r].flat[pieces[r].faces[foot.face]]
        where[r] = np.einsum("ki,kij->kj", foot.weights, corner)
        away.append(foot.distance)
    return np.array(on)[np.argmin(np.array(away), axis=0)], where


def _dense(ring: np.ndarray) -> np.ndarray:
    """The line with points no further apart than STEP, its own kept."""
    arc = mesh.arc_length(ring)
    inner = [np.linspace(a, b, max(1, int(np.ceil((b - a) / STEP))), endpoint=False)
             for a, b in zip(arc[:-1], arc[1:], strict=True)]
    at = np.append(np.concatenate(inner), arc[-1])
    return np.stack([np.interp(at, arc, x) for x in ring.T], axis=1)


def _runs(on: np.ndarray) -> Iterator[np.ndarray]:
    """Indices of each run of a closed line that is on one base."""
    if on.all():
        yield np.arange(len(on))
        return
    n = len(on) - 1  # the last point is the first again
    start = int(np.flatnonzero(~on[:n])[0]) if not on[:n].all() else 0
    order = (start + np.arange(n)) % n
    inside = np.concatenate([[False], on[order], [False]])
    begins = np.flatnonzero(~inside[:-1] & inside[1:])
    ends = np.flatnonzero(inside[:-1] & ~inside[1:])
    for a, b in zip(begins, ends, strict=True):
        if b - a > 1:
            yield order[a:b]


def _flat(piece: Piece, base: Piece, meets: Sequence[tuple[np.ndarray, np.ndarray]]) -> bool:
    """Whether a piece may be glued on while both are flat: it then lies where it would lie in the
    end, within FITS, its base needs no heat, and no trench or score line is under it."""
    if {base.verdict.kind, piece.verdict.kind} - {"flat", "bend"} or piece.folds:
        return False
    for flat, there in meets:
        a, b = flat - flat.mean(axis=0), there - there.mean(axis=0)
        turn = np.vdot(a @ [1, 1j], b @ [1, 1j])
        moved = (a @ [1, 1j]) * turn / max(abs(turn), 1e-300)
        if np.abs(moved - b @ [1, 1j]).max() > FITS:
            return False
    inside = shapely.Polygon(meets[0][1]).buffer(0)
    return not any(inside.intersects(shapely.LineString(f.points)) for f in base.folds)


def _gathered(pieces: Sequence[Piece]) -> Iterator[Piece]:
    """The pieces, each with the places of all that share its template, alike ones as one."""
    at = {p.code: p for p in pieces}
    groups: dict[str, list[Place]] = {}
    for piece in pieces:
        home = at.get(piece.template, piece)
        move = _back(home, piece)
        for place in piece.places:
            _merge(groups.setdefault(home.code, []), _moved(place, move))
    for piece in pieces:
        found = groups.get(piece.template or piece.code, ())
        if not found:
            yield piece
            continue
        move = _motion(at.get(piece.template, piece), piece)
        yield replace(piece, places=tuple(_moved(place, move) for place in found))


def _moved(place: Place, move: Callable) -> Place:
    return replace(place, lines=tuple(move(line) for line in place.lines), ticks=tuple(
        Tick(move(t.point[None])[0],
             move((t.point + t.inward)[None])[0] - move(t.point[None])[0], t.index)
        for t in place.ticks))


def _merge(places: list[Place], new: Place) -> None:
    for k, old in enumerate(places):
        if (old.letter == new.letter and not set(old.on) & set(new.on)
                and len(old.lines) == len(new.lines)
                and shapely.hausdorff_distance(shapely.MultiLineString(list(old.lines)),
                                               shapely.MultiLineString(list(new.lines))) < ALIKE
                and [t.index for t in old.ticks] == [t.index for t in new.ticks]
                and all(np.linalg.norm(a.point - b.point) < 2 * ALIKE
                        for a, b in zip(old.ticks, new.ticks, strict=True))):
            places[k] = replace(old, of=(*old.of, *new.of), on=(*old.on, *new.on))
            return
    places.append(new)
