"""Joins of several kinds: from marks on edges to mates, parts and steps."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import make, seams
from addon.core.errors import FoamError
from addon.core.joining import join_of
from addon.core.model import (
    BUTT,
    HOOK,
    JOIN_BIT,
    JOINS,
    OVERLAP,
    SEAM,
    SPACER,
    STRAP,
    Guide,
    Join,
    JoinSizes,
    Sculpt,
)
from addon.core.model import Settings as Chosen
from addon.core.order import build, plan
from tests.plan.conftest import EVA, box_patches, grid, ring_patches, suit, welded
from tests.shapes import cylinder

SIZES = JoinSizes()


def marked(kind):
    return SEAM | JOINS.index(kind) * JOIN_BIT


def with_joins(pattern, **kinds):
    """The pattern with other joins for some mates, by code."""
    known = {p.code: p for p in pattern.pieces}
    mates = tuple(replace(m, join=join_of(kinds.get(m.code, ""), m, known, SIZES,
                                          np.array((0.0, 0.0, 1.0)))) for m in pattern.mates)
    return replace(pattern, mates=mates)


def test_a_seam_ends_where_its_join_changes():
    """A straight seam across a plate, half of it glued and half of it removable."""
    points, faces, _ = welded([grid((0, 0, 0), (100, 0, 0), (0, 100, 0), n=4)])
    line = [int(np.argmin(np.linalg.norm(points - (50, y, 0), axis=1))) for y in (0, 25, 50, 75,
                                                                                 100)]
    edges = np.sort(np.stack([line[:-1], line[1:]], 1), 1)
    kinds = [marked(BUTT), marked(BUTT), marked(HOOK), marked(HOOK)]
    cut = seams.cut(Sculpt.plain(points, faces, edges, kinds))
    assert sorted(s.join for s in cut.seams) == sorted([BUTT, HOOK])
    for seam in cut.seams:
        assert np.ptp(points[seam.vertices][:, 1]) == pytest.approx(50.0)
        assert len(seam.sides) == 2 and None not in seam.sides
    plain = seams.cut(Sculpt.plain(points, faces, edges, np.full(4, SEAM)))
    assert [s.join for s in plain.seams] == [""]


def test_a_line_drawn_across_faces_carries_its_join_to_the_mate():
    points, faces = grid((0, 0, 0), (200, 0, 0), (0, 100, 0), n=5)
    line = Guide(np.array([(90.0, -1.0, 0.0), (90.0, 101.0, 0.0)]), join=STRAP)
    pattern = make.make_pattern(Sculpt.plain(points, faces, guides=(line,)), Chosen(EVA))
    (mate,) = pattern.mates
    # 100 mm is one strap; 60 mm on each side and 120 for the buckle (JoinSizes).
    assert mate.join == Join(STRAP, count=1, patch=(25.0, 60.0), webbing=240.0, width=25.0)
    assert {p.pieces for p in pattern.parts} == {(c,) for c, _ in mate.edges}
    assert all(p.joins == (mate.code,) for p in pattern.parts)
    (step,) = [s for s in pattern.steps if s.kind == "fasten"]
    assert step.mates == (mate.code,) and not [s for s in pattern.steps if s.kind == "join"]


def test_sizes_of_hook_and_loop_by_hand():
    """A seam of 400 mm, patches at most 150 mm apart: 3 of 50 × 25 mm, and webbing under the
    hook and the loop patch of each: 2 × 3 × 50 = 300 mm."""
    plates = suit({"Plate": [grid((0, 0, 0), (100, 0, 0), (0, 400, 0)),
                             grid((100, 0, 0), (100, 0, 0), (0, 400, 0))]})
    join = with_joins(plates, M0=HOOK).mates[0].join
    assert (join.count, join.patch, join.webbing) == (3, (50.0, 25.0), 300.0)


@pytest.mark.parametrize(("kind", "gap"), [(OVERLAP, 0.0), (SPACER, 15.0)])
def test_what_lies_over_a_round_piece_is_longer_by_its_angle_times_its_lift(kind, gap):
    """A quarter of a tube, cut round it: an arc of angle a at R + h is longer by a · h."""
    points, faces = cylinder(100.0, np.pi / 2, 120.0)[:2]
    at = np.flatnonzero(np.abs(points[:, 2] - 60.0) < 1e-6)
    at = at[np.argsort(np.arctan2(points[at, 1], points[at, 0]))]
    edges = np.sort(np.stack([at[:-1], at[1:]], 1), 1)
    pattern = make.check(Sculpt.plain(points, faces, edges, np.full(len(edges), marked(kind))),
                         Chosen(EVA))
    (mate,) = pattern.mates
    assert mate.join.lift == 10.0 + gap and mate.join.gap == gap and mate.join.lap == 20.0
    assert mate.join.longer == pytest.approx(np.pi / 2 * mate.join.lift, rel=1e-3)
    heights = {p.code: p.vertices[:, 2].mean() for p in pattern.pieces}
    assert mate.join.over == max(heights, key=heights.get)


def test_removable_joins_part_a_ring_and_are_not_glued():
    ring = suit({"Ring": ring_patches(6)})
    assert len(build(ring.pieces, ring.mates, ring.settings, ring.sculpt).parts) == 1
    split = with_joins(ring, M0=HOOK, M3=STRAP)
    found = build(split.pieces, split.mates, split.settings, split.sculpt).parts
    assert sorted(c for p in found for c in p.pieces) == sorted(p.code for p in ring.pieces)
    for mate in split.mates:
        homes = {k for k, p in enumerate(found) for c, _ in mate.edges if c in p.pieces}
        assert (len(homes) == 2) == mate.join.removable or len(found) == 1
    steps = plan(split.pieces, split.mates, split.settings, split.sculpt)
    glued = [m for s in steps if s.kind in ("dart", "join", "close") for m in s.mates]
    assert sorted(glued) == sorted(m.code for m in split.mates if not m.join.removable)
    (fasten,) = [s for s in steps if s.kind == "fasten"]
    assert sorted(fasten.mates) == ["M0", "M3"]


def test_a_dart_stays_glued():
    plate = suit({"Plate": [grid((0, 0, 0), (80, 0, 0), (0, 80, 0))]},
                 extra_seams=[((0, 40, 0), (40, 40, 0))])
    assert with_joins(plate, M0=STRAP).mates[0].join == Join(BUTT)


# --- parts that come off -----------------------------------------------------


def test_both_halves_of_a_ring_come_off_sideways():
    ring = suit({"Ring": ring_patches(6)})
    at = {m.code: m.curve.mean(0) for m in ring.mates}
    first = ring.mates[0].code
    far = max(at, key=lambda code: np.linalg.norm(at[code] - at[first]))
    split = with_joins(ring, **{first: HOOK, far: HOOK})
    found = build(split.pieces, split.mates, split.settings, split.sculpt)
    known = {p.code: p for p in split.pieces}
    assert [len(part.pieces) for part in found.parts] == [3, 3]
    for part in found.parts:
        middle = np.mean([known[c].vertices.mean(0) for c in part.pieces], axis=0)
        assert np.dot(part.way, middle - (0, 0, middle[2])) > 0 and part.turn == 1
    assert not [f for f in found.findings if f.code == "part-stuck"]


def test_a_part_that_overlaps_hold_all_round_is_stuck():
    """A lid under flaps of all four walls, with hook-and-loop all round: it lies between floor
    and flaps. With the flaps under the lid it comes off upward."""
    box = suit({"Box": box_patches()})
    top = max(box.pieces, key=lambda p: p.vertices[:, 2].min()).code
    seams = [m.code for m in box.mates if top in {c for c, _ in m.edges}]
    lid = with_joins(box, **dict.fromkeys(seams, HOOK))
    found = build(lid.pieces, lid.mates, lid.settings, lid.sculpt)
    part = next(p for p in found.parts if p.pieces == (top,))
    assert part.way == pytest.approx((0, 0, 1), abs=1e-6) and sorted(part.joins) == sorted(seams)
    assert not [f for f in found.findings if f.code == "part-stuck"]
    held = tuple(replace(m, join=replace(m.join, lap=30.0, lift=10.0, over=next(
        c for c, _ in m.edges if c != top))) if m.code in seams else m for m in lid.mates)
    found = build(lid.pieces, held, lid.settings, lid.sculpt)
    (finding,) = [f for f in found.findings if f.code == "part-stuck"]
    assert top in finding.message


def test_what_holds_a_seam_is_told_by_its_letter_whatever_is_marked():
    """Two seams across a strip, of two lengths: one marked as hook-and-loop, one as nothing."""
    points, faces = grid((0, 0, 0), (300, 0, 0), (0, 90, 0), n=5)
    hook = Guide(np.array([(90.0, -1.0, 0.0), (90.0, 91.0, 0.0)]), join=HOOK)
    plain = Guide(np.array([(190.0, -1.0, 0.0), (230.0, 91.0, 0.0)]))
    sculpt = Sculpt.plain(points, faces, guides=(hook, plain))
    before = {m.letter: m.join.kind for m in make.check(sculpt, Chosen(EVA)).mates}
    assert sorted(before.values()) == sorted([BUTT, HOOK])
    turned = {letter: STRAP if kind == BUTT else BUTT for letter, kind in before.items()}
    after = make.make_pattern(sculpt, Chosen(EVA, held=tuple(turned.items()), nest_seconds=0.0))
    assert {m.letter: m.join.kind for m in after.mates} == turned
    (strap,) = [m for m in after.mates if m.join.kind == STRAP]
    assert strap.join.count == 1 and strap.join.webbing == 240.0
    (step,) = [s for s in after.steps if s.kind == "fasten"]
    assert step.mates == (strap.code,) and len(after.parts) == 2
    with pytest.raises(FoamError, match="no-such-seam"):
        make.check(sculpt, Chosen(EVA, held=(("Q", STRAP),)))
