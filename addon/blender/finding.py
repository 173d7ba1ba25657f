"""The findings of the last looks and checks, kept on the scene."""

import bpy
from bpy.props import EnumProperty, StringProperty

from ..core.errors import SEVERITIES
from .choices import CHECK, OPEN, STATES, STEPS


class FoamwrightFinding(bpy.types.PropertyGroup):
    """One finding of the last check. places: JSON, object name -> elements to select; sizes:
    JSON, object name -> its vertices and faces then; words: JSON, object name -> word by which
    it is found again; around: JSON, name of an object and the box of its piece there, in its own
    space; turned: JSON, what a remedy made of its state (see `ticks`)."""

    code: StringProperty()
    severity: EnumProperty(items=[(s, s.title(), "") for s in SEVERITIES])
    message: StringProperty()
    remedy: StringProperty()
    piece: StringProperty()
    places: StringProperty()
    sizes: StringProperty()
    words: StringProperty()
    around: StringProperty()
    turned: StringProperty()
    step: EnumProperty(items=[(s, s.title(), "") for s in STEPS], default=CHECK)
    state: EnumProperty(items=[(s, s.title(), "") for s in STATES], default=OPEN)
