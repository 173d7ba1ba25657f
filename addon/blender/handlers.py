"""Functions of ours among those that Blender calls on events."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import bpy

Handlers = Sequence[tuple[str, Callable]]  # name of an event in bpy.app.handlers, and what it calls


def add(handlers: Handlers) -> None:
    """Have the functions called from now on; they should be persistent."""
    for name, function in handlers:
        getattr(bpy.app.handlers, name).append(function)


def remove(handlers: Handlers) -> None:
    """Have them called no more."""
    for name, function in handlers:
        getattr(bpy.app.handlers, name).remove(function)
