"""Objects of other files, which Blender shows here but does not save with this one."""

from __future__ import annotations

from collections.abc import Iterable

import bpy

from ..core.errors import ERROR, Finding, FoamError

LOCAL = "make it local with Object > Relations > Make Local."


def is_own(item: bpy.types.Object, mesh: bool = True) -> bool:
    """Is what is changed on an object kept with this file? mesh: on its mesh too."""
    return item.is_editable and (
        not mesh or item.data.is_editable and not item.data.override_library)


def require_own(items: Iterable[bpy.types.Object], mesh: bool = True) -> None:
    """Raises FoamError `of-another-file` where what is changed on one of the objects (mesh: or its
    mesh) would be lost."""
    for item in items:
        if not is_own(item, mesh):
            raise FoamError(Finding(
                "of-another-file", ERROR, f"“{item.name}” comes from another file, and what is "
                "changed on it here is not saved.", f"Change it in that file, or {LOCAL}"))
