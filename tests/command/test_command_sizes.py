"""A size set in one go: a folder for each size, with the same codes."""

import argparse
import json

import pytest

from addon.command import main
from addon.command.sizes import size


def test_a_set_of_sizes_is_written_in_one_go(cube_file, tmp_path, capsys):
    out = tmp_path / "out"
    words = ["make", str(cube_file), "--unit", "mm", "--seam-angle", "30",
             "--nest-seconds", "0", "--out", str(out), "--size", "S:0.9", "--size", "M:1",
             "--size", "L:tall=1.2,across=1.1"]
    assert main(words) == 0
    reports = {name: json.loads((out / name / "report.json").read_text("utf-8"))
               for name in ("S", "M", "L")}
    codes = {name: [p["code"] for p in r["pieces"]] for name, r in reports.items()}
    assert codes["S"] == codes["M"] == codes["L"]
    letters = {name: [m["letter"] for m in r["mates"]] for name, r in reports.items()}
    assert letters["S"] == letters["M"]  # L is no cube, so fewer of its seams are alike
    area = {name: sum(p["area"] for p in r["pieces"]) for name, r in reports.items()}
    assert area["S"] < area["M"] < area["L"]
    assert {p["thickness"] for r in reports.values() for p in r["pieces"]} == {10.0}
    assert reports["L"]["title"].endswith("size L") and (out / "L" / "pattern.pdf").is_file()
    text = capsys.readouterr().out
    assert text.index("size S") < text.index("size M") < text.index("size L")
    assert main(words) == 0  # again: nothing is to be printed anew
    again = json.loads((out / "S" / "report.json").read_text("utf-8"))
    assert {change["kind"] for change in again["changes"]} == {"keep"}


def test_where_one_size_cannot_be_none_is_written(cube_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["make", str(cube_file), "--unit", "mm", "--seam-angle", "30",
                 "--out", str(out), "--size", "S:1", "--size", "XL:girth@5000mm=1m"]) == 2
    assert "No foam is 5000 mm" in capsys.readouterr().err and not (out / "S").exists()


@pytest.mark.parametrize("text", ["S", ":1", "S:wide=2", "../S:1", "S:tall=big", "S:girth=1m"])
def test_what_is_no_size_is_refused(text):
    with pytest.raises(argparse.ArgumentTypeError):
        size(text)


def test_words_of_a_size():
    name, asked = size("L: 1.1, deep=1.2, tall=65cm, girth@30cm=1.04m")
    assert name == "L"
    assert asked == {"factors": {"across": 1.1, "deep": 1.2, "tall": 1.1},
                     "lengths": {"tall": 650.0},
                     "girths": {300.0: 1040.0}}
