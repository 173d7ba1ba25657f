"""Pieces that are cut or glued, after the design was changed: strips, patches, trims by hand."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from addon.command import main
from addon.core import make
from addon.core.errors import FoamError
from addon.core.model import CUT, GLUED, PLANNED, SEAM, TRENCH, Sculpt, Settings
from addon.export.existing import HEADING, existing
from addon.export.plan import write_plan_pdf
from addon.export.printed import after, read, write
from tests.plan.conftest import EVA, grid, welded


def plates(first=100.0, second=100.0, high=150.0, bump=0.0, trench=False, drop=0.0):
    """Two plates side by side, joined along a straight seam x = 0; bump: a tongue in the middle of
    the left rim; drop: how much shorter the left rim's top is, so that the plate tapers."""
    left, faces = grid((-first, 0, 0), (first, 0, 0), (0, 0, high), n=10)
    left = left.copy()
    away = left[:, 0] / -first
    middle = np.abs(left[:, 2] - high / 2) < high * 0.11
    left[:, 0] -= bump * middle * (away > 0.99)
    left[:, 0] += drop * away * left[:, 2] / high
    points, faces, label = welded([(left, faces),
                                   grid((0, 0, 0), (second, 0, 0), (0, 0, high), n=10)])
    line = np.flatnonzero(np.abs(points[:, 0]) < 1e-6)
    line = line[np.argsort(points[line, 2])]
    edges, kinds = np.stack([line[:-1], line[1:]], 1), np.full(len(line) - 1, SEAM)
    if trench:
        fold = np.flatnonzero(np.abs(points[:, 0] - second / 2) < 1e-6)
        fold = fold[np.argsort(points[fold, 2])]
        edges = np.concatenate([edges, np.stack([fold[:-1], fold[1:]], 1)])
        kinds = np.append(kinds, np.full(len(fold) - 1, TRENCH))
    return Sculpt.plain(points, faces, np.sort(edges, 1), kinds)


def pattern(sculpt, **more):
    return make.make_pattern(sculpt, Settings(EVA, nest_seconds=0.0, notch_spacing=40.0, **more))


def side(found, left=True):
    """The code of the left or the right plate."""
    middle = {p.code: p.vertices[:, 0].mean() for p in found.pieces}
    return (min if left else max)(middle, key=middle.get)


def changed(state=CUT, **to):
    """What becomes of the left and the right plate, both in a state, when the design changes."""
    first = pattern(plates())
    made = tuple((p.code, state) for p in first.pieces)
    then = pattern(plates(**to), printed=after(first), made=made)
    found = {e.code: e for e in existing(then)}
    return found.get(side(then)), found.get(side(then, left=False)), then


def test_what_fits_is_used_as_it_is():
    left, right, _ = changed()
    assert (left.kind, right.kind, left.why) == ("fits", "fits", ())


def test_a_wider_piece_gets_a_strip_of_the_width_that_is_missing():
    left, right, _ = changed(first=120.0)
    assert left.kind == "strip" and right.kind == "fits"
    assert left.why == ("Insert a strip of 20 mm along the rim.",)


def test_a_narrower_piece_is_trimmed():
    left, _, _ = changed(first=88.0)
    assert left.kind == "trim" and left.why == ("Trim the rim by up to 12 mm.",)


def test_a_tongue_is_patched_on():
    left, _, _ = changed(bump=15.0)
    assert left.kind == "patch" and left.why[0].startswith("Glue a patch to the rim, ")
    assert left.why[0].endswith("15 mm deep.")


def test_a_taper_is_a_strip_from_one_width_to_another():
    left, _, _ = changed(first=130.0, drop=20.0)
    assert left.kind == "strip"
    low, high = (float(w) for w in re.findall(r"([\d.]+) mm", left.why[0]))
    assert 10.0 <= low < 14.0 and 26.0 < high <= 30.0


def test_other_trenches_or_another_size_are_made_again():
    _, right, _ = changed(trench=True)
    assert right.kind == "again" and "trenches" in right.why[0]
    left, _, then = changed(first=205.0)  # twice as large: a new piece, with a code of its own
    assert left is None and [e.kind for e in existing(then)] == ["spare", "fits"]


