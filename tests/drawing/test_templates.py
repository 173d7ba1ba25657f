"""The drawing of pieces and sheets: true lines, and words that keep clear of them."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from addon.core.model import BACK, SCORE, TRENCH, Bend, Fold, Gauge, Placement, Sheet
from addon.core.nest import pack_pages, printable, tile_window
from addon.core.stock import Stock
from addon.export.backs import back_of, back_pages
from addon.export.drawing import MIN_SIZE, draw_piece, draw_sheet, legend
from addon.export.fonts import cap_height
from addon.export.labels import text_box

EVA = Stock("EVA 10 mm", 10.0)
CODES = ("BP1", "GR2", "ST3", "RM4", "RV5", "KT6", "DN7", "CY8")


def line_of(stroke):
    points = stroke.points
    return LineString([*points, points[0]] if stroke.closed else points)


def assert_words_are_clear(drawing, bodies, text=""):
    """No text crosses a line, another text, or a piece's edge."""
    words = [text_box(t) for t in drawing.texts]
    lines = shapely.union_all([line_of(s) for s in drawing.strokes])
    for text, box in zip(drawing.texts, words, strict=True):
        assert text.size >= MIN_SIZE
        assert not box.intersects(lines), f"“{text.text}” crosses a line"
        for body in bodies:
            inside, outside = body.contains(box), not body.intersects(box)
            assert inside or outside, f"“{text.text}” crosses an edge"
    tree = shapely.STRtree(words)
    a, b = tree.query(words, predicate="intersects")
    # Lines of one block may touch where a descender meets the next line's box.
    crossing = [(drawing.texts[i].text, drawing.texts[j].text) for i, j in zip(a, b, strict=True)
                if i < j and words[i].intersection(words[j]).area > 0.05 * words[i].area]
    assert not crossing


def body_of(piece, placement=None):
    place = placement.apply if placement else np.asarray
    return Polygon(place(piece.cut[0]), [place(r) for r in piece.cut[1:]])


@pytest.mark.parametrize("code", CODES)
def test_words_cross_no_line_and_leave_no_piece(pieces, pattern, code):
    assert_words_are_clear(draw_piece(pieces[code], pattern), [body_of(pieces[code])])


def test_words_on_a_sheet_keep_clear_of_every_piece(pattern):
    sheet = pattern.mats[0]
    bodies = [body_of(pattern.piece(p.piece), p) for p in sheet.placements]
    assert shapely.union_all(bodies).area == pytest.approx(sum(b.area for b in bodies))
    assert_words_are_clear(draw_sheet(sheet, pattern), bodies)


@settings(max_examples=25, deadline=None)
@given(size=st.floats(8, 300), slim=st.floats(0.06, 1.0), corners=st.integers(3, 9),
       turn=st.floats(0, 360), bevel=st.floats(-45, 45), mirrored=st.booleans(),
       seed=st.integers(0, 99), marks=st.integers(0, 3), grain=st.booleans())
def test_words_are_clear_on_any_polygon(build, size, slim, corners, turn, bevel, mirrored, seed,
                                        marks, grain):
    angle = 2 * np.pi * np.arange(corners) / corners
    radius = np.random.default_rng(seed).uniform(0.5, 1.0, corners) * size
    outline = np.stack([radius * np.cos(angle), slim * radius * np.sin(angle)], axis=1)
    lines = [np.array([(0, 0), 0.95 * corner]) for corner in outline[:marks]]
    piece = build.notched(build.piece(
        "PC1", outline, (bevel, 0, 20), "ABCDEFGHJ", name="Plate",
        bends=[Bend(line, 0.4) for line in lines[:1]], stock=replace(EVA, grain=grain),
        folds=[Fold(line, np.radians((40, 40)), TRENCH, BACK, 7.0, 5.1) for line in lines[1:]]))
    placement = Placement("PC1", np.radians(turn), (0.0, 0.0), mirrored)
    drawing = draw_piece(piece, build.pattern([piece]), placement)
    assert_words_are_clear(drawing, [body_of(piece, placement)])
    assert any(t.text.startswith("PC1") for t in drawing.texts)


