"""What the command, the report and the summary tell of how a suit fits."""

import json

import pytest

from addon.command import main
from addon.export.report import SCHEMA

jsonschema = pytest.importorskip("jsonschema")


@pytest.fixture
def ring(tmp_path):
    """A pipe of 420 mm across as a mesh file, 700 mm high, its foot 800 mm over the floor."""
    from tests import shapes

    vertices, faces = shapes.cylinder(210.0, 6.2, 700.0, 49, 15)
    path = tmp_path / "ring.obj"
    path.write_text("".join(f"v {x} {y} {z + 800}\n" for x, y, z in vertices.tolist())
                    + "".join(f"f {a + 1} {b + 1} {c + 1}\n" for a, b, c in faces.tolist()))
    return path


def test_a_figure_tells_the_fit_in_the_report_and_the_summary(ring, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["check", str(ring), "--unit", "mm", "--out", str(out), "--figure", "chest=1m",
                 "--girth-at", "1.3 m"]) == 0
    document = json.loads((out / "report.json").read_text("utf-8"))
    jsonschema.validate(document, json.loads(SCHEMA.read_text("utf-8")))
    fit = document["fit"]
    assert fit["body"] == "Figure" and fit["pieces"][0]["code"] == document["pieces"][0]["code"]
    girths = {girth["name"]: girth for girth in fit["girths"]}
    assert set(girths) == {"chest", "waist", "hips", "at 1300 mm"}
    assert girths["chest"]["body"] == pytest.approx(1000.0, rel=0.02)
    assert girths["chest"]["inside"] == pytest.approx(2 * 3.14159 * 200.0, rel=0.01)
    assert girths["chest"]["ease"] == pytest.approx(
        girths["chest"]["inside"] - girths["chest"]["body"], abs=1e-3)
    text = capsys.readouterr().out
    assert "Beside the body “Figure”" in text and "Chest: body" in text


def test_a_body_is_read_from_a_file_as_the_sculpt_is(ring, tmp_path, capsys):
    from addon.core.figure import figure

    body = figure().body
    path = tmp_path / "me.obj"
    path.write_text("".join(f"v {x / 10} {y / 10} {z / 10}\n" for x, y, z in body.vertices.tolist())
                    + "".join(f"f {a + 1} {b + 1} {c + 1}\n" for a, b, c in body.faces.tolist()))
    small = tmp_path / "small.obj"
    small.write_text("".join(
        f"v {' '.join(str(float(x) / 10) for x in line.split()[1:])}\n" if line[0] == "v" else
        f"{line}\n" for line in ring.read_text().splitlines()))
    assert main(["check", str(small), "--unit", "cm", "--body", str(path)]) == 0
    assert "Beside the body “me”" in capsys.readouterr().out


@pytest.mark.parametrize(("words", "told"), [
    (("--figure", "--body", "me.obj"), "one wearer only"),
    (("--figure", "wings=1m"), "no measure “wings”"), (("--figure", "chest=9m"), "cannot measure"),
    (("--body", "none.obj"), "none.obj")])
def test_what_is_no_wearer_is_refused(ring, capsys, words, told):
    assert main(["check", str(ring), "--unit", "mm", *words]) == 2
    assert told in capsys.readouterr().err
