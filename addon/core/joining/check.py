"""What is wrong with removable joins, and with what stands off: ends that glue holds, gaps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from ..errors import NOTE, WARNING, Finding
from ..model import Cut, Mate, Piece
from ..units import format_length
from .blocks import STEEPEST
from .rings import ring_findings


def join_findings(cut: Cut, mates: Sequence[Mate], pieces: Sequence[Piece],
                  worn: Sequence[str] = (), wearer: Mapping[str, float] | None = None,
                  rings: bool = True) -> list[Finding]:
    """All findings about the joins of a cut; mates: of its seams, in their order. worn, wearer: as
    `ring_findings` takes them; rings: whether it is to be put on at all."""
    removable = [m.join.removable for m in mates]
    return [*_glued_across(cut, mates), *_gaps(cut, mates), *_too_steep(cut, mates),
            *(ring_findings(cut, pieces, removable, worn, wearer) if rings else ())]


def _edges(cut: Cut, seam: int) -> np.ndarray:
    line = cut.seams[seam].vertices
    return np.stack([line[:-1], line[1:]], axis=1)


def _pair(mate: Mate) -> str:
    return " and ".join(dict.fromkeys(code for code, _ in mate.edges))


def _glued_across(cut: Cut, mates: Sequence[Mate]) -> list[Finding]:
    """Removable joins that end where glue holds on: at neither a rim nor another removable one."""
    free = _rim(cut)
    ends: dict[int, int] = {}
    for seam, mate in zip(cut.seams, mates, strict=True):
        if mate.join.removable:
            for vertex in seam.vertices[[0, -1]].tolist():
                ends[vertex] = ends.get(vertex, 0) + 1
    found = []
    for k, (seam, mate) in enumerate(zip(cut.seams, mates, strict=True)):
        if not mate.join.removable or seam.vertices[0] == seam.vertices[-1]:
            continue
        held = [v for v in seam.vertices[[0, -1]].tolist() if v not in free and ends[v] < 2]
        if held:
            found.append(Finding(
                "glued-across", WARNING,
                f"The removable join {mate.letter} of {_pair(mate)} ends where the foam is glued "
                "on, so it cannot be opened.",
                "Lead it on to a rim or to another removable seam: make the seams that go on from "
                "its end removable too.", vertices=held, edges=_edges(cut, k)))
    return found


def _rim(cut: Cut) -> set[int]:
    """Vertices of the sculpt on an edge that only one region has."""
    found: set[int] = set()
    for region in cut.regions:
        for border in region.borders:
            if border.seam < 0:
                found.update(region.source_vertex[border.vertices].tolist())
    return found


def _gaps(cut: Cut, mates: Sequence[Mate]) -> list[Finding]:
    """Spacers whose gap is seen: looking up to 45° off the surface one sees as far in as the gap
    is high, so a lap that is shorter hides nothing."""
    return [Finding(
        "gap-shows", NOTE,
        f"Between {_pair(mate)} the spacer at {mate.letter} leaves {format_length(mate.join.gap)} "
        f"open, and the piece above reaches only {format_length(mate.join.lap)} over it, so the "
        "gap shows.", "Let it reach further over, or take a lower spacer.", edges=_edges(cut, k))
        for k, mate in enumerate(mates) if mate.join.gap > 0 and mate.join.lap < mate.join.gap]


def _too_steep(cut: Cut, mates: Sequence[Mate]) -> list[Finding]:
    """Removable joins whose faces turn too far for a block, which would leave a gap that shows."""
    return [Finding(
        "block-impossible", WARNING,
        f"The faces of the removable join {mate.letter} of {_pair(mate)} turn by "
        f"{math.degrees(abs(float(np.mean(mate.fold)))):.0f}°, too far for a mounting block.",
        "Move the join to where the surface turns less, or use straps outside.",
        edges=_edges(cut, k))
        for k, mate in enumerate(mates)
        if mate.join.removable and abs(float(np.mean(mate.fold))) > STEEPEST]
