"""The piece that needs relief with its neighbours, and what the engine says after a cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ... import flatten, formability, layer, mesh, seams, skin, trace
from ...errors import ERROR, Finding, FoamError
from ...model import Guide, Layer, Region, Sculpt, Settings, Verdict
from ...stock import Stock
from ..refine import Shape
from ..symmetry import plane_of
from .trial import overlaps


@dataclass(frozen=True, eq=False)
class Site:
    """A piece and those beside it as a sculpt of their own.

    sculpt: their faces alone, in mm of the suit; piece (m,): which of them are the piece's;
    region and layer: the piece as it is cut now, its source faces counted in this sculpt;
    middle: where the suit's mirror plane lies along up x front, None where it has none.
    """

    sculpt: Sculpt
    piece: np.ndarray
    region: Region
    layer: Layer
    stock: Stock
    side: str
    settings: Settings
    middle: float | None

    @classmethod
    def of(cls, sculpt: Sculpt, settings: Settings, faces: Sequence[int]) -> Site:
        """The piece that has most of the sculpt's faces (k,).

        Raises FoamError `no-such-piece` where none has any, and whatever keeps the sculpt from
        being cut.
        """
        work = skin.outer_skin(replace(
            sculpt, vertices=sculpt.vertices * settings.scale,
            guides=tuple(replace(g, points=g.points * settings.scale) for g in sculpt.guides)))
        if settings.seam_angle is not None:
            work = seams.with_sharp_seams(work, settings.seam_angle)
        work = trace.lay(work)
        wanted = np.isin(work.origin, faces)
        work = replace(work, origin=np.arange(len(work.faces)))
        cut = seams.cut(work, settings.fairing)
        held = [int(wanted[region.source_face].sum()) for region in cut.regions]
        if not any(held):
            raise FoamError(Finding(
                "no-such-piece", ERROR, "No piece of foam has this place.",
                "Click a face of the surface that is seen from outside."))
        mine = int(np.argmax(held))
        near = {mine} | {r for seam in cut.seams for r, _ in seam.sides
                         if mine in {side for side, _ in seam.sides}}
        kept = np.sort(np.concatenate([cut.regions[r].source_face for r in near]))
        part = replace(work, faces=work.faces[kept], face_object=work.face_object[kept],
                       polygon=work.polygon[kept], origin=np.arange(len(kept)), findings=())
        inside = np.isin(kept, cut.regions[mine].source_face)
        thing = sculpt.objects[cut.regions[mine].object]
        site = cls(part, inside, cut.regions[mine], None, thing.stock or settings.stock,
                   thing.side or settings.side, settings,
                   _middle(work))
        (region, lay), = site.cut(())
        return replace(site, region=region, layer=lay)

    def cut(self, guides: Sequence[Guide]) -> list[tuple[Region, Layer]]:
        """The regions with their layers that the piece comes apart into along guides.

        Raises FoamError where the guides leave a part that cannot be cut.
        """
        laid = trace.lay(replace(self.sculpt, guides=tuple(guides)))
        if laid.findings:
            raise FoamError(*laid.findings)
        cut = seams.cut(laid, self.settings.fairing)
        things = [self.sculpt.objects[region.object] for region in cut.regions]
        layers = layer.layers(cut, [thing.stock or self.settings.stock for thing in things],
                              [thing.side or self.settings.side for thing in things],
                              self.settings.web)
        return [(region, lay) for region, lay in zip(cut.regions, layers, strict=True)
                if self.piece[region.source_face].all()]

    def now(self) -> Outcome:
        """What the engine says of the piece as it is: infinite utilisation where it cannot be
        laid flat, but for faults that no cut mends."""
        try:
            return self.judged(())
        except FoamError as error:
            if error.finding.code != "cannot-flatten":
                raise
            return Outcome((), False)

    def judged(self, guides: Sequence[Guide]) -> Outcome:
        """What the engine says of the parts. Raises FoamError where one cannot be laid flat."""
        parts = self.cut(guides)
        drafts = [flatten.Draft.of(region, lay, self.stock) for region, lay in parts]
        flats = [draft.flat() for draft in flatten.meet(drafts)[0]]
        verdicts = tuple(formability.judge(region, lay, flat, self.stock, self.side)
                         for (region, lay), flat in zip(parts, flats, strict=True))
        folded = any(overlaps(region, flat.points[:, 0] + 1j * flat.points[:, 1])
                     for (region, _), flat in zip(parts, flats, strict=True))
        return Outcome(verdicts, folded)


@dataclass(frozen=True)
class Outcome:
    """The verdicts on the parts of a piece; overlaps: a flat lies over itself."""

    verdicts: tuple[Verdict, ...]
    overlaps: bool

    @property
    def worst(self) -> float:
        """The largest heated utilisation."""
        return max((verdict.heated for verdict in self.verdicts), default=np.inf)

    @property
    def passes(self) -> bool:
        """Can every part be formed?"""
        formed = all(verdict.kind != "relief" for verdict in self.verdicts)
        return formed and bool(self.verdicts) and not self.overlaps


def _middle(sculpt: Sculpt) -> float | None:
    faces, normals = sculpt.faces, mesh.vertex_normals(sculpt.vertices, sculpt.faces)
    return plane_of(Shape(sculpt.vertices, faces, faces, normals, np.arange(len(faces))),
                    np.cross(sculpt.up, sculpt.front))
