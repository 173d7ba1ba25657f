#!/usr/bin/env python3
"""Make the templates and the build plan of the example suit.

    python3 scripts/demo.py

Sets up an environment of its own first; from the second time on it starts at once.
"""

import sys

if sys.version_info < (3, 8):
    sys.exit("Please start this script with Python 3.8 or later.")

import argparse

import environment

OUT = environment.BUILD / "demo"
SCENES = environment.ROOT / "example_scenes"


def example_scenes() -> list:
    """The example suits, without the variants that show a failure."""
    return sorted(path for path in SCENES.glob("*.blend") if "failing" not in path.name)


def demo() -> int:
    argparse.ArgumentParser(description=__doc__.split("\n")[0]).parse_args()
    place = environment.prepare()[0]
    if not example_scenes():
        for script in sorted(SCENES.glob("build_*.py")):
            environment.say(f"Building the example scene with {script.name}.")
            if place.run(script):
                raise environment.Problem("The example scene could not be built.")
    if not example_scenes():
        raise environment.Problem(f"There is no example scene in {SCENES}.")
    scene = example_scenes()[0]
    environment.say(f"Making the pattern of {scene.name}.")
    code = place.run("-m", "addon", "make", scene, "--out", OUT)
    if code == 0:
        environment.say(f"The results lie in {OUT}:")
        for path in sorted(path for path in OUT.rglob("*") if path.is_file()):
            size = path.stat().st_size / 1000
            environment.say(f"  {path.relative_to(OUT)} ({size:.0f} kB)")
        environment.say("Print pattern.pdf at 100 % (“actual size”), build by plan.pdf.")
    return code


if __name__ == "__main__":
    environment.main(demo)
