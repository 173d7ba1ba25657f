#!/usr/bin/env python3
"""Run the tests.

    python3 scripts/test.py                    all tests, with Blender as a Python module
    python3 scripts/test.py --both             and the Blender tests on the other release too
    python3 scripts/test.py --blender PATH     all tests inside an installed Blender
    python3 scripts/test.py tests/core -k cone other arguments go to pytest

Sets up an environment of its own first; from the second time on it starts at once.
"""

import sys

if sys.version_info < (3, 8):
    sys.exit("Please start this script with Python 3.8 or later.")

import argparse
import shutil
import subprocess
from pathlib import Path

import environment

BLENDER_TESTS = ("tests/blender", "tests/packaging")
# Files go to several processes, each with a Blender of its own; -n 0 keeps them in one.
SHARED_OUT = ("-n", "auto", "--maxprocesses", "4", "--dist", "loadfile")


def test() -> int:
    parser = argparse.ArgumentParser(
        description="Run the tests. Arguments not named here go to pytest.")
    parser.add_argument("--both", action="store_true", help="run everything on the preferred "
                        "Blender release and the Blender tests on the other one as well")
    parser.add_argument("--blender", metavar="PATH", help="run inside this installed Blender")
    options, rest = parser.parse_known_args()
    if options.blender:
        return inside(options.blender, rest)
    places = environment.prepare(every=options.both)
    named = any((environment.ROOT / word.split("::")[0]).exists() for word in rest)
    codes = []
    for place in places:
        chosen = rest if named or place is places[0] else [*rest, *BLENDER_TESTS]
        environment.say(f"Testing with {place.release.name}.")
        codes.append(place.run("-m", "pytest", *SHARED_OUT, *chosen))
    return max(codes)


def inside(blender: str, arguments: list) -> int:
    """Run pytest in the background of an installed Blender, whose own folders stay untouched.

    What the tests need goes to a folder in build/ and stands last on the search path, so that
    Blender's own numpy is the one in use.
    """
    blender = shutil.which(blender) or blender
    base = [blender, "--background", "--factory-startup"]
    ask = "import sys, numpy; print('FOUND', sys.executable, numpy.__version__, sep='|')"
    answer = [line for line in environment.output_of(*base, "--python-expr", ask).splitlines()
              if line.startswith("FOUND|")]
    if not answer:
        raise environment.Problem(f"“{blender}” does not start as a Blender.")
    _, python, numpy = answer[0].split("|")
    wanted = [*environment.requirements(python, "test"), f"numpy=={numpy}"]
    packages = environment.BUILD / "packages-in-blender"
    stamp = packages / "requirements.txt"
    lines = "\n".join([python, *wanted])
    if not stamp.is_file() or stamp.read_text("utf-8") != lines:
        environment.say(f"Fetching the test tools for {python}.")
        shutil.rmtree(str(packages), ignore_errors=True)
        pip = python if environment.output_of(python, "-m", "pip", "--version") else sys.executable
        chosen = [] if pip == python else ["--python", python]
        environment.pip(pip, *chosen, "install", "--target", packages, *wanted)
        stamp.write_text(lines, "utf-8")
    script = Path(__file__).resolve().parent / "inside_blender.py"
    return subprocess.call([*base, "--python-exit-code", "1", "--python", str(script), "--",
                            str(packages), *arguments], cwd=str(environment.ROOT))


if __name__ == "__main__":
    environment.main(test)
