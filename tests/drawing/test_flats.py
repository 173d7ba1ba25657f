"""Pieces as they are looked at flat on the screen."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from addon.export.flats import letters, lines, sketch
from addon.export.labels import text_box
from addon.export.strokes import STYLE, Drawing, Stroke


def test_code_and_letters_stand_inside_the_piece_and_clear_of_its_lines(pieces, pattern):
    for piece in pieces.values():
        drawing = sketch(piece, pattern)
        body = Polygon(piece.cut[0], piece.cut[1:])
        words = [text_box(t) for t in drawing.texts]
        for i, word in enumerate(words):
            assert body.contains(word)
            assert all(word.disjoint(LineString(s.points)) for s in drawing.strokes)
            assert all(word.disjoint(other) for other in words[:i])


def test_the_code_is_written_large_where_there_is_room(pieces, pattern):
    texts = {t.text: t.size for t in sketch(pieces["BP1"], pattern).texts}
    assert texts.keys() == {"BP1", *"ABCDE"}
    assert texts["BP1"] > 2 * texts["A"] > 8
    assert [t.text for t in sketch(pieces["CY8"], pattern).texts] == ["CY8"]


def test_a_mirrored_piece_is_drawn_as_itself(build):
    first = build.piece("L1", [(0, 0), (100, 0), (0, 60)], letters="A")
    other = build.piece("R1", [(0, 0), (100, 0), (100, 60)], letters="A", template="L1",
                        flipped=True, copies=0)
    pattern = build.pattern([first, replace(other, template="L1")])
    drawing = sketch(pattern.piece("R1"), pattern)
    assert drawing.on("cut").strokes[0].points.tolist() == other.cut[0].tolist()
    assert "R1" in {t.text for t in drawing.texts}


@pytest.mark.parametrize("layer", ["cut", "trench", "score"])
def test_lines_show_their_layer_by_their_dashes(layer):
    points = np.array([(0, 0), (40, 0), (40, 55.5)])
    parts = lines(Drawing((Stroke(layer, points),)))
    assert all(LineString(points).buffer(1e-9).contains(LineString(part)) for part in parts)
    inked = np.linalg.norm(parts[:, 1] - parts[:, 0], axis=1).sum()
    pattern = STYLE[layer][1]
    if not pattern:
        assert inked == pytest.approx(95.5)
        return
    # Counted out by hand: whole patterns, then the rest of the line.
    left, expected = 95.5, 0.0
    while left > 0:
        for ink, gap in zip(pattern[::2], pattern[1::2], strict=True):
            expected += max(min(ink, left), 0.0)
            left -= ink + gap
    assert inked == pytest.approx(expected)


def test_letters_stand_where_the_words_do(pieces, pattern):
    drawing = sketch(pieces["BP1"], pattern)
    boxes = shapely.union_all([text_box(t) for t in drawing.texts]).buffer(0.1)
    contours = letters(drawing)
    assert len(contours) >= len("BP1ABCDE")
    assert all(boxes.contains(Polygon(contour)) for contour in contours)
