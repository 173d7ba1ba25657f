"""What every test may use. Blender is imported only by tests that ask for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent
PROFILE = tempfile.mkdtemp(prefix="foamwright-profile-")


# Test processes side by side fill the cores already; read when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def pytest_configure(config):
    # Before anything imports bpy: never read or write the profile of the person at work.
    os.environ["BLENDER_USER_RESOURCES"] = PROFILE
    # Every run tries the same examples, and a busy machine fails nothing.
    settings.register_profile("steady", deadline=None, derandomize=True, database=None)
    settings.load_profile("steady")


def pytest_unconfigure(config):
    if "bpy" in sys.modules:
        unregister_leftovers()
    shutil.rmtree(PROFILE, ignore_errors=True)


def unregister_leftovers() -> None:
    """Unregister what tests left: Blender 4.5's module hangs at exit while classes of ours are
    registered."""
    import bpy

    kinds = ("Panel", "Operator", "Menu", "UIList", "AddonPreferences", "PropertyGroup")
    for base in (getattr(bpy.types, kind) for kind in kinds):
        for kind in reversed(base.__subclasses__()):
            if kind.__module__.split(".")[0] == "addon" and getattr(kind, "is_registered", False):
                bpy.utils.unregister_class(kind)


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout."""
    return ROOT


@pytest.fixture(scope="session")
def tried_walls():
    """Two L-shaped pieces, cut from one template, that make a box without floor and lid: the
    pattern, put together again."""
    import numpy as np

    from addon.core.make import check
    from addon.core.model import Settings
    from addon.core.rebuild import tried
    from addon.core.stock import find_stock
    from tests import shapes

    shape, corners = shapes.box()
    sculpt = shapes.sculpt(shape, np.concatenate(corners[::2]), np.concatenate(corners[1::2]))
    return tried(check(sculpt, Settings(find_stock("eva-6"))), quick=True)


@pytest.fixture
def run_in_blender(tmp_path):
    """Run a script (source text) in a fresh Blender with an empty profile.

    run_in_blender(source, *arguments) -> CompletedProcess with stdout and stderr as text; the
    arguments are sys.argv[1:] of the script. It uses Blender as a Python module, or the Blender
    in which the tests run.
    """
    bpy = pytest.importorskip("bpy")

    def run(source: str, *arguments: object) -> subprocess.CompletedProcess:
        script, runner = tmp_path / "script.py", tmp_path / "runner.py"
        script.write_text(source, "utf-8")
        runner.write_text(RUNNER, "utf-8")
        command = [sys.executable, runner, script]
        if bpy.app.binary_path:
            command = [bpy.app.binary_path, "--background", "--python-exit-code", "1",
                       "--python", runner, "--", script]
        environment = {**os.environ, "BLENDER_USER_RESOURCES": str(tmp_path / "profile")}
        return subprocess.run([str(part) for part in [*command, *arguments]], env=environment,
                              cwd=ROOT, capture_output=True, text=True, timeout=300)

    return run


# Ends hard, since the module of Blender 4.5 may hang at exit.
RUNNER = """
import os, runpy, sys, traceback
if "--" in sys.argv:
    sys.argv = sys.argv[sys.argv.index("--"):]
del sys.argv[0]
code = 0
try:
    runpy.run_path(sys.argv[0], run_name="__main__")
except BaseException:
    traceback.print_exc()
    code = 1
sys.stdout.flush()
sys.stderr.flush()
os._exit(code)
"""
