"""Leftover foam of any outline is used before new mats."""

import json
from collections import Counter
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import shapely

from addon import command
from addon.core.errors import FoamError
from addon.core.model import Offcut, Settings
from addon.core.nest import nest_mats, overlaps
from addon.core.nest.shapes import placed
from addon.core.stock import find_stock
from addon.export import report
from addon.files.offcuts import read_offcuts
from tests.sheets.conftest import FOAM, blob, make_piece, rectangle

SCHEMA = Path(report.__file__).with_name("report.schema.json")
QUICK = Settings(FOAM, nest_seconds=0.02)
L_SHAPE = ((0.0, 0.0), (400.0, 0.0), (400.0, 120.0), (120.0, 120.0), (120.0, 300.0), (0.0, 300.0))


def laid(sheet):
    return Counter(p.piece for p in sheet.placements)


def sound(sheets, pieces):
    """Nothing overlaps or leaves its sheet, and half the gap is kept to an offcut's rim."""
    by_code = {p.code: p for p in pieces}
    for sheet in sheets:
        assert overlaps(sheet, pieces, FOAM.gap + FOAM.kerf) == []
        if sheet.outline:
            rim = shapely.Polygon(sheet.outline[0], sheet.outline[1:]).boundary
            for p in sheet.placements:
                assert rim.distance(placed(p, by_code[p.piece])) >= FOAM.gap / 2 - 1e-6


def test_small_pieces_go_into_the_offcut_and_large_ones_onto_a_mat():
    pieces = [make_piece("S", rectangle(100, 100), copies=4), make_piece("L", rectangle(250, 250))]
    settings = replace(QUICK, offcuts=(Offcut("offcut 1", (L_SHAPE,)),))
    (offcut, mat), findings = nest_mats(pieces, settings)
    assert not findings
    assert offcut.name == "EVA 10 mm, offcut 1" and offcut.size == (400.0, 300.0)
    # Along the long leg three squares of 100 + gap lie, in the short one above one more.
    assert laid(offcut) == {"S": 4} and laid(mat) == {"L": 1}
    sound((offcut, mat), pieces)


@pytest.mark.parametrize("seed", range(4))
def test_layouts_in_odd_outlines_are_sound_and_every_piece_is_laid_once(seed):
    rng = np.random.default_rng(seed)
    pieces = [make_piece(f"P{i}", blob(rng, rng.uniform(15, 60)), copies=1,
                         mirrored=int(rng.integers(2))) for i in range(14)]
    hole = 20 * rectangle(1, 1) + (-10, -10)
    shifted = blob(rng, 190) + (-300, 80)  # wherever it was drawn
    offcuts = (Offcut("offcut 1", (tuple(map(tuple, blob(rng, 150))), tuple(map(tuple, hole)))),
               Offcut("offcut 2", (tuple(map(tuple, shifted)),)))
    sheets, findings = nest_mats(pieces, replace(QUICK, offcuts=offcuts))
    assert not findings and [bool(s.outline) for s in sheets[:2]] == [True, True]
    assert sum((laid(s) for s in sheets), Counter()) == {
        p.code: p.copies + p.mirrored for p in pieces}
    sound(sheets, pieces)
    again, _ = nest_mats(pieces, replace(QUICK, offcuts=offcuts))
    assert [[(p.piece, *p.offset) for p in s.placements] for s in sheets] == [
        [(p.piece, *p.offset) for p in s.placements] for s in again]


def test_the_overlap_check_knows_an_offcuts_outline():
    piece = make_piece("S", rectangle(100, 100))
    (sheet,), _ = nest_mats([piece], replace(QUICK, offcuts=(Offcut("offcut", (L_SHAPE,)),)))
    out = replace(sheet, placements=tuple(replace(p, offset=(250.0, 150.0))
                                          for p in sheet.placements))
    assert overlaps(out, [piece]) == [("S", "")]  # in the rectangle, not on the foam


def test_an_offcut_serves_its_own_stock_alone_and_a_useless_one_is_left_out():
    piece = make_piece("S", rectangle(100, 100))
    for offcut in (Offcut("o", (L_SHAPE,), find_stock("eva-2").name),
                   Offcut("o", (((0.0, 0.0), (90.0, 0.0), (90.0, 90.0), (0.0, 90.0)),))):
        sheets, _ = nest_mats([piece], replace(QUICK, offcuts=(offcut,)))
        assert [s.outline for s in sheets] == [()]


def test_a_strip_longer_than_a_mat_fits_a_longer_offcut():
    strip = make_piece("S", rectangle(900, 50))
    assert nest_mats([strip], QUICK)[1][0].code == "larger-than-mat"
    ring = tuple(map(tuple, rectangle(1000, 80)))
    (sheet,), findings = nest_mats([strip], replace(QUICK, offcuts=(Offcut("o", (ring,)),)))
    assert not findings and laid(sheet) == {"S": 1}
    sound([sheet], [strip])


# --- read from a drawing -------------------------------------------------------