def test_glued_pieces_are_opened_at_the_seam_first():
    left, right, then = changed(state=GLUED, high=140.0)
    assert {left.kind, right.kind} == {"trim"} and left.state == GLUED
    both, _, then = changed(state=GLUED, first=100.0, second=100.0, high=170.0)
    assert both.kind == "strip"


def test_planned_pieces_are_no_ones_business():
    first = pattern(plates())
    then = pattern(plates(first=120.0), printed=after(first))
    assert existing(then) == ()
    assert {p.state for p in after(then).pieces} == {PLANNED}


def test_a_state_is_kept_with_what_the_piece_was_cut_from():
    """Two changes after cutting, foam is still compared with the template it was cut from; named
    again as cut, it is taken to be cut from the last one."""
    first = pattern(plates())
    code = side(first)
    second = pattern(plates(first=110.0), printed=after(first), made=((code, CUT),))
    kept = read(json.loads(json.dumps(write(after(second)))))
    third = pattern(plates(first=120.0), printed=kept)
    (told,) = existing(third)
    assert told.code == code and told.why == ("Insert a strip of 20 mm along the rim.",)
    again = pattern(plates(first=120.0), printed=kept, made=((code, CUT),))
    assert existing(again)[0].why == ("Insert a strip of 10 mm along the rim.",)
    undone = pattern(plates(first=120.0), printed=kept, made=((code, PLANNED),))
    assert existing(undone) == ()


def test_a_piece_that_is_no_more_is_spare():
    first = pattern(plates())
    gone = side(first, left=False)
    alone = Sculpt.plain(*grid((-100, 0, 0), (100, 0, 0), (0, 0, 150), n=10))
    then = pattern(alone, printed=after(first), made=((gone, CUT),))
    assert [(e.code, e.kind) for e in existing(then)] == [(gone, "spare")]


def test_a_piece_that_never_was_is_refused():
    first = pattern(plates())
    with pytest.raises(FoamError, match="no piece called"):
        existing(replace(first, settings=replace(first.settings, made=(("X9", CUT),))))


def test_the_command_keeps_states_and_tells_what_to_do(tmp_path, capsys):
    def write_obj(sculpt, path):
        lines = [f"v {x} {y} {z}" for x, y, z in sculpt.vertices]
        lines += ["f " + " ".join(str(i + 1) for i in face) for face in sculpt.faces]
        path.write_text("\n".join(lines))

    def roof(wide):
        points, faces, _ = welded([grid((-wide, 0, 0), (wide, 0, 0), (0, 0, 150), n=10),
                                   grid((0, 0, 0), (60, 60, 0), (0, 0, 150), n=10)])
        return Sculpt.plain(points, faces)

    path, out = tmp_path / "roof.obj", tmp_path / "out"
    write_obj(roof(100.0), path)
    words = ["make", str(path), "--seam-angle", "30", "--out", str(out), "--nest-seconds", "0"]
    assert main(words) == 0
    document = json.loads((out / "report.json").read_text("utf-8"))
    code = max(document["pieces"], key=lambda p: p["area"])["code"]
    write_obj(roof(125.0), path)
    capsys.readouterr()
    assert main([*words, "--cut", code]) == 0
    said = capsys.readouterr().out
    assert "What to do with what is cut or glued already" in said
    assert f"{code} (cut): Insert a strip of 25 mm along the rim." in said
    document = json.loads((out / "report.json").read_text("utf-8"))
    assert [(e["code"], e["kind"]) for e in document["existing"]] == [(code, "strip")]
    assert {p["code"]: p["state"] for p in document["printed"]["pieces"]}[code] == "cut"
    assert main([*words, "--cut", "nobody"]) != 0


def test_the_plan_lists_what_to_do_with_what_exists(tmp_path):
    pypdfium2 = pytest.importorskip("pypdfium2")

    left, _, then = changed(first=120.0)
    write_plan_pdf(then, tmp_path / "plan.pdf")
    book = pypdfium2.PdfDocument(tmp_path / "plan.pdf")
    text = " ".join(" ".join(page.get_textpage().get_text_range() for page in book).split())
    assert HEADING in text and left.why[0] in text
