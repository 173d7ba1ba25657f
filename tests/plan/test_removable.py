"""Removable joins: do they open, does a head get in, do their faces meet flat?"""

import math
from dataclasses import replace

import numpy as np
import pytest

from addon.core import make, mesh
from addon.core.joining.blocks import wedge
from addon.core.joining.rings import passage
from addon.core.model import (
    HALF,
    HOOK,
    JOIN_BIT,
    JOINS,
    SEAM,
    SPACER,
    STRAP,
    JoinSizes,
    Sculpt,
    SculptObject,
    Settings,
)
from tests.plan.conftest import EVA, grid, ring_patches, welded
from tests.shapes import cap, cylinder


def flagged(kind):
    return SEAM | JOINS.index(kind) * JOIN_BIT


def ring(name, joins=("",) * 6, radius=95.0, height=120.0, low=1.0):
    """An open tube of six flat staves called `name`; joins: of the seams, in turn. low: share of
    the height from which on the seams are what was asked; they are plain below."""
    points, faces, label = welded(ring_patches(len(joins), radius, height))
    pairs, beside = mesh.edge_faces(faces)
    edges = pairs[label[beside[:, 0]] != label[beside[:, 1]]]
    middle = points[edges].mean(1)
    turn = np.round(np.arctan2(middle[:, 1], middle[:, 0]) / (2 * np.pi) * len(joins)).astype(int)
    above = middle[:, 2] >= (1 - low) * height - 1e-6
    kinds = [flagged(joins[t % len(joins)] if up else "") for t, up in zip(turn, above,
                                                                          strict=True)]
    return Sculpt(points, faces, np.sort(edges, 1), np.array(kinds), np.zeros(len(faces), int),
                  (SculptObject(name),), np.arange(len(faces)))


def codes(pattern):
    return [f.code for f in pattern.findings]


def check(sculpt, **more):
    return make.check(sculpt, Settings(EVA, seam_angle=None, **more))


# --- can it be put on? -------------------------------------------------------


@pytest.mark.parametrize(("name", "radius", "found"), [
    ("Collar", 95.0, True), ("Collar", 125.0, False), ("Breast", 160.0, True),
    ("Breast", 260.0, False), ("Vase", 95.0, False), ("Bracer", 50.0, False)])
def test_a_glued_ring_must_let_the_head_or_body_through(name, radius, found):
    """A hexagon of radius R is 6 R round; inside foam of 10 mm it is 2π · 10 less, by a tape.
    Of nine heads in ten the largest is 601 mm round, of chests 1207 (ANSUR II)."""
    pattern = check(ring(name, radius=radius))
    needed = {"Collar": 601.0, "Breast": 1207.0}.get(name, 0.0)
    assert (6 * radius - 20 * math.pi < needed) == found
    assert ("no-way-in" in codes(pattern)) == found
    if found:
        (told,) = [f for f in pattern.findings if f.code == "no-way-in"]
        assert f"{6 * radius - 20 * math.pi:.0f}" in told.message and len(told.faces)


@pytest.mark.parametrize(("worn", "measures", "found"), [
    ("", (), False), ("neck", (), True), ("anywhere", (), False), ("torso", (), True),
    ("neck", (("head", 530.0),), True), ("neck", (("head", 500.0),), False),
    ("neck", (("chest", 500.0),), True), ("torso", (("chest", 500.0),), False)])
def test_where_it_is_worn_and_the_own_measures_of_the_wearer_count(worn, measures, found):
    """A vase of radius 95 lets 570 - 20π = 507 mm through, as a tape goes; what the maker says of
    it goes before its name, and what they measured before what nine in ten measure."""
    sculpt = ring("Vase", radius=95.0)
    sculpt = replace(sculpt, objects=(replace(sculpt.objects[0], worn=worn),))
    pattern = check(sculpt, measures=measures)
    assert ("no-way-in" in codes(pattern)) == found
    if found:
        (told,) = [f for f in pattern.findings if f.code == "no-way-in"]
        own = dict(measures).get("head" if worn == "neck" else "chest")
        assert ("up to" in told.message) == (own is None)
        assert own is None or f"measures {own:.0f} mm" in told.message


def test_a_collar_that_is_said_to_be_worn_anywhere_is_not_asked():
    sculpt = ring("Collar", radius=95.0)
    sculpt = replace(sculpt, objects=(replace(sculpt.objects[0], worn="anywhere"),))
    assert "no-way-in" not in codes(check(sculpt))


def test_a_mock_up_of_half_the_size_is_not_put_on():
    open_enough = ring("Breast", radius=260.0)
    assert "no-way-in" not in codes(check(open_enough, mock_up=HALF))


@pytest.mark.parametrize("kind", [HOOK, STRAP])
def test_a_removable_seam_from_rim_to_rim_lets_the_head_in(kind):
    opened = check(ring("Collar", ("", "", kind, "", "", "")))
    assert not {"no-way-in", "glued-across"} & set(codes(opened))


def test_a_removable_seam_that_ends_in_glue_cannot_be_opened():
    """Its lower half is glued: the join is told, and no head gets in."""
    half = check(ring("Collar", ("", "", HOOK, "", "", ""), low=0.5))
    assert {"no-way-in", "glued-across"} <= set(codes(half))
    (told,) = [f for f in half.findings if f.code == "glued-across"]
    assert len(told.vertices) == 1 and len(told.edges) >= 1


