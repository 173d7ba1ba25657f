"""Marks without a cut: where they stand on the sculpt and on the flats, and what is written."""

import io
import json
import re
from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from addon.core.make import check, make_pattern
from addon.core.model import (
    CIRCLE,
    DRILL,
    HALF,
    HOLE,
    PATCH,
    RIVET,
    Marking,
    Sculpt,
    Settings,
)
from addon.core.stock import find_stock
from addon.core.trace import Surface, set_out, straight_on
from addon.export.changes import changes
from addon.export.drawing import draw_piece
from addon.export.dxf import dxf
from addon.export.plan import write_plan_pdf
from addon.export.printed import after, read, write
from addon.export.report import SCHEMA, report
from addon.export.shopping import shopping
from addon.export.svg import svg
from tests import shapes

jsonschema = pytest.importorskip("jsonschema")
pdfplumber = pytest.importorskip("pdfplumber")

FOAM = find_stock("eva-10")
SETTINGS = Settings(FOAM, nest_seconds=0.1, gauges=False)
PLATE = shapes.surface(lambda x, y: (x, y, 0 * x), np.linspace(0, 200, 21), np.linspace(0, 120, 13))
LINE = np.array([(20.0, 60.0, 0.0), (180.0, 60.0, 0.0)])


def plate(*markings, seams=()):
    return shapes.sculpt(PLATE, seams=seams, markings=markings)


def places(marking, shape=PLATE):
    stands, told = set_out(shapes.sculpt(shape, markings=(marking,)))
    assert told == []
    return np.array([stand.place for stand in stands])


def codes(pattern):
    return [f.code for f in pattern.findings]


def test_a_row_is_divided_evenly_between_its_ends():
    """Even division: n marks stand (length - ends) / (n - 1) apart."""
    x = places(Marking(RIVET, LINE, row=True, count=5, ends=(10, 30)))[:, 0]
    assert x == pytest.approx([30, 60, 90, 120, 150])
    # 160 mm at about 45 mm: four gaps of 40 are nearer than three of 53.
    x = places(Marking(RIVET, LINE, row=True, spacing=45))[:, 0]
    assert x == pytest.approx([20, 60, 100, 140, 180])
    assert places(Marking(RIVET, LINE, row=True, count=1))[:, 0] == pytest.approx([100])


def test_a_closed_row_divides_a_circle_into_equal_arcs():
    """Closed form: n marks on a circle of radius r are 2 r sin(pi / n) apart."""
    t = np.radians(np.arange(0, 360, 2))
    ring = np.stack([100 + 45 * np.cos(t), 60 + 45 * np.sin(t), 0 * t], axis=1)
    found = places(Marking(RIVET, ring, row=True, closed=True, count=8))
    gaps = np.linalg.norm(found - np.roll(found, 1, axis=0), axis=1)
    assert gaps == pytest.approx(2 * 45 * np.sin(np.pi / 8), rel=1e-3)


def test_a_row_round_a_cylinder_keeps_its_arc_length():
    """Closed form: on a cylinder of radius r, marks s apart turn by s / r."""
    shape = shapes.cylinder(80.0, np.pi, 100.0, columns=181)
    t = np.linspace(0.2, np.pi - 0.2, 40)
    line = np.stack([80 * np.cos(t), 80 * np.sin(t), 50 + 0 * t], axis=1)
    found = places(Marking(RIVET, line, row=True, count=6), shape)
    turns = np.arctan2(found[:, 1], found[:, 0])
    assert np.diff(turns) == pytest.approx((np.pi - 0.4) / 5, rel=2e-3)


@pytest.mark.parametrize(("inset", "y"), [(15.0, 75.0), (-15.0, 45.0)])
def test_a_row_stands_beside_its_line_to_the_left(inset, y):
    found = places(Marking(RIVET, LINE, row=True, count=4, inset=inset))
    assert found[:, 1] == pytest.approx(y)
    assert found[:, 0] == pytest.approx(np.linspace(20, 180, 4))


