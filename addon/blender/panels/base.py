"""What the panels share: their place in the sidebar, and sentences that fit it."""

import blf
import bpy

from .. import schema
from ..read import is_sculpt


def wrapped(layout: bpy.types.UILayout, text: str, context: bpy.types.Context,
            icon: str = "NONE") -> None:
    """A whole sentence as labels that fit the sidebar, since labels do not wrap."""
    preferences = context.preferences
    scale = preferences.system.ui_scale or 1.0  # 0 while there is no window
    region = context.region
    width = region.width if region and region.type == "UI" else 260 * scale
    room = width - (75 if icon == "NONE" else 97) * scale  # tabs, margins and icon
    blf.size(0, preferences.ui_styles[0].widget.points * scale)
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and blf.dimensions(0, longer)[0] > room:
            lines.append(word)
        else:
            lines[-1] = longer
    column = layout.column(align=True)
    column.scale_y = 0.75
    for number, line in enumerate(lines):
        column.label(text=line, translate=False,
                     icon="BLANK1" if number and icon != "NONE" else icon)


class Step:
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Foamwright"

    @classmethod
    def poll(cls, context):
        return has_mesh(context) and not schema.is_newer(context.scene)


def has_mesh(context: bpy.types.Context) -> bool:
    """Is there anything to make of foam?"""
    return any(is_sculpt(o) for o in context.scene.objects)
