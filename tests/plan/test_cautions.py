"""What to mind stands on the steps where it applies, and cards and tape where they do."""

import re
from dataclasses import replace

import pytest

from addon.core.make import make_pattern
from addon.core.model import HALF, Settings
from addon.core.order.cautions import SHORT, in_words
from addon.core.order.words import forming
from addon.core.stock import find_stock
from addon.export.plan.contents import plan_of
from addon.export.plan.words import CAUTIONS
from addon.export.report import report
from example_scenes import armour
from tests.example.conftest import as_sculpt


def made(**more):
    settings = Settings(find_stock(armour.THICK), nest_seconds=0.0, **more)
    return make_pattern(as_sculpt(armour.suit(), armour.rails()), settings)


@pytest.fixture(scope="module")
def suit():
    return made()


def test_every_caution_of_a_step_is_one_of_the_plan():
    assert set(SHORT) <= {title for title, _ in CAUTIONS}
    assert in_words(()) == "" and in_words(("Heat",)).startswith("Caution: heat: keep the gun")


def test_steps_tell_what_they_ask_care_for(suit):
    hot = {p.code for p in suit.pieces if p.verdict.kind in ("heat", "relief")}
    assert hot
    for step in suit.steps:
        words = " ".join(step.text).lower()
        assert ("Solvent" in step.cautions) == ("cement" in words and step.kind != "heat"), step
        if step.kind == "heat":
            assert ("Heat" in step.cautions) == bool(hot & set(step.pieces))
        if step.kind in ("cut", "line", "bevel"):
            assert "Blades" in step.cautions
        assert "Laser" not in step.cautions
    assert suit.steps[-1].cautions == ("Solvent", "Heat", "Wearing")


def test_a_kerf_brings_the_caution_for_lasers(suit):
    cut = next(step for step in made(kerf=0.3).steps if step.kind == "cut")
    assert cut.cautions == ("Blades", "Laser")


def test_they_stand_in_plan_and_report(suit):
    told = report(suit)["steps"]
    assert [tuple(step["cautions"]) for step in told] == [step.cautions for step in suit.steps]
    works = [b for s in plan_of(suit).sections for b in s.blocks if type(b).__name__ == "Work"]
    assert [work.caution for work in works] == [in_words(step.cautions) for step in suit.steps]


def test_steps_that_form_name_the_cards_to_hold_against_the_foam(suit):
    told = " ".join(text for step in suit.steps if step.kind == "heat" for text in step.text)
    cards = [card.code for card in suit.cards if not card.code.startswith("ROD")]
    assert cards and all(card in told for card in cards)
    bare = replace(suit.settings, gauges=False)
    assert not any("G1" in text for text in forming(suit.pieces, bare))


def test_a_mock_up_is_taped_and_neither_heated_nor_cemented():
    card = made(mock_up=HALF)
    told = " ".join(text for step in card.steps for text in step.text)
    for word in ("cement", "heat gun", "webbing", "glue"):
        assert not re.search(rf"\b{word}", told.replace("not cemented", "").lower()), word
    assert "Tape the card edge to edge" in told and "not heated" in told
    assert {name for step in card.steps for name in step.cautions} <= {"Blades", "Wearing"}
