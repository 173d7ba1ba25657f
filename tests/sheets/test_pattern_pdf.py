"""The printed templates, read back with tools that know nothing of us."""

import gc
import shutil
import subprocess
from collections import Counter
from dataclasses import replace

import numpy as np
import pdfplumber
import pikepdf
import pytest
import shapely
from PIL import Image

from addon.core.mock_up import in_card
from addon.core.model import BACK, TRENCH, Fold, Settings, Sheet
from addon.core.nest import PAPERS, nest_mats, pack_pages, paper_size, printable
from addon.core.stock import Stock
from addon.export.canvas import Canvas
from addon.export.cover import front_pages
from addon.export.pages import page_marks, row_name, shortened
from addon.export.pdf import write_pattern_pdf
from tests.sheets.conftest import FOAM, blob, make_piece, make_suit, rectangle

MM = 72 / 25.4  # points per mm, ISO 32000-1 (8.3.2.3)
TITLE = "Нагрудник «Сокол»"


def suit(paper: str = "A4", **more):
    rng = np.random.default_rng(4)
    pieces = [make_piece(f"P{n}", blob(rng, r), name="Forearm", mirrored=n % 2)
              for n, r in enumerate((40, 55, 70))]
    pieces += [make_piece("SQ", rectangle(100, 100)), make_piece("BP", blob(rng, 190, 240))]
    settings = replace(Settings(FOAM, paper=paper, title=TITLE, nest_seconds=0.05), **more)
    mats, _ = nest_mats(pieces, settings)
    pages, _ = pack_pages(pieces, settings)
    return make_suit(pieces, settings, mats, pages)


@pytest.fixture(scope="module")
def pattern():
    return suit()


@pytest.fixture(scope="module")
def path(pattern, tmp_path_factory):
    path = tmp_path_factory.mktemp("pdf") / "pattern.pdf"
    write_pattern_pdf(pattern, path)
    return path


def outlines_on(page) -> list[np.ndarray]:
    """Every path of a page that has curves or corners, sampled along, mm."""
    found, t = [], np.linspace(0, 1, 25)[:, None]
    for item in (*page.curves, *page.lines, *page.rects):
        points: list[np.ndarray] = []
        for kind, *ends in item["path"]:
            ends = np.array(ends)
            if kind == "c":  # a cubic Bézier curve, ISO 32000-1 (8.5.2.2)
                a, b, c, d = points[-1][-1], *ends
                ends = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c \
                    + t**3 * d
            points.append(ends.reshape(-1, 2))
        points = np.concatenate([p for p in points if len(p)])
        found.append(np.stack([points[:, 0], float(page.height) - points[:, 1]], axis=1) / MM)
    return found


def apart(points, ring) -> float:
    """Hausdorff distance of two closed lines, the points of each from the other."""
    a, b = shapely.LinearRing(points), shapely.LinearRing(ring)
    return max(float(shapely.distance(shapely.points(shapely.get_coordinates(
        shapely.segmentize(one, 0.2))), other).max()) for one, other in ((a, b), (b, a)))


def lines_on(page) -> list[np.ndarray]:
    """Every stroked path of a page, mm from its lower left corner."""
    height = float(page.height)
    return [np.array([(x, height - y) for x, y in o["pts"]]) / MM
            for o in (*page.curves, *page.lines, *page.rects)]


def tool(name: str) -> str:
    found = shutil.which(name)
    if not found:
        pytest.skip(f"{name} is not on this computer")
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter", "A2"])
def test_pages_have_the_paper_s_size_and_are_not_to_be_scaled(paper, tmp_path):
    write_pattern_pdf(suit(paper), tmp_path / "p.pdf")
    with pikepdf.open(tmp_path / "p.pdf") as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"  # ISO 32000-1, table 150
        for page in pdf.pages:
            assert [float(v) / MM for v in page.mediabox] == pytest.approx(
                [0, 0, *PAPERS[paper]], abs=0.01)
            assert page.cropbox == page.mediabox
            assert "/UserUnit" not in page and page.get("/Rotate", 0) == 0


