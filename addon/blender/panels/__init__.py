"""The sidebar: the steps from foam to templates, in the order a maker goes through them."""

import bpy

from . import (
    build,
    calibration,
    findings,
    fit,
    foam,
    join,
    mark,
    preview,
    printed,
    rates,
    relief,
    sculpt,
    set_marks,
    show,
    sizes,
    start,
    suggest,
    suit,
    templates,
    trial,
    wearing,
    widen,
)

_STEPS = (start, foam, calibration, suit, sculpt, mark, join, widen, set_marks, suggest, show,
          findings, relief, trial, fit, wearing, preview, templates, sizes, rates, printed, build)
_CLASSES = (*(cls for step in _STEPS for cls in step.CLASSES), *printed.AFTER_BUILD)
register, unregister = bpy.utils.register_classes_factory(_CLASSES)
