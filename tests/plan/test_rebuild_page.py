"""The page of the plan on how the suit should come out, read back."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core.make import make_pattern
from addon.core.model import Settings
from addon.core.rebuild import tried
from addon.export.picture import Shades, suit_picture
from addon.export.plan import write_plan_pdf
from addon.export.plan.rebuild import GREYS, LIMITS
from tests.core.test_laid import EVA2, EVA10, plate, strip, together

pdfplumber = pytest.importorskip("pdfplumber")


def read(pattern, tmp_path):
    write_plan_pdf(pattern, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as book:
        return [" ".join(page.extract_text().split()) for page in book.pages]


def test_the_plan_tells_how_it_should_come_out(tried_walls, tmp_path):
    found = tried_walls.rebuilt
    pages = [p for p in read(tried_walls, tmp_path) if "Pieces, furthest out first" in p]
    assert len(pages) == 1
    for piece in found.pieces:
        assert piece.code in pages[0]
    for mate in tried_walls.mates:
        assert f"{mate.letter} " in pages[0].split("Seams, the worst first")[1]
    for view in ("front", "back", "left"):
        assert f"From the {view}" in pages[0]
    assert "up to 0.5 mm" in pages[0]


def test_what_is_glued_on_follows_its_base_and_is_not_listed(tmp_path):
    sculpt = together(("Plate", plate(), {}), ("Strip", strip(100.0), {"stock": EVA2}))
    pattern = tried(make_pattern(sculpt, Settings(EVA10)), quick=True)
    assert [len(pattern.pieces), len(pattern.rebuilt.pieces)] == [2, 1]
    [page] = [p for p in read(pattern, tmp_path) if "Pieces, furthest out first" in p]
    told = page.split("Pieces, furthest out first")[1]
    assert pattern.pieces[0].code in told and pattern.pieces[1].code not in told


def test_without_a_rebuild_there_is_no_such_page(tried_walls, tmp_path):
    assert not [p for p in read(replace(tried_walls, rebuilt=None), tmp_path)
                if "How it should come out" in p]


def test_a_piece_is_as_dark_as_it_is_far_out(tried_walls):
    """One wall moved 4 mm, the others not at all."""
    scene_of = tried_walls.pieces
    values = np.concatenate([np.full(len(p.vertices), 4.0 * (p is scene_of[0]))
                             for p in scene_of])
    whole = suit_picture(tried_walls, "front", (100.0, 100.0), marks=False,
                         shades=Shades(values, LIMITS, GREYS))
    assert {fill.grey for fill in whole.fills} <= set(GREYS)
    flat = suit_picture(tried_walls, "front", (100.0, 100.0), marks=False,
                        shades=Shades(0 * values, LIMITS, GREYS))
    assert {fill.grey for fill in flat.fills} == {GREYS[0]}
    dark = suit_picture(tried_walls, "front", (100.0, 100.0), marks=False,
                        shades=Shades(0 * values + 4.0, LIMITS, GREYS))
    assert {fill.grey for fill in dark.fills} == {GREYS[4]}
