"""Our operators in Blender's menus, where the search (F3) finds them, and a key for the marks."""

from __future__ import annotations

from collections.abc import Iterable

import bpy
from bpy.app.translations import pgettext_iface as iface_

from . import operators
from .operators.mark import KINDS, MarkEdges, MarkOperator

# Free in Blender's own keymaps of Edit Mode and all around it; a test sees to that.
KEY = dict(type="E", value="PRESS", ctrl=True, shift=True)
_added = []  # (keymap, item) of ours, to be taken away again; nothing of the maker's


class FOAMWRIGHT_MT_marks(bpy.types.Menu):
    """Marks on edges: in the Edge menu, and by Ctrl Shift E."""

    bl_label = "Foamwright"

    def draw(self, context):
        layout = self.layout
        for clear, words in ((False, "{mark}"), (True, "Clear {mark}")):
            for kind, name, _ in KINDS:
                text = iface_(words).format(mark=iface_(name))
                item = layout.operator(MarkEdges.bl_idname, text=text, translate=False)
                item.kind, item.clear = kind, clear
            layout.separator()
        _list(layout, (cls for cls in shown() if _is_mark(cls) and cls is not MarkEdges))


class FOAMWRIGHT_MT_suit(bpy.types.Menu):
    """All else, in the order of work: in the Object, Mesh and Sculpt menus."""

    bl_label = "Foamwright"

    def draw(self, context):
        layout = self.layout
        for step in operators.STEPS:
            if step is operators.repair:
                layout.menu(FOAMWRIGHT_MT_repair.__name__)
            elif found := _of(step):
                _list(layout, found)
                layout.separator()


class FOAMWRIGHT_MT_repair(bpy.types.Menu):
    """Repairs of the sculpt."""

    bl_label = "Repair"

    def draw(self, context):
        _list(self.layout, _of(operators.repair))


_CLASSES = (FOAMWRIGHT_MT_marks, FOAMWRIGHT_MT_repair, FOAMWRIGHT_MT_suit)
_PLACES = {"VIEW3D_MT_edit_mesh_edges": FOAMWRIGHT_MT_marks,
           "VIEW3D_MT_object": FOAMWRIGHT_MT_suit, "VIEW3D_MT_edit_mesh": FOAMWRIGHT_MT_suit,
           "VIEW3D_MT_sculpt": FOAMWRIGHT_MT_suit}


def shown() -> list[type]:
    """The operators a maker may look for; INTERNAL ones only make sense where they are drawn."""
    return [cls for step in operators.STEPS for cls in step.CLASSES
            if issubclass(cls, bpy.types.Operator)
            and "INTERNAL" not in getattr(cls, "bl_options", ())]


def _of(step) -> list[type]:
    """Those of one step that are not marks."""
    return [cls for cls in step.CLASSES if cls in shown() and not _is_mark(cls)]


def _is_mark(cls: type) -> bool:
    return issubclass(cls, MarkOperator)


def _list(layout: bpy.types.UILayout, classes: Iterable[type]) -> None:
    """A line for each operator, and one for each kind where it has kinds."""
    for cls in classes:
        prop = cls.bl_rna.properties.get("kind")
        if prop is not None and prop.type == "ENUM":
            for item in prop.enum_items:
                words = f"{iface_(cls.bl_label)}: {iface_(item.name)}"
                layout.operator(cls.bl_idname, text=words,
                                translate=False).kind = item.identifier
        else:
            layout.operator(cls.bl_idname)


def _append(menu: type):
    def draw(self, context):
        self.layout.separator()
        self.layout.menu(menu.__name__)

    return draw


_DRAWN = {place: _append(menu) for place, menu in _PLACES.items()}


def register() -> None:
    for cls in _CLASSES:
        bpy.utils.register_class(cls)
    for place, draw in _DRAWN.items():
        getattr(bpy.types, place).append(draw)
    keys = bpy.context.window_manager.keyconfigs.addon
    if keys is not None:  # there is none where Blender runs without an interface
        keymap = keys.keymaps.new(name="Mesh")
        item = keymap.keymap_items.new("wm.call_menu", **KEY)
        item.properties.name = FOAMWRIGHT_MT_marks.__name__
        _added.append((keymap, item))


def unregister() -> None:
    while _added:
        keymap, item = _added.pop()
        keymap.keymap_items.remove(item)
    for place, draw in _DRAWN.items():
        getattr(bpy.types, place).remove(draw)
    for cls in reversed(_CLASSES):
        bpy.utils.unregister_class(cls)
