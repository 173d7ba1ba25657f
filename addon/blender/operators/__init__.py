"""What the maker can do. Operators call the core's functions and add no logic of their own."""

import bpy

from . import (
    built,
    check,
    draw_line,
    lines,
    look_over,
    mark,
    mirror,
    preview,
    relief,
    repair,
    show,
    suggest,
    suit,
    templates,
)

STEPS = (
    suit,
    look_over,
    mark,
    mirror,
    draw_line,
    lines,
    suggest,
    show,
    check,
    repair,
    relief,
    built,
    preview,
    templates,
)
_CLASSES = tuple(cls for step in STEPS for cls in step.CLASSES)


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)


def unregister() -> None:
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
