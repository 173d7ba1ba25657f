"""The version of what Foamwright keeps in a .blend, so that old and new files are told apart."""

import bpy
from bpy.app.handlers import persistent
from bpy.props import IntProperty

from ..core.errors import ERROR, Finding, FoamError

SCHEMA = 1
PROPERTY = "foamwright_schema"

# From version n to n + 1: changes the scene in place. 0 is a file that was never stamped;
# it holds nothing or what version 1 wrote.
UPGRADES = {0: lambda scene: None}


def version(scene: bpy.types.Scene) -> int:
    """Version of the data in this scene, 0 where nothing was stamped yet."""
    return getattr(scene, PROPERTY)


def is_newer(scene: bpy.types.Scene) -> bool:
    """Was this scene written by a newer Foamwright than this one?"""
    return version(scene) > SCHEMA


def require(scene: bpy.types.Scene) -> None:
    """Raises FoamError `newer-file` where this version may misread the scene."""
    if is_newer(scene):
        raise FoamError(Finding(
            "newer-file", ERROR,
            f"This file was saved by a newer Foamwright (data version {version(scene)}; "
            f"this one reads up to {SCHEMA}).",
            "Update Foamwright, or use a copy saved before the update."))


def upgrade(scene: bpy.types.Scene, upgrades: dict | None = None, target: int = SCHEMA) -> None:
    """Bring the data of an older scene up to `target` and stamp it; newer ones are left alone."""
    upgrades = UPGRADES if upgrades is None else upgrades
    while version(scene) < target:
        upgrades[version(scene)](scene)
        setattr(scene, PROPERTY, version(scene) + 1)


@persistent
def _after_load(*_):
    for scene in bpy.data.scenes:
        if version(scene):
            upgrade(scene)


def register() -> None:
    setattr(bpy.types.Scene, PROPERTY, IntProperty(
        name="Foamwright Data Version", min=0, options={"HIDDEN"}))
    bpy.app.handlers.load_post.append(_after_load)


def unregister() -> None:
    bpy.app.handlers.load_post.remove(_after_load)
    delattr(bpy.types.Scene, PROPERTY)
