"""What the window test does outside of Blender's window."""

from __future__ import annotations

import re
import subprocess

import pytest


@pytest.fixture
def scripts(root, monkeypatch):
    monkeypatch.syspath_prepend(str(root / "scripts"))
    return root / "scripts"


def test_a_folder_of_somebody_else_is_left_alone(scripts, monkeypatch, tmp_path):
    import environment
    import window_test

    (tmp_path / "debian-sid").mkdir()
    (tmp_path / "debian-sid" / "mine.txt").write_text("keep")
    monkeypatch.setattr(subprocess, "call", lambda *_, **__: pytest.fail("nothing may be run"))
    for renew in (False, True):
        with pytest.raises(environment.Problem, match="was not made by this script"):
            window_test.debian(tmp_path, "sid", "http://example.org", renew)
    assert (tmp_path / "debian-sid" / "mine.txt").read_text() == "keep"


def test_a_small_debian_is_made_once_and_only_kept_when_finished(scripts, monkeypatch, tmp_path):
    import environment
    import window_test

    codes = [0, 1]  # debootstrap succeeds, the packages fail

    def call(command, **_):
        if command[0] == "debootstrap":
            (tmp_path / "debian-sid.unfinished").mkdir()
        return codes.pop(0)

    monkeypatch.setattr(subprocess, "call", call)
    with pytest.raises(environment.Problem, match="the last lines of"):
        window_test.debian(tmp_path, "sid", "http://example.org", False)
    assert not (tmp_path / "debian-sid").exists()
    codes = [0, 0]
    root = window_test.debian(tmp_path, "sid", "http://example.org", False)
    assert codes == [] and root == tmp_path / "debian-sid"
    assert window_test.debian(tmp_path, "sid", "http://example.org", False) == root


def test_the_page_names_every_step_and_shows_pictures_that_are_there(
        scripts, monkeypatch, tmp_path):
    import window_page

    pictures = tmp_path / "pictures"
    pictures.mkdir()
    (pictures / "window-of-old.png").touch()
    for name, _ in window_page.SHOWN:
        (tmp_path / f"{name}.png").write_bytes(name.encode())
    monkeypatch.setattr(window_page, "PAGE", tmp_path / "window.md")
    monkeypatch.setattr(window_page, "PICTURES", pictures)
    window_page.write({"date": "2026-01-02", "versions": {"Blender": "9.9"}, "steps": [
        {"name": "mark", "does": "Mark an\n    edge.", "outcome": "passed"}]}, tmp_path)
    text = (tmp_path / "window.md").read_text("utf-8")
    assert "| `mark` | Mark an edge. | passed |" in text and "2026-01-02, Blender 9.9." in text
    shown = re.findall(r"\(pictures/(.*?)\)", text)
    assert {path.name for path in pictures.iterdir()} == set(shown)
    assert len(shown) == len(window_page.SHOWN) <= 14


def test_every_picture_on_the_page_is_taken_by_a_step(scripts):
    import window_page

    steps = "".join((scripts / name).read_text("utf-8")
                    for name in ("window_steps.py", "window_looks.py"))
    taken = set(re.findall(r'"(\w+)\.png"', steps))
    taken |= set(re.findall(r'_is_tinted\(folder, "(\w+)"\)', steps))
    taken |= {f"overlay_{shows}_{theme}" for shows in re.findall(r'\("(\w+)", 0\.\d\)', steps)
              for theme in ("dark", "light")}
    assert {name for name, _ in window_page.SHOWN} <= taken
