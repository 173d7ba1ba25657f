"""A size set in one go: a folder for each size, with the same codes."""

import argparse
import json

import pytest

from addon.command import main
from addon.command.sizes import size
from addon.core.errors import FoamError
from addon.files.sizes import is_name, table


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
    assert letters["S"] == letters["M"]
    assert set(letters["S"]) <= set(letters["L"])  # which is no cube: fewer seams are alike
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


def words_for(cube_file, out, *more):
    return ["make", str(cube_file), "--unit", "mm", "--seam-angle", "30", "--nest-seconds", "0",
            "--out", str(out), *more]


def codes_and_letters(folder):
    report = json.loads((folder / "report.json").read_text("utf-8"))
    return sorted(p["code"] for p in report["pieces"]), {m["letter"] for m in report["mates"]}


def test_the_codes_of_an_earlier_pattern_hold_in_every_size(cube_file, tmp_path):
    """The earlier one has other codes than a fresh one would get, as after a change of seams."""
    assert main(words_for(cube_file, tmp_path / "plain")) == 0
    path = tmp_path / "plain" / "report.json"
    document = json.loads(path.read_text("utf-8"))
    text = json.dumps(document["printed"])
    first = document["printed"]["pieces"][0]["code"]
    stem = first.rstrip("0123456789")
    for number in range(9, 0, -1):
        text = text.replace(f'"{stem}{number}"', f'"{stem}{number + 40}"')
    path.write_text(json.dumps(document | {"printed": json.loads(text)}), "utf-8")
    assert main(words_for(cube_file, tmp_path / "set", "--earlier", str(path), "--size", "S:0.9",
                          "--size", "L:tall=1.2,across=1.3")) == 0
    for name in "SL":
        codes, _ = codes_and_letters(tmp_path / "set" / name)
        assert codes == [f"{stem}{n}" for n in range(41, 47)]
        report = json.loads((tmp_path / "set" / name / "report.json").read_text("utf-8"))
        assert report["changes"] == []  # nothing of this size was printed
    assert report["settings"]["size"] == {"name": "L", "across": 1.3, "deep": 1.0, "tall": 1.2}


def test_a_size_that_is_added_has_the_codes_of_those_before(cube_file, tmp_path):
    out = tmp_path / "set"
    assert main(words_for(cube_file, out, "--size", "S:0.9")) == 0
    path = out / "S" / "report.json"
    path.write_text(path.read_text("utf-8").replace('CU1"', 'CU77"'), "utf-8")
    assert main(words_for(cube_file, out, "--size", "S:0.9", "--size", "XL:1.4")) == 0
    own, added = codes_and_letters(out / "S"), codes_and_letters(out / "XL")
    assert own == added and "CU77" in own[0]


def test_a_folder_that_cannot_be_written_leaves_the_others_as_they_were(
        cube_file, tmp_path, capsys):
    out = tmp_path / "set"
    (out / "L").mkdir(parents=True)
    (out / "L" / "pattern.pdf").write_text("mine", "utf-8")
    assert main(words_for(cube_file, out, "--size", "S:0.9", "--size", "L:1.1")) == 2
    assert "is there already" in capsys.readouterr().err
    assert [path.relative_to(out).as_posix() for path in sorted(out.rglob("*"))] == [
        "L", "L/pattern.pdf"]


def test_a_move_that_fails_in_the_last_folder_undoes_those_before(cube_file, tmp_path, monkeypatch):
    import os

    from addon.export import folder

    out, move = tmp_path / "set", os.replace

    def replace(source, target):
        if "/L/" in str(target).replace("\\", "/") and "old" not in str(target):
            raise OSError(28, "No space left on device")
        move(source, target)

    monkeypatch.setattr(folder.os, "replace", replace)
    assert main(words_for(cube_file, out, "--size", "S:0.9", "--size", "L:1.1")) == 2
    assert not out.exists() or not list(out.rglob("*.pdf"))


@pytest.mark.parametrize(("name", "text"), [
    ("sizes.csv", "name,factor,tall\nS,0.9,\nL,,65cm\n"),
    ("sizes.csv", "\ufeffname;factor;tall\r\nS;0.9;\r\n\r\nL;;65cm\r\n"),
    ("sizes.json", '[{"name": "S", "factor": 0.9}, {"name": "L", "tall": "65cm"}]')])
def test_a_table_of_sizes(tmp_path, name, text):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    small, large = table(path)
    assert small == ("S", {"factors": {"across": 0.9, "deep": 0.9, "tall": 0.9}, "lengths": {},
                           "girths": {}})
    assert large == ("L", {"factors": {}, "lengths": {"tall": 650.0}, "girths": {}})


@pytest.mark.parametrize(("name", "text", "words"), [
    ("s.csv", "name,tall\nS,0.9\nL,big\n", "line 3: “big” is not a length"),
    ("s.csv", "name,wide\nS,0.9\n", "line 2: “wide” is no column"),
    ("s.csv", "name,tall\nS,0.9\n\nS,1.1\n", "line 4: there are two sizes “S”"),
    ("s.csv", "name,tall\n../S,0.9\n", "line 2: “../S” is no name"),
    ("s.csv", "name,tall\nS.,0.9\n", "line 2: “S.” is no name"),
    ("s.csv", "name,tall\nnul.5,0.9\n", "line 2: “nul.5” is no name"),
    ("s.csv", "name,tall\nS,0.9,3\n", "line 2: it has more cells"),
    ("s.csv", "name,tall\n", "holds no sizes"), ("s.json", "{", "is no JSON"),
    ("s.json", "[1]", "is no list"), ("s.json", '[{"tall": 1}]', "entry 1: “” is no name")])
def test_a_table_that_makes_no_sense_is_refused_by_its_lines(tmp_path, name, text, words):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    with pytest.raises(FoamError) as error:
        table(path)
    assert words in error.value.findings[0].message


def test_a_size_is_called_what_every_file_system_takes_and_tells_from_others(
        cube_file, tmp_path, capsys):
    """Names that Windows shortens or keeps for itself: Microsoft, "Naming Files, Paths, and
    Namespaces"."""
    for name in ("S ", "S.", "CON", "com1", "LPT9.x", "a\tb", "S\n", "x" * 300):
        assert not is_name(name), name
        with pytest.raises(SystemExit):
            main(words_for(cube_file, tmp_path / "set", "--size", f"{name}:1"))
    assert "write it as NAME:WHAT" in capsys.readouterr().err
    assert not (tmp_path / "set").exists()
    for name in ("S", "XL+", "Anna 2", "1.05", "console", "Größe 3", "x" * 80):
        assert is_name(name), name


def test_all_bad_rows_are_told_at_once(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text("name,tall\nS,x\nM,1\nL,y\n", "utf-8")
    with pytest.raises(FoamError) as error:
        table(path)
    assert len(error.value.findings) == 2
    with pytest.raises(FoamError, match="cannot be read"):
        table(tmp_path / "none.csv")