def test_check_square_and_rulers_measure_what_they_say(path):
    with pdfplumber.open(path) as pdf:
        paths = lines_on(pdf.pages[0])
    extents = [np.ptp(p, axis=0) for p in paths if len(p)]
    for side in (100.0, 101.6):
        assert any(np.allclose(e, side, atol=0.1) for e in extents), side
    # A ruler's ticks: neighbours 1 mm and 1/8 in apart, along both directions.
    for axis in (0, 1):
        ticks = [p for p in paths if len(p) == 2 and abs(np.ptp(p[:, axis])) < 1e-3
                 and 1.0 < np.ptp(p[:, 1 - axis]) < 4.0]
        places = Counter(round(float(p[0, axis]), 2) for p in ticks)
        spots = np.array(sorted(places))
        start = spots[0]
        for n in (10, 50, 100, 150):
            assert np.abs(spots - start - n).min() < 0.05
        assert np.abs(spots - start - 4 * 25.4).min() < 0.05


def test_a_100_mm_piece_is_100_mm_on_paper(path, pattern):
    n = next(i for i, s in enumerate(pattern.pages) if "SQ" in {p.piece for p in s.placements})
    with pdfplumber.open(path) as pdf:
        front = len(pdf.pages) - len(pattern.pages)
        sides = [np.hypot(*np.diff(p[:2], axis=0)[0]) for p in lines_on(pdf.pages[front + n])
                 if len(p) in (4, 5)]
    assert min(abs(side - 100.0) for side in sides) < 0.1


def test_outlines_on_paper_lie_on_the_placed_outlines(path, pattern):
    with pdfplumber.open(path) as pdf:
        front = len(pdf.pages) - len(pattern.pages)
        for sheet, page in zip(pattern.pages, pdf.pages[front:], strict=True):
            drawn = [p for p in outlines_on(page) if len(p) > 3]
            for placement in sheet.placements:
                ring = placement.apply(pattern.piece(placement.piece).cut[0])
                like = [p for p in drawn if np.allclose(np.ptp(p, axis=0), np.ptp(ring, axis=0),
                                                        atol=0.2)]
                assert min(apart(p, ring) for p in like) < 0.05


def test_raster_of_the_check_square_is_exact_to_a_pixel(path, tmp_path):
    tool("pdftoppm")
    subprocess.run([tool("pdftoppm"), "-r", "300", "-gray", "-singlefile", path,
                    tmp_path / "first"], check=True)
    ink = np.asarray(Image.open(tmp_path / "first.pgm")) < 128
    # Long dark runs: the square's upright sides are 100 mm apart and as long.
    tall = np.flatnonzero(_longest_run(ink) > 99 / 25.4 * 300)
    gaps = {int(b - a) for a in tall for b in tall}
    assert any(abs(g - 100 / 25.4 * 300) <= 1 for g in gaps)
    runs = _longest_run(ink)[tall]
    assert any(abs(r - 100 / 25.4 * 300) <= 4 for r in runs)  # ends carry the line's own width


def _longest_run(ink: np.ndarray) -> np.ndarray:
    """Longest run of dark pixels in each column."""
    best = run = np.zeros(ink.shape[1], dtype=int)
    for row in ink:
        run = (run + 1) * row
        best = np.maximum(best, run)
    return best


def test_qpdf_finds_no_fault(path):
    result = subprocess.run([tool("qpdf"), "--check", path], capture_output=True, text=True)
    assert result.returncode == 0, result.stdout + result.stderr


def test_pdfinfo_reads_it_without_complaint(path, pattern):
    result = subprocess.run([tool("pdfinfo"), "-f", "1", "-l", "1", path], capture_output=True,
                            text=True)
    assert result.returncode == 0 and result.stderr == ""
    assert f"Title:           {TITLE}" in result.stdout and "(A4)" in result.stdout