@pytest.mark.parametrize("code", CODES)
def test_a_template_says_code_name_count_stock_face_and_up(pieces, pattern, code):
    piece, words = pieces[code], " ".join(
        t.text for t in draw_piece(pieces[code], pattern).texts)
    assert code in words and piece.name in words and piece.stock.name in words
    assert "outside face up" in words
    assert f"cut {piece.copies}" in words
    assert ("UP" in words.split()) == bool(np.any(piece.up))
    for edge in piece.edges:
        assert edge.letter in words


def test_mirrored_pieces_are_counted_on_their_template(pieces, pattern):
    words = [t.text for t in draw_piece(pieces["BP1"], pattern).texts]
    assert "cut 1 + 1 mirrored" in words


def test_every_mark_of_the_piece_is_drawn(pieces, pattern):
    plate = pieces["BP1"]
    drawing = draw_piece(plate, pattern)
    words = [t.text for t in drawing.texts]
    assert "trench B, 7 mm deep, 6.8 mm wide, fold 40–52°" in words
    assert "score F, 4 mm deep, fold 12°" in words
    assert "45° F>B" in words and "30° F>B" in words
    assert "bend 30° back" in words and "bend 23° forward" in words
    assert {f"{n.letter}{n.index}" for n in plate.notches} <= set(words)
    assert len(drawing.on("notch").strokes) == len(plate.notches)
    assert "25° B>F" in [t.text for t in draw_piece(pieces["GR2"], pattern).texts]


def test_a_bevel_is_noted_afresh_wherever_it_changes_by_more_than_three_degrees(build):
    piece = build.piece("PC1", [(0, 0), (400, 0), (400, 200), (0, 200)], ((10, 30),), "A")
    notes = [t.text for t in draw_piece(piece, build.pattern([piece])).texts if "F>B" in t.text]
    assert 5 <= len(notes) <= 7  # 20 degrees in runs of three and a little
    steady = build.piece("PC1", [(0, 0), (400, 0), (400, 200), (0, 200)], ((10, 12.5),), "A")
    notes = [t.text for t in draw_piece(steady, build.pattern([steady])).texts if ">" in t.text]
    assert len(notes) == 1


def test_cut_lines_are_the_piece_s_own_points_and_bevel_lines_lie_inside(pieces, pattern):
    for code in CODES:
        drawing, piece = draw_piece(pieces[code], pattern), pieces[code]
        cut = drawing.on("cut").strokes
        for stroke, ring in zip(cut, piece.cut, strict=True):
            assert np.array_equal(stroke.points, ring)
        for stroke in drawing.on("bevel").strokes:
            # The edges of test pieces are chords of their arcs.
            assert body_of(piece).buffer(0.1).covers(line_of(stroke))


def test_the_bevel_line_of_a_mitred_square_is_t_tan_45_inside(build):
    # thick-foam geometry: the smaller face's edge lies t·tan(φ/2) in; a cube's bevel is 45°.
    piece = build.piece("PC1", [(0, 0), (100, 0), (100, 80), (0, 80)], (45,) * 4, "ABCD")
    lines = [line_of(s) for s in draw_piece(piece, build.pattern([piece])).on("bevel").strokes]
    bounds = shapely.union_all(lines).bounds
    assert bounds == pytest.approx((10.0, 10.0, 90.0, 70.0), abs=1e-3)


def test_text_reads_from_the_bottom_or_the_right_edge_of_a_sheet(pattern):
    for text in draw_sheet(pattern.mats[0], pattern).texts:
        assert np.radians(-75) <= text.angle <= np.radians(105), text.text


