#!/usr/bin/env python3
"""Make the pictures of README.md, from the example suit, and of docs/geometry.md.

    python3 scripts/pictures.py

The sculpt is rendered by Blender; the pages are those that the command writes for the suit, turned
into pictures by `pdftoppm`, which comes with poppler; `geometry_pictures` draws the others. All
pictures are replaced, or none.
"""

import sys

if sys.version_info < (3, 8):
    sys.exit("Please start this script with Python 3.8 or later.")

import argparse
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import environment

OUT = environment.ROOT / "docs" / "pictures"
SCENE = environment.ROOT / "example_scenes" / "ferry_warden.blend"

# The document and the pages of the file that each picture shows, side by side.
PAGES = {"templates.png": ("pattern.pdf", (5, 7)), "plan.png": ("plan.pdf", (9, 14))}
PAGE_WIDTH, GAP = 580, 16  # pixels
BORDER = (200, 200, 200)


def page(document: Path, number: int, folder: Path):
    """A page of a PDF as a picture, with a thin border that shows on a white ground."""
    from PIL import Image, ImageOps

    target = folder / f"{document.stem}-{number}"
    # Twice as large as shown: reduced text reads better than text drawn small.
    subprocess.run(["pdftoppm", "-f", str(number), "-l", str(number), "-singlefile", "-png",
                    "-scale-to-x", str(2 * PAGE_WIDTH), "-scale-to-y", "-1",
                    str(document), str(target)], check=True)
    with Image.open(str(target) + ".png") as large:
        return ImageOps.expand(large.convert("RGB").reduce(2), 1, BORDER)


def side_by_side(pictures: list):
    """Pictures of one height in a row, on white."""
    from PIL import Image

    width = sum(picture.width for picture in pictures) + GAP * (len(pictures) - 1)
    row = Image.new("RGB", (width, max(picture.height for picture in pictures)), "white")
    left = 0
    for picture in pictures:
        row.paste(picture, (left, 0))
        left += picture.width + GAP
    return row


def save(picture, path: Path) -> None:
    """Write without the last bit of each channel, which nobody sees and which hardly packs.

    A palette would be smaller still, but loses the colours of thin lines.
    """
    picture.point(lambda value: value | 1).save(path, optimize=True)


def draw(results: Path) -> None:
    """Make all pictures; runs inside the environment, which has Blender and Pillow."""
    sys.path.insert(0, str(environment.ROOT))
    import geometry_pictures
    from PIL import Image

    from example_scenes.render_pictures import suit

    made = results / "made"
    made.mkdir()
    suit(results / "rendered.png")
    with Image.open(results / "rendered.png") as rendered:
        save(rendered.convert("RGB"), made / "suit.png")
    for name, (document, numbers) in PAGES.items():
        shown = [page(results / document, number, results) for number in numbers]
        save(side_by_side(shown), made / name)
    geometry_pictures.draw(made)
    OUT.mkdir(parents=True, exist_ok=True)
    for path in sorted(made.iterdir()):
        os.replace(path, OUT / path.name)
        size = (OUT / path.name).stat().st_size / 1000
        environment.say(f"{path.name} ({size:.0f} kB) lies in {OUT}.")


def pictures() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    # The script starts itself with this in the environment.
    parser.add_argument("--results", type=Path, help=argparse.SUPPRESS)
    results = parser.parse_args().results
    if results:
        draw(results)
        return 0
    if not shutil.which("pdftoppm"):
        raise environment.Problem(
            "pdftoppm, which turns the pages into pictures, is not installed. It comes with "
            "poppler (apt install poppler-utils, brew install poppler). No picture was "
            "changed.")
    place = environment.prepare()[0]
    environment.BUILD.mkdir(exist_ok=True)
    # Within the checkout, so that the finished pictures only need to be moved.
    with tempfile.TemporaryDirectory(dir=str(environment.BUILD)) as folder:
        environment.say(f"Making the pattern of {SCENE.name}.")
        code = place.run("-m", "addon", "make", SCENE, "--out", folder)
        if code:
            raise environment.Problem("The pattern could not be made; no picture was changed.")
        code = place.run(Path(__file__).resolve(), "--results", folder)
        if code:
            raise environment.Problem("The pictures could not be made; the lines above say why.")
    return 0


if __name__ == "__main__":
    environment.main(pictures)
