#!/usr/bin/env python3
"""Measure how fast and well pieces are laid flat, beside libigl and Blender, and files written.

    python3 scripts/bench.py                   every section; the tables are printed
    python3 scripts/bench.py --only rivals     one section
    python3 scripts/bench.py --write           puts the tables into BENCHMARKS.md as well
    python3 scripts/bench.py --quick           small sizes, once: does it still run?

Sets up an environment of its own first, as the tests do, and keeps libigl in a folder beside it.
Everything a table compares is measured in one process, turn by turn, so that other work on the
machine slows all alike; times are medians.
"""

import sys

if sys.version_info < (3, 8):
    sys.exit("Please start this script with Python 3.8 or later.")

import argparse
import json
import math
import os
import platform
import re
import shutil
import tempfile
from pathlib import Path

import environment

BOOK = environment.ROOT / "BENCHMARKS.md"
PACKAGES = environment.BUILD / "packages-for-bench"

# Section -> whether it may use every core. Ways to solve one piece are compared on one.
SECTIONS = {"rivals": False, "growth": False, "sculpt": True, "piece": True, "overlay": True,
            "caps": False, "bands": False, "meshings": False, "suggest": False, "strips": False,
            "mats": False, "suits": False, "writing": False,
            "order": False, "rebuild": False}
ONE_CORE = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}


def measure(name: str, quick: bool, out: Path) -> None:
    """Measure one section with the Python that runs and write its table as JSON."""
    sys.path.insert(0, str(environment.ROOT))
    sys.path.append(str(PACKAGES))  # last, so that the environment's own numpy is the one in use
    import bench_sections

    out.write_text(json.dumps({"machine": machine(), **getattr(bench_sections, name)(quick)}),
                   "utf-8")


def machine() -> str:
    """What the figures depend on, and nothing that tells whose machine it is."""
    from importlib.metadata import PackageNotFoundError, version

    said = [f"{os.cpu_count()} cores ({platform.machine()})"]
    if hasattr(os, "getloadavg"):
        said.append(f"load average {os.getloadavg()[0]:.1f} at the start")
    said.append(f"Python {platform.python_version()}")
    for package in ("numpy", "scipy", "shapely", "libigl", "spyrrow", "bpy"):
        try:
            said.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            continue
    return ", ".join(said)


# --- the table ---------------------------------------------------------------


def cell(value: object) -> str:
    """Numbers to three significant digits, at most four behind the point, without exponents."""
    if value is None:
        return "–"
    if isinstance(value, float):
        places = 2 - math.floor(math.log10(abs(value))) if value else 0
        return f"{value:.{min(max(places, 0), 4)}f}"
    return f"{value:,}" if isinstance(value, int) else str(value)


def markdown(name: str, section: dict, quick: bool) -> str:
    """A section as it stands in BENCHMARKS.md: heading, table, remarks, command, machine."""
    header, rows = section["header"], section["rows"]
    lines = [f"## {section['title']}", "",
             "| " + " | ".join(header) + " |",
             "|---" + "|---:" * (len(header) - 1) + "|"]
    lines += ["| " + " | ".join(map(cell, row)) + " |" for row in rows]
    lines += ["", *section["remarks"], ""]
    command = f"python3 scripts/bench.py --only {name}" + (" --quick" if quick else "")
    lines.append(f"`{command}`: {section['machine']}.")
    return "\n".join(lines)


def placed(text: str, name: str, block: str) -> str:
    """The text of BENCHMARKS.md with the block between the markers of its section."""
    start, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
    marked = f"{start}\n{block}\n{end}"
    pattern = re.compile(re.escape(start) + ".*?" + re.escape(end), re.DOTALL)
    if pattern.search(text):
        return pattern.sub(lambda _: marked, text)
    return text.rstrip("\n") + "\n\n" + marked + "\n"


# --- the environment ---------------------------------------------------------


def fetch_libigl(python: Path) -> None:
    """Install what only this script needs into a folder of its own.

    libigl's wheel also carries headers and manual pages, which would litter the environment.
    """
    wanted = sorted(set(environment.requirements(python, "bench"))
                    - set(environment.requirements(python)))
    stamp, lines = PACKAGES / "requirements.txt", "\n".join([platform.platform(), *wanted])
    if stamp.is_file() and stamp.read_text("utf-8") == lines:
        return
    environment.say("Fetching " + ", ".join(wanted) + ".")
    shutil.rmtree(str(PACKAGES), ignore_errors=True)
    # Without dependencies: they are numpy and scipy, which the environment has.
    environment.pip(python, "install", "--no-deps", "--target", PACKAGES, *wanted)
    stamp.write_text(lines, "utf-8")


def bench() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--only", metavar="NAME", choices=SECTIONS, action="append",
                        help="measure this section: " + ", ".join(SECTIONS))
    parser.add_argument("--write", action="store_true", help=f"put the tables into {BOOK.name}")
    parser.add_argument("--quick", action="store_true", help="small sizes, once")
    # The script starts itself with this in the environment.
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    names = options.only or list(SECTIONS)
    if options.measure:
        measure(names[0], options.quick, options.measure)
        return 0
    if options.write and options.quick:
        parser.error("figures of --quick are no benchmark: leave out --write")
    place = environment.prepare()[0]
    fetch_libigl(place.python)
    before = dict(os.environ)
    for name in names:
        environment.say(f"Measuring {name}.")
        with tempfile.TemporaryDirectory() as folder:
            os.environ.update({} if SECTIONS[name] else ONE_CORE)
            os.environ["BLENDER_USER_RESOURCES"] = folder  # nobody's own settings
            result = Path(folder) / "table.json"
            code = place.run(Path(__file__).resolve(), "--only", name, "--measure", result,
                             *["--quick"] * options.quick)
            os.environ.clear()
            os.environ.update(before)
            if code:
                raise environment.Problem(f"{name} could not be measured; see the lines above.")
            block = markdown(name, json.loads(result.read_text("utf-8")), options.quick)
        print("\n" + block + "\n", flush=True)
        if options.write:
            BOOK.write_text(placed(BOOK.read_text("utf-8"), name, block), "utf-8")
    return 0


if __name__ == "__main__":
    environment.main(bench)
