"""The command: words in, files and a summary out, and exit codes that can be relied on."""

import json
import math
import signal
import subprocess
import sys
from dataclasses import replace

import pytest
import trimesh

from addon import command
from addon.command import reading
from addon.command.progress import Progress
from addon.core.errors import FoamError
from addon.core.make import check, make_pattern
from addon.core.model import (
    BUTT_LINE,
    INNER,
    MATES,
    QUARTER,
    SEAM,
    Finish,
    Sculpt,
    Settings,
)
from addon.core.stock import find_stock
from addon.export.report import report
from addon.files import read_mesh

FAST = ("--stock", "eva-6", "--seam-angle", "40")


def run(root, *words):
    """The command in a process of its own."""
    return subprocess.run([sys.executable, "-m", "addon", *map(str, words)],
                          cwd=root, capture_output=True, text=True, encoding="utf-8")


def settings_of(*words):
    """The sculpt and settings that words on the command line lead to."""
    return command.read(command.parser().parse_args([*map(str, words)]))


# --- exit codes, in a process of its own -------------------------------------


def test_make_writes_and_exits_0(cube_file, root, tmp_path):
    done = run(root, "make", cube_file, "--unit", "mm", *FAST, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert {"pattern.pdf", "plan.pdf", "plan.html", "report.json", "mats"} == {
        p.name for p in (tmp_path / "out").iterdir()}
    assert str(tmp_path / "out") in done.stdout
    assert "%]" in done.stderr  # progress
    made = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
    sculpt = read_mesh(cube_file, "mm")
    settings = Settings(stock=find_stock("eva-6"), seam_angle=math.radians(40), title="cube")
    expected = json.loads(json.dumps(report(make_pattern(sculpt, settings))))
    assert {k: made[k] for k in expected if k in ("pieces", "mates", "findings")} == {
        k: expected[k] for k in ("pieces", "mates", "findings")}


def test_wrong_usage_exits_2(root):
    done = run(root, "make", "suit.obj")
    assert done.returncode == 2
    assert "--out" in done.stderr
    assert "Traceback" not in done.stderr


def test_what_cannot_be_done_exits_2_with_the_finding(root, tmp_path):
    done = run(root, "check", tmp_path / "none.obj")
    assert done.returncode == 2
    assert "missing-file" in done.stderr and "Traceback" not in done.stderr
    assert done.stdout == ""


def test_a_bug_exits_1_with_a_traceback(cube_file, root):
    code = ("import sys; from addon import command; command.work = lambda *a: 1 / 0; "
            f"sys.exit(command.main(['check', {str(cube_file)!r}]))")
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True)
    assert done.returncode == 1
    assert "ZeroDivisionError" in done.stderr


# --- the rest in this process ------------------------------------------------


