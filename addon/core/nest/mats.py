"""Every piece of foam on a mat of its stock."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import ERROR, Finding
from ..model import Offcut, Piece, Placement, Settings, Sheet
from ..stock import Stock, shipped
from ..units import format_length
from .raster import pack, pack_one
from .shapes import fitting_angle, footprint, good_angles, narrow_angle

GRAIN_ANGLES = (0.0, np.pi)

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Progress = Callable[[float, str], None]


def nest_mats(pieces: Iterable[Piece], settings: Settings,
              progress: Progress | None = None) -> tuple[tuple[Sheet, ...], tuple[Finding, ...]]:
    """Lay every piece of every stock on mats of that stock, on as few as can be found.

    A template with copies 2 and mirrored 1 is laid down three times, once turned
    over, under the codes of the pieces that use it. Cuts keep
    `stock.gap` between each other (and a kerf's width more) and half of that to
    the mat's rim. `stock.sheet` is the part of a mat that can be used: for mats
    with interlocking teeth the size inside the teeth. Where the stock has a grain,
    pieces are turned by 0 or 180 degrees only. `settings.offcuts` of the stock are filled
    first, in their order; a sheet with an outline is one of those.

    The layout follows from the pieces and `settings.seed` alone;
    `settings.nest_seconds` stands for an amount of work (see raster.best).
    A piece that no mat can take becomes the finding `larger-than-mat`; the others
    are nested all the same.
    """
    groups: dict[Stock, list[Piece]] = {}
    users: dict[tuple[str, bool], list[str]] = {}
    for piece in pieces:
        users.setdefault((piece.template or piece.code, piece.flipped), []).append(piece.code)
        if piece.copies + piece.mirrored:
            groups.setdefault(piece.stock, []).append(piece)
    sheets, findings = [], []
    for n, (stock, group) in enumerate(groups.items()):
        def tick(share: float, n=n, stock=stock) -> None:
            if progress:
                progress((n + share) / len(groups), f"Nesting {stock.name} on mats")

        tick(0.0)
        mats, missing = _nest(stock, group, users, settings, tick)
        sheets += mats
        findings += missing
    return tuple(sheets), tuple(findings)


@dataclass(frozen=True, eq=False)
class _Job:
    """One piece of foam to be laid down: as whose template, under which code, and how turned."""

    piece: Piece
    code: str
    mirrored: bool
    shape: BaseGeometry
    turns: list[float]


def _nest(stock: Stock, group: list[Piece], users: dict[tuple[str, bool], list[str]],
          settings: Settings, tick: Callable[[float], None]) -> tuple[list[Sheet], list[Finding]]:
    gap = stock.gap + stock.kerf
    room = np.array(stock.sheet) - gap
    allowed = GRAIN_ANGLES if stock.grain else None
    jobs = []
    for piece in group:
        for mirrored, count in ((False, piece.copies), (True, piece.mirrored)):
            shape = footprint(piece, mirrored)
            turns = list(allowed or good_angles(shape))
            codes = users.get((piece.code, mirrored), [])[:count]
            codes += [piece.code] * (count - len(codes))
            jobs += [_Job(piece, code, mirrored, shape, turns) for code in codes]
    sheets = []
    for offcut in settings.offcuts:
        if _stock_name(offcut, stock, settings) == stock.name:
            sheet, jobs = _on_offcut(offcut, stock, jobs, settings, tick)
            sheets += [sheet] * bool(sheet.placements)

    fits = {id(job.shape): fitting_angle(job.shape, room, allowed) for job in jobs}
    large = {job.piece.code: job.piece for job in jobs if fits[id(job.shape)] is None}
    jobs = [job for job in jobs if fits[id(job.shape)] is not None]
    spots = pack(stock.sheet, gap, [job.shape for job in jobs],
                 [[*job.turns, fits[id(job.shape)]] for job in jobs],
                 settings.nest_seconds, settings.seed, tick)
    mats: list[list[Placement]] = [[] for _ in range(1 + max((s.bin for s in spots), default=-1))]
    for job, spot in zip(jobs, spots, strict=True):
        mats[spot.bin].append(Placement(job.code, spot.angle, spot.offset, job.mirrored))
    sheets += [Sheet("mat", f"{stock.name}, mat {k}", stock.sheet, tuple(mat), stock)
               for k, mat in enumerate(mats, 1)]
    return sheets, [_too_large(piece, gap, settings.unit) for piece in large.values()]


def _stock_name(offcut: Offcut, stock: Stock, settings: Settings) -> str:
    known = {stock.name, *(each.name for each in shipped().values())}
    return offcut.stock if offcut.stock in known else settings.stock.name


def _on_offcut(offcut: Offcut, stock: Stock, jobs: list[_Job], settings: Settings,
               tick: Callable[[float], None]) -> tuple[Sheet, list[_Job]]:
    """An offcut with what lies on it, and the jobs that are left."""
    from shapely import Polygon

    corner = np.min(offcut.rings[0], axis=0)
    rings = tuple(np.asarray(ring) - corner for ring in offcut.rings)
    outline = Polygon(rings[0], rings[1:])
    # Its own sides may lie askew as drawn.
    askew = 0.0 if stock.grain else narrow_angle(outline)
    turns = [[*job.turns, *(turn - askew for turn in job.turns)] if askew else job.turns
             for job in jobs]
    spots = pack_one(outline, stock.gap + stock.kerf, [job.shape for job in jobs], turns,
                     settings.nest_seconds, settings.seed, tick)
    laid = tuple(Placement(job.code, spot.angle, spot.offset, job.mirrored)
                 for job, spot in zip(jobs, spots, strict=True) if spot)
    sheet = Sheet("mat", f"{stock.name}, {offcut.name}", tuple(outline.bounds[2:]), laid, stock,
                  outline=rings)
    return sheet, [job for job, spot in zip(jobs, spots, strict=True) if not spot]


def _too_large(piece: Piece, gap: float, unit: str) -> Finding:
    size = " × ".join(format_length(side, unit) for side in np.ptp(piece.cut[0], axis=0))
    mat = " × ".join(format_length(side, unit) for side in piece.stock.sheet)
    turned = "along the grain" if piece.stock.grain else "however it is turned"
    return Finding(
        "larger-than-mat", ERROR,
        f"Piece {piece.code} measures {size} and does not fit a mat of {piece.stock.name} ({mat}, "
        f"{format_length(gap / 2, unit)} kept free at the rim) {turned}. It is left out of the "
        "mats.",
        "Mark a seam across the piece, choose a larger mat, or have large pieces parted by a butt "
        "line in the settings.",
        faces=np.unique(piece.source_face), piece=piece.code)
