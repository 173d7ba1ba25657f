"""The engine's word on a parting: cut, laid out on the neutral layer, mates brought together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import flatten, formability, layer, mesh, seams
from ..edges import outline, overlaps
from ..errors import FoamError
from ..model import Cut, Layer, Sculpt, Settings, Verdict
from ..stock import Stock

OVERLAPS = "Its flat lies over itself."


@dataclass(frozen=True, eq=False)
class Judged:
    """One piece as the engine sees it.

    verdict: None where it could not be laid flat. why: in words why that is no piece to cut,
    or "": it could not be laid flat, or its flat lies over itself. area mm2, width mm: mean, as
    of a strip. faces (k,): of the sculpt as it was read.
    """

    verdict: Verdict | None
    why: str
    area: float
    width: float
    faces: np.ndarray

    @property
    def u(self) -> float:
        """Utilisation heated; infinite where there is no flat."""
        return self.verdict.heated if self.verdict else np.inf

    @property
    def formable(self) -> bool:
        return self.verdict is not None and not self.why and self.verdict.kind != "relief"


def cut_up(sculpt: Sculpt, settings: Settings, stock: Stock, side: str
           ) -> tuple[Cut, list[Layer]]:
    """A marked sculpt in regions, and the neutral layer of each."""
    cut = seams.cut(sculpt, settings.fairing)
    count = len(cut.regions)
    return cut, layer.layers(cut, [stock] * count, [side] * count, settings.web)


def judged(sculpt: Sculpt, settings: Settings, stock: Stock, side: str) -> list[Judged]:
    """Every piece of a marked sculpt, in the order of its first face. Raises FoamError where the
    seams leave a part closed."""
    cut, layers = cut_up(sculpt, settings, stock, side)
    drafts, failed = {}, {}
    for index, (region, lay) in enumerate(zip(cut.regions, layers, strict=True)):
        try:
            drafts[index] = flatten.Draft.of(region, lay, stock)
        except FoamError as error:
            failed[index] = error.finding.message
    if not failed:
        drafts = dict(enumerate(flatten.meet(list(drafts.values()))[0]))
    result = []
    for index, (region, lay) in enumerate(zip(cut.regions, layers, strict=True)):
        verdict, why = None, failed.get(index, "")
        if index in drafts:
            flat = drafts[index].flat()
            verdict = formability.judge(region, lay, flat, stock, side)
            if overlaps(outline(region, lay, flat.points, stock, side, settings.web,
                                settings.score_depth), region):
                why = OVERLAPS
        area = float(mesh.face_normals(region.vertices, region.faces)[1].sum())
        rim = sum(mesh.polyline_length(region.vertices[border.vertices])
                  for border in region.borders)
        result.append(Judged(verdict, why, area, 2 * area / rim,
                             region.source_face))
    return result