def test_small_pieces_packed_tightly_are_all_labelled(build):
    rivets = [build.piece(f"RV{i}", [build.arc((0, 0), r, 0, 354, 60)], (0,), up=(0, 0))
              for i, r in enumerate((6, 9, 14))]
    places = [Placement(rivets[(i + j) % 3].code, 0.0, (16 + 30 * i, 16 + 30 * j))
              for i in range(5) for j in range(5)]
    sheet, pattern = Sheet("mat", "m", (152.0, 152.0), tuple(places)), build.pattern(rivets)
    drawing = draw_sheet(sheet, pattern)
    assert_words_are_clear(drawing, [body_of(pattern.piece(p.piece), p) for p in places])
    words = [t.text for t in drawing.texts]
    for rivet in rivets:
        named = [w for w in words if w.split(" ")[0] == rivet.code]
        assert len(named) == sum(p.piece == rivet.code for p in places)


def test_a_turned_over_piece_is_mirrored_but_not_its_words(pattern):
    sheet = pattern.mats[0]
    placement = sheet.placements[-1]
    only = Sheet("mat", "m", sheet.size, (placement,), sheet.stock)
    drawing = draw_sheet(only, pattern)
    outline = Polygon(drawing.on("cut").strokes[0].points)
    assert not outline.exterior.is_ccw  # the ring of a mirrored counter-clockwise outline
    assert "mirrored" in [t.text for t in drawing.texts]
    body = body_of(pattern.piece("BP1"), placement)
    for stroke in drawing.on("notch").strokes:
        assert body.buffer(0.1).covers(line_of(stroke))  # the plate's edges are chords of arcs


def test_a_piece_cut_by_anothers_template_shows_its_own_code(build, pieces):
    twin = replace(pieces["BP1"], code="BP9", template="BP1", copies=0, flipped=True)
    pattern = build.pattern([pieces["BP1"], twin])
    sheet = Sheet("mat", "m", (600.0, 600.0),
                  (Placement("BP9", 0.0, (300.0, 100.0), mirrored=True),))
    words = [t.text for t in draw_sheet(sheet, pattern).texts]
    assert "BP9" in words and "BP1" not in words and "mirrored" in words
    own = " ".join(t.text for t in draw_piece(pieces["BP1"], pattern).texts)
    assert "also BP9" in own


def test_kerf_grows_outlines_and_shrinks_holes_by_half(build):
    # Kerf compensation of a 2.0 × 4.0 mm part at a kerf of 0.2 mm: 2.2 × 4.2 mm; arithmetic.
    thin = Stock("Foam", 2.0, kerf=0.2)
    hole = np.array([(20.0, 20.0), (20, 24), (22, 24), (22, 20)])
    small = build.piece("A1", [(0, 0), (2, 0), (2, 4), (0, 4)], stock=thin)
    holed = build.piece("A2", [(0, 0), (40, 0), (40, 40), (0, 40)], holes=[hole], stock=thin)
    sheet = Sheet("mat", "m", (200.0, 200.0), (Placement("A1", 0.0, (10.0, 10.0)),
                                               Placement("A2", 0.0, (50.0, 50.0))), thin)
    pattern = build.pattern([small, holed])

    def sizes(kerf):
        cut = draw_sheet(sheet, pattern, kerf).on("cut")
        return [np.ptp(stroke.points, axis=0) for stroke in cut.strokes]

    assert np.allclose(sizes(kerf=True), [(2.2, 4.2), (40.2, 40.2), (1.8, 3.8)])
    assert np.allclose(sizes(kerf=False), [(2, 4), (40, 40), (2, 4)])


def test_small_lettering_is_two_and_a_half_millimetres_high():
    # ISO 3098: lettering heights 1.8, 2.5, 3.5, 5, 7 … mm (from memory).
    assert cap_height(MIN_SIZE) >= 2.5


