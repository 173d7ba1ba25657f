"""After a change of the design: what becomes of pieces that are cut or glued already.

What exists is laid on what is needed now, so that as much of the outlines as can be agrees, and
the rest is told edge by edge: foam that is too much is trimmed, foam that is missing all along an
edge is a strip to insert, missing at one place a patch; where that would be most of the piece, or
its trenches are elsewhere, it is made again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import CUT, GLUED, PLANNED, Drawn, Pattern, Piece, PieceEdge, Placement, Printed
from ..core.pairs import Outline, folds_agree, rigid
from ..core.units import format_length

FITS, TRIM, STRIP, PATCH, AGAIN, SPARE = "fits", "trim", "strip", "patch", "again", "spare"
KINDS = (AGAIN, STRIP, PATCH, TRIM, SPARE, FITS)
NEAR = 1.5  # mm a cut piece may be off: pattern-making is true to 1/16 in (common practice)
ALIKE = 0.5  # mm, of outlines that are laid on one another
MANY = 4  # places that differ, with foam missing: more than that is no repair
LOCAL = 0.5  # of a quarter of the outline: missing foam no longer than that is a patch, no strip
MOST = 0.5  # share of what a piece needs that must be there, or it is made again
ROUNDS = 12  # of settling one outline on another
MATED = 0.3  # by which mated edges count for more, so that seams stay where they are
TRIED = 6  # of the ways to lay one box on another, the best
STEP = 4.0  # mm between places of an edge that are looked at


@dataclass(frozen=True)
class Existing:
    """A piece that is cut or glued. state: CUT or GLUED; kind: one of KINDS; why: what to do."""

    code: str
    state: str
    kind: str
    why: tuple[str, ...] = ()


def state_of(code: str, pattern: Pattern) -> tuple[str, Drawn | None]:
    """PLANNED, CUT or GLUED, and the template the piece was cut from, None where that is the one
    of this pattern. A piece that is named now was made from the templates printed last."""
    earlier, given = pattern.settings.printed, dict(pattern.settings.made).get(code)
    old = next((p for p in earlier.pieces if p.code == code), None) if earlier else None
    state = given or (old.state if old else PLANNED)
    if state == PLANNED or old is None:
        return state, None
    return state, (None if given else old.made) or _printed(earlier, old.template)


def _printed(earlier: Printed, template: str) -> Drawn | None:
    return next((p.drawn for p in earlier.pieces if p.code == template), None)


def existing(pattern: Pattern) -> tuple[Existing, ...]:
    """What to do with every piece that is cut or glued, in the order of KINDS.

    Raises FoamError `no-such-piece` where a piece is said to be made that is not and never was.
    """
    earlier = pattern.settings.printed
    known = {*pattern.index, *(p.code for p in (earlier.pieces if earlier else ()))}
    for code, state in pattern.settings.made:
        if code not in known and pattern.settings.only is None:
            raise FoamError(Finding(
                "no-such-piece", ERROR, f"There is no piece called “{code}” that could be {state}.",
                f"Choose one of these: {', '.join(sorted(known))}."))
    if earlier is None or pattern.settings.mock_up or pattern.settings.only is not None:
        return ()
    found = []
    for old in earlier.pieces:
        state, made = state_of(old.code, pattern)
        if state == PLANNED or made is None:
            continue
        if old.code not in pattern.index:
            found.append(Existing(old.code, state, SPARE, (
                "The suit has no such piece any more: keep its foam for small parts.",)))
            continue
        piece = pattern.piece(pattern.piece(old.code).template)
        found.append(Existing(old.code, state, *_compared(
            made, piece, state, pattern.settings.unit)))
    return tuple(sorted(found, key=lambda e: KINDS.index(e.kind)))


def _compared(made: Drawn, piece: Piece, state: str, unit: str) -> tuple[str, tuple[str, ...]]:
    import shapely

    need = shapely.Polygon(piece.cut[0], piece.cut[1:])
    motion = _best(made, piece)
    have = shapely.Polygon(motion.apply(made.cut[0]), [motion.apply(r) for r in made.cut[1:]])
    if len(made.folds) != len(piece.folds) or not folds_agree(made, piece, motion, NEAR):
        return AGAIN, ("Make it again: its trenches or score lines are others.",)
    if have.intersection(need).area < MOST * need.area:
        return AGAIN, ("Make it again: too little of its foam can be used.",)
    told = [*_missing(piece, need, have, state, unit), *_more(piece, need, have, state, unit)]
    kinds = {kind for kind, _ in told}
    if {STRIP, PATCH} & kinds and len(told) > MANY:
        return AGAIN, ("Make it again: it differs in many places.",)
    kind = next((k for k in KINDS if k in kinds), FITS)
    return kind, tuple(text for _, text in told)


def _missing(piece: Piece, need, have, state: str, unit: str) -> Iterator[tuple[str, str]]:
    """What to add: for each part of the piece that has no foam, along its longest edge."""
    import shapely

    for part in _parts(need.difference(have)):
        edge, places, share = _beside(piece, part)
        deep = shapely.distance(have, places)
        inner = np.quantile(deep, (0.1, 0.9))
        most = float(deep.max())
        if most <= NEAR:
            continue
        name, opened = _name(edge, state)
        if share <= LOCAL:
            long = float(part.length) / 2 - most
            yield PATCH, (f"Glue a patch to {name}, {format_length(max(long, most), unit)} long "
                          f"and {format_length(most, unit)} deep.")
            continue
        wide = (f"of {format_length(float(np.median(deep)), unit)}"
                if inner[1] - inner[0] <= 2 * NEAR else
                f"{format_length(float(deep.min()), unit)} wide at one end and "
                f"{format_length(most, unit)} at the other")
        yield STRIP, f"{opened}nsert a strip {wide} along {name}."


def _more(piece: Piece, need, have, state: str, unit: str) -> Iterator[tuple[str, str]]:
    """What to trim: for each part of the foam that the piece does not need."""
    import shapely

    for part in _parts(have.difference(need)):
        edge, _, _ = _beside(piece, part)
        deep = float(shapely.distance(shapely.points(shapely.get_coordinates(part)), need).max())
        if deep > NEAR:
            name, opened = _name(edge, state)
            yield TRIM, (f"{opened[:-1]}trim {name}" if len(opened) > 1 else f"Trim {name}") + (
                f" by up to {format_length(deep, unit)}.")


def _parts(area) -> list:
    import shapely

    return [p for p in shapely.get_parts(area) if p.geom_type == "Polygon" and p.area > NEAR**2]


def _beside(piece: Piece, part) -> tuple[PieceEdge, np.ndarray, float]:
    """The edge along which most of a part lies, places (k,) on the edge there, and how long it
    is there as a share of a quarter of the outline."""
    import shapely

    best = None
    for edge in piece.edges:
        line = shapely.LineString(edge.cut)
        count = max(8, int(line.length // STEP))
        places = shapely.line_interpolate_point(line, (np.arange(count) + 0.5) / count,
                                                normalized=True)
        beside = shapely.distance(part, places) <= ALIKE
        long = line.length * float(beside.mean())
        if best is None or long > best[0]:
            best = long, edge, places[beside] if beside.any() else places
    long, edge, places = best
    return edge, places, long / (shapely.LinearRing(piece.cut[0]).length / 4)


def _name(edge: PieceEdge, state: str) -> tuple[str, str]:
    """What an edge is called, and how a sentence about it begins."""
    name = f"edge {edge.letter}" if edge.letter else "the rim"
    return name, f"Open {name} and i" if state == GLUED and edge.mate else "I"


def _best(made: Drawn, piece: Piece) -> Placement:
    """The motion that brings most of the new outline onto what exists."""
    import shapely

    ring = np.append(piece.cut[0], piece.cut[0][:1], axis=0)
    line = shapely.LineString(ring)
    count = int(np.clip(line.length // STEP, 40, 400))
    places = shapely.line_interpolate_point(line, np.arange(count) / count, normalized=True)

    mated = [shapely.LineString(e.cut) for e in piece.edges if e.mate]
    weight = np.where(shapely.distance(shapely.union_all(mated), places) <= ALIKE, 1 + MATED, 1.0
                      ) if mated else np.ones(count)

    def agrees(motion: Placement) -> tuple[float, float]:
        away = shapely.distance(shapely.LinearRing(motion.apply(made.cut[0])), places)
        return -round(float(weight @ (away <= ALIKE)), 2), float(weight @ away)

    target = shapely.get_coordinates(places)
    starts = [m for m, _ in Outline(made).laid_on(Outline(piece), _by_some_edges(made, piece))]
    boxes = _by_boxes(made, piece, {round(m.angle, 2): m.angle for m in starts}.values())
    starts += sorted(boxes, key=agrees)[:TRIED]
    starts += [_settled(made, motion, target) for motion in starts]
    return min(starts, key=agrees)


def _by_boxes(made: Drawn, piece: Piece, angles: Iterable[float]) -> Iterator[Placement]:
    """Motions that bring a side or the middle of the boxes round both together, each way, at the
    angles and at right angles to them."""
    need = piece.cut[0].min(0), piece.cut[0].max(0)
    for angle in (a + turn for a in angles for turn in np.arange(4) * np.pi / 2):
        ring = Placement("", angle, (0.0, 0.0)).apply(made.cut[0])
        have = ring.min(0), ring.max(0)
        for share in itertools.product((0.0, 0.5, 1.0), repeat=2):
            at = np.array(share)
            yield Placement("", angle, (need[0] - have[0]) * (1 - at) + (need[1] - have[1]) * at)


def _settled(made: Drawn, motion: Placement, target: np.ndarray) -> Placement:
    """A motion changed until most of the outline agrees and the rest is left apart: least sum of
    distances, by least squares weighted against the distance before."""
    import shapely

    ring = np.append(made.cut[0], made.cut[0][:1], axis=0)
    for turn in range(ROUNDS):
        line = shapely.LineString(motion.apply(ring))
        places = shapely.points(target)
        along = shapely.line_locate_point(line, places)
        foot = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
        away = np.linalg.norm(target - foot, axis=1)
        weight = 1 / (away**2 + max(2.0 * 0.6**turn, 0.05) ** 2)
        weight /= weight.sum()
        middle, to = weight @ foot, weight @ target
        p, q = foot - middle, target - to
        angle = np.arctan2(weight @ (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]),
                           weight @ (p * q).sum(1))
        step = Placement("", float(angle), (0.0, 0.0))
        offset = step.apply(motion.offset[None])[0] + to - step.apply(middle[None])[0]
        motion = Placement("", motion.angle + float(angle), offset)
    return motion


def _by_some_edges(made: Drawn, piece: Piece) -> Iterator[Placement]:
    """Motions that bring the notches of every one, and every two, mates together."""
    then, now = ({(n.letter, n.index): n.point for n in notches}
                 for notches in (made.notches, piece.notches))
    letters = sorted({letter for letter, _ in set(then) & set(now)})
    for chosen in (*itertools.combinations(letters, 1), *itertools.combinations(letters, 2)):
        common = sorted(k for k in set(then) & set(now) if k[0] in chosen)
        if len(common) > 1:
            yield rigid("", np.array([then[k] for k in common]),
                        np.array([now[k] for k in common]), False)


HEADING = "What to do with what is cut or glued already"
TITLES = {AGAIN: "Make again", STRIP: "Insert a strip", PATCH: "Patch", TRIM: "Trim",
          SPARE: "No longer needed", FITS: "Use as it is"}


def in_words(found: tuple[Existing, ...]) -> list[tuple[str, list[str]]]:
    """A title for each kind and a sentence for each piece."""
    return [(TITLES[kind], [f"{e.code} ({e.state}): {' '.join(e.why)}" if e.why else
                            f"{e.code} ({e.state})" for e in found if e.kind == kind])
            for kind in KINDS if any(e.kind == kind for e in found)]


__all__ = ["AGAIN", "CUT", "Existing", "FITS", "GLUED", "HEADING", "KINDS", "PATCH", "PLANNED",
           "SPARE", "STRIP", "TRIM", "existing", "in_words", "state_of"]
