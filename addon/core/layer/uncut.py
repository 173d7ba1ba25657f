"""The smooth surface of regions that lines were cut through, told from the faces before the cut.

Where a line crosses the faces of a coarse mesh its points lie on the facets, not on the surface
that these stand for, and beside corners it leaves slivers, on which no curvature can be told. So
there the surface is fitted before the cut and read off at the new points: normals and curvature
between those of the face's corners, and its height above the facet by half the mean height of
the tangent planes there (exact to second order: derived). Where a mesh is fine beside the foam,
or its faces fold too sharply to be facets of a bend, each side of a line is fitted by itself, as
a line may well run along a fold.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from .. import mesh
from ..model import Cut, Region, Sculpt, Uncut
from ..stock import Stock
from .surface import CELLS, Surface, fit_surface

COARSE = CELLS[0]  # thicknesses; of faces longer than this each corner has a patch of its own
LEAN = math.cos(math.radians(27.5))  # between a facet of a bend and the surface at its corners

Fit = Callable[[np.ndarray, np.ndarray, float], Surface]


def surfaces(cut: Cut, sources: Sequence[np.ndarray], stocks: Sequence[Stock],
             fit: Fit = fit_surface) -> tuple[list[Surface], list[np.ndarray]]:
    """The surface at the leaf corners of every region of a cut, and how far (c,) in mm these lie
    below it because they are on facets.

    sources: per region its vertex (c,) of every leaf corner; fit: as `fit_surface`.
    """
    known: dict[float, Surface | None] = {}
    found, lifts = [], []
    for region, source, stock in zip(cut.regions, sources, stocks, strict=True):
        whole, thickness = None, stock.thickness
        if cut.uncut is not None and _is_divided(cut.uncut, region, thickness):
            if thickness not in known:
                known[thickness] = _whole(cut, stocks, thickness, fit)
            whole = known[thickness]
        surface, lift = _of_region(cut.uncut, whole, region, source, thickness, fit)
        found.append(surface)
        lifts.append(lift)
    return found, lifts


def _coarse(uncut: Uncut, thickness: float) -> np.ndarray:
    """Which faces (p,) are large beside the foam."""
    corner = uncut.points[uncut.faces]
    side = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2)
    return side.max(axis=1) > COARSE * thickness


def _is_divided(uncut: Uncut, region: Region, thickness: float) -> bool:
    """Does a line cross a coarse face in this region?"""
    area = mesh.face_normals(uncut.points, uncut.faces)[1][region.parent]
    own = mesh.face_normals(region.vertices, region.faces)[1]
    return bool((_coarse(uncut, thickness)[region.parent] & (own < (1 - 1e-9) * area)).any())


def _whole(cut: Cut, stocks: Sequence[Stock], thickness: float, fit: Fit) -> Surface:
    """The surface at all points of the uncut mesh; NaN on parts that no region of this
    thickness lies on."""
    uncut = cut.uncut
    part = mesh.components(len(uncut.points), np.concatenate(
        [uncut.faces[:, :2], uncut.faces[:, 1:]]))[1]
    held = np.concatenate([region.parent for region, stock in zip(cut.regions, stocks, strict=True)
                           if stock.thickness == thickness])
    chosen = np.isin(part[uncut.faces[:, 0]], part[uncut.faces[held, 0]])
    used, faces = np.unique(uncut.faces[chosen], return_inverse=True)
    here = fit(uncut.points[used], faces.reshape(-1, 3), thickness)
    whole = Surface(*(np.full((len(uncut.points), *value.shape[1:]), np.nan) for value in here))
    for value, part in zip(whole, here, strict=True):
        value[used] = part
    return whole


def _of_region(uncut: Uncut | None, whole: Surface | None, region: Region, source: np.ndarray,
               thickness: float, fit: Fit) -> tuple[Surface, np.ndarray]:
    points, lift = region.vertices[source], np.zeros(len(source))
    if whole is None:
        return fit(points, region.leaf, thickness), lift
    facet = np.flatnonzero((_coarse(uncut, thickness) & _bends(uncut, whole))[region.parent])
    of = np.full(len(source), -1)  # a face of the uncut mesh that each corner lies on
    of[region.leaf[facet]] = region.parent[facet, None]
    mine = of >= 0
    if mine.all():
        found = Surface(*(np.empty((len(source), *value.shape[1:])) for value in whole))
    else:
        found = Surface(*(value.copy() for value in fit(points, region.leaf, thickness)))
    there, lift[mine] = _read_off(uncut, whole, of[mine], points[mine])
    for value, part in zip(found, there, strict=True):
        value[mine] = part
    return found, lift


def _bends(uncut: Uncut, whole: Surface) -> np.ndarray:
    """Which faces (p,) lean from the surface at their corners no more than facets of a bend."""
    normals, _ = mesh.face_normals(uncut.points, uncut.faces)
    lean = np.einsum("ij,ikj->ik", normals, whole.normals[uncut.faces])
    return lean.min(axis=1) > LEAN


def _read_off(uncut: Uncut, whole: Surface, face: np.ndarray, places: np.ndarray
              ) -> tuple[Surface, np.ndarray]:
    """The surface at places (k, 3) in faces (k,) of the uncut mesh, and how far (k,) above."""
    corners = uncut.faces[face]
    at = uncut.points[corners]
    weights = mesh.nearest_weights(at, places)
    mean = lambda value: np.einsum("ij,ij...->i...", weights, value[corners])  # noqa: E731
    normal = mean(whole.normals)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    above = np.einsum("ijk,ijk->ij", at - places[:, None], whole.normals[corners])
    return (Surface(normal, mean(whole.curvature), mean(whole.rise)),
            np.einsum("ij,ij->i", weights, above) / 2)


def raised(uncut: Uncut, sculpt: Sculpt) -> np.ndarray:
    """The vertices (n, 3) of a sculpt, those that lines put on its faces raised to the surface."""
    corner = sculpt.faces.ravel()
    whole = fit_surface(uncut.points, uncut.faces)
    face = np.repeat(sculpt.parent, 3)
    new = ~np.isin(corner, sculpt.uncut) & _bends(uncut, whole)[face]
    there, lift = _read_off(uncut, whole, face[new], sculpt.vertices[corner[new]])
    count = len(sculpt.vertices)
    number = np.maximum(np.bincount(corner[new], minlength=count), 1)
    move = [np.bincount(corner[new], x, count) / number for x in
            (there.normals * (there.rise + lift)[:, None]).T]
    return sculpt.vertices + np.stack(move, axis=1)