@pytest.mark.parametrize("width", (90.0, 180.0))
def test_the_legend_explains_every_line_within_its_width(width):
    drawing = legend(width)
    assert {s.layer for s in drawing.strokes} == {
        "cut", "allowance", "bevel", "trench", "mouth", "score", "bend", "notch", "arrow", "grain",
        "position", "hole", "drill", "outline", "placement", "finish"}
    boxes = [text_box(t) for t in drawing.texts]
    lines = [line_of(s) for s in drawing.strokes]
    fewer = legend(width, without=("allowance", "grain"))
    assert {s.layer for s in drawing.strokes} - {s.layer for s in fewer.strokes} == {
        "allowance", "grain"}
    x0, y0, x1, _ = shapely.union_all([*boxes, *lines]).bounds
    assert x0 >= -1e-6 and y0 >= -1e-6 and x1 <= width + 1e-6
    assert not shapely.union_all(boxes).intersects(shapely.union_all(lines))


def test_the_arrow_on_a_mat_points_up_for_the_copy_that_is_named(build):
    """A plate and its mirror image that is worn lying on its side."""
    plate = build.piece("A1", [(0, 0), (120, 0), (120, 90), (0, 80)], up=(0.0, 1.0), mirrored=1)
    turn = np.radians(70)
    # The copy's own flat: the plate turned over, then by 70°, where up is up again.
    twin = replace(plate, code="A2", template="A1", copies=0, mirrored=0, flipped=True, turn=turn,
                   up=np.array((0.0, 1.0)))
    pattern = build.pattern([plate, twin])
    placement = Placement("A2", turn, (0.0, 0.0), mirrored=True)  # lies as its own flat does
    arrow = draw_piece(twin, pattern, placement).on("arrow").strokes[0].points
    assert (arrow[1] - arrow[0]) / np.hypot(*(arrow[1] - arrow[0])) == pytest.approx((0, 1))
    arrow = draw_piece(plate, pattern).on("arrow").strokes[0].points
    assert (arrow[1] - arrow[0])[0] == pytest.approx(0.0)
    words = " ".join(t.text for t in draw_piece(plate, pattern).texts)
    assert "also A2 turned 70°" in words


def test_the_mouth_of_a_trench_is_drawn_as_wide_as_it_is_cut(build):
    """A V of depth d that closes at f is 2 d tan(f/2) wide at the face (docs/geometry.md)."""
    angles = np.radians((40, 60))
    mouth = 2 * 7.0 * np.tan(angles / 2)
    fold = Fold([(0, 40), (120, 40)], angles, TRENCH, BACK, 7.0, float(mouth.max()))
    plate = build.piece("A1", [(0, 0), (120, 0), (120, 90), (0, 90)], folds=(fold,))
    lines = [s.points for s in draw_piece(plate, build.pattern([plate])).on("mouth").strokes]
    assert len(lines) == 2
    for side in (0, -1):
        widths = np.ptp([line[np.argsort(line[:, 0])][side] for line in lines], axis=0)
        assert np.hypot(*widths) == pytest.approx(mouth[side], abs=0.05)
    narrow = replace(plate, folds=(replace(fold, fold=np.radians((5, 5)), mouth=0.6),))
    assert not draw_piece(narrow, build.pattern([narrow])).on("mouth").strokes


@pytest.mark.parametrize("count", [1, 20])
def test_a_bend_line_makes_way_for_words_where_they_find_no_room_beside_it(build, count):
    at = np.linspace(0, 120, count + 2)[1:-1]
    bends = [Bend([(x, 0), (x, 90)], 0.5) for x in at]
    plate = build.piece("A1", [(0, 0), (120, 0), (120, 90), (0, 90)], bends=bends, name="Plate")
    drawing = draw_piece(plate, build.pattern([plate]))
    assert_words_are_clear(drawing, [body_of(plate)])
    parts = [line_of(s) for s in drawing.on("bend").strokes]
    lines = shapely.union_all([LineString(b.points) for b in bends])
    assert parts and all(lines.buffer(1e-6).covers(part) for part in parts)
    gone = lines.difference(shapely.union_all(parts).buffer(1e-6))
    if count == 1:
        assert gone.is_empty
        return
    assert 0.0 < gone.length < 0.5 * lines.length
    stands = [text_box(t) for t in drawing.texts] + [
        line_of(s).buffer(3) for s in drawing.on("arrow").strokes]
    near = shapely.union_all(stands).buffer(4.0)
    assert all(near.intersects(part) for part in shapely.get_parts(gone))


