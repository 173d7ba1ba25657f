"""Could these faces be one piece? Their topology, a guess, then a flattening of the real engine.

A trial uses the engine's own search on the neutral layer, without kept seam lengths and only
until the answer is known. The final word on a proposal is the engine's in full (`verdict`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..flatten.band import Band, spared_share
from ..flatten.start import start_of
from ..flatten.system import System, no_seams
from ..layer import rest_lengths
from ..layer.folds import line_fold
from ..layer.lengths import trench_shift
from ..model import Border, Line, Region
from ..stock import Limits
from .creases import crease_lines
from .quick import guess
from .working import Working, at_least

HOPELESS = 2.5  # a guess above this is believed
STEPS, CHECK = 60, 5  # of the search, and between looks at it
INSIDE = 0.97  # of the utilisation is what is aimed at
SURE, CLEARLY = 15, 1.1  # steps after which a certificate so far above it ends the search
RIMS = 3  # a piece with more holes than this has is not one that people glue
STRAIGHT = 3.0  # mm by which a fold inside a piece may stray from a line on the flat
SHORT = 30.0  # mm: shorter folds may be as they like


@dataclass(frozen=True, eq=False)
class Trial:
    """What came of trying some faces as one piece.

    u: utilisation heated of the flat that was found, which need not be the best; infinite where
    none was made; why: what spoke against it, "" for
    nothing. faces (m,): of the working surface; region: them, cut free; flat (n,) complex.
    """

    u: float
    why: str
    faces: np.ndarray
    region: Region | None = None
    flat: np.ndarray | None = None


class Judge:
    """Tries sets of faces of a working surface.

    limit: the utilisation up to which a piece is taken.
    """

    def __init__(self, working: Working, limit: float):
        self.working, self.limit = working, limit
        self.tried = 0

    def __call__(self, faces: np.ndarray, open_edges: np.ndarray | None = None,
                 hopeless: float = HOPELESS) -> Trial:
        """faces (k,), open_edges (e,) bool: inner edges that are cut inside the piece."""
        faces = np.sort(faces)
        region = self.region(faces, open_edges)
        why = unfit(region)
        if why:
            return Trial(np.inf, why, faces)
        lengths = self.lengths(region)
        limits = self.working.stock.heated
        if guess(region.faces, lengths, rim_of(region), limits) > hopeless:
            return Trial(np.inf, "curved", faces, region)
        self.tried += 1
        system = System(region.faces, lengths, len(region.vertices), no_seams(len(region.vertices)),
                        self.working.stock.thickness**2)
        start = start_of(system, region, quick=True)
        if start is None:
            return Trial(np.inf, "curved", faces, region)
        u, flat = into_band(system, start, limits, self.limit)
        why = "curved" if u > self.limit else self._misfit(region, flat)
        return Trial(u, why, faces, region, flat)

    def region(self, faces: np.ndarray, open_edges: np.ndarray | None = None) -> Region:
        """Some faces (k,) of the working surface as a region without seams."""
        working = self.working
        cuts = working.edges[open_edges] if open_edges is not None else np.empty((0, 2), int)
        local, source = mesh.cut_along(working.faces[faces], cuts, len(working.points))
        borders, loops = [], []
        rings = mesh.boundary_loops(local)
        points = working.points[source]
        size = [np.linalg.norm(np.diff(points[local.ravel()[np.append(ring, ring[:1])]], axis=0),
                               axis=1).sum() for ring in rings]
        for index in np.argsort(-np.array(size), kind="stable"):
            ring = rings[index]
            loops.append((len(borders),))
            borders.append(Border(local.ravel()[np.append(ring, ring[:1])], ring))
        _, leaf = np.unique(working.leaf[faces], return_inverse=True)
        return Region(points, local, source, faces, leaf.reshape(-1, 3), 0, tuple(borders),
                      tuple(loops), tuple(self._creases_inside(points, local, source)))

    def _creases_inside(self, points: np.ndarray, faces: np.ndarray, source: np.ndarray
                        ) -> list[Line]:
        working = self.working
        if not working.crease.any():
            return []
        edges, _ = mesh.edge_faces(faces)
        count = len(working.points)
        key = mesh.edge_keys(source[edges], count)
        inside = np.isin(key, mesh.edge_keys(working.edges[working.crease], count))
        return crease_lines(points, faces, edges[inside]) if inside.any() else []

    def lengths(self, region: Region) -> np.ndarray:
        """Lengths (k, 3) on the neutral layer of a region, the creases inside it being trenches."""
        working, faces = self.working, region.source_face
        if not region.lines:
            return working.lengths[faces]
        at = region.vertices[self._corners(region)]
        used = np.unique(working.leaf[faces])
        normals = working.normals[used]
        turned = [line_fold(region, line, normals) for line in region.lines]
        at = at + trench_shift(region, at, normals, turned, working.stock, working.side,
                               working.web)
        lengths = rest_lengths(at, normals, region.leaf, working.stock, working.side)
        return at_least(lengths, region.vertices, region.faces)

    def _corners(self, region: Region) -> np.ndarray:
        corner = np.empty(int(region.leaf.max()) + 1, dtype=np.int64)
        corner[region.leaf] = region.faces
        return corner

    def _without_kept(self, region: Region) -> Region:
        """The region without those lines that are the maker's own trenches."""
        working = self.working
        if not region.lines or not working.trench.any():
            return region
        count = len(working.points)
        kept = mesh.edge_keys(working.edges[working.trench], count)
        own = [np.isin(mesh.edge_keys(region.source_vertex[[line.vertices[:2]]], count), kept)[0]
               for line in region.lines]
        return replace(region, lines=tuple(
            line for line, mine in zip(region.lines, own, strict=True) if not mine))

    def _misfit(self, region: Region, flat: np.ndarray) -> str:
        if not fits_sheet(flat, self.working.stock.sheet):
            return "larger than the mat"
        if overlaps(region, flat):
            return "overlaps itself"
        if not folds_are_straight(self._without_kept(region), flat):
            return "fold is not straight"
        return ""


