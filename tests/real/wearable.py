"""Sculpts made by strangers, at the size at which they are worn, as the maker would hand them in.

A solid shoulder plate is built without its underside, and of a figure only the torso.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from addon.core import mesh
from addon.core.model import Sculpt
from addon.files import read_mesh

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


def _read(name: str, axis: int, size: float) -> Sculpt:
    read = read_mesh(DATA / name, "m")
    return replace(read, vertices=read.vertices * (size / np.ptp(read.vertices[:, axis])))


def _only(sculpt: Sculpt, kept: np.ndarray) -> Sculpt:
    used, faces = np.unique(sculpt.faces[kept], return_inverse=True)
    return Sculpt.plain(sculpt.vertices[used], faces.reshape(-1, 3))


def _parts(sculpt: Sculpt, kept: np.ndarray) -> np.ndarray:
    """Number (m,) of the connected part of each face, of the faces kept (m,)."""
    start, end, _ = mesh.half_edges(sculpt.faces[kept])
    return mesh.components(len(sculpt.vertices), np.stack([start, end], axis=1))[1][
        sculpt.faces[:, 0]]


def _shoulder_plate() -> Sculpt:
    sculpt = _read("armour/ShoulderPads.glb", 0, 500.0)
    part = _parts(sculpt, np.ones(len(sculpt.faces), bool))
    one = _only(sculpt, part == part[0])
    one = replace(one, vertices=one.vertices * (220 / np.ptp(one.vertices, axis=0).max()))
    return _only(one, mesh.face_normals(one.vertices, one.faces)[0][:, 2] > -0.2)


def _torso() -> Sculpt:
    """From the hips to the shoulders, without arms; turned so that z points up."""
    sculpt = _read("bodies/mh_male_generic.obj", 1, 1748.0)
    centre = sculpt.vertices[sculpt.faces].mean(axis=1)
    height = centre[:, 1] - sculpt.vertices[:, 1].min()
    kept = (0.56 * 1748 < height) & (height < 0.83 * 1748) & (np.abs(centre[:, 0]) < 175)
    part = _parts(sculpt, kept)
    kept &= part == np.bincount(part[kept]).argmax()
    x, y, z = sculpt.vertices.T
    return _only(replace(sculpt, vertices=np.stack([x, -z, y], axis=1)), kept)


def _goat_head() -> Sculpt:
    sculpt = _read("sculpts/os_goathead.obj", 0, 350.0)
    size = np.ptp(sculpt.vertices, axis=0).max()
    return replace(sculpt, vertices=sculpt.vertices * (350 / size))


_MADE: dict[str, Callable[[], Sculpt]] = {
    "leather breastplate": lambda: _read("armour/Armor_Leather.glb", 0, 380.0),
    "metal breastplate": lambda: _read("armour/Armor_Metal.glb", 0, 380.0),
    "helmet": lambda: _read("armour/Helmet2.glb", 0, 260.0),
    "shoulder plate": _shoulder_plate,
    "male torso": _torso,
    "goat head": _goat_head,
    "detailed helmet": lambda: _read("armour/SciFiHelmet_welded.ply", 0, 260.0),
}
NAMES = tuple(_MADE)


@cache
def wearable(name: str) -> Sculpt:
    """One of the sculpts in NAMES, in mm."""
    return _MADE[name]()
