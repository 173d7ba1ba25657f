"""Lines across the faces of sculpts made by strangers; skipped where those are not there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.model import SCORE, SEAM, SMOOTH, TRENCH, Guide
from addon.core.trace import Surface, fair_through, lay, needed, through
from addon.files import read_mesh

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(
    not DATA.is_dir(), reason="the folder with real meshes is not beside this checkout")

NAMES = ("armour/Armor_Leather.glb", "armour/Armor_Metal.glb", "armour/Helmet2.glb",
         "armour/SciFiHelmet_welded.ply", "armour/ShoulderPads.glb", "sculpts/os_goathead.obj",
         "bodies/mh_male_generic.obj")


@pytest.mark.parametrize("name", NAMES)
def test_lines_anywhere_are_cut_without_a_change_of_shape(name):
    sculpt = read_mesh(DATA / name, "m")
    sculpt = replace(sculpt, vertices=sculpt.vertices * 500 / np.ptp(sculpt.vertices, axis=0).max())
    surface = Surface(sculpt.vertices, sculpt.faces)
    centres, rng, guides = sculpt.vertices[sculpt.faces].mean(axis=1), np.random.default_rng(0), []
    for number in range(30):
        away = np.linalg.norm(centres - centres[rng.integers(len(centres))], axis=1)
        picks = centres[rng.choice(np.flatnonzero(away < 150), 3)]
        try:
            line = (fair_through if number % 2 else through)(surface, picks)
        except FoamError:  # on two parts
            continue
        chords = np.linalg.norm(np.diff(picks, axis=0), axis=1).sum()
        assert line.length >= chords - 1e-6
        guides.append(Guide(line.points[needed(line.points, 0.05)],
                            (SEAM, TRENCH, SCORE)[number % 3],
                            object=int(sculpt.face_object[line.face[0]])))
    assert guides
    laid = lay(replace(sculpt, guides=tuple(guides)))
    assert not [f for f in laid.findings if f.code == "guide-off-surface"]
    assert ((laid.kinds & SMOOTH) != 0).any()
    normal, area = mesh.face_normals(sculpt.vertices, sculpt.faces)
    new_normal, new_area = mesh.face_normals(laid.vertices, laid.faces)
    assert np.allclose(np.bincount(laid.origin, new_area, len(area)), area, rtol=1e-9, atol=1e-9)
    assert (np.einsum("ij,ij->i", new_normal, normal[laid.origin])[new_area > 1e-9] > 0.999).all()
    assert np.array_equal(laid.vertices[:len(sculpt.vertices)], sculpt.vertices)
