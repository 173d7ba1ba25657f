"""The sidebar: the steps from foam to templates, in the order a maker goes through them."""

import blf
import bpy
from bpy.app.translations import pgettext_iface as iface_

from ..core.errors import FoamError
from ..core.units import format_length
from . import preferences, schema
from .choices import SEVERITY_ICONS
from .operators.mark import KINDS
from .operators.suit import example_file
from .settings import object_stock, read_settings

_MARK_ICONS = {"SEAM": "MOD_EDGESPLIT", "TRENCH": "MOD_BEVEL", "SCORE": "IPO_LINEAR"}


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


class _Step:
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Foamwright"

    @classmethod
    def poll(cls, context):
        return has_mesh(context) and not schema.is_newer(context.scene)


def has_mesh(context: bpy.types.Context) -> bool:
    """Is there anything to make of foam?"""
    return any(o.type == "MESH" for o in context.scene.objects)


class FOAMWRIGHT_PT_newer(bpy.types.Panel):
    bl_label = "Newer File"
    bl_space_type, bl_region_type, bl_category = "VIEW_3D", "UI", "Foamwright"

    @classmethod
    def poll(cls, context):
        return schema.is_newer(context.scene)

    def draw(self, context):
        try:
            schema.require(context.scene)
        except FoamError as error:
            wrapped(self.layout, iface_(error.finding.message), context, "ERROR")
            wrapped(self.layout, iface_(error.finding.remedy), context, "BLANK1")


class FOAMWRIGHT_PT_start(_Step, bpy.types.Panel):
    """The first screen of an empty scene."""

    bl_label = "Start"

    @classmethod
    def poll(cls, context):
        return not has_mesh(context) and not schema.is_newer(context.scene)

    def draw(self, context):
        layout = self.layout
        wrapped(layout, iface_("Model or import the sculpt of your suit, at the size it is worn. "
                               "The steps from foam to templates then appear here."), context,
                "INFO")
        layout.operator("wm.obj_import", text="Import OBJ", icon="IMPORT")
        layout.operator("wm.stl_import", text="Import STL", icon="IMPORT")
        if example_file():
            layout.operator("foamwright.open_example", icon="FILE_BLEND")


class FOAMWRIGHT_PT_foam(_Step, bpy.types.Panel):
    bl_label = "1  Foam"

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        group = context.scene.foamwright
        column = layout.column()
        _draw_foam(column, group, lambda: read_settings(context.scene).stock, context)
        column.prop(group, "side")
        column.prop(group, "scale")
        chosen = [o for o in context.scene.objects if o.type == "MESH" and o.foamwright.include]
        names = ", ".join(o.name for o in chosen)
        text = iface_("Suit: {names}").format(names=names) if chosen else iface_(
            "Suit: the selected objects. Add objects to keep your choice.")
        wrapped(layout, text, context, "OUTLINER_OB_MESH")
        row = layout.row(align=True)
        row.operator("foamwright.add_to_suit", icon="ADD")
        row.operator("foamwright.add_to_suit", text="Remove", icon="REMOVE").remove = True


class FOAMWRIGHT_PT_object(_Step, bpy.types.Panel):
    bl_label = "This Object"
    bl_parent_id = "FOAMWRIGHT_PT_foam"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context):
        return super().poll(context) and context.object and context.object.type == "MESH"

    def draw(self, context):
        layout, item = self.layout, context.object
        layout.use_property_split = True
        layout.use_property_decorate = False
        group = item.foamwright
        layout.prop(group, "include", text=iface_("Part of the Suit"))
        _draw_foam(layout, group,
                   lambda: object_stock(item, read_settings(context.scene)), context)
        layout.prop(group, "side")


class FOAMWRIGHT_PT_mark(_Step, bpy.types.Panel):
    bl_label = "2  Mark"

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
        layout.operator("foamwright.seams_from_sharp", icon="MOD_EDGESPLIT")


def _sentence(item) -> str:
    """What a finding says, with the code of its piece in front."""
    message = iface_(item.message)
    return f"{item.piece}: {message}" if item.piece and item.piece not in message else message


class FOAMWRIGHT_UL_findings(bpy.types.UIList):
    """The findings, most serious first; a click shows where."""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0):
        row = layout.row()
        row.alignment = "LEFT"
        row.operator("foamwright.select_finding", text=_sentence(item), translate=False,
                     icon=SEVERITY_ICONS[item.severity], emboss=False).index = index


class FOAMWRIGHT_PT_check(_Step, bpy.types.Panel):
    bl_label = "3  Check"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.operator("foamwright.check", icon="VIEWZOOM")
        if group.summary:
            wrapped(layout, group.summary, context, "NONE" if len(group.findings) else "CHECKMARK")
        if not len(group.findings):
            return
        layout.template_list("FOAMWRIGHT_UL_findings", "", group, "findings", group, "finding",
                             rows=3, maxrows=8)
        if group.finding < len(group.findings):
            item = group.findings[group.finding]
            box = layout.box()
            wrapped(box, _sentence(item), context, SEVERITY_ICONS[item.severity])
            wrapped(box, iface_(item.remedy), context, "BLANK1")
            if item.places not in ("", "{}"):
                box.operator("foamwright.select_finding", icon="RESTRICT_SELECT_OFF")


class FOAMWRIGHT_PT_templates(_Step, bpy.types.Panel):
    bl_label = "4  Templates"

    def draw(self, context):
        layout, group = self.layout, context.scene.foamwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        column = layout.column()
        column.prop(group, "title")
        column.prop(group, "paper")
        column.prop(group, "folder")
        column = layout.column()
        large = column.row()
        large.scale_y = 1.4
        large.operator("foamwright.make_pattern", icon="DOCUMENTS")
        column.operator("foamwright.make_one_piece", icon="FACESEL")


def _draw_foam(layout, group, stock, context) -> None:
    """Foam and thickness, and what they come to; red where they make no sense."""
    try:
        found, problem = stock(), None
    except FoamError as error:
        found, problem = None, error.finding
    row = layout.row()
    row.alert = problem is not None and problem.code == "bad-stock"
    row.prop(group, "stock", placeholder=found.name if found else "")
    row = layout.row()
    row.alert = problem is not None and problem.code == "bad-length"
    mine = preferences.get(context)
    row.prop(group, "thickness", placeholder=format_length(
        found.thickness, mine.unit if mine else "mm") if found else "")
    if problem:
        wrapped(layout, f"{iface_(problem.message)} {iface_(problem.remedy)}", context, "ERROR")


_CLASSES = (FOAMWRIGHT_UL_findings, FOAMWRIGHT_PT_newer, FOAMWRIGHT_PT_start, FOAMWRIGHT_PT_foam,
            FOAMWRIGHT_PT_object, FOAMWRIGHT_PT_mark, FOAMWRIGHT_PT_check,
            FOAMWRIGHT_PT_templates)


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)


def unregister() -> None:
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
