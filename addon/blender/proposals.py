"""Lines that are proposed: shown on the sculpt like those a maker draws, but left out of the foam
until they are accepted.

What a line is proposed for is kept on it (`foamwright.proposed`); it is a word of ours, and empty
on every other line.
"""

from __future__ import annotations

import bpy
import numpy as np

from . import carry, changes, guides

RELIEF, SEAMS = "relief", "seams"


def show(scene: bpy.types.Scene, item: bpy.types.Object, points: np.ndarray, kind: str,
         about: str, name: str, closed: bool = False) -> bpy.types.Object:
    """Show a line on an object through points (k, 3) of its own space. about: RELIEF or SEAMS."""
    place = np.array(item.matrix_world)
    line = guides.add_guide(scene, item, np.asarray(points) @ place[:3, :3].T + place[:3, 3],
                            kind, closed, name)
    line.foamwright.leave_out, line.foamwright.proposed = True, about
    return line


def shown(scene: bpy.types.Scene, about: str) -> list[bpy.types.Object]:
    """The lines that are proposed and shown."""
    return [item for item in scene.objects
            if guides.is_guide(item) and item.foamwright.proposed == about]


def accept(lines: list[bpy.types.Object]) -> None:
    """Make lines that are shown lines of the suit."""
    for line in lines:
        line.foamwright.leave_out, line.foamwright.proposed = False, ""
    homes = {(line.users_scene[0], line.parent): None for line in lines if line.parent}
    for scene, item in homes:
        carry.bind(scene, [item])
    changes.note()


def remove(scene: bpy.types.Scene, about: str) -> None:
    """Take the lines away that are shown."""
    for line in shown(scene, about):
        guides.remove(line)
