"""Pieces as they are looked at flat on the screen."""

from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from addon.export.flats import sketch
from addon.export.labels import text_box


def test_code_and_letters_stand_inside_the_piece_and_clear_of_its_lines(pieces, pattern):
    for piece in pieces.values():
        drawing = sketch(piece, pattern)
        body = Polygon(piece.cut[0], piece.cut[1:])
        words = [text_box(t) for t in drawing.texts]
        for i, word in enumerate(words):
            assert body.contains(word)
            assert all(word.disjoint(shapely.LineString(s.points)) for s in drawing.strokes)
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
