"""Lengths at the edges of the program."""

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import Sculpt, Settings
from addon.core.stock import find_stock
from addon.core.units import MM_PER, format_angle, format_length, in_unit, parse_length
from tests.shapes import cylinder


@pytest.mark.parametrize(("text", "mm"), [
    ("1 in", 25.4),  # international inch, agreed in 1959; ISO 80000-3 and ISO 31-1
    ('1"', 25.4), ("1 ft", 304.8), ("72 pt", 25.4),  # W3C: 72 pt are 1 in
    ("10", 10.0), ("10 mm", 10.0), ("1.5cm", 15.0), ("  2 M ", 2000.0), (".5 cm", 5.0),
    ("1e1 mm", 10.0), ("0", 0.0), ("3/8 in", 9.525), ('1 1/2"', 38.1), ("1\u2033", 25.4),
])
def test_lengths_that_people_write_are_read(text, mm):
    assert parse_length(text) == pytest.approx(mm, rel=1e-15)


@pytest.mark.parametrize("text", [
    "", "ten", "10 parsec", "1,5 mm", "-1 mm", "1/0 in", "3/8", "3/8 mm", "mm", "1e999 mm", "nan",
    "inf", "1 2 mm", "--1", "1 1/2 1/2 in", None])
def test_anything_else_is_refused(text):
    with pytest.raises(FoamError) as caught:
        parse_length(text)
    assert caught.value.finding.code == "bad-length"
    assert caught.value.finding.remedy


def test_a_bare_number_takes_the_given_unit():
    assert parse_length("2", default="in") == 50.8


@given(st.floats(0, 1e6, allow_nan=False), st.sampled_from(sorted(MM_PER)))
def test_writing_a_length_out_and_reading_it_gives_it_back(value, unit):
    assert parse_length(f"{value!r} {unit}") == pytest.approx(value * MM_PER[unit], rel=1e-12)


@given(st.floats(0, 1e5), st.sampled_from([("mm", 0.05), ("in", 0.005 * 25.4)]))
def test_what_people_read_is_within_half_a_last_digit(mm, unit_and_error):
    unit, error = unit_and_error
    text = format_length(mm, unit)
    assert abs(parse_length(text) - mm) <= error * (1 + 1e-9)
    assert text.endswith(f" {unit}")


@given(st.text())
def test_no_text_raises_anything_but_a_finding(text):
    try:
        assert math.isfinite(parse_length(text))
    except FoamError as error:
        assert error.finding.code == "bad-length"


def test_whole_millimetres_have_no_idle_zero():
    assert format_length(10.0) == "10 mm"
    assert format_length(10.04) == "10 mm"
    assert format_length(100.0) == "100 mm"
    assert format_length(10.06) == "10.1 mm"


def test_angles_are_whole_degrees():
    assert format_angle(math.pi / 4) == "45°"


@pytest.mark.parametrize(("text", "told"), [
    ("It is 254 mm wide, 25.4 mm thick.", "It is 10.00 in wide, 1.00 in thick."),
    ("EVA 10 mm takes 12.7 mm.", "EVA 10 mm takes 0.50 in."),
    ("Look near x -254, y 0, z 127.0 mm.", "Look near x -10.00 in, y 0.00 in, z 5.00 in."),
    ("Fold 90° at 6 edges of EVA 10 mm soft.", "Fold 90° at 6 edges of EVA 10 mm soft."),
    ("Seam S254 mm2", "Seam S254 mm2"), ("", "")])
def test_lengths_in_a_sentence_are_told_in_inches_and_names_are_kept(text, told):
    names = ("EVA 10 mm", "EVA 10 mm soft", "")
    assert in_unit(text, "in", names) == told
    assert in_unit(text, "mm", names) == text


def test_what_a_check_finds_is_told_in_the_makers_unit():
    inches = Settings(find_stock(), unit="in")
    bent = Sculpt.plain(*cylinder(25.4 + 10, 1.5, 100))  # its inner face has a radius of 1 in
    text, = (f.message for f in check(bent, inches).findings if f.code == "needs-heat")
    assert "an inside radius of 0.98 in" in text or "an inside radius of 1.0" in text
    assert not re.search(r"\d mm", text.replace(inches.stock.name, ""))
    with pytest.raises(FoamError, match="measures 0.00 in, too small"):
        check(replace(bent, vertices=bent.vertices * 1e-4), inches)
