"""What earlier checks of the open file's scenes found: it spares time, and may be lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
from bpy.app.handlers import persistent

if TYPE_CHECKING:
    from ..core.make import Memory

_of_scene: dict[int, Memory] = {}


def of_scene(scene: bpy.types.Scene) -> Memory:
    """The memory of a scene, from now until another file is opened."""
    from ..core.make import Memory

    return _of_scene.setdefault(scene.session_uid, Memory())


@persistent
def _forget(*_):
    _of_scene.clear()


def register() -> None:
    bpy.app.handlers.load_post.append(_forget)


def unregister() -> None:
    bpy.app.handlers.load_post.remove(_forget)
    _forget()
