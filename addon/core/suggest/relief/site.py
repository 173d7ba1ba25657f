"""The piece that needs relief with its neighbours, and what the engine says after a cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ... import flatten, formability, layer, mesh, seams, skin, trace
from ...edges import outline, overlaps
from ...errors import ERROR, Finding, FoamError
from ...model import SEAM, Cut, Guide, Layer, Region, Sculpt, Settings, Verdict
from ...stock import Stock
from ..refine import Shape
from ..symmetry import plane_of
from .ground import Ground

JOINED = 2  # neighbours that a piece may give a strip to
BELT = 4.0  # thicknesses of the neighbours along the seams that are kept: a fit reaches 2


@dataclass(frozen=True, eq=False)
class Site:
    """A piece and what lies beside it as a sculpt of their own.

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
    def of(cls, work: Sculpt, region: Region, beside: Sequence[Region], settings: Settings,
           middle: float | None) -> Site:
        """The site of a region of a sculpt that is ready to be cut (origin counts its faces),
        with the regions beside it."""
        kept = _belt(work, region, np.concatenate([r.source_face for r in (region, *beside)]),
                     BELT * max((t.stock or settings.stock).thickness for t in work.objects))
        part = _part(work, kept)
        thing = work.objects[region.object]
        site = cls(part, np.isin(kept, region.source_face), region, None,
                   thing.stock or settings.stock, thing.side or settings.side, settings, middle)
        (region, lay), = site.cut(())
        return replace(site, region=region, layer=lay)

    @cached_property
    def surface(self) -> trace.Surface:
        """The piece's own faces, for lines on it."""
        return trace.Surface(self.sculpt.vertices, self.sculpt.faces[self.piece])

    def ground(self) -> Ground:
        """The ground of the piece."""
        return Ground.of(self.region, self.layer, self.stock, self.side)

    def guides(self, lines: Sequence[np.ndarray]) -> tuple[Guide, ...]:
        """Lines of points (k, 3) as guides on the piece's object."""
        return tuple(Guide(line, object=self.region.object) for line in lines)

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
            return self._judged([(self.region, self.layer)])
        except FoamError as error:
            if error.finding.code != "cannot-flatten":
                raise
            return Outcome((), False)

    def judged(self, guides: Sequence[Guide]) -> Outcome:
        """What the engine says of the parts. Raises FoamError where one cannot be laid flat."""
        return self._judged(self.cut(guides))

    def _judged(self, parts: Sequence[tuple[Region, Layer]]) -> Outcome:
        drafts = [flatten.Draft.of(region, lay, self.stock) for region, lay in parts]
        flats = [draft.flat() for draft in flatten.meet(drafts)[0]]
        verdicts = tuple(formability.judge(region, lay, flat, self.stock, self.side)
                         for (region, lay), flat in zip(parts, flats, strict=True))
        folded = any(
            overlaps(outline(region, lay, flat.points, self.stock, self.side, self.settings.web,
                             self.settings.score_depth), region)
            for (region, lay), flat in zip(parts, flats, strict=True))
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


