"""Widths, stand-ins and outlines of the typeface."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.export.fonts import BOLD, REGULAR, ascii_text, legible, outlines, text_width


def test_widths_agree_with_another_reader_of_the_font():
    # fpdf2 measures strings by its own code, in points of 25.4/72 mm.
    from fpdf import FPDF

    pdf = FPDF(unit="mm")
    for name, bold, path in (("r", False, REGULAR), ("b", True, BOLD)):
        pdf.add_font(name, fname=path)
        pdf.set_font(name, size=10)
        for words in ("Breast plate 45°", "Кираса, перед", "cut 1 + 1 mirrored"):
            mine = text_width(words, 10 * 25.4 / 72, bold)
            assert mine == pytest.approx(pdf.get_string_width(words), rel=0.02)


def test_latin_and_cyrillic_are_kept():
    words = "Façade ß Łuk Кираса ЙйЪ 45° × – ·"
    assert legible(words) == words


def test_missing_letters_have_stand_ins():
    assert legible("ﬃ") == "ffi"  # compatibility decomposition, Unicode NFKD
    assert legible("胸") == "U+80F8"
    assert legible("a\tb\x00c\u200bd") == "a bcd"


@given(st.text())
def test_any_text_can_be_set_and_put_into_seven_bits(words):
    assert text_width(words, 5.0) >= 0
    assert legible(legible(words)) == legible(words)
    plain = ascii_text(words)
    assert plain.isascii() and (plain.isprintable() or not plain)


def test_ascii_keeps_the_sense():
    assert ascii_text("Bruststück 45° 600 × 400") == "Bruststuck 45 deg 600 x 400"


def test_outlines_fill_what_the_font_says():
    # A bold capital I without serifs is a bar: area = its box; O has a counter that runs the
    # other way, so signed areas have both signs.
    def area(c):
        return 0.5 * np.sum(c[:, 0] * np.roll(c[:, 1], -1) - np.roll(c[:, 0], -1) * c[:, 1])

    assert {np.sign(area(c)) for c in outlines("O", 10.0)} == {-1.0, 1.0}
    every = np.concatenate(outlines("H", 10.0))
    assert np.ptp(every[:, 1]) == pytest.approx(6.98, abs=0.02)  # cap height 698/1000 em
