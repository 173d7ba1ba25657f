"""Every piece of foam on a mat of its stock."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from ..errors import ERROR, Finding
from ..model import Piece, Placement, Settings, Sheet
from ..stock import Stock
from ..units import format_length
from .raster import pack
from .shapes import fitting_angle, footprint, good_angles

GRAIN_ANGLES = (0.0, np.pi)

Progress = Callable[[float, str], None]


def nest_mats(pieces: Iterable[Piece], settings: Settings,
              progress: Progress | None = None) -> tuple[tuple[Sheet, ...], tuple[Finding, ...]]:
    """Lay every piece of every stock on mats of that stock, on as few as can be found.

    A template with copies 2 and mirrored 1 is laid down three times, once turned
    over, under the codes of the pieces that use it. Cuts keep
    `stock.gap` between each other (and a kerf's width more) and half of that to
    the mat's rim. `stock.sheet` is the part of a mat that can be used: for mats
    with interlocking teeth the size inside the teeth. Where the stock has a grain,
    pieces are turned by 0 or 180 degrees only.

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


def _nest(stock: Stock, group: list[Piece], users: dict[tuple[str, bool], list[str]],
          settings: Settings, tick: Callable[[float], None]) -> tuple[list[Sheet], list[Finding]]:
    gap = stock.gap + stock.kerf
    room = np.array(stock.sheet) - gap
    allowed = GRAIN_ANGLES if stock.grain else None
    jobs, findings = [], []
    for piece in group:
        if fitting_angle(footprint(piece), room, allowed) is None:
            findings.append(_too_large(piece, gap, settings.unit))
            continue
        for mirrored, count in ((False, piece.copies), (True, piece.mirrored)):
            shape = footprint(piece, mirrored)
            turns = [*(allowed or good_angles(shape)), fitting_angle(shape, room, allowed)]
            codes = users.get((piece.code, mirrored), [])[:count]
            codes += [piece.code] * (count - len(codes))
            jobs += [(code, mirrored, shape, turns) for code in codes]
    spots = pack(stock.sheet, gap, [job[2] for job in jobs], [job[3] for job in jobs],
                 settings.nest_seconds, settings.seed, tick)
    mats: list[list[Placement]] = [[] for _ in range(1 + max((s.bin for s in spots), default=-1))]
    for (code, mirrored, _, _), spot in zip(jobs, spots, strict=True):
        mats[spot.bin].append(Placement(code, spot.angle, spot.offset, mirrored))
    return [Sheet("mat", f"{stock.name}, mat {k}", stock.sheet, tuple(mat), stock)
            for k, mat in enumerate(mats, 1)], findings


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
