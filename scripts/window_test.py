#!/usr/bin/env python3
"""Try the extension in a Blender with a window, by mouse and keyboard, and take pictures.

    sudo python3 scripts/window_test.py              build the zip, go through all steps
    sudo python3 scripts/window_test.py --zip ZIP    with this zip, which has wheels for that Python
    sudo python3 scripts/window_test.py --write      and renew docs/window.md with its pictures

Needs Linux, root and debootstrap. Blender comes from Debian's unstable suite and lies, with a
screen that exists in memory only and an OpenGL in software, in a folder of 1.4 GB in the cache; the
first run takes some minutes longer to make it. Since that suite moves, this is no part of
`.ci/run`.
window_drive.py runs inside Blender, window_steps.py says what is done and what must come of it.
"""

import sys

if sys.version_info < (3, 8):
    sys.exit("Please start this script with Python 3.8 or later.")

import argparse
import datetime
import json
import os
import platform
import shutil
import signal
import subprocess
from pathlib import Path

import environment
import window_page

SCRIPTS = ("window_drive.py", "window_hands.py", "window_ways.py", "window_steps.py",
           "window_looks.py")
SCENES = environment.ROOT / "example_scenes"
OUT = environment.BUILD / "window"

MIRROR = "http://deb.debian.org/debian"
# Blender, a screen in memory, a hand for the mouse, and OpenGL in software. The last four are
# Blender's own needs for extensions, on which Debian's package does not depend.
PACKAGES = ("blender", "xvfb", "xauth", "xdotool", "imagemagick", "libgl1-mesa-dri",
            "mesa-vulkan-drivers", "libegl1", "libgl1", "python3-numpy", "python3-requests",
            "python3-zstandard", "python3-cattr")
SIZE = (1200, 1000)
INSIDE = "window"  # folder in the small Debian for all that belongs to a run
LIMIT = 3600  # seconds; a run takes a few minutes where the machine is free


def cache() -> Path:
    """Where the small Debian lies unless another folder is named."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "foamwright"


def debian(folder: Path, suite: str, mirror: str, renew: bool) -> Path:
    """A small Debian with Blender, made where there is none yet. Raises Problem."""
    root, part = folder / f"debian-{suite}", folder / f"debian-{suite}.unfinished"
    stamp, wanted = root / "made-for-foamwright.txt", "\n".join(PACKAGES)
    if root.exists() and not stamp.is_file():
        raise environment.Problem(f"{root} was not made by this script. Move it away or delete "
                                  "it, or name another folder with --cache.")
    if root.exists() and not renew and stamp.read_text("utf-8") == wanted:
        return root
    environment.say(f"Making a small Debian with Blender in {root}; this takes some minutes.")
    folder.mkdir(parents=True, exist_ok=True)
    for old in (part, root):
        # Nothing of the machine is mounted in it, so that it can be removed without danger.
        if old.exists():
            shutil.rmtree(str(old))
    log = folder / f"debian-{suite}.log"
    install = ("apt-get -o Acquire::Check-Valid-Until=false update -q && "
               "apt-get install -y -q --no-install-recommends " + " ".join(PACKAGES) +
               " && apt-get clean && rm -rf /var/lib/apt/lists/*")
    with log.open("w", encoding="utf-8") as file:
        for command in (
                ["debootstrap", "--variant=minbase", "--include=ca-certificates", suite,
                 str(part), mirror],
                # In a second step, since debootstrap alone does not resolve all that Blender needs.
                ["chroot", str(part), "env", "DEBIAN_FRONTEND=noninteractive", "sh", "-c",
                 install]):
            if subprocess.call(command, stdout=file, stderr=subprocess.STDOUT):
                raise environment.Problem(
                    f"“{command[0]}” could not make the small Debian from {mirror}; the last lines "
                    f"of {log} say why. Another mirror can be named with --mirror.")
    (part / stamp.name).write_text(wanted, "utf-8")
    part.rename(root)
    return root


def build(root: Path) -> Path:
    """The extension's zip with wheels for the Python of that Blender. Raises Problem."""
    script = "import sys; print('%d.%d' % sys.version_info[:2])"
    python = environment.output_of("chroot", str(root), "python3", "-c", script).strip()
    place = environment.prepare()[0]
    OUT.mkdir(parents=True, exist_ok=True)
    for old in OUT.glob("*.zip"):
        old.unlink()
    if place.run(environment.ROOT / "scripts" / "build_extension.py", "--python", python,
                 "--out", OUT):
        raise environment.Problem(f"No zip for Python {python}; the lines above say why.")
    return next(OUT.glob("*.zip"))


