"""What of a sculpt is shell to be divided, and what is detail that is laid on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import Sculpt
from .working import Working

DETAIL = 0.02  # of the largest part's area: what is smaller is laid on
CROWDED = 0.8  # share of the area that lies within half a thickness of a crease


def base_shell(sculpt: Sculpt) -> tuple[np.ndarray, np.ndarray]:
    """Faces (k,) of the loose parts that are large, and (j,) of those that are laid on them."""
    part = _part_of(sculpt)
    area = np.bincount(part, mesh.face_normals(sculpt.vertices, sculpt.faces)[1])
    large = area[part] > DETAIL * area.max()
    return np.flatnonzero(large), np.flatnonzero(~large)


def _part_of(sculpt: Sculpt) -> np.ndarray:
    """Number (m,) of the loose part of each face."""
    start, end, _ = mesh.half_edges(sculpt.faces)
    label = mesh.components(len(sculpt.vertices), np.stack([start, end], axis=1))[1]
    return label[sculpt.faces[:, 0]]


def without(sculpt: Sculpt, vertices: np.ndarray) -> Sculpt:
    """The sculpt but for the loose parts that have some vertices (k,)."""
    part = _part_of(sculpt)
    kept = ~np.isin(part, part[np.isin(sculpt.faces, vertices).any(axis=1)])
    return replace(sculpt, faces=sculpt.faces[kept], face_object=sculpt.face_object[kept],
                   polygon=sculpt.polygon[kept], origin=sculpt.origin[kept])


def refuse_detail(working: Working, sculpt: Sculpt) -> None:
    """Raise for a surface whose creases lie closer together than the foam is thick."""
    length, thickness = working.length[working.crease].sum(), working.stock.thickness
    if length * thickness > CROWDED * working.area.sum():
        faces = np.unique(working.source[working.beside[working.crease]])
        raise FoamError(Finding(
            "too-detailed", ERROR,
            f"This sculpt has {length / 1000:.0f} m of sharp folds, more than foam "
            f"{thickness:g} mm thick can follow.",
            "Make a simpler base shell and lay the details on it, or choose a thinner stock.",
            faces=sculpt.origin[faces]))
