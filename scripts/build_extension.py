#!/usr/bin/env python3
"""Build the installable zip of the Blender extension.

    python3 scripts/build_extension.py                   for this platform
    python3 scripts/build_extension.py --all-platforms   one zip for every platform
    python3 scripts/build_extension.py --notices         renew addon/licences/THIRD_PARTY.md

The zip carries the libraries as wheels for each Python that Blender may bring; Blender picks.
"""

import sys

if sys.version_info < (3, 8):
    sys.exit("Please start this script with Python 3.8 or later.")

import argparse
import importlib.util
import platform
import shutil
import subprocess
from pathlib import Path

import environment
import notices

WHEELS = environment.BUILD / "wheels"
STAGE = environment.BUILD / "extension" / "foamwright"
NOTICES = Path("licences") / "THIRD_PARTY.md"
EXAMPLE = environment.ROOT / "example_scenes" / "ferry_warden.blend"  # opened from the sidebar

# Blender 4.5 LTS brings Python 3.11, 5.2 LTS brings 3.13, and some systems build it with 3.14.
PYTHONS = ("3.11", "3.13", "3.14")

# Blender's names of platforms, and the tags of the wheels that run on them. Blender also runs on
# windows-arm64, which nobody has tried this on.
PLATFORMS = {
    "linux-x64": ("manylinux_2_28_x86_64", "manylinux_2_27_x86_64", "manylinux_2_17_x86_64",
                  "manylinux2014_x86_64"),
    "windows-x64": ("win_amd64",),
    "macos-arm64": ("macosx_12_0_arm64",),
    "macos-x64": ("macosx_12_0_x86_64",),
}

COMPILED = ("pillow", "scipy", "shapely")
# What the project's own requirements need in turn; a test checks that nothing is missing.
INDIRECT = ("defusedxml", "pillow", "pyparsing", "typing_extensions")


def this_platform() -> str:
    """Blender's name of the platform this runs on."""
    system = {"linux": "linux", "darwin": "macos", "win32": "windows"}.get(sys.platform)
    machine = "arm64" if platform.machine().lower() in ("arm64", "aarch64") else "x64"
    return f"{system}-{machine}"


def name_of(requirement: str) -> str:
    """The distribution's name in "name>=1.0"."""
    return requirement.split(">")[0].split("=")[0].split("<")[0].strip().lower()


def bundled() -> list:
    """The requirements that go into the zip; numpy comes with Blender."""
    own = environment.requirements(sys.executable)
    return [line for line in own if name_of(line) != "numpy"] + list(INDIRECT)


def fetch(folder: Path, requirements: list, *tags: str) -> list:
    """Wheels for these tags, kept in the folder for the next time. Raises Problem."""
    stamp, wanted = folder / "requirements.txt", "\n".join([*requirements, *tags])
    if not stamp.is_file() or stamp.read_text("utf-8") != wanted:
        shutil.rmtree(str(folder), ignore_errors=True)
        environment.say(f"Fetching the wheels for {folder.name}.")
        environment.pip(sys.executable, "download", "--quiet", "--no-deps",
                        "--only-binary=:all:", *tags, "--dest", folder, *requirements)
        stamp.write_text(wanted, "utf-8")
    return sorted(folder.glob("*.whl"))


def fetch_all(platforms: list, pythons: list) -> list:
    """All wheels of these platforms and Pythons. Raises Problem where one cannot be had."""
    unknown = set(platforms) - set(PLATFORMS)
    if unknown:
        raise environment.Problem("Not every library has a wheel for " + ", ".join(unknown))
    lines = bundled()
    compiled = [line for line in lines if name_of(line) in COMPILED]
    plain = [line for line in lines if name_of(line) not in COMPILED]
    wheels = fetch(WHEELS / "any", plain, "--platform=any", "--implementation=py", "--abi=none",
                   "--python-version=" + PYTHONS[0])
    for target in platforms:
        for python in pythons:
            abi = "cp" + python.replace(".", "")
            wheels += fetch(WHEELS / f"{target}-{abi}", compiled, "--implementation=cp",
                            "--python-version=" + python, "--abi=" + abi, "--abi=abi3",
                            *("--platform=" + tag for tag in PLATFORMS[target]))
    return wheels


def stage(wheels: list, platforms: list) -> Path:
    """The folder that becomes the zip: addon/ without caches, the example, the wheels, the whole
    manifest."""
    shutil.rmtree(str(STAGE), ignore_errors=True)
    shutil.copytree(str(environment.ROOT / "addon"), str(STAGE),
                    ignore=shutil.ignore_patterns("__pycache__", "*.pyc"))
    (STAGE / "assets").mkdir()
    shutil.copy(str(EXAMPLE), str(STAGE / "assets"))
    (STAGE / "wheels").mkdir()
    for wheel in wheels:
        shutil.copy(str(wheel), str(STAGE / "wheels"))
    manifest = STAGE / "blender_manifest.toml"
    head, table, permissions = manifest.read_text("utf-8").partition("[permissions]")
    names = "".join(f'    "./wheels/{wheel.name}",\n' for wheel in wheels)
    added = ", ".join(f'"{target}"' for target in platforms)
    manifest.write_text(f"{head}platforms = [{added}]\nwheels = [\n{names}]\n\n{table}"
                        f"{permissions}", "utf-8")
    (STAGE / NOTICES).write_text(notices.text(wheels), "utf-8")
    return STAGE


def extension_tool() -> Path:
    """Blender's own tool for extensions, in the module or in the installed Blender we run in."""
    scripts = Path(importlib.util.find_spec("bpy").origin).parent
    inside = Path("addons_core") / "bl_pkg" / "cli" / "blender_ext.py"
    places = [*scripts.glob(f"*/scripts/{inside}"), *(p / inside for p in scripts.parents)]
    return next(place for place in places if place.is_file())


def tool(*arguments: object) -> None:
    """Run Blender's extension tool. Raises Problem where it finds fault."""
    command = [sys.executable, extension_tool(), *arguments]
    if subprocess.call([str(part) for part in command]):
        raise environment.Problem("Blender's extension tool refused; its reasons stand above.")


def build(platforms: list, pythons: list, out: Path) -> Path:
    """Build and validate the zip; returns its path."""
    folder = stage(fetch_all(platforms, pythons), platforms)
    tool("validate", folder)
    out.mkdir(parents=True, exist_ok=True)
    name = "all-platforms" if len(platforms) > 1 else platforms[0]
    path = out / f"foamwright-{name}.zip"
    tool("build", "--source-dir", folder, "--output-filepath", path)
    tool("validate", path)
    return path


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--all-platforms", action="store_true",
                        help="carry the wheels of every platform, not of this one only")
    parser.add_argument("--python", action="append", choices=PYTHONS,
                        help="carry the wheels of this Python only (may be given twice)")
    parser.add_argument("--out", type=Path, default=environment.BUILD,
                        help="folder for the zip")
    parser.add_argument("--notices", action="store_true",
                        help="only renew the notices of what the zip carries")
    options = parser.parse_args()
    if importlib.util.find_spec("bpy") is None:
        return environment.prepare()[0].run(__file__, *sys.argv[1:])
    platforms = list(PLATFORMS) if options.all_platforms else [this_platform()]
    pythons = options.python or list(PYTHONS)
    if options.notices:
        path = environment.ROOT / "addon" / NOTICES
        path.write_text(notices.text(fetch_all(platforms, pythons)), "utf-8")
    else:
        path = build(platforms, pythons, options.out)
    environment.say(f"Written: {path} ({path.stat().st_size / 1e6:.1f} MB)")
    return 0


if __name__ == "__main__":
    environment.main(main)
