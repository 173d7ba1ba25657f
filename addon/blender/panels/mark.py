"""Step 3: seams, trenches and score lines."""

import bpy
from bpy.app.translations import pgettext_iface as iface_

from ..operators.mark import KINDS
from .base import Step, wrapped

_MARK_ICONS = {"SEAM": "MOD_EDGESPLIT", "TRENCH": "MOD_BEVEL", "SCORE": "IPO_LINEAR"}


class FOAMWRIGHT_PT_mark(Step, bpy.types.Panel):
    bl_label = "3  Mark"

    def draw(self, context):
        layout = self.layout
        if context.mode != "EDIT_MESH":
            wrapped(layout, iface_("Enter Edit Mode and select edges to mark them."), context,
                    "INFO")
        grid = layout.column(align=True)
        for kind, name, _ in KINDS:
            row = grid.row(align=True)
            mark = row.operator("foamwright.mark_edges", text=name, icon=_MARK_ICONS[kind])
            find = row.operator("foamwright.select_marked", text="", icon="RESTRICT_SELECT_OFF")
            mark.kind = find.kind = kind
            clear = row.operator("foamwright.mark_edges", text="", icon="X")
            clear.kind, clear.clear = kind, True
        column = layout.column(align=True)
        column.label(text="Draw Across Faces")
        row = column.row(align=True)
        for kind, name, _ in KINDS:
            row.operator("foamwright.draw_line", text=name).kind = kind
        row = layout.row(align=True)
        row.operator("foamwright.cut_lines", text="Cut In", icon="MOD_BOOLEAN")
        row.operator("foamwright.remove_line", icon="TRASH")
        column = layout.column(align=True)
        column.operator("foamwright.seams_from_sharp", icon="MOD_EDGESPLIT")
        column.operator("foamwright.mirror_marks", icon="MOD_MIRROR")
        row = layout.row(align=True)
        row.operator("foamwright.keep_lines", icon="PINNED")
        row.operator("foamwright.lay_lines", icon="CURVE_DATA")
        layout.operator("foamwright.lay_on_selected", icon="FACESEL")


CLASSES = (FOAMWRIGHT_PT_mark,)
