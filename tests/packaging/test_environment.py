"""How the scripts find Python and tell a finished environment from a broken-off one."""

from __future__ import annotations

import os
import sys

import pytest

RUNNING = sys.version_info[:2]


@pytest.fixture
def environment(root, monkeypatch, tmp_path):
    """The module, with an empty folder in place of the checkout's environments."""
    monkeypatch.syspath_prepend(str(root / "scripts"))
    import environment

    (tmp_path / "pyproject.toml").write_bytes((root / "pyproject.toml").read_bytes())
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    return environment


@pytest.fixture
def place(environment, tmp_path):
    """An environment whose Python is the one that runs here; nothing is installed by it."""
    release = environment.Release("9.9", RUNNING)

    class Here(environment.Environment):
        python = property(lambda self: sys.executable)

    return Here(release, tmp_path / ".venv")


def script(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    path.chmod(0o755)
    return path


@pytest.mark.skipif(os.name == "nt", reason="the stand-ins are shell scripts")
@pytest.mark.parametrize("broken", [
    "#!/bin/sh\nexit 127\n",
    "#!/bin/sh\necho Python\nexit 1\n",
    "#!/no/such/interpreter\n",
])
def test_a_python_that_does_not_run_is_passed_over(environment, monkeypatch, tmp_path, broken):
    dotted = "{}.{}".format(*RUNNING)
    script(tmp_path / "shims" / f"python{dotted}", broken)
    sound = script(tmp_path / "home" / ".pyenv" / "versions" / f"{dotted}.1" / "bin" /
                   f"python{dotted}", f'#!/bin/sh\nexec "{sys.executable}" "$@"\n')
    monkeypatch.setenv("PATH", str(tmp_path / "shims"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setattr(environment.sys, "executable", str(tmp_path / "shims" / "nothing"))
    tried = [str(command[0]) for command in environment.candidates(RUNNING)]
    assert tried.index(str(tmp_path / "shims" / f"python{dotted}")) < tried.index(str(sound))
    assert environment.find_python(RUNNING) == getattr(sys, "_base_executable", "")


def test_a_python_of_another_version_does_not_serve(environment, monkeypatch, tmp_path):
    monkeypatch.setattr(environment, "candidates", lambda version: [[sys.executable]])
    assert environment.find_python(RUNNING)
    assert environment.find_python((RUNNING[0], RUNNING[1] + 1)) is None


def test_without_a_suitable_python_the_message_names_both(environment, monkeypatch):
    monkeypatch.setattr(environment, "find_python", lambda version: None)
    with pytest.raises(environment.Problem) as caught:
        environment.prepare()
    for release in environment.RELEASES:
        wanted = "{}.{} (for Blender {})".format(*release.python, release.blender)
        assert wanted in str(caught.value)


def test_an_interrupted_set_up_does_not_count_as_done(environment, place, monkeypatch):
    def interrupted(*arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(environment.subprocess, "call", lambda command: 0)
    monkeypatch.setattr(environment, "pip", interrupted)
    with pytest.raises(KeyboardInterrupt):
        place.make(sys.executable)
    assert place.state() and not place.ready()

    (place.folder / "half").mkdir()
    monkeypatch.setattr(environment, "pip", lambda *arguments: None)
    monkeypatch.setattr(environment, "output_of", answering(environment.output_of))
    place.make(sys.executable)
    assert place.ready() and not (place.folder / "half").exists()


def answering(real):
    """output_of that takes Blender's module for installed."""
    return lambda *command: "9.9" if "import bpy" in str(command[2]) else real(*command)


def test_new_requirements_are_installed_into_the_finished_environment(
        environment, place, monkeypatch, tmp_path):
    asked = []
    monkeypatch.setattr(environment.subprocess, "call", lambda command: 0)
    monkeypatch.setattr(environment, "pip", lambda python, *arguments: asked.append(arguments))
    monkeypatch.setattr(environment, "output_of", answering(environment.output_of))
    place.make(sys.executable)
    assert place.ready()
    project = tmp_path / "pyproject.toml"
    project.write_text(project.read_text("utf-8").replace('"pytest>=8"', '"pytest>=8.1"'), "utf-8")
    assert not place.ready()
    (place.folder / "kept").mkdir()
    place.make(sys.executable)
    assert place.ready() and (place.folder / "kept").exists()
    assert "pytest>=8.1" in asked[-1]


def test_a_folder_of_somebody_else_is_left_alone(environment, place):
    place.folder.mkdir()
    (place.folder / "theirs").write_text("x")
    with pytest.raises(environment.Problem, match="was not made by this script"):
        place.make(sys.executable)
    assert (place.folder / "theirs").exists()


@pytest.mark.parametrize(("present", "folders"), [
    (("5.2", "4.5"), {"5.2": ".venv", "4.5": ".venv-4.5"}),
    (("5.2",), {"5.2": ".venv"}),
    (("4.5",), {"4.5": ".venv"}),
])
def test_each_release_has_its_folder(environment, monkeypatch, present, folders):
    monkeypatch.setattr(environment, "RELEASES", (
        environment.Release("5.2", (3, 13)), environment.Release("4.5", (3, 11))))
    have = {release.python for release in environment.RELEASES if release.blender in present}
    monkeypatch.setattr(environment, "find_python", lambda v: "python" if v in have else None)
    monkeypatch.setattr(environment.Environment, "make", lambda self, base: None)
    places = environment.prepare(every=True)
    assert {p.release.blender: p.folder.name for p in places} == folders
    assert len(environment.prepare()) == 1
