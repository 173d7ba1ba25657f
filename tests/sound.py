"""Is a pattern whole? Looked over apart from the engine: triangles, rings, overlaps, mates."""

from __future__ import annotations

import numpy as np
import shapely

from addon.core import mesh
from addon.core.errors import Finding, FoamError
from addon.core.make import Memory, check
from addon.core.model import Pattern, Piece, Sculpt, Settings

GAP, GAP_SHARE = 0.3, 1e-3  # mm, or share of its length, by which the edges of a seam may differ
SEEN = 1e-3  # share of a piece's area by which an overlap shows


def pattern_or_reasons(sculpt: Sculpt, settings: Settings, memory: Memory | None = None
                       ) -> tuple[Pattern | None, list[Finding]]:
    """The checked pattern, or None where it is refused, and all findings. memory: of checks
    before, which spares the search of pieces that have not changed.

    Asserts that every reason has a remedy and a place, and that all pieces are whole.
    """
    try:
        pattern = check(sculpt, settings, memory=memory)
    except FoamError as error:
        for finding in error.findings:
            assert finding.message and finding.remedy.endswith((".", ".)")), finding
            assert len(finding.vertices) + len(finding.edges) + len(finding.faces), finding
            for places, count in ((finding.vertices, len(sculpt.vertices)),
                                  (finding.edges, len(sculpt.vertices)),
                                  (finding.faces, len(sculpt.faces))):
                assert not places.size or (places.min() >= 0 and places.max() < count), finding
        return None, list(error.findings)
    faults = [f"{piece.code}: {fault}" for piece in pattern.pieces
              for fault in piece_faults(piece, codes_of(pattern, piece.code))]
    assert not faults, "\n".join(faults)
    return pattern, list(pattern.findings)


def codes_of(pattern: Pattern, code: str) -> set[str]:
    """The codes of the findings about one piece."""
    return {f.code for f in pattern.findings if f.piece == code}


def piece_faults(piece: Piece, told: set[str]) -> list[str]:
    """What is wrong with a piece, leaving out what its findings (codes) tell."""
    rings = [*piece.front, *piece.back, *piece.cut]
    if not all(np.isfinite(a).all() for a in (piece.flat, piece.stretch, *rings)):
        return ["a coordinate is not a number"]
    found = []
    corner = piece.flat[piece.faces]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    if not (area > 0).all() or not (piece.stretch[:, 1] > 0).all():
        found.append(f"{(area <= 0).sum()} triangles are turned over")
    loops = len(mesh.boundary_loops(piece.faces))
    if {len(piece.front), len(piece.back), len(piece.cut)} != {loops}:
        found.append(f"{len(piece.cut)} rings for {loops} rims")
    if not piece.area > 0:
        found.append("has no area")
    if "overlaps-itself" not in told:
        covered = shapely.union_all(shapely.polygons(corner)).area
        if covered < (1 - SEEN) * area.sum():
            found.append(f"covers {covered:.6g} mm² with {area.sum():.6g} mm²")
        body = shapely.make_valid(shapely.Polygon(piece.cut[0], piece.cut[1:]))
        if abs(body.area - piece.area) > SEEN * max(piece.area, body.area):
            found.append(f"its outline goes round {body.area:.6g} mm², not {piece.area:.6g} mm²")
    return found


def mate_faults(pattern: Pattern) -> list[str]:
    """Seams whose two edges differ although no finding says where to ease them.

    Pieces that need relief are not to be cut as they are; their edges are not looked at.
    """
    points = pattern.sculpt.vertices
    relief = {p.code for p in pattern.pieces if p.verdict.kind == "relief"}
    eased = np.concatenate([np.empty((0, 3)), *(points[f.edges].mean(axis=1)
                            for f in pattern.findings if f.code == "ease-seam")])
    found = []
    for mate in pattern.mates:
        if mate.gap <= max(GAP, GAP_SHARE * mate.lengths.max()):
            continue
        if relief.intersection(code for code, _ in mate.edges):
            continue
        # The seam lies as far from the edges that were marked as fairing may move it.
        if not (distance(eased, mate.curve) <= pattern.settings.fairing + 1e-6).any():
            found.append(f"{mate.code}: edges of {mate.lengths[0]:.6g} and "
                         f"{mate.lengths[1]:.6g} mm")
    return found


def distance(points: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Distance (n,) of points (n, 3) from a polyline (k, 3)."""
    start, along = line[:-1], np.diff(line, axis=0)
    offset = points[:, None] - start
    share = np.einsum("ijk,jk->ij", offset, along) / np.maximum((along**2).sum(axis=1), 1e-300)
    nearest = offset - np.clip(share, 0, 1)[..., None] * along
    return np.linalg.norm(nearest, axis=2).min(axis=1)
