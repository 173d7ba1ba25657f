"""From measurements to a stock: the formulas, both ways, and numbers that cannot be."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core.calibration import Calibration, Measured, calibrate, closing_length
from addon.core.errors import FoamError
from addon.core.stock import find_stock, read_stock
from addon.export.stock_file import stock_file

EVA = find_stock("eva-10")


def test_the_bend_allowance_of_the_handbook_is_found_again():
    """Machinery's Handbook: 180 degrees round 3/8 in, stock 1/8 in: 1.338 in by L = (0.64 T +
    1.57 R) per 90 degrees. The rule's K of 0.407 comes back from a whole turn so made."""
    thickness, radius = 25.4 / 8, 25.4 * 3 / 8
    half = 2 * (0.64 * thickness + 1.57 * radius)
    assert half / 25.4 == pytest.approx(1.338, abs=1e-3)
    found = calibrate(Measured(girth=2 * math.pi * radius, closing=2 * half), thickness)
    assert found.neutral == pytest.approx(0.407, abs=6e-3)  # it rounds pi / 2 to 1.57


@given(girth=st.floats(150, 600), neutral=st.floats(0.01, 0.99), thickness=st.floats(2, 30))
def test_a_strip_cut_as_the_stock_says_gives_the_stock_back(girth, neutral, thickness):
    found = calibrate(Measured(girth, closing_length(girth, thickness, neutral)), thickness)
    assert found.neutral == pytest.approx(neutral, abs=1e-9)


def test_half_of_what_the_foam_stood_is_its_limit():
    found = calibrate(Measured(pulled=124.0, pressed=92.0), 10.0)
    assert found == Calibration(None, pytest.approx(0.12), pytest.approx(0.04))


def test_only_what_was_measured_changes():
    found = calibrate(Measured(girth=300.0, closing=334.5), EVA.thickness).applied(EVA)
    assert found.neutral == pytest.approx(34.5 / (20 * math.pi))
    assert (found.cold, found.heated) == (EVA.cold, EVA.heated)
    assert "neutral layer" in found.origin and EVA.origin in found.origin
    found = calibrate(Measured(pulled=150.0), EVA.thickness).applied(EVA)
    assert (found.neutral, found.cold) == (EVA.neutral, EVA.cold)
    assert (found.heated.stretch, found.heated.compress) == (0.25, EVA.heated.compress)


def test_cold_foam_is_never_allowed_more_than_heated_foam():
    found = calibrate(Measured(pulled=104.0, pressed=97.0), 10.0).applied(EVA)
    assert found.heated.stretch == found.cold.stretch == pytest.approx(0.02)
    assert found.heated.compress == found.cold.compress == pytest.approx(0.015)


def test_the_stock_file_is_read_back_as_it_was_written(tmp_path):
    found = calibrate(Measured(300.0, 334.5, 120.0, 90.0), 9.3).applied(EVA.with_thickness(9.3))
    path = tmp_path / "foam.toml"
    path.write_text(stock_file(found), "utf-8")
    again = read_stock(path)
    for name in ("name", "thickness", "sheet", "kerf", "gap", "density", "grain"):
        assert getattr(again, name) == getattr(found, name)
    assert again.neutral == pytest.approx(found.neutral, abs=1e-6)
    assert again.heated == found.heated and again.cold == found.cold


@pytest.mark.parametrize("measured, words", [
    (Measured(), "Nothing"),
    (Measured(girth=300.0), "both lengths"),
    (Measured(closing=300.0), "both lengths"),
    (Measured(girth=300.0, closing=299.0), "outside of the foam"),
    (Measured(girth=300.0, closing=400.0), "outside of the foam"),
    (Measured(pulled=99.0), "pulled"),
    (Measured(pulled=1200.0), "pulled"),
    (Measured(pressed=101.0), "pressed"),
    (Measured(pressed=5.0), "pressed"),
])
def test_what_cannot_be_is_refused(measured, words):
    with pytest.raises(FoamError, match=words) as error:
        calibrate(measured, 10.0)
    assert error.value.finding.code == "bad-measurement"


def test_everything_wrong_is_told_at_once():
    with pytest.raises(FoamError) as error:
        calibrate(Measured(300.0, 250.0, 90.0, 110.0), 10.0)
    assert len(error.value.findings) == 3
