"""Which pieces are under each laid-on one, and what of that the maker should know."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import NOTE, WARNING, Finding
from ..model import Cut
from ..stock import Stock
from .ground import Ground, samples
from .rest import Rested

LEAST = 0.03  # of a piece that lies on another, else it only reaches a little over a seam
HANGS = 0.02  # of a piece that may lie on nothing
BITE = 1.0  # mm to which a set-down piece touches what is under it


@dataclass(frozen=True, eq=False)
class Under:
    """What is under a region of the cut: regions, the one with most of it first; area that is
    glued, mm²; level: height of the sculpt's face over them, mm."""

    on: tuple[int, ...]
    area: float
    level: float


def under(cut: Cut, rested: Rested, stocks: Sequence[Stock], sides: Sequence[str],
          names: Sequence[str], nearest: Callable) -> tuple[list[Under | None], list[Finding]]:
    """Per region of the cut what it lies on, None for what lies on nothing, and findings."""
    lies = [_detail(region, rested) for region in cut.regions]
    result: list[Under | None] = [None] * len(lies)
    found: list[Finding] = []
    grounds: dict[int, Ground] = {}

    def ground(r: int) -> Ground:
        if r not in grounds:
            region = cut.regions[r]
            grounds[r] = Ground(region.vertices, region.faces, stocks[r].depths(sides[r])[0],
                                nearest)
        return grounds[r]

    for r, detail in enumerate(lies):
        if detail < 0:
            continue
        region = cut.regions[r]
        level = stocks[r].depths(sides[r])[1]
        points, normals, area = samples(region.vertices, region.faces)
        top = np.full(len(points), np.inf)
        home = np.full(len(points), -1)
        for other, body in enumerate(cut.regions):
            if (body.object not in rested.on[detail] or other == r
                    or not ground(other).near(points, level + ground(other).front + BITE)):
                continue
            height = ground(other).heights(points, normals).height
            better = (height < top) & (height >= level - 2 * BITE)
            top[better], home[better] = height[better], other
        held = np.abs(top - level) <= 2 * BITE
        share = np.bincount(home[held], area[held], len(lies)) / area.sum()
        most = np.argsort(-np.round(share, 2), kind="stable").tolist()
        on = [k for k in most if share[k] >= LEAST]
        if not on:
            continue
        # What is glued is the back of the foam, smaller where the face sculpted is further out.
        result[r] = Under(tuple(on), float(area[held].sum()), level)
        bases = " and ".join(names[k] for k in on)
        loose = float(area[~held].sum() / area.sum())
        if loose > HANGS:
            found.append(Finding(
                "detail-overhangs", WARNING,
                f"{names[r]} lies on {bases}, but {loose:.0%} of it reaches over the edge or "
                "stands off.",
                "Move or shape the detail so that it ends on its base, or support what hangs over.",
                faces=region.source_face, piece=names[r]))
        if len(on) > 1:
            found.append(Finding(
                "detail-spans-seam", NOTE,
                f"{names[r]} lies on {bases}, across what is between them.",
                "It is glued on after these are together. Move it to one side, or mark a seam in "
                "it there, if they are to come apart.",
                faces=region.source_face, piece=names[r]))
    return result, found


def _detail(region, rested: Rested) -> int:
    return int(rested.number[region.source_face[0]])
