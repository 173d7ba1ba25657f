"""What is in the way of what: cases with answers known from the literature on taking assemblies
apart, and whole plans that must find what a maker finds at once."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from addon.core.model import INSIDE, OUTSIDE, OVERLAP, Join
from addon.core.order import plan
from addon.core.order.apart import Apart
from addon.core.order.blocking import Blocking, in_the_way
from addon.core.order.hands import Hands
from addon.core.order.solids import Solids, solids
from tests.plan.conftest import box_patches, grid, ring_patches, suit

GLUED = ("dart", "join", "close")
SLACK = 60.0  # mm² seen along a direction: less is a touch, not a hit


def bodies(*clouds):
    """Convex bodies, each of one or more clouds of points."""
    points, faces, owner, count = [], [], [], 0
    for k, parts in enumerate(clouds):
        for cloud in parts if isinstance(parts, list) else [parts]:
            cloud = np.asarray(cloud, float)
            points.append(cloud)
            hull = ConvexHull(cloud).simplices
            faces.append(hull + count), owner.append(np.full(len(hull), k))
            count += len(cloud)
    middles = np.array([np.mean(c[0] if isinstance(c, list) else c, axis=0) for c in clouds])
    return Solids(np.concatenate(points), np.concatenate(faces), np.concatenate(owner),
                  np.zeros((len(clouds), 3)), middles, 0.0)


def block(low, high):
    return np.array(np.meshgrid(*zip(low, high, strict=True)), float).reshape(3, -1).T


def barred(found, ways, cell=2.0):
    return np.array([in_the_way(found, np.asarray(w, float) / np.linalg.norm(w), cell)
                     for w in ways]) > SLACK


def apart(found, ways):
    ways = np.array([w / np.linalg.norm(w) for w in np.asarray(ways, float)])
    bars = np.array([in_the_way(found, w, 2.0) for w in ways]) / SLACK
    codes = [f"B{k}" for k in range(len(found.normals))]
    return Apart(Blocking(ways, bars), codes, dict.fromkeys(codes, 0))


AXES = np.concatenate([np.eye(3), -np.eye(3)])
ROUND = np.array([(x, y, z) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)
                  if (x, y, z) != (0, 0, 0)], float)


# --- single translations -----------------------------------------------------


def test_a_face_in_contact_leaves_half_of_all_directions_free():
    """Two bodies that touch in one plane: the free directions are the half space off it (Wilson
    and Latombe, Artificial Intelligence 71, 1994, on contacts of faces)."""
    two = bodies(block((-40, -40, 0), (40, 40, 30)), block((-40, -40, -30), (40, 40, 0)))
    hit = barred(two, ROUND)[:, 0, 1]
    assert (hit == (ROUND[:, 2] < 0)).all()


def test_a_peg_in_a_blind_hole_has_one_way_out():
    hole = [block((-60, -60, -60), (60, 60, 0)),
            *(block(low, high) for low, high in (((-60, -60, 0), (-20, 60, 60)),
                                                 ((20, -60, 0), (60, 60, 60)),
                                                 ((-20, -60, 0), (20, -20, 60)),
                                                 ((-20, 20, 0), (20, 60, 60))))]
    found = bodies(block((-20, -20, 0), (20, 20, 80)), hole)
    free = ROUND[~barred(found, ROUND)[:, 0, 1]]
    assert free.tolist() == [[0, 0, 1]]


def dovetail(stops=0):
    """A tail whose foot is wider than its neck, in its socket; stops close ends of the socket."""
    def wedge(outline):
        return np.array([(x, y, z) for x, z in outline for y in (-60.0, 60.0)])

    socket = [block((-80, -60, -30), (80, 60, 0)),
              wedge([(-80, 0), (-40, 0), (-20, 40), (-80, 40)]),
              wedge([(80, 0), (40, 0), (20, 40), (80, 40)]),
              *[block((-80, 60, -30), (80, 80, 40)), block((-80, -80, -30), (80, -60, 40))][:stops]]
    return bodies(wedge([(-40, 0), (40, 0), (20, 40), (-20, 40)]), socket)


@pytest.mark.parametrize(("stops", "free"), [
    (0, [[0, -1, 0], [0, 1, 0]]), (1, [[0, -1, 0]]), (2, [])])
def test_a_dovetail_slides_along_its_socket_only(stops, free):
    assert ROUND[~barred(dovetail(stops), ROUND)[:, 0, 1]].tolist() == free


def test_a_dovetail_stopped_at_both_ends_needs_force_and_says_how_much():
    stopped, open_ended = (apart(dovetail(stops), ROUND) for stops in (2, 1))
    assert open_ended.limit == 1.0 and open_ended.possible(("B0",), ("B1",))
    assert stopped.limit > 1.0
    # Seen from above the foot is 20 mm wider than the neck on either side: 2 · 20 · 120 mm²;
    # from below all of the foot is on the base, 80 · 120 mm².
    upright = apart(dovetail(2), [(0, 0, 1), (0, 0, -1)])
    up, down = upright.ways_off(("B0",), ("B1",), np.zeros(3))
    assert (up.bar * SLACK, down.bar * SLACK) == (pytest.approx(4800), pytest.approx(9600))
    assert not up.free and up.vector[2] == 1 and upright.limit > up.bar


# --- blocking graphs ---------------------------------------------------------


@settings(max_examples=15, deadline=None, database=None)
@given(st.integers(0, 10**6))
def test_balls_come_apart_one_by_one_in_any_direction(seed):
    """Spheres can be taken away one at a time along any one direction (Toussaint, Movable
    separability of sets, Computational Geometry, 1985): no blocking graph has a cycle."""
    random = np.random.default_rng(seed)
    centres = np.array([(x, y, z) for x in range(3) for y in range(2) for z in range(2)]) * 46.0
    centres += random.uniform(-2.0, 2.0, centres.shape)
    sphere = random.normal(size=(60, 3))
    sphere *= 20.0 / np.linalg.norm(sphere, axis=1)[:, None]
    way = random.normal(size=3)
    graph = barred(bodies(*(sphere + c for c in centres)), [way])[0]
    assert connected_components(graph, connection="strong")[0] == len(centres)


def woven():
    """Three straight bars, each over the next and under the one before."""
    bars = []
    for k in range(3):
        turn = Rotation.from_euler("z", 120.0 * k, degrees=True)
        bar = block((-75, -36, -5), (75, -24, 5))
        tilt = bar.copy()
        tilt[:, 2] += 0.2 * bar[:, 0]
        bars.append(turn.apply(tilt))
    return bars


def test_three_woven_bars_block_one_another_in_a_ring():
    """Convex bodies in space may block one another in a ring along a direction, which they never
    do in the plane (Guibas and Yao, On translating a set of rectangles, 1983)."""
    found = bodies(*woven())
    graph = barred(found, [(0, 0, 1)])[0]
    assert connected_components(graph, connection="strong")[0] == 1
    assert apart(found, ROUND).possible()  # each slides out along itself


def test_what_is_free_as_a_set_only_is_found():
    """The woven bars in a frame: no bar can be taken by itself, all three together can, and then
    come apart (a subassembly, as partitioning by strongly connected components finds it)."""
    wall = 95.0
    frame = [block((-wall, -wall, -40), (wall, -wall + 10, 40)),
             block((-wall, wall - 10, -40), (wall, wall, 40)),
             block((-wall, -wall, -40), (-wall + 10, wall, 40)),
             block((wall - 10, -wall, -40), (wall, wall, 40))]
    ways = np.concatenate([AXES, [Rotation.from_euler("z", a, degrees=True).apply((1, 0, 0))
                                  for a in range(0, 360, 30)]])
    found = apart(bodies(*woven(), frame), ways)
    alone = (found.bars <= 1.0)[:, :3].all(axis=2)
    assert not alone.any() and found.limit == 1.0 and found.possible()
    lidded = [*frame, block((-wall, -wall, 40), (wall, wall, 50)),
              block((-wall, -wall, -50), (wall, wall, -40))]
    assert apart(bodies(*woven(), lidded), ways).limit > 1.0


# --- thick pieces ------------------------------------------------------------


def test_mitred_walls_of_a_box_leave_their_own_cone_free(box):
    """A plate mitred by 45° on all sides comes off up to 45° from its normal, and not inward."""
    found = solids(box.pieces)
    for k, normal in enumerate(found.normals):
        side = np.roll(normal, 1)
        for angle, free in ((0, True), (30, True), (60, False), (180, False), (120, False)):
            way = np.cos(np.radians(angle)) * normal + np.sin(np.radians(angle)) * side
            assert (in_the_way(found, way, 3.0)[k].max() < SLACK) == free, (k, angle)


def test_bodies_are_as_thick_as_their_foam(box):
    """Inside a box of 200 × 100 × 80 of 10 mm foam are 180 × 80 × 60 mm."""
    points = solids(box.pieces).points
    inner = points[(points > 5).all(1) & (points < (195, 95, 75)).all(1)]
    assert inner.min(0) == pytest.approx(10.0) and inner.max(0) == pytest.approx((190, 90, 70))


# --- hands -------------------------------------------------------------------


def holed(wide, high):
    """A closed box 320 × 240 × 200 whose top has a hole in its middle."""
    w, d, h = 320.0, 240.0, 200.0
    patches = box_patches(w, d, h)
    x = [0, (w - wide) / 2, (w + wide) / 2, w]
    y = [0, (d - high) / 2, (d + high) / 2, d]
    top = [grid((x[i], y[j], h), (x[i + 1] - x[i], 0, 0), (0, y[j + 1] - y[j], 0))
           for i in range(3) for j in range(3) if (i, j) != (1, 1)]
    return suit({"Box": [*patches[:-1], *top]})


@pytest.mark.parametrize(("hole", "found"), [((120, 80), True), ((90, 60), True), ((40, 30), False),
                                             ((110, 25), False)])
def test_a_hand_gets_into_a_closed_shell_by_its_hole(hole, found):
    """A flat hand is 90 × 40 mm. Seams round the floor are pressed from outside, and from inside
    exactly where the hole lets a hand in."""
    pattern = holed(*hole)
    hands = Hands(solids(pattern.pieces), pattern.pieces)
    floor = next(p for p in pattern.pieces if np.ptp(p.vertices[:, 2]) < 1 and p.vertices[0, 2] < 1)
    seams = [m for m in pattern.mates if floor.code in {c for c, _ in m.edges}]
    assert len(seams) == 4
    sides = {side for m in seams for side in hands.sides([m], range(len(pattern.pieces)))}
    assert sides == ({OUTSIDE, INSIDE} if found else {OUTSIDE})


def test_what_is_shut_all_round_is_pressed_from_outside_only(box):
    hands = Hands(solids(box.pieces), box.pieces)
    for mate in box.mates:
        own = [k for k, p in enumerate(box.pieces) if p.code in {c for c, _ in mate.edges}]
        assert hands.sides([mate], range(6)) == (OUTSIDE,)
        assert hands.sides([mate], own) == (OUTSIDE, INSIDE)


def gutter(wide, deep=120.0, at=(0.0, 0.0, 0.0)):
    """Left wall, floor and right wall of a channel, outside faces out."""
    patches = [grid((0, 200, 0), (0, -200, 0), (0, 0, deep)),
               grid((wide, 0, 0), (-wide, 0, 0), (0, 200, 0)),
               grid((wide, 0, 0), (0, 200, 0), (0, 0, deep))]
    return [(points + at, faces) for points, faces in patches]


@pytest.mark.parametrize(("wide", "sides"), [(120.0, (OUTSIDE, INSIDE)), (36.0, (OUTSIDE,))])
def test_no_hand_gets_down_a_narrow_channel(wide, sides):
    """Inside foam of 10 mm a channel 36 mm wide leaves 16 mm, less than a hand is thick."""
    pattern = suit({"Gutter": gutter(wide)})
    hands = Hands(solids(pattern.pieces), pattern.pieces)
    assert [hands.sides([m], range(3)) for m in pattern.mates] == [sides, sides]


def test_between_two_walls_a_seam_is_out_of_reach_from_both_sides():
    pattern = suit({"Gutter": gutter(36.0), "Round it": gutter(86.0, 145.0, (-25, 0, -25))})
    hands = Hands(solids(pattern.pieces), pattern.pieces)
    own = [m for m in pattern.mates if {"P1", "P2", "P3"} >= {c for c, _ in m.edges}]
    assert [hands.sides([m], range(6)) for m in own] == [(), ()]


# --- whole plans -------------------------------------------------------------


def moves(pattern):
    return [m for s in pattern.steps for m in s.moves]


def test_the_lid_of_a_box_comes_last_from_outside(box):
    last = [s for s in box.steps if s.kind in GLUED][-1]
    (move,) = last.moves
    assert len(last.mates) == 4 and len(move.pieces) == 1 and not move.squeeze
    piece = box.piece(move.pieces[0])
    middle = np.mean([p.vertices.mean(0) for p in box.pieces], axis=0)
    outward = piece.vertices.mean(0) - middle
    assert np.dot(move.way, outward / np.linalg.norm(outward)) > 0.7
    assert move.press == (OUTSIDE,) and not any(m.squeeze for m in moves(box))


def test_every_join_tells_how_its_pieces_come_in(box, pair):
    for pattern in (box, pair):
        for step in pattern.steps:
            assert sorted(m for move in step.moves for m in move.mates) == (
                sorted(step.mates) if step.kind in ("join", "close") else [])
            for move in step.moves:
                assert (move.way is None) == (step.kind == "close") == (not move.pieces)
                assert move.way is None or np.linalg.norm(move.way) == pytest.approx(1, abs=1e-5)


def woven_box():
    """A box whose plates all lie over one neighbour and under another along opposite edges."""
    pattern = suit({"Box": box_patches(200, 200, 200)})
    axis = {p.code: int(np.argmin(np.ptp(p.vertices, axis=0))) for p in pattern.pieces}
    mates = []
    for mate in pattern.mates:
        a, b = (c for c, _ in mate.edges)
        over = a if (axis[b] - axis[a]) % 3 == 1 else b
        mates.append(replace(mate, join=Join(OVERLAP, over, 30.0, 10.0)))
    return replace(pattern, mates=tuple(mates),
                   steps=plan(pattern.pieces, mates, pattern.settings, pattern.sculpt))


def test_where_no_order_is_free_the_join_is_named_and_the_step_says_squeeze_in():
    """Each plate lies over the two of the next axis and under the two of the one before, so the
    last one is held from outside and cannot come from inside: a dovetail all round."""
    pattern = woven_box()
    squeezed = [(s, m) for s in pattern.steps for m in s.moves if m.squeeze]
    assert squeezed
    letters = {m.code: m.letter for m in pattern.mates}
    for step, move in squeezed:
        (text,) = [t for t in step.text if t.startswith("Squeeze in")]
        assert all(code in text for code in move.pieces)
        assert any(letters[m] in text for m in move.mates)
    glued = sorted(m for s in pattern.steps if s.kind in GLUED for m in s.mates)
    assert glued == sorted(m.code for m in pattern.mates)


def quality(pattern):
    kinds = [s.kind for s in pattern.steps]
    return (len(kinds), kinds.count("close"), sum(m.squeeze for m in moves(pattern)),
            sorted(len(s.mates) for s in pattern.steps))


def turned(pattern, turn):
    """The pattern as its sculpt, its pieces and the world it stands in are turned."""
    pieces = tuple(replace(p, vertices=turn.apply(p.vertices)) for p in pattern.pieces)
    mates = tuple(replace(m, curve=turn.apply(m.curve)) for m in pattern.mates)
    sculpt = replace(pattern.sculpt, vertices=turn.apply(pattern.sculpt.vertices),
                     up=turn.apply(pattern.sculpt.up), front=turn.apply(pattern.sculpt.front))
    return replace(pattern, pieces=pieces, mates=mates, sculpt=sculpt,
                   steps=plan(pieces, mates, pattern.settings, sculpt))


def renumbered(pattern, order):
    names = {p.code: f"N{k}" for p, k in zip(pattern.pieces, order, strict=True)}
    pieces = tuple(replace(pattern.pieces[k], code=names[pattern.pieces[k].code],
                           template=names[pattern.pieces[k].template]) for k in order)
    mates = tuple(replace(m, edges=tuple((names[c], e) for c, e in m.edges),
                          join=replace(m.join, over=names.get(m.join.over, "")))
                  for m in pattern.mates)
    return replace(pattern, pieces=pieces, mates=mates,
                   steps=plan(pieces, mates, pattern.settings, pattern.sculpt))


@pytest.mark.parametrize("make", [
    lambda: suit({"Box": box_patches()}), lambda: suit({"Ring": ring_patches(7)}),
    lambda: suit({"Box": box_patches(180, 140, 90)[:-1]}), woven_box])
def test_turning_or_renumbering_does_not_change_the_quality_of_the_order(make):
    pattern = make()
    random = np.random.default_rng(4)
    for seed in range(3):
        assert quality(turned(pattern, Rotation.random(random_state=seed))) == quality(pattern)
        order = random.permutation(len(pattern.pieces))
        assert quality(renumbered(pattern, order)) == quality(pattern)
