"""Rates of work and prices that the command is told."""

import json

import pytest

from addon.command import main


def test_rates_and_prices_of_the_command(cube_file, tmp_path, capsys):
    words = ["make", str(cube_file), "--unit", "mm", "--seam-angle", "30", "--nest-seconds", "0",
             "--out", str(tmp_path / "out")]
    assert main([*words, "--rate", "cut=4", "coverage=5", "--price", "eva-10=20", "--currency",
                 "EUR"]) == 0
    told = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
    assert told["settings"]["rates"]["cut"] == 4.0 and told["settings"]["currency"] == "EUR"
    assert told["settings"]["prices"] == {"eva-10": 20.0}
    work = {one["rate"]: one for one in told["needs"]["work"]}
    assert work["cut"]["minutes"] == pytest.approx(4.0 * work["cut"]["amount"], abs=1e-3)
    assert told["needs"]["costs"][0]["cost"] == 20.0 * told["needs"]["foam"][0]["mats"]
    page = (tmp_path / "out" / "plan.html").read_text("utf-8")
    for heading in ("Weight", "What it costs", "How long it takes"):
        assert heading in page
    assert main([*words, "--rate", "cuts=4"]) == 2
    assert "There is no rate called" in capsys.readouterr().err
