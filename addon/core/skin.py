"""The outer skin of a sculpt that was modelled with both faces of the foam.

A thin closed shell, such as a surface whose thickness has been applied, is the
outside, the inside and a rim. Only the outside is foam to be cut: the stock
supplies the thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from . import mesh
from .errors import WARNING, Finding
from .model import Sculpt

OPEN, DOUBLE, SOLID = "open", "double-walled", "solid"  # kinds of a part

THIN = 0.12  # a wall below this share of the part's size makes it a shell
RIM = math.radians(45.0)  # folds that bound the rim of a shell
OPPOSITE = -0.7  # cosine between the normals of the two faces of a wall
TURN = 0.2  # of the part's size: a normal turned by 1 counts as far away as this
DEPTHS = (0.005, 0.02, 0.05, 0.1)  # of the part's size, how deep walls are looked for
PAIRED = 0.6  # share of the area that must lie opposite another wall


@dataclass(frozen=True, eq=False)
class Shell:
    """A connected part of a sculpt: its faces (k,), OPEN, DOUBLE or SOLID.

    Of a double-walled one also its outer skin, faces (j,), and the wall in mm.
    """

    kind: str
    faces: np.ndarray
    skin: np.ndarray = ()
    wall: float = 0.0


def outer_skin(sculpt: Sculpt, without: np.ndarray | None = None) -> Sculpt:
    """The sculpt with every double-walled part reduced to its outer face.

    without (m,): faces that are known to be none of it, and go first.

    Adds the finding `double-walled` for each, in the numbers of the sculpt as it was
    read; `origin` of the result tells them for its faces. Vertices keep theirs; marks on
    removed faces only are dropped. Open surfaces and solids stay as they are.
    """
    if without is not None and without.any():
        sculpt = _kept(sculpt, ~without, [])
    keep = np.ones(len(sculpt.faces), dtype=bool)
    found = []
    for shell in shells(sculpt):
        if shell.kind == DOUBLE:
            keep[np.setdiff1d(shell.faces, shell.skin)] = False
            found.append(double_walled(sculpt, shell))
    return _kept(sculpt, keep, found) if found else sculpt


def double_walled(sculpt: Sculpt, shell: Shell) -> Finding:
    """That a part is modelled with both faces; the finding's faces are its outer skin."""
    return Finding(
        "double-walled", WARNING,
        f"This part is modelled with both faces, about {shell.wall:.1f} mm apart.",
        "Only its outer face is used, as the outside of the foam. Remove the inner face and "
        "the rim if that is not what you want to build.", faces=sculpt.origin[shell.skin])


