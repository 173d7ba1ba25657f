"""plan.pdf and its figures, read back by an independent reader."""

import numpy as np
import pytest

from addon.core.make import make_pattern
from addon.core.model import Settings
from addon.core.stock import Stock
from addon.export.picture import suit_picture
from addon.export.plan import write_plan_pdf
from addon.export.shopping import shopping
from tests import shapes
from tests.plan.conftest import grid, suit

pdfplumber = pytest.importorskip("pdfplumber")


@pytest.fixture(scope="module")
def dome():
    shape = shapes.cap(150, np.radians(60), 12)
    return make_pattern(shapes.sculpt(shape, shapes.spokes(*shape, number=3), name="Dome"),
                        Settings(Stock("EVA", 10.0), nest_seconds=0.1, title="Купол"))


@pytest.fixture(scope="module")
def pages(dome, tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.pdf"
    write_plan_pdf(dome, path)
    with pdfplumber.open(path) as pdf:
        yield pdf.pages


def test_every_piece_step_and_finding_is_in_the_plan(dome, pages):
    text = " ".join(" ".join(p.extract_text() for p in pages).split())
    for piece in dome.pieces:
        assert piece.code in text
    for step in dome.steps:
        assert step.title in text
    for finding in dome.findings:
        assert finding.remedy.split(".")[0].split(",")[0] in text
    assert "Купол" in text


def test_nothing_is_printed_off_the_page_and_fonts_are_embedded(pages):
    for page in pages:
        assert (float(page.width), float(page.height)) == pytest.approx((595.28, 841.89), abs=0.1)
        for char in page.chars:
            assert 0 < char["x0"] and char["x1"] < page.width
            assert 0 < char["top"] and char["bottom"] < page.height
            assert "Plex" in char["fontname"]


def test_the_same_pattern_gives_the_same_bytes(dome, tmp_path):
    written = []
    for name in ("a.pdf", "b.pdf"):
        write_plan_pdf(dome, tmp_path / name)
        written.append((tmp_path / name).read_bytes())
    assert written[0] == written[1]


def test_letter_paper_for_those_who_print_on_letter(dome, tmp_path):
    from dataclasses import replace

    letter = replace(dome, settings=replace(dome.settings, paper="Letter"))
    write_plan_pdf(letter, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as pdf:
        assert (pdf.pages[0].width, pdf.pages[0].height) == (612, 792)  # 8.5 x 11 in at 72 pt


def test_glue_is_bought_for_both_faces_of_every_seam(dome):
    """By hand: seam length x slanted thickness, twice."""
    area = 2 * sum(m.lengths.mean() * 10 / np.cos(m.fold.mean() / 2) for m in dome.mates)
    assert shopping(dome).glue_area == pytest.approx(area, rel=0.05)


def test_what_is_in_front_hides_what_is_behind():
    """A large plate hides a small one behind it; from the back it is the other way about."""
    plates = suit({"Near": [grid((-100, -50, -100), (200, 0, 0), (0, 0, 200))],
                   "Far": [grid((-30, 50, -30), (60, 0, 0), (0, 0, 60))]})
    near, far = (p.code for p in plates.pieces)
    front = suit_picture(plates, "front", (100.0, 100.0))
    assert set(front.spots) == {near}
    assert set(suit_picture(plates, "back", (100.0, 100.0)).spots) == {near, far}
    assert front.size == pytest.approx((100.0, 100.0), abs=3.0)
    points = np.concatenate([line.points for line in front.lines])
    assert (points >= 0).all() and (points <= 100).all()
    inner = np.abs(points - 50).max(axis=1) < 40
    assert not inner.any()  # no line of the hidden plate shows through