def test_foam_with_a_grain_gets_an_arrow_along_it_however_the_piece_lies(build):
    grained = Stock("Ribbed foam 5 mm", 5.0, grain=True)
    plate = build.piece("A1", [(0, 0), (120, 0), (120, 90), (0, 90)], stock=grained)
    placement = Placement("A1", np.radians(180), (300.0, 300.0), mirrored=True)
    for place in (None, placement):
        drawing = draw_piece(plate, build.pattern([plate]), place)
        arrow = drawing.on("grain").strokes[0].points
        assert abs(arrow[1] - arrow[0])[0] == pytest.approx(0.0, abs=1e-9)
        assert "GRAIN" in [t.text for t in drawing.texts]
        assert_words_are_clear(drawing, [body_of(plate, place)])
    plain = replace(plate, stock=EVA)
    assert not draw_piece(plain, build.pattern([plain])).on("grain").strokes


def test_words_on_tiles_stand_on_one_page_and_lines_are_noted_on_each(build):
    """A plate of three pages' width: every word is whole on the page it belongs to."""
    fold = Fold([(10, 60), (690, 70)], np.radians((40, 40)), TRENCH, BACK, 7.0, 5.1)
    plate = build.notched(build.piece(
        "A1", [(0, 0), (700, 0), (700, 140), (0, 140)], (30, 0, (5, 25), 0), "ABCD", name="Plate",
        folds=(fold,), bends=(Bend([(0, 100), (700, 105)], 0.5),)))
    pattern = build.pattern([plate])
    pages, _ = pack_pages([plate], pattern.settings)
    pattern = replace(pattern, pages=pages)
    assert len(pages) >= 3
    drawing = draw_sheet(pages[0], pattern)
    windows, notes = [], []
    for sheet in pages:
        shift = pages[0].placements[0].offset - sheet.placements[0].offset
        low, high = np.reshape(tile_window(sheet, pattern.settings), (2, 2)) + shift
        windows.append(shapely.box(*low, *high))
    for text in drawing.texts:
        assert sum(w.contains(text_box(text)) for w in windows) == 1, text.text
    for words in ("trench B", "bend 29°"):
        notes = [text_box(t) for t in drawing.texts if t.text.startswith(words)]
        assert len(notes) == len(pages)
    letters = [text_box(t) for t in drawing.texts if t.text == "A"]
    assert sum(any(w.contains(box) for box in letters) for w in windows) == len(pages)
    assert_words_are_clear(drawing, [body_of(plate, pages[0].placements[0])])


# --- an allowance, and the back ---------------------------------------------------


def test_an_allowance_runs_that_far_outside_the_cut_line_and_inside_holes(pieces, pattern):
    wide = replace(pattern, settings=replace(pattern.settings, allowance=6.0))
    plate = pieces["BP1"]
    page = Sheet("page", "page 1", (297.0, 420.0), (Placement("BP1", 0.4, (130.0, 40.0)),))
    drawing = draw_sheet(page, wide)
    body = body_of(plate, page.placements[0])
    outer, hole = (Polygon(s.points) for s in drawing.on("allowance").strokes)
    # At no place nearer than 6 mm; a mitre at a corner is farther out.
    for ring in (outer, hole):
        assert ring.exterior.distance(body.boundary) == pytest.approx(6.0, abs=0.01)
    assert outer.contains(body) and Polygon(body.interiors[0]).contains(hole)
    assert_words_are_clear(drawing, [body, outer])
    mat = replace(page, kind="mat")
    assert not draw_sheet(mat, wide).on("allowance").strokes
    assert not draw_sheet(page, pattern).on("allowance").strokes


