"""Sculpts made by strangers, cut into pieces by crude automatic seams: sound pieces or a reason.

The seams are borders of patches grown at one pace from places far apart: they zigzag, and
take no heed of shape. Sizes are those of wearable armour, a figure that of a person.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from addon.core.make import Memory
from addon.core.model import SEAM, Pattern, Sculpt, Settings
from addon.core.openings import propose_opening
from addon.core.stock import Stock
from addon.files import read_mesh
from tests.hard import borders, patches
from tests.sound import mate_faults, pattern_or_reasons

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
pytestmark = [
    pytest.mark.skipif(not DATA.is_dir(),
                       reason="the folder with real meshes is not beside this checkout"),
    pytest.mark.filterwarnings("error")]

# Name: axis along which it is measured, mm along that, patches.
SIZE = {
    "armour/Armor_Leather.glb": (0, 380.0, 16), "armour/Armor_Metal.glb": (0, 380.0, 24),
    "armour/Helmet2.glb": (0, 260.0, 12), "armour/ShoulderPads.glb": (0, 500.0, 12),
    "armour/SciFiHelmet_welded.ply": (0, 260.0, 30),
    "bodies/mh_male_generic.obj": (1, 1748.0, 40), "bodies/mh_female_generic.obj": (1, 1605.0, 40),
    "sculpts/os_goathead.obj": (0, 350.0, 24),
    "sculpts/os_spot_low_resolution.obj": (0, 350.0, 20),
}
# Foam that is thin beside fingers, ears and the details of a helmet.
THIN = ("armour/SciFiHelmet_welded.ply", "bodies/mh_male_generic.obj",
        "bodies/mh_female_generic.obj")
ROUNDS = 6  # of leaving out patches that are refused


@cache
def wearable(name: str) -> Sculpt:
    read = read_mesh(DATA / name, "m")
    axis, length, _ = SIZE[name]
    return replace(read, vertices=read.vertices * (length / np.ptp(read.vertices[:, axis])))


def settings(name: str) -> Settings:
    thickness = 2.0 if name in THIN else 5.0
    return Settings(Stock(f"foam {thickness:g} mm", thickness))


def marked(part: Sculpt, line: np.ndarray, kept=slice(None)) -> Sculpt:
    return Sculpt.plain(part.vertices, part.faces[kept], line, [SEAM] * len(line))


@cache
def checked(name: str) -> tuple[Pattern | None, np.ndarray]:
    """The pattern of a sculpt in crude patches, and which faces (m,) of the sculpt it has.

    Patches that are refused are left out, and the rest is tried again.
    """
    part = wearable(name)
    label = patches(part.vertices, part.faces, SIZE[name][2])
    kept, memory = np.ones(len(part.faces), dtype=bool), Memory()
    for _ in range(ROUNDS):
        if not kept.any():
            break
        line = borders(part.faces[kept], label[kept])
        pattern, findings = pattern_or_reasons(marked(part, line, kept), settings(name), memory)
        if pattern is not None:
            return pattern, kept
        kept &= ~np.isin(label, label[kept][named(part.faces[kept], findings)])
    return None, kept


def named(faces: np.ndarray, findings: list) -> np.ndarray:
    """The faces that findings name, or that lie along an edge or vertex they name."""
    hit = np.zeros(len(faces), dtype=bool)
    for finding in findings:
        places = np.concatenate([finding.vertices, finding.edges.ravel()])
        hit |= np.isin(faces, places).any(axis=1)
        hit[finding.faces] = True
    return np.flatnonzero(hit)


@pytest.mark.parametrize("name", SIZE)
def test_crude_patches_give_sound_pieces_or_are_refused_with_places(name):
    pattern, kept = checked(name)
    assert pattern is not None and kept.mean() > 0.3
    used = np.concatenate([p.source_face for p in pattern.pieces])
    assert len(np.unique(used)) == len(used)
    inside = any(f.code == "double-walled" for f in pattern.findings)
    assert inside or len(used) == kept.sum()


@pytest.mark.parametrize("name", SIZE)
def test_proposed_openings_give_sound_pieces_or_are_refused_with_places(name):
    part = wearable(name)
    line = propose_opening(part.vertices, part.faces, part.polygon)
    pattern, findings = pattern_or_reasons(marked(part, line), settings(name))
    assert findings if pattern is None else pattern.pieces


@pytest.mark.parametrize("name", SIZE)
def test_mates_of_crude_patches_meet_or_are_eased(name):
    pattern, _ = checked(name)
    assert not mate_faults(pattern)
