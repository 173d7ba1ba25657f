"""Pieces that are glued on the face of others: what lies where, how long it is, where it goes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.core.make import check, make_pattern
from addon.core.model import INNER, OUTER, SEAM, Sculpt, SculptObject, Settings
from addon.core.stock import find_stock
from tests import shapes

EVA10, EVA2, EVA6 = find_stock("eva-10"), find_stock("eva-2"), find_stock("eva-6")


def together(*parts, **more) -> Sculpt:
    """A sculpt of several objects: (name, (vertices, faces), fields of the object)."""
    vertices, faces, number, objects, count = [], [], [], [], 0
    for k, (name, (points, triangles), given) in enumerate(parts):
        vertices.append(points), faces.append(triangles + count)
        number.append(np.full(len(triangles), k))
        objects.append(SculptObject(name, **given))
        count += len(points)
    plain = Sculpt.plain(np.concatenate(vertices), np.concatenate(faces), **more)
    return replace(plain, objects=tuple(objects), face_object=np.concatenate(number))


def strip(radius, arc=np.pi / 2, low=40.0, high=60.0, start=0.2, columns=40):
    return shapes.surface(lambda a, z: (radius * np.cos(a), radius * np.sin(a), z),
                          np.linspace(start, start + arc, columns), np.linspace(low, high, 5))


def plate(radius=100.0, arc=2.2):
    return shapes.cylinder(radius, arc, 100.0, columns=67)


def length(piece) -> float:
    """Of a strip along its longer side."""
    return float(np.ptp(piece.cut[0] @ axes(piece), axis=0).max())


def axes(piece) -> np.ndarray:
    centred = piece.cut[0] - piece.cut[0].mean(axis=0)
    return np.linalg.svd(centred)[2].T


@pytest.mark.parametrize("height", [0.0, 1.0, 2.0])
def test_strip_on_a_curved_plate_has_the_length_of_the_bend_allowance(height):
    # Machinery's Handbook, bend allowance L = angle (inside radius + k t): the inside of the strip
    # is the outer face of the plate, whichever of its own faces was sculpted.
    sculpt = together(("Plate", plate(), {}), ("Strip", strip(100.0 + height), {"stock": EVA2}))
    pattern = check(sculpt, Settings(EVA10))
    base, detail = pattern.pieces
    assert detail.base == base.code and base.base == "body"
    assert detail.side == {0.0: "inner", 1.0: "middle", 2.0: "outer"}[height]
    assert length(detail) == pytest.approx(np.pi / 2 * (100 + 0.5 * 2), abs=0.1)


def test_strip_inside_of_a_bend_is_shorter():
    # In a hollow the face that is glued is the outer one of the bend: L = angle (R - t + k t).
    points, faces = plate()
    hollow = points, faces[:, ::-1]
    on, turned = strip(100.0)
    pattern = check(together(("Plate", hollow, {}), ("Strip", (on, turned[:, ::-1]),
                                                     {"stock": EVA2})), Settings(EVA10))
    assert length(pattern.pieces[1]) == pytest.approx(np.pi / 2 * (100 - 1), abs=0.1)


def test_layers_wound_on_one_another_grow_by_two_pi_of_their_thickness_a_turn():
    # Closed form: a ring one layer of thickness t further out is 2 pi t longer.
    arc = np.radians(120)
    parts = [("Plate", plate(), {})]
    parts += [(f"Layer {n}", strip(100.0 + 2 * n, arc, 40 + 2 * n, 60 - 2 * n),
               {"stock": EVA2, "side": INNER}) for n in range(3)]
    pattern = check(together(*parts), Settings(EVA10))
    assert [p.base for p in pattern.pieces] == ["body", *(p.code for p in pattern.pieces[:3])]
    lengths = [length(p) for p in pattern.pieces[1:]]
    per_turn = np.diff(lengths) * 2 * np.pi / arc
    assert per_turn == pytest.approx([2 * np.pi * 2] * 2, abs=0.15)


def test_detail_that_floats_a_little_is_set_down():
    # A whole mm too far out, the strip would be pi / 2 mm too long.
    sculpt = together(("Plate", plate(), {}),
                      ("Strip", strip(103.0), {"stock": EVA2, "side": OUTER}))
    detail = check(sculpt, Settings(EVA10)).pieces[1]
    assert length(detail) == pytest.approx(np.pi / 2 * 101, abs=0.12)
    apart = check(sculpt, Settings(EVA10, contact=0.5)).pieces[1]
    assert apart.base == "body"
    assert length(apart) == pytest.approx(np.pi / 2 * 102, abs=0.12)


def test_by_hand_wins_over_contact():
    plain = together(("Plate", plate(), {}), ("Strip", strip(100.0), {"lies_on": ""}))
    assert check(plain, Settings(EVA10)).pieces[1].base == "body"
    far = together(("Plate", plate(), {}),
                   ("Strip", strip(105.0), {"stock": EVA2, "lies_on": "Plate"}))
    pattern = check(far, Settings(EVA10))
    assert pattern.pieces[1].base == pattern.pieces[0].code
    assert length(pattern.pieces[1]) == pytest.approx(np.pi / 2 * 101, abs=0.15)
    (told,) = [f for f in pattern.findings if f.code == "detail-floats"]
    assert "3 mm over" in told.message and len(told.faces) == len(far.faces) - len(plate()[1])
    away = together(("Plate", plate(), {}), ("Strip", strip(160.0), {"lies_on": "Plate"}))
    pattern = check(away, Settings(EVA10))
    assert pattern.pieces[1].base == "body"
    assert "does not touch" in [f for f in pattern.findings if f.code == "detail-floats"][0].message


def solid_block(height: float, size=30.0, at=(100.0, 100.0)):
    """A closed block that stands on the plane z = 0."""
    corners = np.array([(x, y, z) for z in (0, height) for y in (0, size) for x in (0, size)])
    points, faces = shapes.hull(corners + (*at, 0.0))
    return np.asarray(points, dtype=float), np.asarray(faces)


def flat_plate(width=220.0, depth=260.0):
    return shapes.surface(lambda x, y: (x, y, 0 * x), np.linspace(0, width, 23),
                          np.linspace(0, depth, 27))


def test_closed_solid_on_a_plate_is_its_outer_face():
    pattern = check(together(("Plate", flat_plate(), {}),
                             ("Emblem", solid_block(6.0), {"stock": EVA6})), Settings(EVA10))
    base, emblem = pattern.pieces
    assert emblem.base == base.code and emblem.side == OUTER
    assert emblem.area == pytest.approx(900.0, abs=0.5)


def test_solid_of_another_thickness_than_its_foam_is_told():
    pattern = check(together(("Plate", flat_plate(), {}), ("Emblem", solid_block(6.0), {})),
                    Settings(EVA10))
    (told,) = [f for f in pattern.findings if f.code == "detail-floats"]
    assert "6 mm high" in told.message and "10 mm thick" in told.message
    assert pattern.pieces[1].base == "body"


@pytest.mark.parametrize("named", ["Strip", "Nowhere"])
def test_what_cannot_be_lain_on_is_told(named):
    sculpt = together(("Plate", plate(), {}), ("Strip", strip(100.0), {"lies_on": named}))
    pattern = check(sculpt, Settings(EVA10))
    (told,) = [f for f in pattern.findings if f.code == "detail-floats"]
    assert named in told.message and ("no part of the suit" in told.message) == (named != "Strip")


def test_two_that_lie_on_one_another_do_not_go_round_in_circles():
    sculpt = together(("Plate", plate(), {"lies_on": "Strip"}),
                      ("Strip", strip(100.0), {"stock": EVA2, "lies_on": "Plate"}))
    pattern = check(sculpt, Settings(EVA10))
    assert [p.base for p in pattern.pieces] == ["body", "PL1"]
    assert [f.code for f in pattern.findings] == ["detail-floats"]


def test_repeats_share_template_and_letter():
    left, right = (strip(100.0, 0.4, 40, 60, start) for start in (0.3, 1.5))
    pattern = check(together(("Plate", plate(), {}), ("Left", left, {"stock": EVA2}),
                             ("Right", right, {"stock": EVA2})), Settings(EVA10))
    base, one, two = pattern.pieces
    assert one.template == two.template
    assert {x.letter for x in pattern.laid} == {pattern.laid[0].letter}
    assert [place.of for place in base.places] == [(one.code,), (two.code,)]


def test_outline_and_ticks_lie_where_the_strip_is_on_the_flat_plate():
    sculpt = together(("Plate", plate(), {}), ("Strip", strip(100.0), {"stock": EVA2}))
    pattern = make_pattern(sculpt, Settings(EVA10))
    base, detail = pattern.pieces
    (place,) = base.places
    (line,) = place.lines
    # The plate's own neutral layer is 5 mm in: pi / 2 * 95 long and 20 mm wide there.
    size = np.sort(np.ptp(line, axis=0))
    assert size == pytest.approx([20.0, np.pi / 2 * 95], abs=0.15)
    own = [n for n in detail.notches if n.letter == place.letter]
    assert [t.index for t in place.ticks] == [n.index for n in own] and len(own) >= 3
    (laid,) = pattern.laid
    assert laid.letter == place.letter and laid.on == (base.code,)
    assert laid.area == pytest.approx(np.pi / 2 * 100 * 20, rel=0.01)
    assert not laid.early  # 6 * pi / 2 longer than its place on the flat


def test_detail_on_a_flat_plate_may_be_glued_while_flat():
    pattern = check(together(("Plate", flat_plate(), {}),
                             ("Emblem", solid_block(6.0), {"stock": EVA6})), Settings(EVA10))
    assert pattern.laid[0].early


def test_detail_across_a_seam_names_both_pieces_and_the_seam():
    points, faces = flat_plate()
    middle = np.flatnonzero(np.isclose(points[:, 0], 110.0))
    middle = middle[np.argsort(points[middle, 1])]
    edges = np.stack([middle[:-1], middle[1:]], axis=1)
    sculpt = together(("Plate", (points, faces), {}), ("Emblem", solid_block(6.0), {"stock": EVA6}),
                      edges=edges, kinds=np.full(len(edges), SEAM))
    pattern = make_pattern(sculpt, Settings(EVA10))
    (laid,) = pattern.laid
    assert set(laid.on) == {"PL1", "PL2"} and laid.seams == (pattern.mates[0].code,)
    assert not laid.early
    (told,) = [f for f in pattern.findings if f.code == "detail-spans-seam"]
    assert "PL1" in told.message and "PL2" in told.message and told.piece == laid.piece


def test_detail_over_the_edge_is_told():
    sculpt = together(("Plate", flat_plate(), {}),
                      ("Emblem", solid_block(6.0, at=(205.0, 100.0)), {"stock": EVA6}))
    pattern = check(sculpt, Settings(EVA10))
    (told,) = [f for f in pattern.findings if f.code == "detail-overhangs"]
    share = int(told.message.split("but ")[1].split("%")[0])
    assert share == pytest.approx(50, abs=8) and told.piece == pattern.pieces[1].code


def test_detail_tighter_than_its_stock_bends_is_told():
    tube = shapes.cylinder(12.0, 2.2, 100.0, columns=40)
    detail = shapes.surface(lambda a, z: (12 * np.cos(a), 12 * np.sin(a), z),
                            np.linspace(0.3, 1.8, 30), np.linspace(30, 70, 9))
    pattern = check(together(("Tube", tube, {"stock": EVA2}), ("Band", detail, {"stock": EVA10})),
                    Settings(EVA10))
    band = pattern.pieces[1]
    assert band.base == pattern.pieces[0].code
    assert any(f.piece == band.code and "tight" in f.code + f.message for f in pattern.findings)


def test_two_plates_that_only_overlap_in_part_stay_apart():
    one, two = flat_plate(), flat_plate()
    pattern = check(together(("Low", one, {}), ("High", (two[0] + (150.0, 0, 10.0), two[1]), {})),
                    Settings(EVA10))
    assert [p.base for p in pattern.pieces] == ["body", "body"] and not pattern.laid