def test_small_pieces_with_an_allowance_keep_their_words_by_a_leader(build):
    rivet = build.piece("RV1", [build.arc((0, 0), 6, 0, 354, 60)], (0,), up=(0, 0))
    pattern = build.pattern([rivet], allowance=8.0)
    page = Sheet("page", "page 1", (210.0, 297.0), (Placement("RV1", 0.0, (100.0, 100.0)),))
    drawing = draw_sheet(page, pattern)
    assert "RV1" in " ".join(t.text for t in drawing.texts) and drawing.on("text").strokes


def test_the_back_shows_what_is_cut_from_behind_turned_over_line_on_line(build, pieces, pattern):
    front = Sheet("page", "page 1", (400.0, 400.0), (Placement("BP1", 0.3, (100.0, 50.0)),))
    back = back_of(front)
    seen, behind = draw_sheet(front, pattern), draw_sheet(back, pattern)
    assert_words_are_clear(behind, [body_of(pieces["BP1"], back.placements[0])])
    turned = {layer: [s.points * (-1, 1) + (400.0, 0) for s in behind.on(layer).strokes]
              for layer in ("cut", "trench", "score", "notch", "bend")}
    for layer in ("cut", "notch", "trench"):
        for a, b in zip(turned[layer], seen.on(layer).strokes, strict=True):
            assert np.allclose(a, b.points)
    assert not turned["score"] and not turned["bend"]  # the score line is cut on the front
    words = [t.text for t in behind.texts]
    assert "BACK: inside face up" in words and "45° F>B" in words
    assert "trench B, 7 mm deep, 6.8 mm wide, fold 40–52°" in words
    assert not any("score" in w or "bend" in w or "B>F" in w for w in words)
    gauged = replace(pieces["BP1"], gauges=(Gauge([(40, 170), (110, 170)], [(0, 0), (70, 0)]),))
    held = draw_sheet(back, build.pattern([gauged]))
    assert {"G1a", "G1b"} <= {t.text for t in held.texts}  # cards lie on the inner face
    again = back_of(back)
    assert np.allclose(again.placements[0].apply(np.eye(2)), front.placements[0].apply(np.eye(2)))


def test_only_pieces_that_are_cut_from_behind_have_a_back_and_tiles_keep_their_order(build):
    fold = Fold([(10, 60), (690, 70)], np.radians((40, 40)), TRENCH, BACK, 7.0, 5.1)
    shape = [(0, 0), (700, 0), (700, 140), (0, 140)]
    pieces = [build.piece("A1", shape, folds=(fold,)), build.piece("A2", shape),
              build.piece("A3", [(0, 0), (60, 0), (60, 60)], (-20, 0, 0)),
              build.piece("A4", [(0, 0), (60, 0), (60, 60)], (20, 0, 0))]
    pattern = build.pattern(pieces)
    pages, _ = pack_pages(pieces, pattern.settings)
    backs = back_pages(replace(pattern, pages=pages))
    assert {p.piece for s in backs.pages for p in s.placements} == {"A1", "A4"}
    tiles = [s.tile for s in backs.pages if s.tile]
    assert tiles == [s.tile for s in pages if s.tile and s.tile[0] == "A1"]
    joined = shapely.union_all([shapely.transform(
        shapely.box(*tile_window(s, pattern.settings)), lambda p, s=s: p - s.placements[0].offset)
        for s in backs.pages if s.tile])
    placement = replace(next(s for s in backs.pages if s.tile).placements[0], offset=(0, 0))
    assert joined.buffer(1e-6).covers(body_of(pieces[0], placement))


