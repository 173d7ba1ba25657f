"""Shapes with a step all round become pieces that are glued on, where the command is told so."""

import json

import pytest

from addon.command import main
from tests.raised_shapes import plate


@pytest.fixture
def plate_file(tmp_path):
    points, faces = plate(6.0)
    path = tmp_path / "plate.obj"
    path.write_text("\n".join(
        [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in points]
        + [f"f {a} {b} {c}" for a, b, c in faces + 1]), "utf-8")
    return path


def run(path, out, *more):
    code = main(["check", str(path), "--unit", "mm", "--out", str(out), *more])
    return code, json.loads((out / "report.json").read_text("utf-8"))


def test_a_raised_shape_is_told_and_made_a_piece_on_request(plate_file, tmp_path, capsys):
    code, report = run(plate_file, tmp_path / "as sculpted")
    assert len(report["pieces"]) == 1  # with steep folds
    assert "unmarked-fold" in {f["code"] for f in report["findings"]}
    [note] = [f for f in report["findings"] if f["code"] == "raised-shape"]
    assert note["severity"] == "note" and "6 mm" in note["message"]
    assert "--detach-raised" in note["remedy"]
    code, report = run(plate_file, tmp_path / "apart", "--detach-raised")
    base, detail = report["pieces"]
    assert code == 0 and detail["base"] == base["code"]
    assert [p["thickness"] for p in report["pieces"]] == [10.0, 6.0]
    assert [one["piece"] for one in report["laid"]] == [detail["code"]]


def test_a_sculpt_with_faults_is_told_them(plate_file, tmp_path, capsys):
    count = plate_file.read_text("utf-8").count("v ")
    fin = f"1 2 {count + 1}"  # a third face on one edge
    plate_file.write_text(plate_file.read_text("utf-8") + f"\nv 0 0 999\nf {fin}", "utf-8")
    assert main(["check", str(plate_file), "--unit", "mm", "--detach-raised", "--out",
                 str(tmp_path / "out")]) == 2