def drawing(tmp_path, body, head='width="600mm" height="400mm" viewBox="0 0 600 400"'):
    path = tmp_path / "offcuts.svg"
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg" '
                    'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
                    f'{head}>{body}</svg>', encoding="utf-8")
    return path


def shape(offcut):
    return shapely.Polygon(offcut.rings[0], offcut.rings[1:])


def test_shapes_of_a_drawing_are_read_at_true_size_and_the_right_way_up(tmp_path):
    first, second, third = read_offcuts(drawing(tmp_path, """
        <rect x="10" y="20" width="100" height="50"/>
        <polygon points="0,0 200,0 0,100"/>
        <path d="M0 0h100v100h-100zM40 40h20v20h-20z"/>"""))
    assert shape(first).area == pytest.approx(5000.0)
    # Down in the drawing is down on the bench: the right angle of the triangle is top left.
    assert shape(second).equals(shapely.Polygon([(0, 0), (200, 0), (0, -100)]))
    assert shape(third).area == pytest.approx(100**2 - 20**2)


def test_units_transforms_curves_and_stocks(tmp_path):
    circle = "M 2 1 C 2 1.5523 1.5523 2 1 2 S 0 1.5523 0 1 S 0.4477 0 1 0 S 2 0.4477 2 1 Z"
    inches, labelled = read_offcuts(drawing(
        tmp_path, f'<g id="eva-2"><path transform="translate(5 5) scale(2)" d="{circle}"/></g>'
        '<g inkscape:label="My foam 8 mm"><rect width="1" height="1"/></g>',
        'width="10in" height="10in" viewBox="0 0 10 10"'))
    # Four cubics with handles of 0.5523 radii keep within 0.03 % of a circle (a known fit).
    assert shape(inches).area == pytest.approx(np.pi * 50.8**2, rel=0.005)
    assert (inches.stock, labelled.stock) == (find_stock("eva-2").name, "My foam 8 mm")
    assert shape(inches).centroid.coords[0] == pytest.approx((7 * 25.4, -7 * 25.4), abs=0.1)


@pytest.mark.parametrize(("body", "code"), [
    ("", "no-offcuts"), ('<path d="M0 0L50 50"/>', "no-offcuts"),
    ('<polygon points="0,0 100,100 100,0 0,100"/>', "bad-offcut"),
    ('<rect width="100" height="5"/>', "bad-offcut"),
    ('<g transform="skewX(20)"><rect width="50" height="50"/></g>', "unreadable-file"),
    ("<rect", "unreadable-file")])
def test_what_is_no_outline_is_refused_with_a_reason(tmp_path, body, code):
    with pytest.raises(FoamError) as error:
        read_offcuts(drawing(tmp_path, body))
    assert error.value.finding.code == code and error.value.finding.remedy


def test_a_missing_drawing_is_named(tmp_path):
    with pytest.raises(FoamError, match="missing-file"):
        read_offcuts(tmp_path / "none.svg")


def test_the_command_uses_offcuts_and_writes_their_outline(tmp_path, capsys):
    sculpt = tmp_path / "plate.obj"
    sculpt.write_text("v 0 0 0\nv 200 0 0\nv 200 0 100\nv 0 0 100\nf 1 2 3 4\n")
    path = drawing(tmp_path, '<path d="M0 0H300V200H150Z"/>')
    out = tmp_path / "out"
    words = ["make", str(sculpt), "--unit", "mm", "--out", str(out), "--offcuts", str(path)]
    assert command.main(words) == 0
    document = json.loads((out / "report.json").read_text(encoding="utf-8"))
    jsonschema.validate(document, json.loads(SCHEMA.read_text(encoding="utf-8")))
    (mat,) = [s for s in document["sheets"] if s["kind"] == "mat"]
    assert shapely.Polygon(mat["outline"][0]).area == pytest.approx(45e3)
    assert "offcut 1" in capsys.readouterr().out
    (svg,) = (out / "mats").glob("*offcut-1.svg")
    assert 'width="300mm"' in svg.read_text(encoding="utf-8")


def test_an_offcut_with_many_holes_keeps_the_margin_round_each():
    """Cut from before, with narrow bridges left between the holes: those carry nothing."""
    holes = [tuple(map(tuple, rectangle(36, 36) + (12 + 40 * i, 12 + 40 * j)))
             for i in range(4) for j in range(4)]
    outline = tuple(map(tuple, rectangle(360, 190)))
    pieces = [make_piece("S", rectangle(80, 80), copies=2)]
    sheets, findings = nest_mats(pieces, replace(
        QUICK, mat_margin=6.0, offcuts=(Offcut("offcut 1", (outline, *holes)),)))
    assert not findings and len(sheets) == 1 and laid(sheets[0]) == {"S": 2}
    foam = shapely.Polygon(outline, holes)
    for p in sheets[0].placements:
        shape = placed(p, pieces[0])
        assert foam.contains(shape) and foam.boundary.distance(shape) >= 6.0 - 1e-6
