"""Write docs/window.md with its pictures from the record of a window test."""

import shutil
from pathlib import Path

import environment

PAGE = environment.ROOT / "docs" / "window.md"
PICTURES = PAGE.parent / "pictures"

HEAD = """# In Blender's window

`scripts/window_test.py` starts a Blender with a window on a screen that exists in memory only,
installs the extension from its zip and works with it as a maker does: by mouse and keyboard. It
checks what came of every step and takes the pictures below. It needs Linux, root and
`debootstrap`, since it fetches Blender from Debian's unstable suite into a folder of the cache;
that suite moves, so it is no part of `.ci/run`. This page is written by
`sudo python3 scripts/window_test.py --write`, whatever came out.
"""

# Those pictures of the run that the page shows, and what is to be seen.
SHOWN = (
    ("first_screen", "An empty scene: what to do first, and the example at one click"),
    ("mark", "Edges are marked where they are selected; trenches and score lines are seen"),
    ("draw_line", "A seam drawn across faces, before it is confirmed"),
    ("overlay_pieces_dark", "The pieces the seams cut, with their codes and the letters of mates"),
    ("overlay_strain_light", "How much of what the heated foam takes is asked of it: both knees "
                             "need relief"),
    ("finding", "A click on a finding shows its place on the sculpt"),
    ("relief", "Two cuts that would let the foam take the shape of a knee, one shown like chalk"),
    ("suggested", "Seams that are suggested in place of those of the breast plate"),
    ("flats", "The pieces flat beside the suit"),
    ("uv_map", "The UV map at true scale"),
    ("fit", "The air between the foam and the body of a figure, in mm"),
    ("trial", "Where the suit comes out otherwise than sculpted, in mm"),
    ("build_half", "The suit half built, with the seam that is glued in this step"),
    ("build_apart", "The parts of the finished suit, apart along the way each comes off"),
)


def write(record: dict, folder: Path) -> None:
    """Replace the page and its pictures; `folder` holds the run's pictures."""
    for old in PICTURES.glob("window-*.png"):
        old.unlink()
    lines = [HEAD, "## The last run", ""]
    lines += [f"{record['date']}, " + ", ".join(
        f"{name} {version}" for name, version in record["versions"].items()) + ".", ""]
    lines += ["| step | what is done | came out |", "|---|---|---|"]
    for step in record["steps"]:
        does = " ".join(step["does"].split())
        outcome = " ".join(step["outcome"].split()).replace("|", "\\|")
        lines.append(f"| `{step['name']}` | {does} | {outcome} |")
    lines += ["", "## Pictures", ""]
    for name, caption in SHOWN:
        picture, target = folder / f"{name}.png", PICTURES / f"window-{name.replace('_', '-')}.png"
        if not picture.is_file():  # its step failed before
            continue
        shutil.copy(str(picture), str(target))
        lines += [f"{caption}:", "", f"![{caption}](pictures/{target.name})", ""]
    PAGE.write_text("\n".join(lines).rstrip() + "\n", "utf-8")
    environment.say(f"Written: {PAGE}")