def into_band(system: System, start: np.ndarray, limits: Limits, limit: float
              ) -> tuple[float, np.ndarray]:
    """Utilisation and points (n,) of the best map met on the way from `start` into the band of
    a utilisation; ends there, or once that is known to be out of reach."""
    band = Band(system, start, limits)
    spare = band.price / spared_share(system)
    best, flat = system.utilisation(start, limits), start
    for step in range(1, STEPS + 1):
        if best <= limit:
            break
        band.reach()
        band.advance(INSIDE * limit, band.kept, spare)
        if step % CHECK:
            continue
        u = system.utilisation(band.points, limits)
        if u < best:
            best, flat = u, band.points
        if step >= SURE and best > limit and band.certificate() > CLEARLY * limit:
            break
    return best, flat


def rim_of(region: Region) -> np.ndarray:
    """The vertices (k,) on the boundary of a region."""
    return np.unique(np.concatenate([border.vertices for border in region.borders]))


def unfit(region: Region) -> str:
    """Why a region is no sheet with a few holes, or ""."""
    if not region.borders:
        return "closed"
    if len(region.loops) > RIMS:
        return "too many holes"
    edges = len(np.unique(mesh.half_edges(region.faces)[2]))
    if len(region.vertices) - edges + len(region.faces) + len(region.loops) != 2:
        return "handle"
    return ""


def fits_sheet(flat: np.ndarray, sheet: tuple[float, float]) -> bool:
    """Can the flat (n,) complex be turned so that it lies on the sheet?"""
    from scipy.spatial import ConvexHull

    points = np.stack([flat.real, flat.imag], axis=1)
    hull = flat[ConvexHull(points).vertices]
    turned = hull[:, None] * np.exp(1j * np.radians(np.arange(0, 180, 3)))
    return bool(((np.ptp(turned.real, axis=0) <= sheet[0])
                 & (np.ptp(turned.imag, axis=0) <= sheet[1])).any())


def overlaps(region: Region, flat: np.ndarray) -> bool:
    """Does the outline of a flat cross itself? By areas: of the outline, and of its faces."""
    import shapely

    rings = [flat[region.borders[ring[0]].vertices] for ring in region.loops]
    shapes = [shapely.Polygon(np.stack([ring.real, ring.imag], axis=1)).buffer(0)
              for ring in rings]
    covered = shapes[0].area - sum(shape.area for shape in shapes[1:])
    corner = flat[region.faces]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    faces = np.abs((np.conj(u) * v).imag).sum() / 2
    return bool(abs(covered - faces) > 0.004 * faces)


def folds_are_straight(region: Region, flat: np.ndarray) -> bool:
    """A crease that stays inside a piece becomes a trench, and foam folds along lines."""
    for line in region.lines:
        at = flat[line.vertices]
        if len(at) < 3 or np.abs(np.diff(at)).sum() < SHORT:
            continue
        along = at[-1] - at[0]
        if abs(along) < 1e-9:
            return False
        if np.abs(((at - at[0]) * np.conj(along) / abs(along)).imag).max() > STRAIGHT:
            return False
    return True