@pytest.mark.parametrize("way", [1, -1])
def test_a_row_beside_a_rim_is_always_inward(way):
    rim = np.array([(20.0, 0.0, 0.0), (180.0, 0.0, 0.0)])[::way]
    found = places(Marking(RIVET, rim, row=True, count=3, inset=12.0))
    assert found[:, 1] == pytest.approx(12.0)


def test_straight_on_follows_a_helix_round_a_cylinder():
    """Closed form: a straight line on the unrolled cylinder at angle a climbs s sin(a) and turns
    by s cos(a) / r."""
    vertices, faces = shapes.cylinder(80.0, 1.8 * np.pi, 200.0, columns=361)
    surface = Surface(vertices, faces)
    foot = surface.nearest(np.array([(80.0, 0.3, 20.0)]))
    a, s = np.radians(25.0), 250.0
    face, place = straight_on(surface, int(foot.face[0]), foot.points[0],
                              np.array([0.0, np.cos(a), np.sin(a)]), s)
    assert place[2] == pytest.approx(20 + s * np.sin(a), abs=0.2)
    assert np.arctan2(place[1], place[0]) % (2 * np.pi) == pytest.approx(
        s * np.cos(a) / 80 + 0.3 / 80, abs=0.005)
    assert straight_on(surface, face, place, np.array([0.0, 0.0, 1.0]), 500.0) is None


def test_marks_lie_on_the_flat_where_the_sculpt_has_them():
    """On a flat plate the flat is the sculpt: distances between marks are those of the places."""
    marking = Marking(HOLE, [(30, 30, 0), (170, 90, 0), (55, 95, 0)], size=(6, 6), name="H")
    piece, = check(plate(marking), SETTINGS).pieces
    flat = np.array([m.point for m in piece.point_marks])
    apart = lambda p: np.linalg.norm(p[:, None] - p[None], axis=2)  # noqa: E731
    assert apart(flat) == pytest.approx(apart(marking.points), abs=1e-3)
    assert [m.number for m in piece.point_marks] == [1, 2, 3]


def test_on_a_bent_plate_rows_are_as_far_apart_as_the_layer_that_keeps_its_length():
    """Outside face at R, neutral layer at R - n t: marks s apart outside are s (R - n t) / R apart
    on the flat (developable; DIN 6935 counts a bend's length on its neutral layer, from memory)."""
    r = 100.0
    shape = shapes.cylinder(r, 2.0, 120.0, columns=121)
    t = np.linspace(0.3, 1.7, 30)
    line = np.stack([r * np.cos(t), r * np.sin(t), 60 + 0 * t], axis=1)
    sculpt = shapes.sculpt(shape, markings=(Marking(RIVET, line, row=True, count=5, size=(9, 9)),))
    piece, = check(sculpt, SETTINGS).pieces
    flat = np.array([m.point for m in piece.point_marks])
    gaps = np.linalg.norm(np.diff(flat, axis=0), axis=1)
    deep = FOAM.neutral * FOAM.thickness
    assert gaps == pytest.approx(r * 1.4 / 4 * (r - deep) / r, rel=3e-3)


def test_what_is_wrong_is_told():
    off = Marking(RIVET, [(50, 50, 30)], name="away")
    short = Marking(RIVET, LINE, row=True, ends=(100, 100), name="short")
    over = Marking(HOLE, [(197, 60, 0)], size=(12, 12), name="over")
    empty = Marking(RIVET, np.empty((0, 3)), row=True, name="empty")
    odd = Marking(RIVET, [(np.nan, 0, 0)], name="odd")
    pattern = check(plate(off, short, over, empty, odd), SETTINGS)
    assert sorted(codes(pattern)) == [
        "mark-off-surface", "mark-off-surface", "mark-off-surface", "mark-over-edge",
        "row-without-room"]
    over_edge = next(f for f in pattern.findings if f.code == "mark-over-edge")
    assert over_edge.piece == pattern.pieces[0].code and len(over_edge.faces)