def run(root: Path, zip_file: Path, steps: list) -> Path:
    """Go through the steps; returns the folder with results.json and pictures. Raises Problem."""
    folder = root / INSIDE
    if folder.exists():
        shutil.rmtree(str(folder))
    results = folder / "results"
    (folder / "home").mkdir(parents=True)
    results.mkdir()
    for name in SCRIPTS:
        shutil.copy(str(environment.ROOT / "scripts" / name), str(folder))
    for path in (zip_file, *SCENES.glob("*.blend")):
        shutil.copy(str(path), str(results))
    home, wide, high = f"/{INSIDE}/home", *SIZE
    variables = {"HOME": home, "BLENDER_USER_RESOURCES": home, "PATH": "/usr/bin:/bin",
                 "LANG": "C.UTF-8", "LIBGL_ALWAYS_SOFTWARE": "1", "OMP_NUM_THREADS": "1",
                 "OPENBLAS_NUM_THREADS": "1"}
    command = ["chroot", str(root), "env", "-i", *("=".join(pair) for pair in variables.items()),
               "xvfb-run", "-a", "-s", f"-screen 0 {wide}x{high}x24", "blender",
               "--factory-startup", "--python-exit-code", "1",
               "-p", "0", "0", str(wide), str(high),
               "--python", f"/{INSIDE}/window_drive.py", "--", f"/{INSIDE}/results", *steps]
    process = subprocess.Popen(command, start_new_session=True)
    try:
        process.wait(LIMIT)
    except subprocess.TimeoutExpired:
        environment.say(f"Blender was stopped after {LIMIT} s.")
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGTERM)  # the screen and Blender too
            process.wait()
    if not (results / "results.json").is_file():
        raise environment.Problem("Blender ended before the first step; the lines above say why.")
    return results


def keep(root: Path, results: Path) -> list:
    """Copy the pictures to build/window, made small; returns their paths."""
    OUT.mkdir(parents=True, exist_ok=True)
    for old in OUT.glob("*.png"):
        old.unlink()
    pictures = sorted(results.glob("*.png"))
    for path in pictures:
        inside = f"/{INSIDE}/results/{path.name}"
        # 256 colours without dithering: half the size, and interfaces have few colours.
        subprocess.run(["chroot", str(root), "convert", inside, "-strip", "+dither",
                        "-colors", "256", "PNG8:" + inside], check=True)
        shutil.copy(str(path), str(OUT))
    return [OUT / path.name for path in pictures]


def window_test() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("steps", nargs="*", help="only these steps of window_steps.py")
    parser.add_argument("--zip", type=Path, help="try this zip instead of building one")
    parser.add_argument("--cache", type=Path, default=cache(), metavar="DIR",
                        help="folder for the small Debian (%(default)s)")
    parser.add_argument("--renew", action="store_true", help="make the small Debian anew")
    parser.add_argument("--suite", default="sid", help="suite of Debian (%(default)s)")
    parser.add_argument("--mirror", default=os.environ.get("DEBIAN_MIRROR") or MIRROR,
                        help="where Debian is fetched from ($DEBIAN_MIRROR or %(default)s)")
    parser.add_argument("--write", action="store_true",
                        help="renew docs/window.md and its pictures, whatever came out")
    options = parser.parse_args()
    if platform.system() != "Linux" or os.geteuid() != 0 or not shutil.which("debootstrap"):
        raise environment.Problem("This test makes a small Debian in a folder of the cache. It "
                                  "needs Linux, root (sudo) and debootstrap.")
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # so that Blender ends with us
    root = debian(options.cache.resolve(), options.suite, options.mirror, options.renew)
    if options.steps and options.write:
        raise environment.Problem("--write needs all steps, since the page names them all.")
    results = run(root, options.zip or build(root), options.steps)
    pictures = keep(root, results)
    record = json.loads((results / "results.json").read_text("utf-8"))
    record["date"] = datetime.date.today().isoformat()
    for path in pictures:
        environment.say(f"{path.name} ({path.stat().st_size / 1000:.0f} kB) lies in {OUT}.")
    for name in record["left"]:  # stopped, crashed, or not installed
        record["steps"].append({"name": name, "does": "", "outcome": "not finished"})
    failed = [step["name"] for step in record["steps"] if step["outcome"] != "passed"]
    if options.write:
        window_page.write(record, OUT)
    if failed:
        environment.say(f"Failed: {', '.join(failed)}.")
        return 1
    environment.say("All {} steps passed.".format(len(record["steps"])))
    return 0


if __name__ == "__main__":
    environment.main(window_test)