@dataclass(frozen=True, eq=False)
class Suit:
    """The whole sculpt, cut into regions, one of which is to be relieved.

    work: ready to be cut, its origin counting its faces; cut; mine: the region; marked (k, 2):
    the edges that the maker marked as seams; middle: as of a site.
    """

    work: Sculpt
    cut: Cut
    mine: int
    marked: np.ndarray
    settings: Settings
    middle: float | None

    @classmethod
    def of(cls, sculpt: Sculpt, settings: Settings, faces: Sequence[int]) -> Suit:
        """With the region that has most of the sculpt's faces (k,).

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
        return cls(work, cut, int(np.argmax(held)), seams.marked(sculpt, SEAM), settings,
                   _middle(work))

    def site(self) -> Site:
        """The site of the region."""
        beside = [self.cut.regions[r] for r in self._seams_with()]
        return Site.of(self.work, self.cut.regions[self.mine], beside, self.settings, self.middle)

    def _seams_with(self) -> dict[int, list[int]]:
        """The seams that the region shares with each of its neighbours."""
        found: dict[int, list[int]] = {}
        for index, seam in enumerate(self.cut.seams):
            sides = [r for r, _ in seam.sides]
            if self.mine in sides and sides[0] != sides[1]:
                found.setdefault(sum(sides) - self.mine, []).append(index)
        return found

    def joined(self) -> list[Joined]:
        """The region joined with each neighbour along one line between two ends, the longest
        line first, where that is marked on edges of the maker's mesh."""
        found, count = [], len(self.work.vertices)
        marked = mesh.edge_keys(self.marked, count)
        for other, shared in self._seams_with().items():
            edges = np.concatenate([np.stack([v[:-1], v[1:]], axis=1) for v in (
                self.cut.seams[index].vertices for index in shared)])
            chains = mesh.chains(edges)
            line = self.work.vertices[chains[0]]
            ours = np.isin(mesh.edge_keys(edges, count), marked).all()
            if len(chains) == 1 and chains[0][0] != chains[0][-1] and ours:
                found.append((mesh.polyline_length(line), other, np.sort(edges, axis=1), line))
        return [self._joined(*each[1:]) for each in sorted(
            found, key=lambda each: (-each[0], each[1]))[:JOINED]]

    def _joined(self, other: int, edges: np.ndarray, line: np.ndarray) -> Joined:
        both = {self.mine, other}
        near = both | {r for seam in self.cut.seams for r, _ in seam.sides
                       if both & {q for q, _ in seam.sides}}
        kept = np.sort(np.concatenate([self.cut.regions[r].source_face for r in near]))
        count = len(self.work.vertices)
        gone = np.isin(mesh.edge_keys(self.work.edges, count), mesh.edge_keys(edges, count))
        part = _part(replace(self.work, edges=self.work.edges[~gone],
                             kinds=self.work.kinds[~gone]), kept)
        regions = seams.cut(part, self.settings.fairing).regions
        mine, theirs = (self.cut.regions[r].source_face for r in (self.mine, other))
        inside = np.searchsorted(kept, mine[0])
        region = next(r for r in regions if np.isin(inside, r.source_face))
        site = Site.of(part, region, [r for r in regions if r is not region], self.settings,
                       self.middle)
        middles = self.work.vertices[self.work.faces].mean(axis=1)
        return Joined(site, edges, line, middles[mine], middles[theirs])


@dataclass(frozen=True, eq=False)
class Joined:
    """A piece and a neighbour as one piece.

    site: of both; edges (k, 2): of the seam between them that is left out, in the sculpt's
    vertices; line (k, 3): that seam; mine, theirs (k, 3): middles of the faces of the piece and
    of its neighbour.
    """

    site: Site
    edges: np.ndarray
    line: np.ndarray
    mine: np.ndarray
    theirs: np.ndarray


def _part(sculpt: Sculpt, faces: np.ndarray) -> Sculpt:
    """Some faces (k,) of a sculpt alone, its origin counting them."""
    uncut, parent = sculpt.uncut, sculpt.parent
    if len(parent):
        held, parent = np.unique(parent[faces], return_inverse=True)
        uncut, parent = uncut[held], parent.ravel()
    return replace(sculpt, faces=sculpt.faces[faces], face_object=sculpt.face_object[faces],
                   polygon=sculpt.polygon[faces], origin=np.arange(len(faces)), uncut=uncut,
                   parent=parent, findings=())


def _belt(sculpt: Sculpt, region: Region, faces: np.ndarray, reach: float) -> np.ndarray:
    """The region's own faces, and those of `faces` (k,) that come within reach of its rim: as
    much of the neighbours as the layer at the seams depends on."""
    from scipy.spatial import cKDTree

    rim = np.unique(np.concatenate([border.vertices for border in region.borders]))
    corner = sculpt.vertices[sculpt.faces[faces]]
    away, _ = cKDTree(region.vertices[rim]).query(corner.reshape(-1, 3))
    close = away.reshape(-1, 3).min(axis=1) < reach
    return np.union1d(region.source_face, faces[close])


def _middle(sculpt: Sculpt) -> float | None:
    faces, normals = sculpt.faces, mesh.vertex_normals(sculpt.vertices, sculpt.faces)
    return plane_of(Shape(sculpt.vertices, faces, faces, normals, np.arange(len(faces))),
                    np.cross(sculpt.up, sculpt.front))