def shells(sculpt: Sculpt) -> list[Shell]:
    """The connected parts of a sound sculpt, in the order of their lowest vertices."""
    start, end, _ = mesh.half_edges(sculpt.faces)
    _, label = mesh.components(len(sculpt.vertices), np.stack([start, end], axis=1))
    part = label[sculpt.faces[:, 0]]
    rim = np.unique(part[np.flatnonzero(mesh.twins(sculpt.faces) < 0) // 3])
    order = np.argsort(part, kind="stable")
    numbers, starts = np.unique(part[order], return_index=True)
    closed = ~np.isin(numbers, rim)
    found = []
    for is_closed, ids in zip(closed, np.split(order, starts[1:]), strict=True):
        if not is_closed:
            found.append(Shell(OPEN, ids))
            continue
        skin, wall = _skin(sculpt.vertices, sculpt.faces[ids])
        found.append(Shell(SOLID, ids) if skin is None else Shell(DOUBLE, ids, ids[skin], wall))
    return found


def _kept(sculpt: Sculpt, keep: np.ndarray, found: list[Finding]) -> Sculpt:
    count = len(sculpt.vertices)
    faces = sculpt.faces[keep]
    start, end, _ = mesh.half_edges(faces)
    present = mesh.edge_keys(np.stack([start, end], axis=1), count)
    marks = np.isin(mesh.edge_keys(sculpt.edges, count), present)
    return replace(
        sculpt, faces=faces, face_object=sculpt.face_object[keep], polygon=sculpt.polygon[keep],
        origin=sculpt.origin[keep], edges=sculpt.edges[marks], kinds=sculpt.kinds[marks],
        findings=(*sculpt.findings, *found))


def _skin(vertices: np.ndarray, faces: np.ndarray) -> tuple[np.ndarray | None, float]:
    """Faces (m,) of the outer skin of one closed part and its wall, or None for a solid."""
    normals, area = mesh.face_normals(vertices, faces)
    wall = _walls(vertices, faces, normals)
    paired = np.isfinite(wall)
    if area[paired].sum() < PAIRED * area.sum():
        return None, 0.0
    order = np.argsort(wall[paired])
    weight = np.cumsum(area[paired][order])
    median = float(wall[paired][order][np.searchsorted(weight, weight[-1] / 2)])
    size = float(np.linalg.norm(np.ptp(vertices[faces.ravel()], axis=0)))
    if median > THIN * size:
        return None, 0.0
    edges, beside = mesh.edge_faces(faces)
    n1, n2 = normals[beside[:, 0]], normals[beside[:, 1]]
    smooth = np.einsum("ij,ij->i", n1, n2) > math.cos(RIM)
    length = np.linalg.norm(vertices[edges[:, 1]] - vertices[edges[:, 0]], axis=1)
    # A rounded rim has no sharp edges; it ends the wall all the same.
    between = (wall < 2 * median)[beside].all(axis=1)
    for joined in (smooth, smooth & between):
        number, patch = mesh.components(len(faces), beside[joined])
        wide = np.flatnonzero(_widths(number, patch, area, beside[~joined], length[~joined])
                              > 2 * median)
        if len(wide) > 1:
            outside = _outside(vertices, faces, normals, area, patch, wide, median)
            return np.isin(patch, wide[outside]), median
    return None, 0.0


def _widths(number, patch, area, beside, length) -> np.ndarray:
    """Width (number,) of each patch as of a strip: its area over half of its outline."""
    outline = np.zeros(number)
    for side in (0, 1):
        outline += np.bincount(patch[beside[:, side]], length, minlength=number)
    return np.divide(2 * np.bincount(patch, area, minlength=number), outline,
                     out=np.full(number, np.inf), where=outline > 0)


def _walls(vertices, faces, normals) -> np.ndarray:
    """Distance (m,) from each face inward to the nearest face that looks the other way.

    Asked in the space of places and normals, so that a fine mesh, where many faces of
    the same side are nearer than the wall is thick, hides no opposite one.
    """
    from scipy.spatial import cKDTree

    centre = vertices[faces].mean(axis=1)
    size = float(np.linalg.norm(np.ptp(centre, axis=0)))
    weight = TURN * size
    tree = cKDTree(np.hstack([centre, weight * normals]))
    near = min(4, len(faces))
    wall = np.full(len(faces), np.inf)
    for depth in DEPTHS:  # start inside the wall: what lies before the face is further away
        index = tree.query(np.hstack([centre - depth * size * normals, -weight * normals]), near)[1]
        step = centre[index.reshape(len(faces), near)] - centre[:, None]
        inward = -np.einsum("ijk,ik->ij", step, normals)
        opposite = np.einsum("ijk,ik->ij", normals[index.reshape(len(faces), near)], normals)
        hit = (opposite < OPPOSITE) & (inward > 0.5 * np.linalg.norm(step, axis=2))
        wall = np.minimum(wall, np.where(hit, inward, np.inf).min(axis=1))
    return wall


def _outside(vertices, faces, normals, area, patch, wide, wall) -> np.ndarray:
    """Which of the wide patches (k,) face outward.

    Offset a wall from the outside inward and it shrinks where it is convex; so of two
    facing patches the outer one is the larger (Steiner's formula), and between equal
    ones the one that looks away from the part's middle.
    """
    from scipy.spatial import cKDTree

    centre = vertices[faces].mean(axis=1)
    tree = cKDTree(centre)
    middle = np.average(centre, axis=0, weights=area)
    total = np.array([area[patch == p].sum() for p in wide])
    away = np.array([np.average(np.einsum("ij,ij->i", normals[patch == p],
                                          centre[patch == p] - middle),
                                weights=area[patch == p]) for p in wide])
    partner = np.full(len(wide), -1)
    for k, p in enumerate(wide):
        mine = np.flatnonzero(patch == p)
        _, other = tree.query(centre[mine] - normals[mine] * wall)
        counts = np.bincount(patch[other], weights=area[mine], minlength=int(patch.max()) + 1)
        counts[p] = 0
        choice = wide[np.argmax(counts[wide])]
        partner[k] = int(np.flatnonzero(wide == choice)[0])
    difference = total / total[partner] - 1
    further = (away > away[partner]) | ((away == away[partner]) & (np.arange(len(wide)) < partner))
    return np.where(np.abs(difference) > 1e-3, difference > 0, further)
