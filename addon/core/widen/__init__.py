"""A suit made wider or narrower along seams: the sculpt itself is moved, so that both sides of
every seam stay one line, and everything after it is of one shape.

Every section across such a seam grows by what is asked, half of it on each side, while the pieces
bend as little as they can (`field`). The other seams stay as they are drawn if at all possible,
but for those that meet the widened one: what is above such a seam grows, so it does too.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from .. import mesh
from ..errors import ERROR, NOTE, WARNING, Finding, FoamError
from ..fair import curve
from ..model import Cut, Mate, Sculpt, Seam, Settings, Widened
from ..units import format_length
from .field import displaced
from .sections import Amounts, Section, number, sections

FAR = 30.0  # mm from a place to the seam that is meant
SAME = 2.0  # mm within which a seam is the one that was found before
HALF = 0.5  # of a seam that must have sections to both sides
SEEN = 0.5  # mm by which a seam is moved that is told of
MOST = 2.0  # of what is asked: furthest that anything may be moved
REACH = 60.0  # mm from the sculpt within which what lies on it goes along


@dataclass(frozen=True, eq=False)
class Asked:
    """A seam that is to be widened: the mate as it was found before that, with low and high of
    Widening."""

    mate: Mate
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Done:
    """What came of one seam: its parts and others that were moved as well, of the cut, and what
    else Widened tells."""

    asked: Asked
    seams: tuple[int, ...]
    along: tuple[int, ...]
    pieces: tuple[str, str]
    grown: tuple[float, float]
    moved: float


@dataclass(frozen=True, eq=False)
class Wider:
    """What the look at the sculpt as it is drawn tells of it: the seams to be widened, and the
    letters of all seams, which they keep."""

    asked: tuple[Asked, ...]
    letters: tuple[str, ...]


def asked(sculpt: Sculpt, settings: Settings, mates: Sequence[Mate]
          ) -> tuple[Wider, list[Finding]]:
    """The seams to be widened, by the letters of the settings and the places of the sculpt, with
    what is to be told. sculpt: before it is scaled; mates: of it as it is drawn.

    A letter that several mates share stands for all of them, a code such as C.1 for one. Raises
    FoamError `no-such-seam`.
    """
    wanted: dict[str, Asked] = {}
    found = []
    for name, (low, high) in settings.widen:
        meant = [m for m in mates if name in (m.letter, m.code)]
        if not meant:
            known = ", ".join(dict.fromkeys(m.letter for m in mates)) or "none"
            raise FoamError(Finding(
                "no-such-seam", ERROR, f"There is no seam lettered “{name}” to be widened.",
                f"Choose of these letters: {known}."))
        wanted |= {m.code: Asked(m, low, high) for m in meant}
    for one in sculpt.widenings:
        place = one.place * settings.scale
        away = [cKDTree(_dense(m.curve)).query(place)[0] for m in mates]
        if one.optional and (not away or min(away) > FAR):
            continue
        if not away or min(away) > FAR:
            x, y, z = place
            found.append(Finding(
                "widening-lost", WARNING,
                f"No seam is near x {x:.0f}, y {y:.0f}, z {z:.0f} mm any more, where the suit was "
                f"to be {_wider(one.low, one.high)}.", "Widen at another seam, or take this off "
                "the list."))
            continue
        mate = mates[int(np.argmin(away))]
        if not one.optional or mate.code not in wanted:
            wanted[mate.code] = Asked(mate, one.low, one.high)
    return Wider(tuple(wanted.values()), tuple(m.letter for m in mates)), found


def widened(sculpt: Sculpt, cut: Cut, wider: Wider, codes: Sequence[str]
            ) -> tuple[np.ndarray, list[Done]]:
    """Displacement (n, 3) of the vertices of a cut sculpt under which the asked seams are as
    wide as they should be, and what came of each. codes: of the regions.

    Seams of one letter are widened at once, so that what is mirrored stays so, and then those of
    the next one. Raises FoamError `cannot-widen` where the pieces beside a seam cannot take it.
    """
    moved, done = np.zeros_like(sculpt.vertices), []
    groups: dict[str, list[tuple[Asked, list[int]]]] = {}
    # As mates tell them, which may be further than SAME from the vertices they were marked along.
    lines = {b.seam: curve(region, b) for region in cut.regions for b in region.borders
             if b.seam >= 0}
    for one in wider.asked:
        near = cKDTree(_dense(one.mate.curve))
        mine = sorted(k for k, line in lines.items() if near.query(line)[0].max() <= SAME)
        if mine:
            groups.setdefault(one.mate.letter, []).append((one, mine))
    for group in groups.values():
        by, told = _widened(sculpt, sculpt.vertices + moved, cut, group, codes)
        moved += by
        done += told
    return moved, done


def _widened(sculpt: Sculpt, vertices: np.ndarray, cut: Cut,
             group: Sequence[tuple[Asked, list[int]]], codes: Sequence[str]
             ) -> tuple[np.ndarray, list[Done]]:
    """What `widened` tells of seams that are widened at once; vertices: as they are before."""
    asked = {k: (one.low, one.high) for one, mine in group for k in mine}
    amounts = Amounts(vertices, cut, asked, sculpt.up, np.cross(sculpt.up, sculpt.front))
    across = sections(vertices, cut, amounts)
    most = max(max(abs(low), abs(high)) for low, high in asked.values())
    for one, mine in group:
        if any(len(_places(across, k)) < HALF * number(cut, k) for k in mine):
            raise _refused([one], cut, mine, "The pieces beside it are too narrow")
    for free, open_seams in _freed(cut, asked):
        across = sections(vertices, cut, amounts, open_seams)
        held = np.ones(len(vertices), dtype=bool)
        for region in free:
            held[cut.regions[region].source_vertex] = False
        for k, seam in enumerate(cut.seams):
            if k not in open_seams:
                held[seam.vertices] = True
        faces = np.concatenate([cut.regions[r].source_vertex[cut.regions[r].faces] for r in free])
        by = displaced(vertices, faces, held, across, 3 * MOST * most)
        if by is not None and np.linalg.norm(by, axis=1).max() <= MOST * most:
            return by, [_done(one, mine, cut, across, vertices, by, codes) for one, mine in group]
    raise _refused([one for one, _ in group], cut, list(asked),
                   "What is beside it would be moved by more than twice as much")


def moved_cut(cut: Cut, moved: np.ndarray) -> Cut:
    """The cut of a sculpt whose vertices were moved (n, 3), but for its surface `uncut`."""
    regions = []
    for region in cut.regions:
        by = moved[region.source_vertex]
        line = lambda one, by=by: replace(one, faired=(  # noqa: E731
            one.faired + by[one.vertices] if len(one.faired) else one.faired))
        regions.append(replace(
            region, vertices=region.vertices + by, borders=tuple(map(line, region.borders)),
            lines=tuple(map(line, region.lines))))
    return replace(cut, regions=tuple(regions))


def carried(vertices: np.ndarray, faces: np.ndarray, moved: np.ndarray, points: np.ndarray,
            nearest: Callable) -> np.ndarray:
    """Displacement (k, 3) of points (k, 3) on or near a surface: that of the nearest place on
    it, 0 for what is further than REACH from it. nearest: makes a surface that tells nearest
    points, see trace.Surface."""
    if not len(points) or not len(faces):
        return np.zeros((len(points), 3))
    foot = nearest(vertices, faces).nearest(points)
    by = np.einsum("kc,kcd->kd", foot.weights, moved[faces[foot.face]])
    return np.where((foot.distance <= REACH)[:, None], by, 0.0)


def told(done: Sequence[Done], cut: Cut, mates: Sequence[Mate]
         ) -> tuple[tuple[Widened, ...], list[Finding]]:
    """What came of it by the letters of the mates, one for each seam of the cut, and a note for
    each seam that was widened."""
    records, found = [], []
    asked = {k for one in done for k in one.seams}
    for one in done:
        if not one.seams:
            continue
        mate = mates[one.seams[0]]
        along = tuple(dict.fromkeys(mates[k].letter for k in one.along if k not in asked))
        record = Widened(mate.letter, mate.code, one.pieces, one.asked.low, one.asked.high,
                         one.grown, one.moved, along)
        records.append(record)
        grew = _told(*record.grown, "longer", "shorter")
        beside = (f" Seams that meet it or stand beside it were moved as well: "
                  f"{', '.join(along)}." if along else "")
        found.append(Finding(
            "seam-widened", NOTE,
            f"Seam {mate.letter}, {' to '.join(dict.fromkeys(one.pieces))}: the sections across it "
            f"are {grew} than sculpted. "
            f"Nothing was moved by more than {format_length(one.moved)}.{beside}",
            "Try a mock-up in card on before foam is cut.",
            edges=_edges([cut.seams[k] for k in one.seams])))
    return tuple(records), found


def _freed(cut: Cut, asked: Collection[int]) -> Iterator[tuple[list[int], list[int]]]:
    """What may move, from the least on: regions, and seams that need not stay: those that meet the
    widened ones; those of the pieces beside them as well; those of these pieces' neighbours."""
    ends = np.unique(np.concatenate([cut.seams[k].vertices for k in asked]))
    sides = {r for k in asked for r, _ in cut.seams[k].sides}
    touching = {k for k, seam in enumerate(cut.seams) if np.isin(seam.vertices, ends).any()}
    of = lambda regions: {b.seam for r in regions for b in cut.regions[r].borders  # noqa: E731
                          if b.seam >= 0}
    beside = lambda seams: sides | {r for k in seams for r, _ in cut.seams[k].sides}  # noqa: E731
    seams: set[int] = set()
    for more in (touching, touching | of(sides), of(beside(touching | of(sides)))):
        if more != seams:
            seams = more
            yield sorted(beside(seams)), sorted(seams)


