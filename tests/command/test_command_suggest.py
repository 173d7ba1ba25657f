"""`--suggest-seams`: a file without marks becomes pieces."""

from __future__ import annotations

import json

import pytest

from addon import command
from tests.shapes import platonic


@pytest.fixture
def cube(tmp_path):
    """A cube of 150 mm that carries no marks."""
    points, faces = platonic("cube", 150.0)
    path = tmp_path / "cube.obj"
    path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in points)
                    + "".join(f"f {a + 1} {b + 1} {c + 1}\n" for a, b, c in faces), "utf-8")
    return path


def test_a_closed_sculpt_without_marks_is_refused_unless_seams_are_suggested(
        cube, tmp_path, capsys):
    assert command.main(["check", str(cube), "--stock", "eva-6"]) == 2
    assert "closed-without-seam" in capsys.readouterr().err
    words = ["check", str(cube), "--stock", "eva-6", "--suggest-seams", "--out",
             str(tmp_path / "o")]
    assert command.main(words) == 0
    said = capsys.readouterr().out
    assert "suggested-seams" in said
    report = json.loads((tmp_path / "o" / "report.json").read_text("utf-8"))
    assert 1 <= len(report["pieces"]) <= 6
    # Six squares, whose folds and bevels change the outline by a few thicknesses.
    area = sum(piece["area"] for piece in report["pieces"])
    assert area == pytest.approx(6 * 150**2, rel=0.05)
    assert {piece["verdict"] for piece in report["pieces"]} <= {"flat", "bend"}


def test_ease_lies_between_nothing_and_one(cube, capsys):
    with pytest.raises(SystemExit) as stopped:
        command.main(["check", str(cube), "--suggest-seams", "--ease", "1.5"])
    assert stopped.value.code == 2
    assert "--ease" in capsys.readouterr().err


def test_ease_alone_is_refused(cube, capsys):
    with pytest.raises(SystemExit) as ended:
        command.main(["check", str(cube), "--ease", "0.5"])
    assert ended.value.code == 2
    assert "--ease goes with --suggest-seams" in capsys.readouterr().err
