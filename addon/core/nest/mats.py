"""Every piece of foam on a mat of its stock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import ERROR, Finding
from ..inset import inset
from ..model import GRAIN, Mate, Offcut, Piece, Placement, Settings, Sheet
from ..stock import Stock, shipped
from ..units import format_length
from .pack import pack, pack_one
from .proof import proved
from .rules import Rules
from .shapes import fitting_angle, footprint, good_angles, narrow_angle
from .together import groups, parted_pairs

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Progress = Callable[[float, str], bool | None]
NESTING = "Nesting"  # first word of what is said meanwhile


def nest_mats(pieces: Iterable[Piece], settings: Settings, progress: Progress | None = None,
              mates: Sequence[Mate] = ()) -> tuple[tuple[Sheet, ...], tuple[Finding, ...]]:
    """Lay every piece of every stock on mats of that stock, on as few as can be found.

    A template with copies 2 and mirrored 1 is laid down three times, once turned
    over, under the codes of the pieces that use it. `stock.sheet` is the part of a mat that can
    be used: for mats with interlocking teeth the size inside the teeth. Gap, margin, turns and
    the use of holes: see Rules; `settings.together` with the mates says what goes on one mat.
    `settings.offcuts` of the stock are filled first, in their order; a sheet with an outline is
    one of those.

    The layout follows from the pieces and `settings.seed` alone; `settings.nest_seconds` stands
    for an amount of work (see raster.best). progress is told the share done; it may raise
    Cancelled, or return True to say that the best layout so far will do.
    A piece that no mat can take becomes the finding `larger-than-mat`; the others
    are nested all the same. Every layout is looked at again without the packer (`proved`).
    """
    pieces = list(pieces)
    stocks: dict[Stock, list[Piece]] = {}
    users: dict[tuple[str, bool], list[str]] = {}
    for piece in pieces:
        users.setdefault((piece.template or piece.code, piece.flipped), []).append(piece.code)
        if piece.copies + piece.mirrored:
            stocks.setdefault(piece.stock, []).append(piece)
    sheets, findings = [], []
    for n, (stock, group) in enumerate(stocks.items()):
        def tick(share: float, n=n, stock=stock) -> bool:
            return progress is not None and progress(
                (n + share) / len(stocks), f"{NESTING} {stock.name} on mats") is True

        tick(0.0)
        rules = Rules.of(stock, settings)
        jobs = [job for piece in group for job in _jobs(piece, users, rules)]
        mats, left = _nest(stock, rules, jobs, mates, settings, tick)
        sheets += mats
        large = {job.piece.code: job.piece for job in left}
        findings += [_too_large(piece, rules, settings) for piece in large.values()]
        wanted = Counter(job.code for job in jobs) - Counter(job.code for job in left)
        findings += proved(mats, pieces, rules.gap, rules.rim, wanted)
        pairs = [[jobs[i] for i in group] for group in _groups(jobs, mates, settings)]
        findings += parted_pairs([tuple((job.code, job.mirrored) for job in pair) for pair in pairs
                                  if len(pair) == 2 and not set(pair) & set(left)], mats)
    return tuple(sheets), tuple(findings)


@dataclass(frozen=True, eq=False)
class _Job:
    """One piece of foam to be laid down: as whose template, under which code, and how turned."""

    piece: Piece
    code: str
    mirrored: bool
    shape: BaseGeometry
    turns: list[float]


def _jobs(piece: Piece, users: dict[tuple[str, bool], list[str]], rules: Rules) -> list[_Job]:
    jobs = []
    for mirrored, count in ((False, piece.copies), (True, piece.mirrored)):
        shape = footprint(piece, mirrored, rules.holes)
        turns = list(rules.turns or good_angles(shape))
        codes = users.get((piece.code, mirrored), [])[:count]
        codes += [piece.code] * (count - len(codes))
        jobs += [_Job(piece, code, mirrored, shape, turns) for code in codes]
    return jobs


def _groups(jobs: Sequence[_Job], mates: Iterable[Mate],
            settings: Settings) -> list[tuple[int, ...]]:
    return groups(settings.together, [job.piece.code for job in jobs],
                  [job.mirrored for job in jobs], [job.code for job in jobs], mates)


def _nest(stock: Stock, rules: Rules, jobs: Sequence[_Job], mates: Sequence[Mate],
          settings: Settings, tick: Callable[[float], bool]) -> tuple[list[Sheet], list[_Job]]:
    """The sheets of one stock, and the jobs that fit none."""
    sheets = []
    for offcut in settings.offcuts:
        if _stock_name(offcut, stock, settings) == stock.name:
            sheet, jobs = _on_offcut(offcut, stock, rules, jobs, mates, settings, tick)
            sheets += [sheet] * bool(sheet.placements)

    room = rules.room(stock)
    fits = {id(job.shape): fitting_angle(job.shape, room, rules.turns) for job in jobs}
    large = [job for job in jobs if fits[id(job.shape)] is None]
    jobs = [job for job in jobs if fits[id(job.shape)] is not None]
    # The packer keeps half the gap to the rim of what it fills.
    inset = rules.rim - rules.gap / 2
    spots = pack(tuple(np.array(stock.sheet) - 2 * inset), rules.gap, [job.shape for job in jobs],
                 [[*job.turns, fits[id(job.shape)]] for job in jobs], settings.nest_seconds,
                 settings.seed, tick, _groups(jobs, mates, settings)) if jobs else []
    mats: list[list[Placement]] = [[] for _ in range(1 + max((s.bin for s in spots), default=-1))]
    for job, spot in zip(jobs, spots, strict=True):
        mats[spot.bin].append(
            Placement(job.code, spot.angle, np.array(spot.offset) + inset, job.mirrored))
    sheets += [Sheet("mat", f"{stock.name}, mat {k}", stock.sheet, tuple(mat), stock)
               for k, mat in enumerate(mats, 1)]
    return sheets, large


def _stock_name(offcut: Offcut, stock: Stock, settings: Settings) -> str:
    known = {stock.name, *(each.name for each in shipped().values())}
    return offcut.stock if offcut.stock in known else settings.stock.name


def _on_offcut(offcut: Offcut, stock: Stock, rules: Rules, jobs: Sequence[_Job],
               mates: Sequence[Mate], settings: Settings,
               tick: Callable[[float], bool]) -> tuple[Sheet, list[_Job]]:
    """An offcut with what lies on it, and the jobs that are left."""
    from shapely import Polygon, affinity

    corner = np.min(offcut.rings[0], axis=0)
    rings = tuple(np.asarray(ring) - corner for ring in offcut.rings)
    outline = Polygon(rings[0], rings[1:])
    # The packer keeps half the gap to the rim. Less is not asked for: an outline that is grown
    # may close over a slot.
    usable = inset(outline, max(0.0, rules.rim - rules.gap / 2))
    spots, low = [None] * len(jobs), np.zeros(2)
    if not usable.is_empty and jobs:
        low = np.array(usable.bounds[:2])
        # Its own sides may lie askew as drawn.
        askew = 0.0 if rules.turns else narrow_angle(outline)
        turns = [[*job.turns, *(turn - askew for turn in job.turns)] if askew else job.turns
                 for job in jobs]
        spots = pack_one(affinity.translate(usable, *-low), rules.gap,
                         [job.shape for job in jobs], turns, settings.nest_seconds, settings.seed,
                         tick, _groups(jobs, mates, settings))
    laid = tuple(Placement(job.code, spot.angle, np.array(spot.offset) + low, job.mirrored)
                 for job, spot in zip(jobs, spots, strict=True) if spot)
    sheet = Sheet("mat", f"{stock.name}, {offcut.name}", tuple(outline.bounds[2:]), laid, stock,
                  outline=rings)
    return sheet, [job for job, spot in zip(jobs, spots, strict=True) if not spot]


def _too_large(piece: Piece, rules: Rules, settings: Settings) -> Finding:
    unit = settings.unit
    size = " × ".join(format_length(side, unit) for side in np.ptp(piece.cut[0], axis=0))
    mat = " × ".join(format_length(side, unit) for side in piece.stock.sheet)
    along = piece.stock.grain or settings.turns == GRAIN
    turned = ("along the grain" if along else
              "in quarter turns" if rules.turns else "however it is turned")
    return Finding(
        "larger-than-mat", ERROR,
        f"Piece {piece.code} measures {size} and does not fit a mat of {piece.stock.name} ({mat}, "
        f"{format_length(rules.rim, unit)} kept free at the rim) {turned}. It is left out of the "
        "mats.",
        "Mark a seam across the piece, choose a larger mat, or have large pieces parted by a butt "
        "line in the settings.",
        faces=np.unique(piece.source_face), piece=piece.code)
