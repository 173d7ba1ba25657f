"""Proposed openings of closed sculpts made by strangers; skipped where those are not there."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from addon.core import mesh, seams
from addon.core.model import SEAM, Sculpt
from addon.core.openings import propose_opening
from addon.files import read_mesh

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(
    not DATA.is_dir(), reason="the folder with real meshes is not beside this checkout")

NAMES = ("armour/Armor_Leather.glb", "armour/Armor_Metal.glb", "armour/Helmet2.glb",
         "armour/SciFiHelmet_welded.ply", "armour/ShoulderPads.glb", "sculpts/os_goathead.obj",
         "sculpts/os_spot_low_resolution.obj", "bodies/mh_female_generic.obj",
         "bodies/mh_male_generic.obj")


@pytest.mark.parametrize("name", NAMES)
def test_one_proposal_leaves_only_discs_with_holes(name):
    sculpt = read_mesh(DATA / name, "m")
    line = propose_opening(sculpt.vertices, sculpt.faces, sculpt.polygon)
    cut = seams.cut(Sculpt.plain(sculpt.vertices, sculpt.faces, line, [SEAM] * len(line)))
    assert sum(len(r.faces) for r in cut.regions) == len(sculpt.faces)
    for region in cut.regions:
        edges = len(np.unique(mesh.half_edges(region.faces)[2]))
        rims = len(region.loops)
        assert rims and len(region.vertices) - edges + len(region.faces) == 2 - rims


@pytest.mark.parametrize("name", NAMES)
def test_only_edges_of_the_makers_faces_are_proposed(name):
    sculpt = read_mesh(DATA / name, "m")
    line = propose_opening(sculpt.vertices, sculpt.faces, sculpt.polygon)
    edges, beside = mesh.edge_faces(sculpt.faces)
    count = len(sculpt.vertices)
    between = edges[sculpt.polygon[beside[:, 0]] != sculpt.polygon[beside[:, 1]]]
    assert np.isin(mesh.edge_keys(line, count), mesh.edge_keys(between, count)).all()


@pytest.mark.parametrize("name", [n for n in NAMES if n.startswith(("bodies", "sculpts"))])
def test_a_closed_solid_is_parted_in_two(name):
    """Each has genus 0 (Euler characteristic 2), so one line round it makes two discs."""
    sculpt = read_mesh(DATA / name, "m")
    line = propose_opening(sculpt.vertices, sculpt.faces, sculpt.polygon)
    opened, source = mesh.cut_along(sculpt.faces, line, len(sculpt.vertices))
    start, end, _ = mesh.half_edges(opened)
    assert mesh.components(len(source), np.stack([start, end], axis=1))[0] == 2
    assert len(mesh.boundary_loops(opened)) == 2