@pytest.mark.parametrize("words", [("--help",), ("make", "--help"), ("check", "--help")])
def test_help_exits_0_and_fits_a_terminal(words, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as caught:
        command.main(words)
    assert caught.value.code == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 100


def test_help_names_every_shipped_stock(capsys):
    with pytest.raises(SystemExit):
        command.main(["--help"])
    assert "eva-10  EVA sheet 10 mm" in capsys.readouterr().out


def test_check_prints_pieces_and_verdicts_and_writes_nothing(cube_file, tmp_path, capsys,
                                                             monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert command.main(["check", str(cube_file), *FAST]) == 0
    out = capsys.readouterr().out
    assert out.count("lies flat") == 6
    assert "6 pieces" in out
    assert "unit-assumed" in out
    assert list(tmp_path.iterdir()) == []


def test_check_with_a_folder_writes_the_report_alone(cube_file, tmp_path):
    assert command.main(["check", str(cube_file), *FAST, "--out", str(tmp_path / "o")]) == 0
    assert [p.name for p in (tmp_path / "o").iterdir()] == ["report.json"]


def test_every_fatal_finding_is_printed_with_its_elements(tmp_path, capsys):
    (tmp_path / "bad.obj").write_text(
        "v 0 0 0\nv 100 0 0\nv 50 0 0\nv 0 100 0\nv nan 0 0\nf 1 2 3\nf 1 2 5\nf 1 2 4\n")
    assert command.main(["check", str(tmp_path / "bad.obj")]) == 2
    error = capsys.readouterr().err
    assert "zero-area-face" in error and "faces: 0" in error
    assert "not-finite" in error and "vertices: 4" in error


def test_a_closed_sculpt_without_seams_cannot_be_cut(cube_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert command.main(["make", str(cube_file), "--unit", "mm", "--out", str(out)]) == 2
    assert "closed-without-seam" in capsys.readouterr().err
    assert not out.exists()


def test_a_folder_that_cannot_be_written_is_found_before_the_work(
        cube_file, tmp_path, capsys, monkeypatch):
    (tmp_path / "out").write_text("a file in the way")
    monkeypatch.setattr(command, "work", lambda *args: pytest.fail("worked in vain"))
    assert command.main(["make", str(cube_file), "--out", str(tmp_path / "out")]) == 2
    assert "cannot-write" in capsys.readouterr().err
    assert (tmp_path / "out").read_text() == "a file in the way"


def test_stopping_from_the_keyboard_writes_nothing(cube_file, tmp_path, capsys, monkeypatch):
    def stop(*args):
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "work", stop)
    assert command.main(["make", str(cube_file), "--out", str(tmp_path / "out")]) == 130
    assert list(tmp_path.iterdir()) == []
    assert "Nothing was written" in capsys.readouterr().err


def test_a_failing_second_run_leaves_the_first_ones_results(cube_file, tmp_path, cube, capsys):
    out = tmp_path / "out"
    words = [str(cube_file), "--unit", "mm", *FAST, "--out", str(out)]
    assert command.main(["check", *words]) == 0
    before = (out / "report.json").read_bytes()
    assert command.main(["check", *words, "--stock", "eva-99"]) == 2
    assert "bad-stock" in capsys.readouterr().err
    assert (out / "report.json").read_bytes() == before


@pytest.mark.parametrize(("words", "field", "value"), [
    (("--face", "inner"), "side", INNER), (("--scale", "1.5"), "scale", 1.5),
    (("--seam-angle", "30"), "seam_angle", math.pi / 6),
    (("--paper", "Letter"), "paper", "Letter"), (("--piece", "C1"), "only", "C1"),
    (("--seed", "7"), "seed", 7), (("--fairing", "0"), "fairing", 0.0),
    (("--fairing", "0.8 mm"), "fairing", 0.8), (("--split", "butt-line"), "split", BUTT_LINE),
    (("--turns", "quarter"), "turns", QUARTER), (("--together", "mates"), "together", MATES),
    (("--no-holes",), "holes", False), (("--mat-gap", "5"), "mat_gap", 5.0),
    (("--kerf", "0.8"), "kerf", 0.8),
    (("--mat-margin", "1/2 in"), "mat_margin", 12.7),
    (("--nest-seconds", "0"), "nest_seconds", 0.0),
    (("--stock", "mat-12"), "stock", find_stock("mat-12")),
    (("--join", "a=hook-and-loop", "B=Strap"), "held", (("A", "hook-and-loop"), ("B", "strap"))),
    (("--finish", "a=exaggerated:4mm", "B=Recessed", "C=flush"), "finishes",
     (("A", Finish("exaggerated", 4.0)), ("B", Finish("recessed", 3.0)), ("C", Finish()))),
    (("--measures", "head=57cm", "upper-arm=300"), "measures",
     (("head", pytest.approx(570.0)), ("upper arm", 300.0))),
    (("--thickness", "3/8 in"), "stock", find_stock(thickness=3 / 8 * 25.4)),
    (("--stock", "mat-12", "--thickness", "11"), "stock", find_stock("mat-12", 11.0)),
])
def test_an_option_sets_its_setting_and_no_other(cube_file, words, field, value):
    _, plain = settings_of("check", cube_file)
    _, changed = settings_of("check", cube_file, *words)
    if isinstance(value, float):
        assert getattr(changed, field) == pytest.approx(value, rel=1e-12)
    else:
        assert getattr(changed, field) == value
    assert changed == replace(plain, **{field: getattr(changed, field)})


@pytest.mark.parametrize("action", ["check", "rebuild"])
def test_one_piece_alone_is_only_made(cube_file, tmp_path, capsys, action):
    with pytest.raises(SystemExit):
        command.main([action, str(cube_file), "--piece", "C1", "--out", str(tmp_path / "out")])
    assert "--piece goes with make" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_where_an_object_is_worn_can_be_said(cube_file, capsys):
    sculpt, _ = settings_of("check", cube_file)
    [thing] = sculpt.objects
    told, _ = settings_of("check", cube_file, "--worn", f"{thing.name}=Upper-Arm")
    assert told.objects == (replace(thing, worn="upper arm"),)
    assert command.main(["check", str(cube_file), "--worn", "lid=head"]) == 2
    assert "“lid”" in capsys.readouterr().err
    assert command.main(["check", str(cube_file), "--measures", "nose=5cm"]) == 2
    assert "“nose”" in capsys.readouterr().err


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1), ("cm", 10), ("m", 1000), ("in", 25.4)])
def test_the_unit_scales_the_sculpt_and_not_the_foam(cube_file, cube, unit, mm):
    sculpt, settings = settings_of("check", cube_file, "--unit", unit)
    assert trimesh.Trimesh(sculpt.vertices, sculpt.faces).extents == pytest.approx(
        cube.extents * mm)
    assert settings.stock == find_stock()


