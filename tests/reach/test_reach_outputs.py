"""What the command, the report and the plan tell of how far a wearer can move."""

import json

import pytest

from addon.command import main
from addon.core.reach import reached
from addon.export.plan import write_plan_pdf
from addon.export.reach_words import in_words
from addon.export.report import SCHEMA, report
from tests.reach.test_reach import hinge, suit

jsonschema = pytest.importorskip("jsonschema")
pdfplumber = pytest.importorskip("pdfplumber")


@pytest.fixture(scope="module")
def arm():
    """Two plates at the left elbow that meet after a quarter turn."""
    return hinge("left", 60.0, 60.0)


@pytest.fixture(scope="module")
def pattern(arm):
    return reached(suit(Upper_arm=arm[0], Forearm=arm[1]))


@pytest.fixture
def file(arm, tmp_path):
    lines, count = [], 1
    for name, (points, faces) in zip(("Rerebrace", "Bracer"), arm, strict=True):
        lines += [f"o {name}", *(f"v {x} {y} {z}" for x, y, z in points.tolist())]
        lines += [f"f {a + count} {b + count} {c + count}" for a, b, c in faces.tolist()]
        count += len(points)
    path = tmp_path / "arm.obj"
    path.write_text("\n".join(lines))
    return path


def test_the_command_tells_it_in_the_report_and_the_summary(file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["check", str(file), "--unit", "mm", "--out", str(out), "--reach"]) == 0
    document = json.loads((out / "report.json").read_text("utf-8"))
    jsonschema.validate(document, json.loads(SCHEMA.read_text("utf-8")))
    told = document["reach"]
    assert told["body"] is None
    assert {(w["part"], w["segment"], w["told"]) for w in told["worn"]} == {
        ("Rerebrace", "upper arm left", True), ("Bracer", "forearm left", True)}
    movement, = told["movements"]  # nothing else moves one of the two alone
    assert (movement["name"], movement["side"]) == ("forearm bent", "left")
    turned = movement["reached"] - movement["start"]
    assert turned == pytest.approx(90, abs=movement["accuracy"])
    assert not movement["enough"] and movement["needed"] == 130 and movement["short"] > 10
    codes = {p["object"]: p["code"] for p in document["pieces"]}
    assert movement["meeting"]["pieces"] == [codes["Bracer"], codes["Rerebrace"]]
    text = capsys.readouterr().out
    assert "1 movement was tried; plates meet in 1, and 1 falls short" in text
    assert "The left forearm bends to 10" in text and "plates-meet" in text


def test_movements_can_be_named_and_places_told(file, capsys):
    assert main(["check", str(file), "--unit", "mm", "--reach", "forearm-bent=80"]) == 0
    assert "plates meet in none." in capsys.readouterr().out
    assert main(["check", str(file), "--unit", "mm", "--reach", "--worn", "Bracer=upper arm"]) == 0
    assert "No movement could be tried" in capsys.readouterr().out


@pytest.mark.parametrize("words", ["wing-up=30", "arm-out", "arm-out=200", "arm-out=much"])
def test_what_is_no_movement_is_refused(file, words, capsys):
    with pytest.raises(SystemExit) as stop:
        main(["check", str(file), "--unit", "mm", "--reach", words])
    assert stop.value.code == 2 and "--reach" in capsys.readouterr().err


def test_the_plan_shows_how_it_moves(pattern, tmp_path):
    write_plan_pdf(pattern, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as book:
        text = " ".join(" ".join(page.extract_text().split()) for page in book.pages)
    page = text[text.index("How it moves"):]
    movement, = pattern.reach.movements
    moved, stood = movement.meeting.pieces
    assert f"{moved} and {stood}" in page and "130° to drink" in page
    assert "the left forearm its name or you say so" in page
    assert "coarse check" in page and "get out alone" in page  # its limits, and the caution


def test_words_and_report_agree(pattern):
    movement, = pattern.reach.movements
    told = report(pattern, check=True)["reach"]["movements"][0]
    assert f"to {round(told['reached'])}° (± {round(told['accuracy'])}°)" in in_words(pattern)[1]
    assert told["reached"] == pytest.approx(movement.reached * 180 / 3.14159265, abs=1e-3)