def _done(one: Asked, mine: Sequence[int], cut: Cut, across: Sequence[Section],
          vertices: np.ndarray, moved: np.ndarray, codes: Sequence[str]) -> Done:
    """What came of one seam, both its sides together where sections go over two pieces."""
    now = vertices + moved
    # A section that ends at a widened seam as well grew on account of both places.
    both = [sum(s.half / s.growth * (s.length(now) - s.length(vertices)) if s.growth else 0.0
                for s in pair) for k in mine for pair in _places(across, k)]
    sizes = np.linalg.norm(moved, axis=1)
    along = tuple(k for k, seam in enumerate(cut.seams)
                  if k not in mine and sizes[seam.vertices].max() > SEEN)
    pieces = [codes[r] for k in mine[:1] for r, _ in cut.seams[k].sides]
    return Done(one, tuple(mine), along, tuple(pieces), (min(both), max(both)),
                float(sizes.max()))


def _places(across: Sequence[Section], seam: int) -> list[list[Section]]:
    """The sections of a seam by their places on it, where they go to both sides."""
    found: dict[float, list[Section]] = {}
    for s in across:
        if s.seam == seam:
            found.setdefault(round(s.place, 6), []).append(s)
    return [pair for pair in found.values() if len(pair) == 2]


def _refused(asked: Sequence[Asked], cut: Cut, seams: Sequence[int], why: str) -> FoamError:
    names = ", ".join(dict.fromkeys(one.mate.letter for one in asked))
    return FoamError(Finding(
        "cannot-widen", ERROR,
        f"At seam {names} the suit cannot be {_wider(asked[0].low, asked[0].high)}. {why}.",
        "Ask for less, spread it over several seams, or make the suit larger as a whole.",
        edges=_edges([cut.seams[k] for k in seams])))


def _wider(low: float, high: float) -> str:
    return f"made {_told(low, high, 'wider', 'narrower')}"


def _told(low: float, high: float, more: str, less: str) -> str:
    """By how much something grows from one end to the other, in words for more and less of it."""
    if low * high < 0:
        return " to ".join(f"{format_length(abs(mm))} {more if mm > 0 else less}"
                           for mm in (low, high))
    sizes = dict.fromkeys((format_length(abs(low)), format_length(abs(high))))
    return f"{' to '.join(sizes)} {more if low + high >= 0 else less}"


def _edges(seams: Sequence[Seam]) -> np.ndarray:
    return np.concatenate([np.stack([s.vertices[:-1], s.vertices[1:]], axis=1) for s in seams]
                          or [np.empty((0, 2), dtype=int)])


def _dense(curve: np.ndarray) -> np.ndarray:
    """Points (k, 3) along a curve, at most a millimetre apart."""
    along = mesh.arc_length(curve)
    at = np.linspace(0.0, along[-1], int(along[-1]) + 2)
    return np.stack([np.interp(at, along, p) for p in curve.T], axis=1)