def test_girths_of_known_surfaces():
    """A tape round a tube of radius R measures 2πR; a waisted tube is as wide as its waist; a cap
    of half a ball is open; a cap that closes beyond it is as wide as its rim."""
    turn = np.linspace(0, 2 * np.pi, 97)[:-1]
    def tube(radius):
        heights = np.linspace(0, 200, 21)
        points = np.array([(radius(z) * np.cos(a), radius(z) * np.sin(a), z)
                           for z in heights for a in turn])
        n = len(turn)
        faces = [t for k in range(20) for i in range(n) for t in (
            (k * n + i, k * n + (i + 1) % n, (k + 1) * n + (i + 1) % n),
            (k * n + i, (k + 1) * n + (i + 1) % n, (k + 1) * n + i))]
        return points, np.array(faces)

    assert passage(*tube(lambda z: 100.0)) == pytest.approx(200 * np.pi, rel=1e-3)
    waist = passage(*tube(lambda z: 100.0 - 40.0 * np.sin(np.pi * z / 200)))
    assert waist == pytest.approx(120 * np.pi, rel=0.01)
    assert passage(*cylinder(100.0, 1.5 * np.pi, 200.0)[:2]) == math.inf
    assert passage(*cap(100.0, np.radians(90))[:2]) == math.inf
    helmet = cap(100.0, np.radians(150))[:2]
    assert passage(*helmet) == pytest.approx(100 * np.pi, rel=0.01)  # 2πR sin 150°


# --- blocks ------------------------------------------------------------------


@pytest.mark.parametrize("fold", [90, 60, 30, 8, -8, -30, -60, -90])
def test_wedges_on_both_sides_make_one_plane(fold):
    """In the section square to the seam: the upper faces of both wedges lie on one line, and no
    wedge reaches into the other's half."""
    width, phi = 25.0, math.radians(fold)
    (near, far), angle = wedge(phi, width)
    # Inner faces run from the seam at the origin; up is inward.
    side = np.array((math.cos(phi / 2), math.sin(phi / 2)))
    up = np.array((-side[1], side[0]))
    if fold > 0:  # highest where the line from the far edge meets the middle plane
        far_edge = width * side
        top = far_edge + (width * math.cos(phi / 2)) * np.array((-1.0, 0.0))
        assert top[0] == pytest.approx(0.0)
        assert near == pytest.approx(float(top @ up)) and far == 0.0
    else:
        top = width * side + far * up
        assert top[1] == pytest.approx(0.0, abs=1e-9) and near == 0.0
    assert angle == pytest.approx(abs(phi) / 2)


def roofed(fold, kind, thick=EVA):
    """Two plates that meet in a ridge folded by an angle, joined by a seam of a kind."""
    c, s = 100 * math.cos(fold / 2), 100 * math.sin(fold / 2)
    points, faces, label = welded([grid((-c, 0, -s), (c, 0, s), (0, 200, 0)),
                                   grid((0, 0, 0), (c, 0, -s), (0, 200, 0))])
    pairs, beside = mesh.edge_faces(faces)
    edges = pairs[label[beside[:, 0]] != label[beside[:, 1]]]
    return Sculpt.plain(points, faces, np.sort(edges, 1), np.full(len(edges), flagged(kind)))


@pytest.mark.parametrize(("fold", "blocks"), [(0, 0), (4, 0), (6, 2), (60, 2), (-40, 2)])
def test_a_block_is_made_where_the_faces_are_not_parallel_within_five_degrees(fold, blocks):
    """200 mm of seam take two patches, 50 × 25 mm, at most 150 mm apart (JoinSizes)."""
    pattern = check(roofed(math.radians(fold), HOOK))
    assert len(pattern.blocks) == (1 if blocks else 0)
    for block in pattern.blocks:
        high = 12.5 * math.sin(math.radians(fold)) if fold > 0 else 25 * math.tan(
            math.radians(-fold / 2))
        assert max(block.heights) == pytest.approx(high, abs=0.05)
        assert math.degrees(block.angle) == pytest.approx(abs(fold) / 2, abs=0.1)
        assert (block.length, block.width) == (50.0, 25.0)
        assert block.piece.copies == 2 * 2 * block.layers and block.layers == math.ceil(high / 10)
        assert np.ptp(block.piece.cut[0], axis=0).tolist() == [50.0, 25.0]
        assert len(block.on) == blocks and set(block.on) == {p.code for p in pattern.pieces}
    assert not check(roofed(math.radians(fold), "")).blocks


def test_faces_that_turn_too_far_for_a_block_are_told():
    assert "block-impossible" in codes(check(roofed(math.radians(130), STRAP)))
    assert "block-impossible" not in codes(check(roofed(math.radians(110), STRAP)))


def test_blocks_lie_on_mats_and_pages_with_the_pieces():
    pattern = make.make_pattern(roofed(math.radians(60), HOOK), Settings(EVA, nest_seconds=0.1))
    names = {b.piece.code for b in pattern.blocks}
    for sheets in (pattern.mats, pattern.pages):
        laid = [p.piece for s in sheets for p in s.placements]
        assert names <= set(laid)
    cut = [p.piece for s in pattern.mats for p in s.placements]
    assert all(cut.count(b.piece.code) == b.piece.copies for b in pattern.blocks)
    (step,) = [s for s in pattern.steps if s.kind == "fasten"]
    assert all(any(name in text for text in step.text) for name in names)


def test_a_spacer_that_shows_is_told():
    low, high = (check(roofed(0.0, SPACER), joins=replace(JoinSizes(), spacer=gap))
                 for gap in (15.0, 25.0))
    assert "gap-shows" not in codes(low) and "gap-shows" in codes(high)