def test_a_mark_on_a_seam_is_told_and_one_beside_it_is_not():
    seam = [(i * 21 + 10, (i + 1) * 21 + 10) for i in range(12)]
    on = check(plate(Marking(DRILL, [(100, 33, 0)], name="on"), seams=seam), SETTINGS)
    assert len(on.pieces) == 2 and "mark-over-edge" in codes(on)
    beside = check(plate(Marking(DRILL, [(104, 33, 0)], name="by"), seams=seam), SETTINGS)
    assert "mark-over-edge" not in codes(beside)


def two(markings):
    """Two plates that are mirror images of one another across x = 0."""
    points, faces = shapes.surface(lambda x, y: (x + 20, 0 * x, y + x * y / 900),
                                   np.linspace(0, 150, 16), np.linspace(0, 90, 10))
    both = np.concatenate([points, points * (-1, 1, 1)])
    return Sculpt.plain(both, np.concatenate([faces, faces[:, ::-1] + len(points)]),
                        markings=markings)


def test_mirrored_pieces_share_a_template_only_with_the_same_marks():
    one = Marking(HOLE, [(60, 0, 40)], size=(8, 8), name="H")
    alone = check(two((one,)), SETTINGS)
    assert len(alone.templates) == 2  # its own template
    both = check(two((replace(one, mirrored=True),)), SETTINGS)
    template, = both.templates
    assert (template.copies, template.mirrored) == (1, 1)
    assert [len(p.point_marks) for p in both.pieces] == [1, 1]
    assert {p.point_marks[0].name for p in both.pieces} == {"H", "H mirrored"}
    for piece in both.pieces:  # the mark lies on the flat where its place on the sculpt lies
        near = np.linalg.norm(piece.vertices - piece.point_marks[0].place, axis=1).argmin()
        gap = np.linalg.norm(piece.vertices[near] - piece.point_marks[0].place)
        assert np.hypot(*(piece.flat[near] - piece.point_marks[0].point)) == pytest.approx(
            gap, abs=0.6)


EVERY = (Marking(RIVET, LINE, row=True, count=4, size=(12, 12), ends=(10, 10), name="dome"),
         Marking(HOLE, [(30, 20, 0)], size=(6, 6), name="hole"),
         Marking(HOLE, [(100, 20, 0)], size=(30, 6), name="slot"),
         Marking(DRILL, [(60, 95, 0)], name="pin"),
         Marking(CIRCLE, [(150, 95, 0)], size=(40, 40), stock="eva-2", name="boss"),
         Marking(PATCH, [(170, 25, 0)], size=(25, 20), name="patch"))


@pytest.fixture(scope="module")
def full():
    return make_pattern(plate(*EVERY), SETTINGS)


def test_dxf_has_marks_on_the_layers_of_the_standard(full):
    """ASTM D6673 layers (from memory): 13 drill holes, 8 internal lines, 11 internal cut-outs."""
    doc = ezdxf.read(io.StringIO(dxf(full.mats[0], full)))
    block = doc.blocks[full.pieces[0].code]
    drills = [e for e in block if e.dxf.layer == "13"]
    assert {e.dxftype() for e in drills} == {"POINT"} and len(drills) == 5
    rings = [e for e in block if e.dxf.layer == "11"]
    assert len(rings) == 2 and all(e.closed for e in rings)
    laid = [e for e in block if e.dxf.layer == "8" and e.dxf.linetype == "OUTLINE"]
    assert len(laid) == 4 + 1 + 1
    where = full.mats[0].placements[0]
    points = np.array([tuple(e.dxf.location.vec2) for e in drills])
    wanted = where.apply(np.array([m.point for m in full.pieces[0].point_marks
                                   if m.kind in (RIVET, DRILL)])) - where.offset
    assert np.linalg.norm(points[:, None] - wanted[None], axis=2).min(axis=1).max() < 1e-6


