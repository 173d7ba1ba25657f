"""Sizes that cannot be right are told, with the mistake that would explain them."""

import math

import pytest

from addon.core import measures
from addon.core.measures import (
    ANYWHERE,
    MEASURES,
    NAMED,
    WORN,
    guessed,
    likeness,
    mistakes,
    plausible,
    size_text,
    span,
)


def test_the_means_are_those_of_the_report():
    """Means of women and men, NATICK/TR-15/007; the median lies within 2 % of the mean."""
    for name, women, men in (("stature", 1628.5, 1756.2), ("chest", 946.9, 1058.7),
                             ("head", 561.1, 574.4), ("thigh", 616.1, 625.1)):
        _, few, many = MEASURES[name]
        assert few[1] == pytest.approx(women, rel=0.02) and many[1] == pytest.approx(men, rel=0.02)


@pytest.mark.parametrize("name", MEASURES)
def test_percentiles_rise_and_spans_hold_them(name):
    _, women, men = MEASURES[name]
    assert women[0] < women[1] < women[2] and men[0] < men[1] < men[2]
    low, high = span(name)
    assert low <= min(women[1], men[1]) and high >= max(women[1], men[1])
    assert span(name, {name: 123.0}) == (123.0, 123.0)


# What the pieces of one suit measure along their longest side, mm: common practice, no source.
PIECES = {"head": 290, "neck": 260, "torso": 420, "hips": 400, "shoulder": 230,
          "upper arm": 180, "forearm": 240, "thigh": 330, "lower leg": 420, ANYWHERE: 350}


@pytest.mark.parametrize("worn", PIECES)
def test_a_usual_piece_is_plausible_and_ten_times_larger_or_smaller_is_not(worn):
    limits = plausible(worn)
    assert mistakes(PIECES[worn], limits) == ()
    assert limits[0] <= PIECES[worn] <= limits[1]
    if worn == ANYWHERE:
        return  # a buckle or a wing
    for factor in (10.0, 0.1):
        assert not limits[0] <= factor * PIECES[worn] <= limits[1]


@pytest.mark.parametrize(("factor", "words"), [
    (1000.0, "millimetres were read as metres"), (0.001, "metres were read as millimetres"),
    (100.0, "centimetres were read as metres"), (0.01, "metres were read as centimetres"),
    (1 / 0.0254, "inches were read as metres"), (1 / 25.4, "inches were read as millimetres")])
@pytest.mark.parametrize("worn", PIECES)
def test_the_mistake_is_among_the_explanations(factor, words, worn):
    size = PIECES[worn] * factor
    found = {m.words: m for m in mistakes(size, plausible(worn))}
    assert words in found
    assert found[words].size == pytest.approx(PIECES[worn], rel=1e-9)
    assert found[words].size == pytest.approx(size * found[words].factor)


def test_the_likeliest_mistake_leads():
    """A breastplate in millimetres that was read as metres is 420 m tall."""
    assert mistakes(420_000.0, plausible("torso"))[0].factor == 0.001
    assert mistakes(0.42, plausible("torso"))[0].factor == 1000.0


@pytest.mark.parametrize("size", [0.0, -1.0, math.nan, math.inf])
def test_a_size_that_is_none_has_no_explanation(size):
    assert mistakes(size, plausible()) == ()


def test_own_measures_narrow_what_is_plausible():
    low, high = plausible("head")
    own = plausible("head", {"head": 570.0, "head length": 195.0})
    assert low < own[0] < own[1] < high
    assert own == pytest.approx((0.5 * 570 / math.pi, 2.5 * 195))


@pytest.mark.parametrize(("size", "words"), [
    (1700, "about a person's height"), (250_000, "148 times a person's height"),
    (4000, "2.4 times a person's height"), (15, "10 % of the breadth of a head"),
    (0.1, "0.07 % of the breadth of a head"), (150, "about the breadth of a head"),
    (700, "times the"), (253, "about the length of a forearm")])
def test_a_length_is_told_beside_something_known(size, words):
    assert words in likeness(size)


@pytest.mark.parametrize(("mm", "text"), [
    (0.00021, "0.00021 mm"), (5, "5 mm"), (420.26, "420.3 mm"), (9999, "9999 mm"),
    (10_000, "10 m"), (420_000, "420 m"), (1e9, "1e+06 m")])
def test_sizes_out_of_all_measure_can_be_read(mm, text):
    assert size_text(mm) == text


def test_every_place_it_is_worn_has_measures():
    for girth, length in WORN.values():
        assert girth in MEASURES and length in MEASURES
        assert girth not in measures.LENGTHS and length in measures.LENGTHS


@pytest.mark.parametrize(("name", "worn"), [
    ("Helmet2", "head"), ("left pauldron.001", "shoulder"), ("BREASTPLATE", "torso"),
    ("upper arm guard L", "upper arm"), ("greaves", "lower leg"), ("Armor_Metal", ANYWHERE),
    ("Cube", ANYWHERE), ("", ANYWHERE)])
def test_a_name_may_tell_where_it_is_worn(name, worn):
    assert guessed(name) == worn
    assert set(NAMED) == set(WORN)