@pytest.mark.parametrize("words", [
    ("--scale", "0"), ("--scale", "-1"), ("--scale", "nan"), ("--scale", "big"),
    ("--seam-angle", "0"), ("--seam-angle", "181"), ("--unit", "ft"), ("--face", "left"),
    ("--seed", "x"), ("--turns", "45"), ("--together", "all"), ("--nest-seconds", "-1"),
    ("--measures", "57cm"), ("--join", "A"), ("--join", "A=nails"),
    ("--finish", "A=rough"), ("--finish", "A=flush:2mm"), ("--finish", "A=recessed:2m"),
    ("--worn", "cube=knee"), ("--worn", "head"), ("--bogus",)])
def test_options_that_make_no_sense_are_wrong_usage(cube_file, words, capsys):
    with pytest.raises(SystemExit) as caught:
        command.main(["check", str(cube_file), *words])
    assert caught.value.code == 2
    assert words[0] in capsys.readouterr().err


@pytest.mark.parametrize("length", ["-3", "thick", "0", "1e9 mm"])
def test_thicknesses_that_make_no_sense_are_findings(cube_file, length, capsys):
    assert command.main(["check", str(cube_file), f"--thickness={length}"]) == 2
    assert "error (bad-" in capsys.readouterr().err


def test_a_blender_file_needs_no_unit_and_must_exist(tmp_path, capsys):
    assert command.main(["check", "a.blend", "--unit", "mm"]) == 2
    assert "bad-option" in capsys.readouterr().err
    assert command.main(["check", str(tmp_path / "a.blend")]) == 2
    assert "missing-file" in capsys.readouterr().err


def test_without_blender_a_blender_file_is_refused_with_a_way_out(tmp_path, capsys, monkeypatch):
    (tmp_path / "a.blend").write_bytes(b"BLENDER")
    for name in [name for name in sys.modules if name.startswith("addon.blender")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "bpy", None)
    assert command.main(["check", str(tmp_path / "a.blend")]) == 2
    assert "no-blender" in capsys.readouterr().err