def test_the_same_pattern_gives_the_same_bytes(path, pattern, tmp_path):
    write_pattern_pdf(pattern, tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == path.read_bytes()


def test_fonts_are_embedded_and_cyrillic_reads_back(path):
    with pikepdf.open(path) as pdf:
        assert str(pdf.docinfo["/Title"]) == TITLE
        fonts = [f for page in pdf.pages for f in page.resources.get("/Font", {}).values()]
        assert fonts
        for font in fonts:
            descriptor = font.DescendantFonts[0].FontDescriptor
            assert {"/FontFile2", "/FontFile3"} & set(descriptor.keys())
    with pdfplumber.open(path) as pdf:
        assert "Нагрудник" in pdf.pages[0].extract_text()
        assert "Нагрудник" in pdf.pages[-1].extract_text()


def test_pages_are_numbered_and_bookmarked_by_page_and_piece(path, pattern):
    with pikepdf.open(path) as pdf:
        front = len(pdf.pages) - len(pattern.pages)
        assert [p.label for p in pdf.pages[:2]] == ["i", "ii"]
        assert [p.label for p in pdf.pages[front:]] == [
            s.name.removeprefix("page ") for s in pattern.pages]
        with pdf.open_outline() as outline:
            entries = outline.root[1:]
            assert [e.title for e in entries] == [s.name.capitalize() for s in pattern.pages]
            below = [[c.title.split(",")[0] for c in e.children] for e in entries]
    assert below == [[p.piece for p in s.placements] for s in pattern.pages]


def test_the_front_pages_say_what_to_do_and_list_every_piece(path, pattern):
    with pdfplumber.open(path) as pdf:
        front = len(pdf.pages) - len(pattern.pages)
        text = "\n".join(p.extract_text() for p in pdf.pages[:front])
    for words in ("100 %", "94 mm", "What the marks mean", "Where each template is", "Blades",
                  "vapour", "respirator", "venue and the law"):
        assert words in text
    for piece in pattern.pieces:
        assert piece.code in text


def test_words_on_every_page_lie_on_the_paper_and_clear_of_each_other(path, pattern):
    _require_clear_words(path, pattern)


@pytest.mark.parametrize("odd", [
    dict(paper="roll", roll=141.0), dict(paper="roll", roll=170.0),
    dict(paper="roll", roll=1600.0), dict(paper="Tabloid"), dict(paper="A0"),
    dict(paper="A4", margin=30.0)])
def test_words_have_room_on_narrow_and_on_wide_paper(odd, tmp_path):
    pattern = suit(**odd)
    write_pattern_pdf(pattern, tmp_path / "p.pdf")
    _require_clear_words(tmp_path / "p.pdf", pattern)


def test_the_foot_counts_stocks_rather_than_cut_their_names_short():
    stocks = [Stock(f"Foam of a long name {n}", 5.0 + n) for n in range(3)]
    pieces = [make_piece(f"P{n}", rectangle(40, 40), stock=s) for n, s in enumerate(stocks)]
    settings = Settings(FOAM, title="Ferry warden", nest_seconds=0.02)
    pages, _ = pack_pages(pieces, settings)
    (words,) = [t.text for t in page_marks(pages[0], make_suit(pieces, settings, (), pages)).texts
                if "scale" in t.text]
    assert words.startswith("Ferry warden") and words.endswith("3 stocks, see labels")


def _require_clear_words(path, pattern):
    with pdfplumber.open(path) as pdf:
        front = len(pdf.pages) - len(pattern.pages)
        for page, sheet in zip(pdf.pages, [None] * front + list(pattern.pages), strict=True):
            boxes = [shapely.box(c["x0"], c["top"], c["x1"], c["bottom"]).buffer(-0.6)
                     for c in page.chars if c["text"].strip() and c["upright"]]
            paper = shapely.box(3 * MM, 3 * MM, page.width - 3 * MM, page.height - 3 * MM)
            if not (sheet and sheet.tile):
                assert all(paper.covers(b) for b in boxes)
            # The centres of letters lie outside all other letters' boxes.
            tree = shapely.STRtree(boxes)
            centres = [b.centroid for b in boxes]
            hits = tree.query(centres, predicate="within")
            assert (hits[0] == hits[1]).all()


def test_tiles_show_matching_crosses_and_name_their_neighbours(pattern):
    tiles = [s for s in pattern.pages if s.tile]
    assert len(tiles) == 4
    texts = {s.tile[1:3]: " ".join(t.text for t in page_marks(s, pattern).texts) for s in tiles}
    assert f"joins {tiles[1].name}, row A, column 2" in texts[1, 1]
    assert f"joins {tiles[2].name}, row B, column 1" in texts[1, 1]
    assert "BP  ·  4/4  ·  row B, column 2" in texts[2, 2]
    seen = {s.tile[1:3]: _crosses(s, pattern) for s in tiles}
    for a, b in (((1, 1), (1, 2)), ((1, 1), (2, 1)), ((1, 2), (2, 2)), ((2, 1), (2, 2))):
        distance = np.hypot(*(seen[a][:, None] - seen[b][None]).transpose(2, 0, 1))
        assert (distance.min(axis=1) < 1e-9).sum() == 2  # the two they share fall together


def _crosses(sheet: Sheet, pattern) -> np.ndarray:
    """Centres (k, 2) of a tile's crosses, seen from the piece."""
    strokes = [s.points for s in page_marks(sheet, pattern).strokes if s.layer == "notch"]
    return np.array([p.mean(axis=0) for p in strokes[::2]]) - sheet.placements[0].offset


def test_what_a_tile_draws_of_its_piece_is_clipped_to_the_window(path, pattern, tmp_path):
    pdftoppm = tool("pdftoppm")
    with pikepdf.open(path) as pdf:
        number = len(pdf.pages) - len(pattern.pages) + 1 + next(
            i for i, s in enumerate(pattern.pages) if s.tile)
    subprocess.run([pdftoppm, "-r", "100", "-gray", "-singlefile", "-f", str(number), path,
                    tmp_path / "tile"], check=True)
    ink = np.asarray(Image.open(tmp_path / "tile.pgm")) < 128
    x0, y0, _, _ = printable(pattern.settings)
    # Left of the first tile's window and above the foot line nothing is printed.
    assert not ink[200:-80, : int((x0 - 0.5) / 25.4 * 100)].any()
    assert ink.any()


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_a_pattern_without_pieces_and_one_with_a_long_title_still_print(paper, tmp_path):
    settings = Settings(FOAM, paper=paper, title="Great " * 60)
    write_pattern_pdf(make_suit([], settings), tmp_path / "p.pdf")
    with pdfplumber.open(tmp_path / "p.pdf") as pdf:
        assert "Great" in pdf.pages[0].extract_text()


def test_a_tile_carries_no_hidden_words_of_its_neighbours(path, pattern):
    with pdfplumber.open(path) as pdf:
        front = len(pdf.pages) - len(pattern.pages)
        for sheet, page in zip(pattern.pages, pdf.pages[front:], strict=True):
            if sheet.tile:
                paper = shapely.box(0, 0, page.width, page.height)
                assert all(paper.intersects(shapely.box(*(line[k] for k in (
                    "x0", "top", "x1", "bottom")))) for line in page.extract_text_lines())


def test_rows_are_lettered_like_a_spreadsheet():
    assert [row_name(n) for n in (1, 2, 26, 27, 28, 52, 53)] == [
        "A", "B", "Z", "AA", "AB", "AZ", "BA"]


def test_shortened_words_fit_and_keep_their_beginning():
    from addon.export.fonts import text_width

    words = "A very long name of a piece"
    short = shortened(words, 30.0)
    assert text_width(short, 3.6) <= 30.0 and short.endswith("…")
    assert words.startswith(short[:-1]) and shortened(words, 500.0) == words


def test_a_canvas_that_is_given_up_leaves_no_file_open():
    canvas = Canvas("given up")
    files = [font.ttfont.reader.file for font in canvas._pdf.fonts.values()]
    assert len(files) == 2 and not any(file.closed for file in files)
    del canvas
    gc.collect()
    assert all(file.closed for file in files)


# --- other sets --------------------------------------------------------------------


def test_backs_follow_on_pages_that_are_named_after_their_fronts(tmp_path):
    pattern = suit(back_side=True)
    fold = Fold([(10, 50), (90, 50)], np.radians((30, 30)), TRENCH, BACK, 7.0, 3.8)
    pieces = tuple(replace(p, folds=(fold,)) if p.code == "SQ" else p for p in pattern.pieces)
    write_pattern_pdf(replace(pattern, pieces=pieces), tmp_path / "p.pdf")
    page = next(s.name for s in pattern.pages if "SQ" in {p.piece for p in s.placements})
    with pikepdf.open(tmp_path / "p.pdf") as pdf:
        assert pdf.pages[-1].label == "back " + page.removeprefix("page ")
        with pdf.open_outline() as outline:
            assert outline.root[-1].title == f"Back of {page}"
            assert [c.title for c in outline.root[-1].children] == ["SQ"]
    with pdfplumber.open(tmp_path / "p.pdf") as pdf:
        assert len(pdf.pages) >= len(pattern.pages) + 2
        assert "BACK: inside face up" in pdf.pages[-1].extract_text()
        assert f"back of {page}" in pdf.pages[-1].extract_text()


def test_pages_off_a_roll_are_as_long_as_their_templates(tmp_path):
    pattern = suit("Roll", roll=420.0)
    write_pattern_pdf(pattern, tmp_path / "p.pdf")
    result = subprocess.run([tool("qpdf"), "--check", tmp_path / "p.pdf"], capture_output=True)
    assert result.returncode == 0
    with pdfplumber.open(tmp_path / "p.pdf") as pdf:
        sizes = [(p.width / MM, p.height / MM) for p in pdf.pages]
        assert sizes[0] == pytest.approx((420.0, 297.0), abs=0.01)
        assert "420 mm wide off a roll" in pdf.pages[0].extract_text()
        paths = lines_on(pdf.pages[0])
    assert sizes[-len(pattern.pages):] == [pytest.approx(s.size, abs=0.01) for s in pattern.pages]
    assert any(np.allclose(np.ptp(p, axis=0), 100.0, atol=0.1) for p in paths)


def test_no_page_of_a_mock_up_can_be_taken_for_a_template_of_foam(tmp_path):
    pattern = suit(mock_up="half", card=1.5)
    _, settings = in_card(pattern.sculpt, pattern.settings)  # as a check leaves them
    write_pattern_pdf(replace(pattern, settings=settings), tmp_path / "p.pdf")
    with pdfplumber.open(tmp_path / "p.pdf") as pdf:
        for page in pdf.pages:
            text = page.extract_text()
            assert "MOCK-UP" in text.upper() and "no foam" in text, text[:200]
            assert "full size" not in text and "1:1" not in text


def test_the_picture_of_a_long_page_off_a_roll_stays_on_paper():
    settings = Settings(FOAM, paper="Roll", roll=400.0, nest_seconds=0.05)
    pieces = [make_piece("LONG", rectangle(4000, 90))]
    pages, _ = pack_pages(pieces, settings)
    (w, h) = paper_size(settings)
    for page in front_pages(make_suit(pieces, settings, (), pages)):
        points = np.concatenate([s.points for s in page.strokes])
        assert (points >= 0).all() and (points <= (w, h)).all()
