"""The sidebar: the steps from foam to templates, in the order a maker goes through them."""

import bpy

from . import findings, foam, mark, preview, relief, sculpt, show, start, suggest, suit, templates

_STEPS = (start, foam, suit, sculpt, mark, suggest, show, findings, relief, preview, templates)
_CLASSES = tuple(cls for step in _STEPS for cls in step.CLASSES)


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)


def unregister() -> None:
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