def test_options_win_over_what_a_blender_file_says(tmp_path, monkeypatch):
    (tmp_path / "suit.blend").write_bytes(b"BLENDER")
    stock = find_stock("mat-15")
    sculpt = Sculpt.plain([(0, 0, 0), (100, 0, 0), (0, 100, 0)], [(0, 1, 2)], [(0, 1)], [SEAM])
    monkeypatch.setattr(reading, "_read_blend", lambda path: (
        sculpt, {"stock": stock, "paper": "A3", "scale": 2.0}))
    got, settings = settings_of("check", tmp_path / "suit.blend", "--scale", "3")
    assert got is sculpt
    assert (settings.stock, settings.paper, settings.scale) == (stock, "A3", 3.0)
    assert settings.title == "suit"
    _, settings = settings_of("check", tmp_path / "suit.blend", "--thickness", "14")
    assert settings.stock == stock.with_thickness(14.0)


def test_the_first_interrupt_while_nesting_takes_the_best_layout_so_far(capsys):
    with Progress(sys.stderr) as progress:
        assert progress(0.6, "Nesting EVA 10 mm on mats") is False
        signal.raise_signal(signal.SIGINT)
        assert progress(0.6, "Nesting EVA 10 mm on mats") is True
        assert "best layout so far" in capsys.readouterr().err
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    with Progress(sys.stderr) as progress, pytest.raises(KeyboardInterrupt):
        progress(0.2, "Flattening C1")
        signal.raise_signal(signal.SIGINT)


def test_the_summary_names_pieces_mats_pages_and_files(cube_pattern, tmp_path):
    files = [tmp_path / "report.json", tmp_path / "mats" / "a-mat-1.svg"]
    text = command.summary(cube_pattern, files)
    for piece in cube_pattern.pieces:
        assert piece.code in text
    assert f"{len(cube_pattern.mats)} mats" in text
    assert f"{len(cube_pattern.pages)} page" in text
    assert f"Written to {tmp_path}: report.json, 1 file in mats." in text


# --- put together again ------------------------------------------------------


def test_rebuild_says_how_the_suit_comes_out(cube_file, tmp_path, capsys):
    words = ("rebuild", cube_file, "--unit", "mm", *FAST, "--quick", "--out", tmp_path)
    assert command.main([*map(str, words)]) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["report.json"]
    told = json.loads((tmp_path / "report.json").read_text("utf-8"))["rebuild"]
    # Six flat plates: what is left is the rounding of a coarse mesh.
    assert told["rms"] < 0.3 and told["max"] < 1.0 and len(told["pieces"]) == 6
    assert len(told["mates"]) == 12 and not told["open_parts"]
    assert "comes out" in capsys.readouterr().out


def test_quick_goes_with_a_rebuild(cube_file, tmp_path, capsys):
    with pytest.raises(SystemExit):
        command.main(["make", str(cube_file), "--quick", "--out", str(tmp_path)])
    assert "--rebuild" in capsys.readouterr().err


def test_a_detail_lies_where_the_option_says(tmp_path):
    obj = tmp_path / "suit.obj"
    corners = [(0, 0, 0), (200, 0, 0), (200, 200, 0), (0, 200, 0),
               (50, 50, 4), (100, 50, 4), (100, 100, 4), (50, 100, 4)]
    obj.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in corners)
                   + "o Plate\nf 1 2 3 4\no Boss\nf 5 6 7 8\n", encoding="utf-8")

    def bases(*options):
        read = settings_of("check", obj, "--unit", "mm", "--up", "z", *options)
        return [p.base for p in check(*read).pieces]

    assert bases("--contact", "0.2mm") == ["body", "body"]  # 5 mm foam would be 1 mm too high
    assert bases("--contact", "2mm") == ["body", "PL1"]
    assert bases("--contact", "2mm", "--lies-on", "Boss=") == ["body", "body"]
    assert bases("--contact", "0.5mm", "--lies-on", "Boss=Plate") == ["body", "PL1"]
    with pytest.raises(FoamError, match="no object called “Bos”"):
        settings_of("check", obj, "--lies-on", "Bos=Plate")