def test_svg_has_marks_on_layers_of_their_own_and_holes_less_the_kerf(full):
    sheet = full.mats[0]
    text = svg(sheet, full)
    group = lambda name: re.search(f'<g id="{name}".*?</g>', text, re.S).group(0)  # noqa: E731
    assert group("hole").count("<path") == 2
    assert group("drill").count("<path") == 5
    assert group("outline").count("<path") == 6
    kerfed = replace(full, settings=full.settings, pieces=tuple(
        replace(p, stock=p.stock.with_kerf(1.0)) for p in full.pieces))
    hole = re.search(r'<g id="hole".*?</g>', svg(sheet, kerfed), re.S).group(0)
    points = [np.array(re.findall(r"-?[\d.]+", d), dtype=float).reshape(-1, 2)
              for d in re.findall(r' d="([^"]+)"', hole)]
    widths = sorted(float(np.linalg.norm(p[:, None] - p[None], axis=2).max()) for p in points)
    assert widths == pytest.approx([5.0, 29.0], abs=0.02)


def test_templates_tell_what_the_marks_are(full):
    texts = " | ".join(t.text for t in draw_piece(full.pieces[0], full).texts)
    for words in ("4 × rivet Ø 12 mm", "hole Ø 6 mm", "slot 30 mm × 6 mm", "drill",
                  "circle Ø 40 mm, eva-2", "hook-and-loop 25 mm × 20 mm"):
        assert words in texts


def test_the_shopping_list_counts_domes_circles_and_patches(full, tmp_path):
    assert shopping(full).small == (
        ("circles Ø 40 mm, eva-2", 1), ("domes for rivets, Ø 12 mm", 4),
        ("patches of hook-and-loop, 25 mm × 20 mm, both halves", 1))
    bare = make_pattern(plate(), SETTINGS)
    # Round a circle 2 pi r; round a slot two sides and a circle.
    more = 2 * np.pi * 3 + 2 * 24 + 2 * np.pi * 3
    assert shopping(full).cut - shopping(bare).cut == pytest.approx(more, rel=2e-3)
    write_plan_pdf(full, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
    assert "Domes for rivets, Ø 12 mm: 4." in text


def test_the_report_tells_each_mark_and_knows_them_again(full):
    document = report(full)
    document["printed"] = write(after(full))
    jsonschema.validate(document, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert len(document["marks"]) == 9
    earlier = read(document["printed"])
    same = make_pattern(plate(*EVERY), replace(SETTINGS, printed=earlier))
    assert [c.kind for c in changes(same)] == ["keep"]
    moved = (replace(EVERY[0], ends=(14, 10)), *EVERY[1:])
    other = make_pattern(plate(*moved), replace(SETTINGS, printed=earlier))
    assert [c.kind for c in changes(other)] == ["reprint"]


def test_a_sculpt_of_another_size_keeps_the_sizes_of_marks_and_a_mock_up_does_not():
    large = check(plate(EVERY[0]), replace(SETTINGS, scale=2.0)).pieces[0].point_marks
    assert len(large) == 4 and large[0].size == pytest.approx((12, 12))
    assert np.ptp([m.place[0] for m in large]) == pytest.approx(2 * 160 - 20)
    small = check(plate(EVERY[0]), replace(SETTINGS, mock_up=HALF)).pieces[0].point_marks
    assert small[0].size == pytest.approx((6, 6))
    assert np.ptp([m.place[0] for m in small]) == pytest.approx((160 - 20) / 2)


def test_the_legend_tells_of_marks_only_where_there_are_some(full, tmp_path):
    from addon.export.folder import write_all

    for name, pattern in (("full", full), ("bare", make_pattern(plate(), SETTINGS))):
        write_all(pattern, tmp_path / name)
        with pdfplumber.open(tmp_path / name / "pattern.pdf") as pdf:
            text = "\n".join(page.extract_text() for page in pdf.pages)
        assert ("Centre of a rivet" in text) == (name == "full")
        assert ("4 × rivet Ø 12 mm" in text) == (name == "full")
