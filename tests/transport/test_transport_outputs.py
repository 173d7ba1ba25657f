"""What the command, the report and the plan tell of parts in a box."""

import json
from dataclasses import replace

import numpy as np
import pytest

from addon.command import main
from addon.core.transport import packed
from addon.export.picture import suit_picture
from addon.export.plan import write_plan_pdf
from addon.export.report import SCHEMA, report
from addon.export.transport_words import in_words
from tests import shapes
from tests.transport.test_transport import bowls

jsonschema = pytest.importorskip("jsonschema")
pdfplumber = pytest.importorskip("pdfplumber")


@pytest.fixture(scope="module")
def pattern():
    return packed(bowls(3)[0], (400, 200, 120))


@pytest.fixture
def file(tmp_path):
    vertices, faces = shapes.cylinder(100.0, 2.0, 300.0, 21, 9)
    path = tmp_path / "gutter.obj"
    path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in vertices.tolist())
                    + "".join(f"f {a + 1} {b + 1} {c + 1}\n" for a, b, c in faces.tolist()))
    return path


def test_the_command_tells_it_in_the_report_and_the_summary(file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["check", str(file), "--unit", "mm", "--out", str(out), "--box",
                 "40x20x20cm"]) == 0
    document = json.loads((out / "report.json").read_text("utf-8"))
    jsonschema.validate(document, json.loads(SCHEMA.read_text("utf-8")))
    told = document["transport"]
    assert told["box"] == [400, 200, 200] and told["gap"] == 6 and told["fits"] and told["certain"]
    one, = told["packed"]
    assert one["pieces"] == [document["pieces"][0]["code"]]
    turn = np.array(one["turn"])
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-6)
    assert all(3 - 1e-3 <= low for low in one["low"])
    assert "All 1 parts go" not in (text := capsys.readouterr().out)
    assert "The one part goes into a box of 400 mm × 200 mm × 200 mm inside" in text


def test_a_box_that_is_too_small_is_told(file, capsys):
    assert main(["check", str(file), "--unit", "mm", "--box", "20x20x20", "--box-gap", "0"]) == 0
    text = capsys.readouterr().out
    assert "No arrangement is possible of all parts in a box of 20 mm" in text
    assert "foam alone takes up 0.57 litres" in text and "box-too-small" in text


@pytest.mark.parametrize("words", [
    ("--box", "20x20"), ("--box", "cube"), ("--box-gap", "5mm"), ("--box", "20x20x-5")])
def test_what_is_no_box_is_refused(file, words, capsys):
    from addon.core.errors import FoamError

    try:
        code = main(["check", str(file), "--unit", "mm", *words])
    except SystemExit as stop:
        code = stop.code
    except FoamError as error:
        pytest.fail(f"not told: {error}")
    assert code == 2 and capsys.readouterr().err


def test_the_plan_shows_each_part_as_it_is_put_in(pattern, tmp_path):
    write_plan_pdf(pattern, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as book:
        text = " ".join(" ".join(page.extract_text().split()) for page in book.pages)
    page = text[text.index("In a box"):]
    for number, one in enumerate(pattern.transport.packed, 1):
        assert f"{number}. {one.part}" in page
        assert f"{round(one.low[0])} mm to {round(one.high[0])} mm" in page
    assert "taken as rigid" in page and "may still go in askew" in page
    write_plan_pdf(replace(pattern, transport=None), tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as book:
        assert not any("In a box" in page.extract_text() for page in book.pages)


def test_a_frame_has_room_in_the_picture_and_is_hidden_by_what_is_before_it(pattern):
    """A line before the suit is drawn whole, one behind it is not."""
    points = np.concatenate([p.vertices for p in pattern.pieces])
    low, high = points.min(axis=0), points.max(axis=0)
    lines = {y: np.array([(low[0] - 50, y, 95.0), (high[0] + 50, y, 95.0)])
             for y in (low[1] - 50, high[1] + 50)}
    drawn = {}
    for y, line in lines.items():
        picture = suit_picture(pattern, "front", (100, 100), marks=False, frame=[line])
        marks = [one.points for one in picture.lines if one.kind == "mark"]
        drawn[y] = sum(float(np.ptp(m[:, 0])) for m in marks)
        assert max(m[:, 0].max() for m in marks) == pytest.approx(picture.size[0] - 1.0, abs=0.5)
    assert drawn[low[1] - 50] == pytest.approx(98.0, abs=0.5)
    assert drawn[high[1] + 50] < 0.7 * drawn[low[1] - 50]


def test_words_and_report_agree(pattern):
    told = report(pattern, check=True)["transport"]
    assert told["fits"] is pattern.transport.fits
    assert in_words(pattern)[-1].endswith(
        "; ".join(p["part"] for p in told["packed"]) + ".")
