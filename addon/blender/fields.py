"""What properties of the maker's have in common."""

from __future__ import annotations

import bpy
from bpy.props import StringProperty

from . import changes


def foam_changed(self: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    """For properties that matter to the foam: no update of the scene tells of them."""
    changes.note()


def a_length(name: str, what: str, usual: str) -> object:
    """A length that is entered as words; usual: what holds where it is empty."""
    return StringProperty(name=name, update=foam_changed,
                          description=f"{what}, with its unit. Empty: {usual}")
