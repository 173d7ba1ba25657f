"""The Python environments in which Foamwright is tried and tested.

Standard library only, and written for any Python from 3.8, so that the scripts start with
whatever Python a newcomer has. Blender's module `bpy` needs one certain Python for each release;
this module finds that Python, makes a virtual environment with it and fills it by pip. What is
installed stands in pyproject.toml.
"""

from __future__ import annotations

import glob
import hashlib
import json
import os
import platform
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Callable, Iterator, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
BUILD = ROOT / "build"
WINDOWS = os.name == "nt"

# Tells our environments from other folders of that name, and finished ones from broken-off ones.
STAMP = "foamwright-environment.json"

# Prints the version and the true executable behind shims and virtual environments; fails where
# no environment could be made. Free-threaded builds are left out, since bpy has no wheels for them.
PROBE = """
import sys, sysconfig, json, venv, ensurepip
assert sys.implementation.name == "cpython" and not sysconfig.get_config_var("Py_GIL_DISABLED")
print(json.dumps([list(sys.version_info[:2]), getattr(sys, "_base_executable", sys.executable)]))
"""

# Runs on Python 3.11 or later, which has tomllib.
READ_PROJECT = """
import json, sys, tomllib
with open(sys.argv[1], "rb") as file:
    project = tomllib.load(file)["project"]
groups = [project["optional-dependencies"][name] for name in sys.argv[2:]]
print(json.dumps(sorted(sum(groups, project["dependencies"]))))
"""


class Release(NamedTuple):
    """A Blender release with long-term support and the Python that its module needs."""

    blender: str
    python: tuple

    @property
    def name(self) -> str:
        return "Blender {} LTS on Python {}.{}".format(self.blender, *self.python)


RELEASES = (Release("5.2", (3, 13)), Release("4.5", (3, 11)))
if sys.platform == "darwin" and platform.machine() == "x86_64":
    RELEASES = RELEASES[1:]  # Blender 5 no longer runs on Macs with Intel processors.


# Where version managers and installers keep Python, beside the folders on PATH. {v} is the version
# as in 3.13, {j} as in 313. A pattern with a variable that is not set matches nothing.
USUAL_PLACES = (
    "$PYENV_ROOT/versions/{v}*/bin/python{v}",
    "~/.pyenv/versions/{v}*/bin/python{v}",
    "~/.pyenv/pyenv-win/versions/{v}*/python.exe",
    "$UV_PYTHON_INSTALL_DIR/cpython-{v}*/bin/python{v}",
    "$UV_PYTHON_INSTALL_DIR/cpython-{v}*/python.exe",
    "~/.local/share/uv/python/cpython-{v}*/bin/python{v}",
    "$APPDATA/uv/python/cpython-{v}*/python.exe",
    "$ASDF_DATA_DIR/installs/python/{v}*/bin/python{v}",
    "~/.asdf/installs/python/{v}*/bin/python{v}",
    "$MISE_DATA_DIR/installs/python/{v}*/bin/python{v}",
    "~/.local/share/mise/installs/python/{v}*/bin/python{v}",
    "$LOCALAPPDATA/mise/installs/python/{v}*/python.exe",
    "$CONDA_PREFIX/bin/python{v}",
    "$MAMBA_ROOT_PREFIX/envs/*/bin/python{v}",
    "~/.conda/envs/*/bin/python{v}",
    "~/*conda3/bin/python{v}",
    "~/*conda3/envs/*/bin/python{v}",
    "~/*forge*/bin/python{v}",
    "~/*forge*/envs/*/bin/python{v}",
    "~/micromamba/envs/*/bin/python{v}",
    "/opt/*conda*/bin/python{v}",
    "/opt/*conda*/envs/*/bin/python{v}",
    "~/*conda3/python.exe",
    "~/*conda3/envs/*/python.exe",
    "~/*forge*/python.exe",
    "~/*forge*/envs/*/python.exe",
    "$LOCALAPPDATA/*conda3/envs/*/python.exe",
    "$PROGRAMDATA/*conda3/envs/*/python.exe",
    "/opt/homebrew/opt/python@{v}/bin/python{v}",
    "/usr/local/opt/python@{v}/bin/python{v}",
    "/home/linuxbrew/.linuxbrew/opt/python@{v}/bin/python{v}",
    "/Library/Frameworks/Python.framework/Versions/{v}/bin/python{v}",
    "/opt/local/bin/python{v}",
    "/usr/local/bin/python{v}",
    "/usr/bin/python{v}",
    "~/.local/bin/python{v}",
    "$LOCALAPPDATA/Programs/Python/Python{j}/python.exe",
    "$LOCALAPPDATA/Python/pythoncore-{v}*/python.exe",
    "$PROGRAMFILES/Python{j}/python.exe",
    "C:/Python{j}/python.exe",
)


class Problem(Exception):
    """Something the person at the keyboard has to put right; the message says how."""


def say(text: str) -> None:
    """Print a line of progress at once, also where output goes into a file."""
    print("[foamwright]", text, flush=True)


def output_of(*command: object) -> str:
    """What a command prints, or "" where it cannot be run, fails or hangs."""
    try:
        done = subprocess.run([str(part) for part in command], stdout=subprocess.PIPE,
                              stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, timeout=30)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout.decode("utf-8", "replace").strip() if done.returncode == 0 else ""


def candidates(version: tuple) -> Iterator[list]:
    """Commands that may start Python of this version: this one, those on PATH, the usual places."""
    dotted, joined = "{}.{}".format(*version), "{}{}".format(*version)
    yield [sys.executable]
    for name in ("python" + dotted, "python3", "python"):
        for folder in os.get_exec_path():
            path = Path(folder) / (name + ".exe" if WINDOWS else name)
            if path.is_file():
                yield [path]
    if WINDOWS:
        yield ["py", "-" + dotted]
    for place in USUAL_PLACES:
        pattern = os.path.expanduser(os.path.expandvars(place.format(v=dotted, j=joined)))
        for found in sorted(glob.glob(pattern), reverse=True):
            yield [found]


