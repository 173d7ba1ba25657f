"""Sets besides the templates: backs of mats, words as outlines, mock-ups in a folder."""

import io
import json
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import svgelements

from addon.core.errors import FoamError
from addon.core.model import HALF
from addon.export.folder import mat_names, write_all
from tests.command.test_command import settings_of

SETS = ("--paper", "roll", "--roll-width", "24in", "--allowance", "8 mm", "--back-side",
        "--mock-up", "half", "--card", "2 mm", "--text-as-outlines")


def test_options_reach_the_settings(cube_file):
    _, plain = settings_of("make", cube_file, "--out", "x")
    assert (plain.roll, plain.allowance, plain.back_side, plain.mock_up, plain.card,
            plain.text_outlines) == (610.0, 0.0, False, "", 1.5, False)
    _, found = settings_of("make", cube_file, "--out", "x", *SETS)
    assert (found.paper, found.roll, found.allowance, found.back_side, found.mock_up, found.card,
            found.text_outlines) == ("roll", pytest.approx(609.6), 8.0, True, HALF, 2.0, True)


def test_backs_of_mats_are_their_mirror_images_and_a_legend_lies_beside(cube_pattern, tmp_path):
    plain = replace(cube_pattern, mats=cube_pattern.mats[:1], pages=(), steps=())
    pattern = replace(plain, settings=replace(plain.settings, back_side=True, text_outlines=True))
    files = {p.name for p in write_all(pattern, tmp_path)}
    assert "legend.svg" in files
    for name, mat in zip(mat_names(pattern.mats), pattern.mats, strict=True):
        assert {f"{name}-back.svg", f"{name}-back.dxf"} <= files
        front, back = (
            sorted(box for box in _boxes((tmp_path / "mats" / f"{n}.svg").read_text("utf-8")))
            for n in (name, f"{name}-back"))
        turned = sorted((mat.size[0] - x1, y0, mat.size[0] - x0, y1) for x0, y0, x1, y1 in back)
        assert np.allclose(front, turned, atol=0.01)
        doc = ezdxf.readfile(tmp_path / "mats" / f"{name}-back.dxf")
        audit = doc.audit()
        assert not audit.errors and not audit.fixes
        assert len(doc.modelspace().query("INSERT")) == len(mat.placements)
    for path in (tmp_path / "mats").glob("*.svg"):
        assert "<text" not in path.read_text("utf-8"), path.name
    for path in (tmp_path / "mats").glob("*.dxf"):
        assert "\nTEXT\n" not in path.read_text("utf-8"), path.name
    # Without backs the next run takes them away again.
    write_all(plain, tmp_path)
    assert not list((tmp_path / "mats").glob("*-back.*"))


def _boxes(text):
    """Bounds (x0, y0, x1, y1) of all cut lines, mm."""
    doc = svgelements.SVG.parse(io.StringIO(text), ppi=25.4)
    (cut,) = [g for g in doc.select(lambda e: isinstance(e, svgelements.Group)) if g.id == "cut"]
    return [svgelements.Path(p).bbox() for p in cut.select(
        lambda e: isinstance(e, svgelements.Path))]


def test_a_mock_up_never_takes_the_place_of_the_templates(cube_pattern, tmp_path):
    for name in ("pattern.pdf", "plan.pdf", "report.json"):
        (tmp_path / name).write_text("of foam")
    mock = replace(cube_pattern, mats=cube_pattern.mats[:1], pages=(), steps=(),
                   settings=replace(cube_pattern.settings, mock_up=HALF))
    files = write_all(mock, tmp_path)
    assert {p.relative_to(tmp_path).parts[0] for p in files} == {"mock-up-half"}
    assert [p.read_text() for p in tmp_path.iterdir() if p.is_file()] == 3 * ["of foam"]
    told = json.loads((tmp_path / "mock-up-half" / "report.json").read_text("utf-8"))
    assert told["settings"]["mock_up"] == HALF
    for path in files:
        if path.suffix == ".svg" and path.name != "legend.svg":
            text = path.read_text("utf-8")
            assert "cut no foam from it" in text and "1:1" not in text


def test_impossible_paper_and_card_are_refused(cube_file):
    from addon.core.make import check
    from addon.core.nest import pack_pages

    sculpt, settings = settings_of("make", cube_file, "--out", "x", "--paper", "roll",
                                   "--roll-width", "30mm", "--seam-angle", "40")
    with pytest.raises(FoamError) as caught:
        pack_pages([], settings)
    assert caught.value.finding.code == "page-too-small"
    _, settings = settings_of("make", cube_file, "--out", "x", "--mock-up", "third", "--card",
                              "40mm")
    with pytest.raises(FoamError) as caught:
        check(sculpt, settings)
    assert caught.value.finding.code == "bad-mock-up"
