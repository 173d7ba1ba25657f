"""A proposal where to open what cannot be laid flat: closed shells, handles and tubes.

    closed shell -> two halves, along a parting line
    handle or tunnel -> cut through, along a short loop
    tube -> slit from rim to rim

Each cut may leave something of the next kind, so its pieces are looked at again; one
application of the proposal is enough. Results depend on the input alone.
"""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding
from ..model import Region
from .handles import handle_loop
from .parting import parting_line
from .surface import Surface
from .tubes import GIVE, tube_cut

__all__ = ["handle_finding", "is_tube", "propose_opening", "tube_finding"]


def propose_opening(vertices: np.ndarray, faces: np.ndarray, polygon: np.ndarray | None = None,
                    give: float = GIVE) -> np.ndarray:
    """Edges (k, 2), sorted, that open a surface when they are marked as seams.

    vertices (n, 3) and faces (m, 3) of an oriented manifold surface, in one part or
    several; polygon (m,): the maker's own face each triangle is part of, whose inner
    edges are never proposed. Every piece that the cut leaves is a disc, perhaps with
    holes; a rim is a hole when closing round it takes no more than `give` in strain, else
    a tube to be slit. Empty where nothing needs opening.
    """
    vertices, faces = np.asarray(vertices, dtype=float), np.asarray(faces, dtype=np.int64)
    polygon = np.arange(len(faces)) if polygon is None else np.asarray(polygon)
    chosen = [np.empty((0, 2), dtype=np.int64)]
    waiting = _parts(faces, np.arange(len(vertices)), polygon, chosen[0])
    while waiting:
        faces, source, polygon = waiting.pop()
        edges = _opening(Surface(vertices[source], faces, polygon), give)
        if len(edges):
            chosen.append(source[edges])
            waiting += _parts(faces, source, polygon, edges)
    return np.unique(np.sort(np.concatenate(chosen), axis=1), axis=0)


def _opening(surface: Surface, give: float) -> np.ndarray:
    """The next cut (k, 2) that a connected surface needs, if any."""
    if not surface.loops:
        return parting_line(surface)
    return handle_loop(surface) if surface.genus else tube_cut(surface, give)


def _parts(faces: np.ndarray, source: np.ndarray, polygon: np.ndarray,
           edges: np.ndarray) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Faces, vertices in the input and polygons of each part that a cut leaves."""
    opened, old = mesh.cut_along(faces, edges, len(source))
    start, end, _ = mesh.half_edges(opened)
    number, label = mesh.components(len(old), np.stack([start, end], axis=1))
    label = label[opened[:, 0]]
    order = np.argsort(label, kind="stable")
    parts = []
    for ids in np.split(order, np.searchsorted(label[order], np.arange(1, number))):
        used, local = np.unique(opened[ids], return_inverse=True)
        parts.append((local.reshape(-1, 3), source[old[used]], polygon[ids]))
    return parts


def is_tube(region: Region) -> bool:
    """Does a region close round on itself, rather than curve too strongly round a hole?"""
    return len(region.loops) > 1 and len(_proposal(region)) > 0


def tube_finding(region: Region, code: str = "") -> Finding:
    """That a piece closes round on itself, with the edges that would open it."""
    edges = _proposal(region)
    if not len(edges):  # no rim by itself is to blame, so all of them are joined
        edges = _proposal(region, give=-1.0)
    return Finding(
        "tube", ERROR, "This piece closes round on itself like a tube.",
        "Mark a seam from one rim to the other to open it; the proposed line is selected.",
        edges=edges, piece=code)


def handle_finding(region: Region, code: str = "") -> Finding:
    """That a piece has a handle or a tunnel, with the edges that would open it."""
    return Finding(
        "cannot-flatten", ERROR, "This piece has a handle or a tunnel.",
        "Mark a seam that opens it; the proposed line is selected.",
        edges=_proposal(region), piece=code)


def _proposal(region: Region, give: float = GIVE) -> np.ndarray:
    """The proposed edges (k, 2) in the vertices of the sculpt."""
    return region.source_vertex[propose_opening(
        region.vertices, region.faces, region.polygon, give)]
