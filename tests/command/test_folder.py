"""Outputs are written whole or not at all, and what is not ours is left alone."""

import json
import os
from dataclasses import replace

import pytest

from addon.core.errors import Cancelled, FoamError
from addon.export import folder
from addon.export.folder import mat_names, write_all


def contents(where):
    """Every file below a folder with its bytes."""
    return {p.relative_to(where).as_posix(): p.read_bytes()
            for p in where.rglob("*") if p.is_file()}


def refused(*args, **options):
    with pytest.raises(FoamError) as caught:
        write_all(*args, **options)
    assert caught.value.finding.code == "cannot-write"
    assert caught.value.finding.remedy
    return caught.value.finding.message


@pytest.fixture
def written(cube_pattern, tmp_path):
    """A folder with the results of an earlier run and a file of the maker's."""
    out = tmp_path / "out"
    write_all(cube_pattern, out)
    (out / "notes.txt").write_text("mine")
    (out / "mats" / "mine-mat-1.svg").write_text("mine too")
    return out


@pytest.fixture
def smaller(cube_pattern):
    """The pattern with a mat less."""
    return replace(cube_pattern, mats=cube_pattern.mats[:-1])


def test_everything_is_written_and_nothing_else(cube_pattern, tmp_path):
    out = tmp_path / "a" / "b"
    files = write_all(cube_pattern, out)
    names = {p.relative_to(out).as_posix() for p in files}
    mats = {f"mats/{name}.{kind}" for name in mat_names(cube_pattern.mats)
            for kind in ("svg", "dxf")}
    assert len(cube_pattern.mats) > 1
    assert names == {"pattern.pdf", "plan.pdf", "plan.html", "report.json",
                     "mats/legend.svg"} | mats == set(
        contents(out))
    assert json.loads((out / "report.json").read_text("utf-8"))["outputs"] == sorted(names)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a"]
    assert all(p.stat().st_size > 0 for p in files)


def test_writing_can_be_stopped_at_every_word_of_progress(smaller, written):
    before, said = contents(written), []
    write_all(smaller, written.parent / "other", progress=lambda *word: said.append(word))
    assert [share for share, _ in said] == sorted(share for share, _ in said)
    assert said[0][0] == 0 and said[-1][0] == 1 and all(text for _, text in said)
    for last in range(len(said)):
        told = []

        def stop(share, text, told=told, last=last):
            told.append(share)
            if len(told) > last:
                raise Cancelled

        with pytest.raises(Cancelled):
            write_all(smaller, written, progress=stop)
        assert contents(written) == before
        assert sorted(p.name for p in written.parent.iterdir()) == ["other", "out"]


def test_mats_are_counted_for_each_stock(cube_pattern):
    mat = cube_pattern.mats[0]
    other = replace(mat, stock=replace(mat.stock, name="Мат 10 mm / blue"))
    assert mat_names([mat, other, mat]) == [
        "eva-craft-foam-6-mm-mat-1", "мат-10-mm-blue-mat-1", "eva-craft-foam-6-mm-mat-2"]


def test_a_second_run_replaces_ours_removes_stale_mats_and_keeps_the_makers_files(
        written, smaller):
    before = contents(written)
    write_all(smaller, written)
    after = contents(written)
    gone = mat_names(smaller.mats + (smaller.mats[-1],))[-1]
    assert set(before) - set(after) == {f"mats/{gone}.svg", f"mats/{gone}.dxf"}
    assert set(after) < set(before)
    assert after["notes.txt"] == b"mine" and after["mats/mine-mat-1.svg"] == b"mine too"
    assert after["report.json"] != before["report.json"]


def test_a_check_writes_its_report_only_and_keeps_the_sheets_on_record(
        cube_pattern, written, smaller, tmp_path):
    assert write_all(cube_pattern, tmp_path / "new", check=True) == [
        tmp_path / "new" / "report.json"]
    assert set(contents(tmp_path / "new")) == {"report.json"}
    before = contents(written)
    write_all(cube_pattern, written, check=True)
    after = contents(written)
    assert {k: v for k, v in after.items() if k != "report.json"} == {
        k: v for k, v in before.items() if k != "report.json"}
    write_all(smaller, written)  # still knows the sheets as ours: replaces and removes them
    assert len(contents(written)) == len(before) - 2


@pytest.mark.parametrize("name", ["pattern.pdf", "report.json"])
def test_a_file_of_the_makers_is_not_overwritten(cube_pattern, tmp_path, name):
    (tmp_path / name).write_text("precious")
    assert name in refused(cube_pattern, tmp_path)
    assert contents(tmp_path) == {name: b"precious"}


def test_a_report_that_names_foreign_files_does_not_make_them_ours(cube_pattern, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    for path in (tmp_path / "precious.txt", out / "essay.txt"):
        path.write_text("precious")
    (out / "report.json").write_text(json.dumps({"outputs": [
        "report.json", "essay.txt", "../precious.txt", "mats/../../precious.txt", 3,
        str(tmp_path / "precious.txt")]}))
    write_all(cube_pattern, out)
    assert (tmp_path / "precious.txt").read_text() == "precious"
    assert (out / "essay.txt").read_text() == "precious"


def test_a_file_in_the_way_of_the_folder_is_left_alone(cube_pattern, tmp_path):
    (tmp_path / "out").write_text("a file")
    assert "out" in refused(cube_pattern, tmp_path / "out")
    refused(cube_pattern, tmp_path / "out" / "deeper")
    assert contents(tmp_path) == {"out": b"a file"}


@pytest.mark.parametrize(("error", "raised"), [
    (OSError(28, "No space left on device"), FoamError), (RuntimeError("bug"), RuntimeError)])
@pytest.mark.parametrize("broken", ["svg.svg", "dxf.dxf", "pdf.write_pattern_pdf",
                                    "plan.write_plan"])
def test_when_an_exporter_fails_earlier_outputs_stay(
        cube_pattern, written, monkeypatch, broken, error, raised):
    def fail(*args, **options):
        raise error

    before = contents(written)
    monkeypatch.setattr(f"addon.export.{broken}", fail)
    with pytest.raises(raised):
        write_all(cube_pattern, written)
    assert contents(written) == before
    assert [p.name for p in written.iterdir() if p.name.startswith(".")] == []


@pytest.mark.parametrize("fatal", range(1, 12, 2))
def test_when_a_move_fails_all_moves_are_undone(smaller, written, monkeypatch, fatal):
    before, real, calls = contents(written), os.replace, []

    def replace_but_once(source, target):
        calls.append(source)
        if len(calls) == fatal:
            raise PermissionError(13, "Permission denied")
        return real(source, target)

    monkeypatch.setattr(folder.os, "replace", replace_but_once)
    assert "Permission denied" in refused(smaller, written)
    assert contents(written) == before
    assert [p.name for p in written.iterdir() if p.name.startswith(".")] == []


def test_a_failed_first_run_leaves_no_folder_behind(cube_pattern, tmp_path, monkeypatch):
    def fail(source, target):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(folder.os, "replace", fail)
    refused(cube_pattern, tmp_path / "a" / "b")
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_put_back_is_kept_aside(smaller, written, monkeypatch):
    before, real, calls = contents(written), os.replace, []

    def replace_twice(source, target):
        calls.append(source)
        if len(calls) > 2:
            raise PermissionError(13, "Permission denied")
        return real(source, target)

    monkeypatch.setattr(folder.os, "replace", replace_twice)
    refused(smaller, written)
    assert set(before.values()) <= set(contents(written).values())
