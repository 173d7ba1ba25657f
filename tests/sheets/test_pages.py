"""Templates on paper: sizes, never split what fits, tiles that show everything."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st

from addon.core.errors import FoamError
from addon.core.model import Settings
from addon.core.nest import PAPERS, overlaps, pack_pages, printable, tile_window
from addon.core.nest.shapes import placed, turned_extents
from tests.sheets.conftest import FOAM, blob, make_piece, rectangle

QUICK = Settings(FOAM, nest_seconds=0.02)


def test_paper_sizes_follow_their_standards():
    # ISO 216: A0 has 1 m2 in the ratio 1 : sqrt 2; each size halves the one before, rounded
    # down to whole mm. Letter and Tabloid: 8.5 x 11 in and 11 x 17 in (ANSI/ASME Y14.1).
    w, h = 841.0, 1189.0
    assert w * h == pytest.approx(1e6, rel=1e-3) and h / w == pytest.approx(2**0.5, rel=1e-3)
    for n in range(5):
        assert PAPERS[f"A{n}"] == (w, h)
        w, h = float(h // 2), w
    assert PAPERS["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert PAPERS["Tabloid"] == pytest.approx((11 * 25.4, 17 * 25.4))


@pytest.mark.parametrize("change, code", [
    (dict(paper="A9"), "unknown-paper"), (dict(margin=90.0), "page-too-small"),
    (dict(overlap=150.0), "page-too-small"), (dict(paper="roll", roll=130.0), "page-too-small"),
    (dict(margin=float("nan")), "page-too-small")])
def test_impossible_paper_is_refused_with_a_remedy(change, code):
    with pytest.raises(FoamError) as caught:
        pack_pages([make_piece("P", rectangle(50, 50))], replace(QUICK, **change))
    assert caught.value.finding.code == code and caught.value.finding.remedy


@pytest.mark.parametrize("paper", ["A4", "letter", "A2"])
def test_each_template_lies_once_within_the_margins(paper, blobs):
    settings = replace(QUICK, paper=paper)
    user = replace(blobs[1], code="P-1R", template="P-1", copies=0, mirrored=0, flipped=True)
    pages, findings = pack_pages([*blobs, user], settings)
    assert not findings
    whole = [p.piece for s in pages if not s.tile for p in s.placements]
    tiled = {s.tile[0] for s in pages if s.tile}
    assert sorted([*whole, *tiled]) == sorted(p.code for p in blobs)
    window = shapely.box(*printable(settings)).buffer(1e-6)
    by_code = {p.code: p for p in blobs}
    for page in pages:
        assert page.kind == "page" and overlaps(page, blobs, 5.0) == []
        if not page.tile:
            assert all(window.covers(placed(p, by_code[p.piece])) for p in page.placements)
    assert [s.name for s in pages] == [f"page {n}" for n in range(1, len(pages) + 1)]


@profile(deadline=None, max_examples=25, database=None)
@given(st.integers(0, 10**6), st.floats(20, 190))
def test_a_piece_that_fits_a_page_at_any_turn_is_never_split(seed, radius):
    piece = make_piece("P", blob(np.random.default_rng(seed), radius))
    pages, _ = pack_pages([piece], QUICK)
    x0, y0, x1, y1 = printable(QUICK)
    shape = shapely.Polygon(piece.cut[0])
    extents = turned_extents(shape, np.radians(np.arange(0, 180, 1.0)))
    fits = bool((extents <= (x1 - x0, y1 - y0)).all(axis=1).any())
    if fits:
        assert len(pages) == 1 and pages[0].tile is None
    elif not fits and len(pages) == 1:
        # Only a turn between whole degrees can have done it.
        window = shapely.box(x0, y0, x1, y1).buffer(1e-6)
        assert window.covers(placed(pages[0].placements[0], piece))


def test_a_piece_that_just_fits_when_turned_is_not_split():
    x0, y0, x1, y1 = printable(QUICK)
    for w, h in ((y1 - y0, x1 - x0), (x1 - x0, y1 - y0), (270, 30)):
        pages, _ = pack_pages([make_piece("P", rectangle(w, h))], QUICK)
        assert len(pages) == 1 and pages[0].tile is None


def test_small_templates_share_pages():
    pieces = [make_piece(f"P{n}", rectangle(55, 80)) for n in range(9)]
    assert len(pack_pages(pieces, QUICK)[0]) == 1


@profile(deadline=None, max_examples=15, database=None)
@given(st.integers(0, 10**6), st.floats(150, 420), st.sampled_from(["A4", "Letter", "A3"]),
       st.floats(1, 25))
def test_tiles_show_all_of_a_piece_and_overlap_their_neighbours(seed, radius, paper, overlap):
    settings = replace(QUICK, paper=paper, overlap=overlap)
    piece = make_piece("BP", blob(np.random.default_rng(seed), radius))
    pages, _ = pack_pages([piece], settings)
    if pages[0].tile is None:
        return
    window, angle = shapely.box(*printable(settings)), pages[0].placements[0].angle
    assert {s.placements[0].angle for s in pages} == {angle}
    assert len({s.tile[1:3] for s in pages}) == len(pages)
    shown, own = [], []
    for page in pages:
        _, row, column, rows, columns = page.tile
        assert 1 <= row <= rows and 1 <= column <= columns
        back = -page.placements[0].offset  # the page's window as the turned piece sees it
        shown.append(shapely.transform(window, lambda p, b=back: p + b))
        own.append(shapely.transform(shapely.box(*tile_window(page, settings)),
                                     lambda p, b=back: p + b))
    body = shapely.transform(placed(pages[0].placements[0], piece),
                             lambda p: p - pages[0].placements[0].offset)
    # All of it is printed, tiles without anything are left out, none repeats another's part.
    assert shapely.union_all(own).buffer(1e-6).covers(body)
    assert all(o.buffer(1.01).intersects(body) for o in own)
    assert sum(o.area for o in own) == pytest.approx(shapely.union_all(own).area)
    places = {s.tile[1:3]: n for n, s in enumerate(pages)}
    for (row, column), n in places.items():
        for other in ((row + 1, column), (row, column + 1)):
            if other in places:
                both = shown[n].intersection(shown[places[other]])
                x0, y0, x1, y1 = both.bounds
                assert min(x1 - x0, y1 - y0) == pytest.approx(overlap, abs=1e-6)


def test_tiles_read_from_the_top_left():
    pages, _ = pack_pages([make_piece("BP", rectangle(300, 480))], QUICK)
    assert [s.tile[1:] for s in pages] == [(1, 1, 2, 2), (1, 2, 2, 2), (2, 1, 2, 2), (2, 2, 2, 2)]
    first, right, below = (pages[n].placements[0].offset for n in (0, 1, 2))
    x0, y0, x1, y1 = printable(QUICK)
    assert right - first == pytest.approx((-(x1 - x0 - QUICK.overlap), 0.0))
    assert below - first == pytest.approx((0.0, y1 - y0 - QUICK.overlap))


def test_empty_tiles_are_left_out():
    # An L needs the tiles along its two arms only.
    arm = 620.0
    ell = [(0, 0), (arm, 0), (arm, 60), (60, 60), (60, arm), (0, arm)]
    pages, _ = pack_pages([make_piece("L", ell)], QUICK)
    _, _, _, rows, columns = pages[0].tile
    assert len(pages) < rows * columns


# --- off a roll, and with an allowance ---------------------------------------------


def test_off_a_roll_pages_are_as_long_as_what_lies_on_them():
    settings = replace(QUICK, paper="roll", roll=500.0)
    rng = np.random.default_rng(7)
    pieces = [make_piece(f"P{n}", blob(rng, r)) for n, r in enumerate((60, 75, 90, 120, 150))]
    pieces.append(make_piece("LONG", rectangle(1900, 90)))
    pages, findings = pack_pages(pieces, settings)
    assert not findings and {s.tile for s in pages} == {None}
    by_code = {p.code: p for p in pieces}
    assert sorted(p.piece for s in pages for p in s.placements) == sorted(by_code)
    for page in pages:
        assert page.size[0] == 500.0 and overlaps(page, pieces, 4.99) == []
        window = shapely.box(*printable(settings, page.size)).buffer(1e-6)
        bodies = shapely.union_all([placed(p, by_code[p.piece]) for p in page.placements])
        assert window.covers(bodies)
        low, high = bodies.bounds[1], bodies.bounds[3]
        assert low == pytest.approx(14.0) and page.size[1] - high == pytest.approx(10.0)
    # The long strip needs one page of its own length, and all the rest lies beside it.
    assert [s.size[1] for s in pages] == [pytest.approx(14.0 + 1900.0 + 10.0)]


def test_what_is_wider_than_a_roll_is_joined_from_strips():
    settings = replace(QUICK, paper="Roll", roll=300.0)
    pages, _ = pack_pages([make_piece("BP", rectangle(700, 700))], settings)
    assert [s.tile[1:] for s in pages] == [(1, 1, 1, 3), (1, 2, 1, 3), (1, 3, 1, 3)]
    assert all(s.size == pytest.approx((300.0, 14.0 + 700.0 + 2 + 10.0)) for s in pages)


def test_templates_with_an_allowance_lie_that_much_farther_apart():
    settings = replace(QUICK, allowance=8.0)
    pieces = [make_piece(f"P{n}", rectangle(55, 80)) for n in range(4)]
    pages, findings = pack_pages(pieces, settings)
    assert not findings
    x0, y0, x1, y1 = printable(settings)
    inner = shapely.box(x0 + 8, y0 + 8, x1 - 8, y1 - 8).buffer(1e-6)
    for page in pages:
        assert overlaps(page, pieces, 5.0 + 2 * 8.0 - 0.01) == []
        assert all(inner.covers(placed(p, pieces[0])) for p in page.placements)
    # What just fits without one is joined from pages with one.
    large = make_piece("BP", rectangle(x1 - x0, y1 - y0))
    assert pack_pages([large], QUICK)[0][0].tile is None
    assert pack_pages([large], settings)[0][0].tile is not None