def test_a_bend_whose_line_the_label_covers_is_still_noted(build):
    """A small rounded piece with one bend across its middle, where the label stands too."""
    piece = build.piece("KL4", [build.arc((0, 0), 28, 0, 354, 60)], (0,), name="Knee left",
                        bends=[Bend([(-28, 0), (28, 0)], np.radians(33))])
    drawing = draw_piece(piece, build.pattern([piece]))
    assert "bend 33°" in " ".join(t.text for t in drawing.texts)
    assert_words_are_clear(drawing, [body_of(piece)])


def test_where_a_label_fits_nowhere_in_one_its_lines_find_places_of_their_own(build):
    """A tray parted by bends and score lines into fields too small for a label, on a full page."""
    scores = [Fold([(x, 0), (x, 80)], np.radians([12, 12]), SCORE, BACK, 4.0, 0.0)
              for x in (15, 30, 45, 60, 75)]
    piece = build.piece("FL1", [(0, 0), (90, 0), (90, 80), (0, 80)], (0,), name="Forearm left",
                        stock=replace(EVA, name="Foam with a rather long name"),
                        folds=scores, bends=[Bend([(0, y), (90, y)], 0.5) for y in (20, 40, 60)])
    page = Sheet("page", "page 1", (110.0, 100.0), (Placement("FL1", 0.0, (10.0, 10.0)),))
    drawing = draw_sheet(page, build.pattern([piece]))
    words = [t.text for t in drawing.texts]
    assert {"FL1", "Forearm left", "cut 1"} <= set(words)
    assert_words_are_clear(drawing, [body_of(piece, page.placements[0])])


@settings(max_examples=8, deadline=None)
@given(size=st.floats(15, 120), slim=st.floats(0.1, 1.0), corners=st.integers(3, 8),
       turn=st.floats(0, 360), bevel=st.floats(5, 45), seed=st.integers(0, 99),
       room=st.floats(0, 12))
def test_words_are_clear_with_an_allowance_and_on_the_back(build, size, slim, corners, turn, bevel,
                                                          seed, room):
    angle = 2 * np.pi * np.arange(corners) / corners
    radius = np.random.default_rng(seed).uniform(0.5, 1.0, corners) * size
    outline = np.stack([radius * np.cos(angle), slim * radius * np.sin(angle)], axis=1)
    fold = Fold([(0, 0), 0.9 * outline[0]], np.radians((40, 40)), TRENCH, BACK, 7.0, 5.1)
    piece = build.notched(build.piece("PC1", outline, (bevel, -bevel), "ABCDEFGH", name="Plate",
                                      folds=[fold]))
    pattern = build.pattern([piece], allowance=room)
    front = Sheet("page", "page 1", (400.0, 400.0), (
        Placement("PC1", np.radians(turn), (200.0, 200.0)),))
    for sheet in (front, back_of(front)):
        drawing = draw_sheet(sheet, pattern)
        bodies = [body_of(piece, sheet.placements[0])]
        assert_words_are_clear(drawing, bodies)
        assert any(t.text.startswith("PC1") for t in drawing.texts)
        assert len(drawing.on("trench").strokes) == 1
    assert bool(draw_sheet(front, pattern).on("allowance").strokes) == (room > 0)


def test_an_allowance_at_sharp_corners_stays_where_pages_keep_room_for_it(build):
    needle = build.piece("DN7", [(0, 0), (120, 7), (0, 14)], (0,), name="Dart insert")
    star = build.piece("ST1", [p for k in range(5) for p in (
        build.arc((0, 0), 60, 72 * k, 72 * k, 1), build.arc((0, 0), 15, 72 * k + 36, 72 * k, 1))],
        (0,), name="Star")
    pattern = build.pattern([needle, star], allowance=8.0)
    pages, _ = pack_pages(pattern.pieces, pattern.settings)
    for page in pages:
        window = shapely.box(*printable(pattern.settings, page.size)).buffer(1e-6)
        rings = [Polygon(s.points) for s in draw_sheet(page, pattern).on("allowance").strokes]
        assert all(window.covers(ring) for ring in rings)
        assert sum(r.area for r in rings) == pytest.approx(shapely.union_all(rings).area)
