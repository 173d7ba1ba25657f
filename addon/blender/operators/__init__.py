"""What the maker can do. Operators call the core's functions and add no logic of their own."""

import bpy

from . import check, mark, mirror, preview, suit, templates

_STEPS = (
    suit,
    mark,
    mirror,
    check,
    preview,
    templates,
)
_CLASSES = tuple(cls for step in _STEPS for cls in step.CLASSES)


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)


def unregister() -> None:
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