def find_python(version: tuple) -> str | None:
    """The executable of a Python of this version that really runs, or None.

    Shims without a version behind them exist, so each candidate is asked.
    """
    asked = set()
    for command in candidates(version):
        key = tuple(os.path.realpath(part) for part in command[:1]) + tuple(command[1:])
        if key in asked:
            continue
        asked.add(key)
        answer = output_of(*command, "-c", PROBE)
        if answer:
            found, executable = json.loads(answer.splitlines()[-1])
            if tuple(found) == version:
                return executable
    return None


def requirements(python: object, *groups: str) -> list:
    """The requirements of the project with these optional groups, read by a Python >= 3.11."""
    return json.loads(output_of(python, "-c", READ_PROJECT, ROOT / "pyproject.toml", *groups))


def pip(python: object, *arguments: object) -> None:
    """Run pip; raises Problem where it fails."""
    command = [python, "-m", "pip", "--disable-pip-version-check", *arguments]
    if subprocess.call([str(part) for part in command]):
        raise Problem("pip could not do its work; the lines above say why. Check the network "
                      "connection and the free space (2 GB), then run this again.")


class Environment(NamedTuple):
    """A virtual environment for one Blender release."""

    release: Release
    folder: Path

    @property
    def python(self) -> Path:
        return self.folder / ("Scripts/python.exe" if WINDOWS else "bin/python")

    @property
    def stamp(self) -> Path:
        return self.folder / STAMP

    def state(self) -> dict:
        """What the stamp says: {} where there is none."""
        try:
            return json.loads(self.stamp.read_text("utf-8"))
        except (OSError, ValueError):
            return {}

    def ready(self) -> bool:
        """True where everything asked for is installed and the environment's Python runs."""
        state = self.state()
        if not state.get("complete") or state.get("blender") != self.release.blender:
            return False
        return bool(output_of(self.python, "-c", "print(1)")) and state["complete"] == self.wanted()

    def wanted(self) -> str:
        """A digest of the requirements."""
        lines = "\n".join(requirements(self.python, "blender", "test"))
        return hashlib.sha256(lines.encode("utf-8")).hexdigest()

    def make(self, base: str) -> None:
        """Build or bring up to date with the Python `base`. The stamp is complete only at the end,
        so that an interrupted set-up is started again."""
        state = self.state()
        if self.folder.exists() and not state:
            raise Problem(f"The folder {self.folder} was not made by this script. Move it away or "
                          "delete it, then run this again.")
        same = state.get("complete") and state.get("blender") == self.release.blender
        if not (same and output_of(self.python, "-c", "print(1)")):
            if state:
                say("Removing the earlier environment, which is unfinished or for another release.")
                shutil.rmtree(self.folder)
            self.mark(None)
            say(f"Step 1 of 3: a virtual environment in {self.folder.name} with {base}")
            if subprocess.call([base, "-m", "venv", str(self.folder)]):
                raise Problem(f"{base} could not make a virtual environment.")
        wanted = self.wanted()
        self.mark(None)
        say("Step 2 of 3: Blender and the libraries; the first time this fetches about 500 MB.")
        pip(self.python, "install", *requirements(self.python, "blender", "test"))
        say("Step 3 of 3: a first start of Blender's module.")
        if not output_of(self.python, "-c", "import bpy; print(bpy.app.version_string)"):
            raise Problem("Blender's module does not start. To see why, run: "
                          f"{self.python} -c \"import bpy\"")
        self.mark(wanted)

    def mark(self, complete: str | None) -> None:
        self.folder.mkdir(exist_ok=True)
        state = {"blender": self.release.blender, "complete": complete}
        self.stamp.write_text(json.dumps(state), "utf-8")

    def run(self, *arguments: object) -> int:
        """Run the environment's Python in the checkout; returns its exit code."""
        command = [self.python, *arguments]
        return subprocess.call([str(part) for part in command], cwd=str(ROOT))


def prepare(every: bool = False) -> list:
    """Environments that are ready: the preferred one, or every one there is a Python for.

    Blender 5.2 LTS lies in .venv; Blender 4.5 LTS too if it is alone, else in .venv-4.5.
    """
    ready, missing = [], []
    for release in RELEASES:
        folder = ROOT / (".venv-" + release.blender if ready else ".venv")
        environment = Environment(release, folder)
        if not environment.ready():
            base = find_python(release.python)
            if base is None:
                missing.append(release)
                continue
            say(f"{release.name}: setting up.")
            environment.make(base)
        say(f"{release.name}: ready in {folder.name}.")
        ready.append(environment)
        if not every:
            break
    if not ready:
        names = " or ".join("{}.{} (for Blender {})".format(*release.python, release.blender)
                            for release in missing)
        raise Problem(
            f"No suitable Python was found. Blender's module needs Python {names}; this script "
            "runs on {}.{}. Install one of them, with its venv module (from python.org, or by uv, "
            "pyenv, conda or Homebrew), then run this again.".format(*sys.version_info[:2]))
    for release in missing if every else ():
        say(f"{release.name}: left out, since that Python was not found.")
    return ready


def main(work: Callable[[], int]) -> None:
    """Run a script's work and exit with its code; a Problem is told without a traceback."""
    try:
        sys.exit(work())
    except Problem as problem:
        sys.exit(f"[foamwright] {problem}")
    except KeyboardInterrupt:
        sys.exit("[foamwright] Stopped. Run the same command again to go on.")
