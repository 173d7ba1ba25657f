"""Details sculpted as solids that lie on a plate: which of their faces are no foam to cut."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .. import mesh
from ..model import Sculpt, Settings
from .ground import ALONG, Ground
from .rest import building_order, front_of

TOUCHING = 0.1  # of a solid's area that touches what it lies on
UP = 0.5  # cosine to the ground's normal from which a face is no wall


def lower_faces(sculpt: Sculpt, settings: Settings, nearest: Callable) -> np.ndarray:
    """The faces (m,) of closed parts that touch another object, and their walls: what is left of
    such a part is its outer face. A part whose top would be gone keeps everything."""
    drop = np.zeros(len(sculpt.faces), dtype=bool)
    if len(sculpt.objects) < 2:
        return drop
    start, end, _ = mesh.half_edges(sculpt.faces)
    _, label = mesh.components(len(sculpt.vertices), np.stack([start, end], axis=1))
    part = label[sculpt.faces[:, 0]]
    rim = np.unique(part[np.flatnonzero(mesh.twins(sculpt.faces) < 0) // 3])
    if np.isin(part, rim).all():  # nothing is closed
        return drop
    normals, area = mesh.face_normals(sculpt.vertices, sculpt.faces)
    middles = sculpt.vertices[sculpt.faces].mean(axis=1)
    grounds: dict[int, Ground] = {}
    for thing, below in building_order(sculpt):
        own = sculpt.face_object == thing
        for number in np.setdiff1d(np.unique(part[own]), rim):
            ids = np.flatnonzero(part == number)
            best = np.full(len(ids), np.inf)
            along = np.zeros(len(ids))
            for other in below:
                ground = grounds[other]
                if not ground.near(middles[ids], 10 * settings.contact):
                    continue
                found = ground.heights(middles[ids])
                cosine = np.einsum("ij,ij->i", normals[ids], found.normal)
                nearer = np.abs(found.height) < best
                best[nearer] = np.abs(found.height)[nearer]
                along[nearer] = cosine[nearer]
            bottom = (best <= settings.contact) & (along < -ALONG)
            up = -(normals[ids] * area[ids, None])[bottom].sum(axis=0)
            up /= max(np.linalg.norm(up), 1e-300)
            top = np.where(np.isfinite(best), along, normals[ids] @ up) > UP  # what hangs over
            if area[ids][bottom].sum() >= TOUCHING * area[ids].sum() and top.any():
                drop[ids[~top]] = True
        grounds[thing] = Ground(sculpt.vertices, sculpt.faces[own & ~drop],
                                front_of(sculpt, settings, thing), nearest)
    return drop
