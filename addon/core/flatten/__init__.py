"""Rest lengths -> a flat piece whose stretch stays within what the foam takes.

A map of triangles to the plane is held as one complex number per vertex. On each
triangle its Jacobian is J = p z + q conj(z), whose singular values are |p| + |q|
and |p| - |q|; a negative second one is a flipped face. This makes every step below
plain complex arithmetic.

Least-squares conformal maps (Levy et al. 2002) start the flattening, a few
as-rigid-as-possible steps (Liu et al. 2008) even it out, then the alternating
direction method of multipliers (Boyd et al. 2011) minimises the utilisation u:
the forming map flat -> layer must keep 1 - compress u <= sigma <= 1 + stretch u.
Every step solves with the same factor of the cotangent Laplacian.
"""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import Flat, Layer, Region
from ..stock import Limits
from .band import least_utilisation
from .start import start_of
from .system import System, rest_triangles, seams_of

__all__ = ["flatten", "rest_triangles"]


def flatten(region: Region, layer: Layer, limits: Limits, iterations: int = 240) -> Flat:
    """Flatten a region; seam borders keep their rest length interval by interval.

    Raises FoamError `tighter-than-thickness` where the surface bends so tightly that
    the foam's own layer would turn inside out, `tube` for a region that closes round,
    and `cannot-flatten` when no flattening without flipped faces is found.
    """
    tight = (layer.lengths <= 0).any(axis=1)
    if tight.any():
        raise FoamError(Finding(
            "tighter-than-thickness", ERROR,
            "The surface bends more tightly here than the foam is thick.",
            "Choose a thinner stock, smooth this place, or mark a trench or a seam along the bend.",
            faces=region.source_face[tight]))
    loops = len(region.loops)
    euler = len(region.vertices) - _edge_count(region.faces) + len(region.faces)
    if euler + loops != 2:
        raise FoamError(_cannot(region, "has a handle or a tunnel", "Mark a seam that opens it."))
    system = System(region.faces, layer.lengths, len(region.vertices), seams_of(region, layer))
    start = start_of(system, region)
    if start is None and loops > 1:
        raise FoamError(Finding(
            "tube", ERROR, "This piece closes round on itself like a tube.",
            "Mark a seam from one rim to the other to open it.", faces=region.source_face))
    if start is None:
        raise FoamError(_cannot(region, "curves too strongly to be laid flat in one piece",
                                "Mark a seam or a dart into its most curved place."))
    points = least_utilisation(system, start, limits, iterations)
    upper, lower = system.singular(system.gradient @ points)
    sigma = np.stack([1 / np.maximum(lower, 1e-9), np.where(lower > 0, 1 / upper, 0.0)], axis=1)
    return Flat(np.stack([points.real, points.imag], axis=1), sigma)


def _cannot(region: Region, what: str, remedy: str) -> Finding:
    return Finding("cannot-flatten", ERROR, f"This piece {what}.", remedy,
                   faces=region.source_face)


def _edge_count(faces: np.ndarray) -> int:
    return len(np.unique(mesh.half_edges(faces)[2]))
