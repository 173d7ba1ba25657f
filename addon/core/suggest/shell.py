"""What of a sculpt is shell to be divided, and what is detail that is laid on it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import Sculpt, Settings
from ..stock import Stock
from .cluster import patches
from .creases import BEND, folds
from .merge import FEW, Parting, split_unfit
from .propose import Start
from .trial import Judge
from .verdict import Judged
from .working import Working

DETAIL = 0.02  # of the largest part's area: what is smaller is laid on
MATS = 60  # of an object's area alone: beyond this it is no armour but a mistake in its unit
PATCH = 30.0  # square thicknesses: patches no larger on average make no suit of foam
CROWDED = 0.6  # mean curvature times thickness, on average: foam bends nowhere so tightly


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
                   polygon=sculpt.polygon[kept], origin=sculpt.origin[kept],
                   parent=sculpt.parent[kept] if len(sculpt.parent) else ())


def refuse_size(sculpt: Sculpt, settings: Settings, known: Sequence[Finding]) -> None:
    """Raise FoamError `too-large-to-suggest` for objects whose area alone takes very many mats,
    with what is known of the sculpt's size: its findings `implausible-size`."""
    area = mesh.face_normals(sculpt.vertices, sculpt.faces)[1]
    found = []
    for index, thing in enumerate(sculpt.objects):
        mine = np.flatnonzero(sculpt.face_object == index)
        mats = area[mine].sum() / np.prod((thing.stock or settings.stock).sheet)
        if mats > MATS:
            found.append(Finding(
                "too-large-to-suggest", ERROR,
                f"“{thing.name}” has {area[mine].sum() / 1e6:.0f} m² of surface, which takes at "
                f"least {np.ceil(mats):.0f} mats of foam: too large for seams to be proposed.",
                "Say in which unit the sculpt was made, or scale it to the size at which it is "
                "worn; if it is that large, part it into several objects first.",
                faces=np.unique(sculpt.origin[mine])))
    if found:
        raise FoamError(*found, *(each for each in known if each.code == "implausible-size"))


def refuse_detail(sculpt: Sculpt, faces: np.ndarray, stock: Stock) -> None:
    """Raise FoamError `too-detailed` for faces (k,) that bend all over, this way and that.

    Looked at is the mean of the curvature's size times the thickness: the folds' sizes times
    their edges' lengths, over twice the area (Steiner). A ball of the foam's smallest radius,
    of two thicknesses, has 1/2.
    """
    part = sculpt.faces[faces]
    edges, beside = mesh.edge_faces(part)
    fold = np.abs(folds(sculpt.vertices, part, edges, beside))
    length = np.linalg.norm(sculpt.vertices[edges[:, 1]] - sculpt.vertices[edges[:, 0]], axis=1)
    area = mesh.face_normals(sculpt.vertices, part)[1].sum()
    if (fold * length).sum() * stock.thickness > CROWDED * 2 * area:
        sharp = np.unique(beside[fold > BEND])
        raise FoamError(Finding(
            "too-detailed", ERROR,
            f"Folds and details cover this sculpt more closely than foam {stock.thickness:g} mm "
            "thick can follow.",
            "Make a simpler base shell and lay the details on it, or choose a thinner stock.",
            faces=sculpt.origin[faces[sharp]]))


def refuse_crowded(sculpt: Sculpt, working: Working, starts: Sequence[Start], limit: float,
                   tick: Callable[[], None]) -> None:
    """Raise FoamError `too-detailed` where the foam takes only patches of a few thicknesses each,
    and in places not even those: then no seams make few pieces of it, from whichever start."""
    judge = Judge(working, limit)
    for start in starts:
        parting = Parting.of(working, patches(working, start.patches, start.hard))
        split_unfit(parting, judge, tick)
        label, number = np.unique(parting.label, return_counts=True)
        mean = float(working.area.sum()) / len(label)
        unfit = [one for one, few in zip(label, number, strict=True) if few <= FEW
                 and judge(np.flatnonzero(parting.label == one), parting.open_edges).why]
        if not unfit or mean > PATCH * working.stock.thickness**2:
            return
    raise FoamError(Finding(
        "too-detailed", ERROR,
        f"Foam {working.stock.thickness:g} mm thick can follow this sculpt only in patches of "
        f"{mean / 100:.0f} cm² each, and in places not even so.",
        "Make a simpler base shell and lay the details on it, or choose a thinner stock.",
        faces=np.unique(sculpt.origin[working.source[np.isin(parting.label, unfit)]])))


def refuse_failed(pieces: Sequence[Judged]) -> None:
    """Raise FoamError `no-seams-found` where the foam takes less than half of the pieces and
    does not even stretch to all."""
    failed = [piece for piece in pieces if not piece.formable]
    if 2 * len(failed) > len(pieces) and any(piece.u > 1 for piece in failed):
        raise FoamError(Finding(
            "no-seams-found", ERROR,
            f"Of the best {len(pieces)} pieces that were found for this sculpt the foam does not "
            f"take {len(failed)}.",
            "Make a simpler base shell and lay the details on it, choose a thinner stock, or mark "
            "seams yourself.",
            faces=np.unique(np.concatenate([piece.faces for piece in failed]))))
