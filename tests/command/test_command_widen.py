"""Suits widened by the command, and what the report says of it."""

import argparse
import json

import jsonschema
import pytest

from addon.command import main
from addon.command.options import widening
from addon.export.report import SCHEMA


@pytest.mark.parametrize(("text", "told"), [
    ("c=20mm", ("C", (20.0, 20.0))), ("C.1=-1.5cm", ("C.1", (-15.0, -15.0))),
    ("B=20mm:0", ("B", (20.0, 0.0))), ("B=3/8in", ("B", (9.525, 9.525))),
    ("B=0:\u22125 mm", ("B", (0.0, -5.0)))])
def test_words_of_a_widening(text, told):
    name, sizes = widening(text)
    assert name == told[0] and sizes == pytest.approx(told[1])


@pytest.mark.parametrize("text", ["C", "C=", "=20mm", "C=wide", "C=1:2:3", "C=--2mm", "C=0mm",
                                  "C=0:0"])
def test_what_is_no_widening_is_refused(text):
    with pytest.raises(argparse.ArgumentTypeError):
        widening(text)


def words_for(cube_file, out, *more):
    return ["check", str(cube_file), "--unit", "mm", "--seam-angle", "30", "--out", str(out), *more]


def test_the_command_widens_and_reports(cube_file, tmp_path, capsys):
    assert main(words_for(cube_file, tmp_path / "plain")) == 0
    plain = json.loads((tmp_path / "plain" / "report.json").read_text("utf-8"))
    assert plain["widened"] == []
    name = plain["mates"][0]["code"]
    assert main(words_for(cube_file, tmp_path / "wide", "--widen", f"{name}=12mm")) == 0
    wide = json.loads((tmp_path / "wide" / "report.json").read_text("utf-8"))
    jsonschema.validate(wide, json.loads(SCHEMA.read_text("utf-8")))
    one, = wide["widened"]
    assert one["low"] == one["high"] == 12.0
    assert one["grown"]["least"] == pytest.approx(12.0, abs=0.1)
    assert {p["code"] for p in wide["pieces"]} == {p["code"] for p in plain["pieces"]}
    area = [sum(p["area"] for p in r["pieces"]) for r in (plain, wide)]
    assert area[1] > area[0]
    assert "12 mm longer than sculpted" in capsys.readouterr().out


def test_what_cannot_be_widened_ends_in_words_and_writes_nothing(cube_file, tmp_path, capsys):
    assert main(words_for(cube_file, tmp_path / "wide", "--widen", "QQ=12mm")) == 2
    assert "There is no seam lettered “QQ”" in capsys.readouterr().err
    assert main(words_for(cube_file, tmp_path / "wide", "--widen", "A.1=900mm")) == 2
    assert "cannot be made 900 mm wider" in capsys.readouterr().err
    assert not (tmp_path / "wide" / "report.json").exists()
