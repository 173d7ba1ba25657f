"""What the maker can do. Operators call the core's functions and add no logic of their own."""

import bpy

from . import (
    build,
    built,
    calibration,
    check,
    draw_line,
    fit,
    join,
    lay_on,
    lines,
    look_over,
    mark,
    mirror,
    preview,
    printed,
    relief,
    repair,
    set_marks,
    show,
    sizes,
    suggest,
    suit,
    templates,
    trial,
    wearing,
)

STEPS = (
    calibration,
    suit,
    look_over,
    mark,
    join,
    mirror,
    draw_line,
    lines,
    set_marks,
    lay_on,
    suggest,
    show,
    check,
    repair,
    relief,
    trial,
    fit,
    wearing,
    built,
    build,
    preview,
    templates,
    sizes,
    printed,
)
_CLASSES = tuple(cls for step in STEPS for cls in step.CLASSES)
register, unregister = bpy.utils.register_classes_factory(_CLASSES)
