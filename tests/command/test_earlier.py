"""A second run into the same folder: what was printed is known from report.json alone."""

import json
import shutil

import numpy as np
import pdfplumber
import pytest
import trimesh

from addon.command import main
from addon.core.errors import FoamError
from addon.export.printed import load, read, write
from addon.export.report import SCHEMA

jsonschema = pytest.importorskip("jsonschema")


@pytest.fixture(scope="module")
def sculpt(tmp_path_factory):
    """Two boxes, and the same with the right one taller, its faces shuffled."""
    folder = tmp_path_factory.mktemp("sculpt")
    right = trimesh.creation.box((60.0, 52.0, 44.0))
    right.apply_translation((200.0, 0.0, 0.0))
    both = trimesh.util.concatenate([trimesh.creation.box((90.0, 80.0, 70.0)), right])
    both.export(folder / "box.stl")
    order = np.random.default_rng(1).permutation(len(both.faces))
    points = np.array(both.vertices)
    points[(points[:, 0] > 100) & (points[:, 2] > 0), 2] += 4.0
    (folder / "taller").mkdir()
    trimesh.Trimesh(points, both.faces[order], process=False).export(folder / "taller/box.stl")
    return folder


@pytest.fixture(scope="module")
def made(sculpt, tmp_path_factory):
    """The folder of a first run."""
    out = tmp_path_factory.mktemp("made") / "out"
    assert run("make", sculpt / "box.stl", out) == 0
    return out


@pytest.fixture
def out(made, tmp_path):
    """A copy of it, to be written to."""
    return shutil.copytree(made, tmp_path / "out")


def run(action, sculpt, out, *words):
    return main([action, str(sculpt), "--seam-angle", "40", "--stock", "eva-6",
                 *(["--nest-seconds", "0"] if action == "make" else []), "--out", str(out), *words])


def told(out):
    document = json.loads((out / "report.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(json.loads(SCHEMA.read_text("utf-8"))).validate(document)
    return {c["code"]: c["kind"] for c in document.get("changes", ())}, document


def test_the_second_run_tells_what_to_print_again(sculpt, out, capsys):
    found, first = told(out)
    assert found == {}
    assert run("make", sculpt / "box.stl", out) == 0
    assert "Nothing has changed" in capsys.readouterr().out
    found, second = told(out)
    assert set(found.values()) == {"keep"}
    for field in ("pieces", "sheets", "steps"):
        assert second[field] == first[field]
    assert [m["code"] for m in second["mates"]] == [m["code"] for m in first["mates"]]

    assert run("make", sculpt / "taller/box.stl", out) == 0
    words = capsys.readouterr().out
    found, third = told(out)
    assert found == {"BO1": "keep", "BO2": "keep", "BO3": "keep", "BO7": "reprint",
                     "BO8": "reprint", "BO9": "keep"}
    with pdfplumber.open(out / "pattern.pdf") as pdf:
        page = pdf.pages[1].extract_text()
    for shown in (words, page):
        assert "Since the templates were last made" in shown
        assert all(code in shown for code in found)
    assert set(third["printed"]["codes"]) == set(first["printed"]["codes"])


def test_a_check_in_between_forgets_nothing(sculpt, out):
    before = told(out)[1]["printed"]
    assert run("check", sculpt / "taller/box.stl", out) == 0
    after = told(out)[1]
    assert after["printed"] == before
    assert {p["code"] for p in after["pieces"]} <= set(before["codes"])


def test_the_maker_may_name_another_report_or_start_anew(sculpt, out, tmp_path, capsys):
    box, other = sculpt / "taller/box.stl", tmp_path / "other"
    before = told(out)[1]["printed"]
    assert run("check", box, other, "--earlier", str(out)) == 0
    assert told(other)[1]["printed"] == before
    assert run("check", box, other, "--earlier", str(out / "report.json")) == 0
    assert told(other)[1]["printed"] == before
    assert run("check", box, other, "--fresh-codes") == 0
    assert told(other)[1]["printed"] is None
    with pytest.raises(SystemExit):
        run("check", box, other, "--fresh-codes", "--earlier", str(out))
    capsys.readouterr()
    assert run("check", box, other, "--earlier", str(tmp_path / "none.json")) == 2
    (tmp_path / "list.json").write_text("[]", "utf-8")
    assert run("check", box, other, "--earlier", str(tmp_path / "list.json")) == 2
    assert capsys.readouterr().err.count("bad-report") == 2


def test_a_damaged_record_is_told_of_and_not_guessed_at(sculpt, out, capsys):
    document = told(out)[1]
    assert write(read(document["printed"])) == document["printed"]
    del document["printed"]["pieces"][0]["places"]
    (out / "report.json").write_text(json.dumps(document), "utf-8")
    with pytest.raises(FoamError, match="damaged"):
        load(out)
    assert run("make", sculpt / "box.stl", out) == 2
    assert "damaged" in capsys.readouterr().err
