"""Seams proposed for sculpts made by strangers, in 10 mm foam; skipped where those are not there.

The numbers of pieces are aims that were reached with margin, not facts about the sculpts.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import Settings
from addon.core.stock import find_stock
from addon.core.suggest import Suggestion, suggest_seams
from tests.real.wearable import DATA, wearable

pytestmark = pytest.mark.skipif(
    not DATA.is_dir(), reason="the folder with real meshes is not beside this checkout")

SETTINGS = Settings(find_stock("eva-10"))
PIECES = {"leather breastplate": 3, "helmet": 3, "male torso": 3, "shoulder plate": 5,
          "metal breastplate": 9}


@cache
def proposed(name: str) -> Suggestion:
    return suggest_seams(wearable(name), SETTINGS)


@pytest.mark.parametrize("name", PIECES)
def test_few_pieces_are_proposed_and_the_foam_takes_each(name):
    found = proposed(name)
    assert 1 <= len(found.pieces) <= PIECES[name]
    assert found.u <= 1 and all(piece.formable for piece in found.pieces)


@pytest.mark.parametrize("name", PIECES)
def test_seams_off_creases_run_smoothly(name):
    assert proposed(name).turning <= 60


@pytest.mark.parametrize("name", PIECES)
def test_what_is_accepted_passes_the_check_of_a_pattern(name):
    pattern = check(proposed(name).accepted(wearable(name)), SETTINGS)
    assert len(pattern.pieces) == len(proposed(name).pieces)
    assert {piece.verdict.kind for piece in pattern.pieces} <= {"flat", "bend", "heat"}
    assert max(np.ptp(piece.cut[0], axis=0).min() for piece in pattern.pieces) <= 600


def test_the_same_seams_are_proposed_every_time():
    first = proposed("leather breastplate")
    again = suggest_seams(wearable("leather breastplate"), SETTINGS)
    assert [g.points.tolist() for g in first.guides] == [g.points.tolist() for g in again.guides]


@pytest.mark.parametrize("name", ["detailed helmet", "goat head"])
def test_what_is_all_detail_is_refused_with_the_places_and_a_remedy(name):
    with pytest.raises(FoamError) as caught:
        suggest_seams(wearable(name), SETTINGS)
    finding = caught.value.finding
    assert finding.code == "too-detailed" and "base shell" in finding.remedy
    assert 0 < len(finding.faces) < len(wearable(name).faces)
