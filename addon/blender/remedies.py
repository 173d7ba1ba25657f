"""Which remedies of findings are an operation: the buttons beside a finding."""

from __future__ import annotations

from dataclasses import dataclass, field

import bpy


@dataclass(frozen=True)
class Button:
    """An operator that does what a remedy says. It is told the `finding` and its `piece` where
    it has properties of those names; edges: only for findings that name edges."""

    operator: str
    text: str
    icon: str = "NONE"
    properties: dict[str, object] = field(default_factory=dict)
    edges: bool = False


def _mark(kind: str, text: str, icon: str) -> Button:
    return Button("foamwright.mark_finding", text, icon, {"kind": kind}, edges=True)


_SEAM = _mark("SEAM", "Mark as Seam", "MOD_EDGESPLIT")
_TRENCH = _mark("TRENCH", "Mark as Trench", "MOD_BEVEL")
_SCORE = _mark("SCORE", "Mark as Score Line", "IPO_LINEAR")
_CLEAR = _mark("NONE", "Clear the Marks", "X")
_PROPOSED = _mark("SEAM", "Mark the Proposed Seam", "MOD_EDGESPLIT")
_MERGE = Button("foamwright.merge_vertices", "Merge Vertices", "AUTOMERGE_ON")
_RELIEF = Button("foamwright.suggest_relief", "Suggest Relief Cuts", "SCULPTMODE_HLT")
_LINES = Button("foamwright.lay_lines", "Lay the Lines Again", "CURVE_DATA")
_ACROSS = Button("foamwright.lay_lines", "Lay Lines Across Faces", "CURVE_DATA",
                 {"way": "ACROSS"})  # which modifiers leave alone
_SCALE = Button("foamwright.apply_scale", "Apply Scale", "CON_SIZELIKE")
_RESCALE = Button("foamwright.rescale", "Rescale", "FULLSCREEN_ENTER")
_LEAVE = Button("foamwright.leave_raised", "Leave as Sculpted", "CHECKMARK")

REMEDIES: dict[str, tuple[Button, ...]] = {
    "nothing-to-read": (Button("foamwright.add_to_suit", "Add to Suit", "ADD"),),
    "scene-without-units": (Button(
        "foamwright.use_metric", "Use Metric Units", "DRIVER_DISTANCE"),),
    "implausible-size": (_RESCALE,),
    "unlikely-size": (_RESCALE,),
    "not-finite": (Button("foamwright.delete_nowhere", "Delete These Vertices", "TRASH"),),
    "zero-area-face": (_MERGE, Button(
        "foamwright.dissolve_thin_faces", "Dissolve Thin Faces", "MOD_DECIM")),
    "loose-vertices": (Button("foamwright.delete_loose", "Delete Loose Vertices", "TRASH"),),
    "split-vertices": (_MERGE,),
    "duplicate-face": (Button(
        "foamwright.delete_doubled_faces", "Delete Doubled Faces", "TRASH"),),
    "non-manifold-edge": (Button(
        "foamwright.delete_inner_faces", "Delete Inner Faces", "TRASH"),),
    "flipped-normals": (Button(
        "foamwright.turn_faces_outward", "Turn Faces Outward", "NORMALS_FACE"),),
    "negative-scale": (_SCALE,),
    "zero-scale": (_SCALE,),
    "double-walled": (
        Button("foamwright.show_outer_skin", "Show the Outer Skin", "RESTRICT_SELECT_OFF"),
        Button("foamwright.keep_outer_skin", "Build Only the Outer Skin", "MOD_SOLIDIFY")),
    "raised-shape": (
        Button("foamwright.detach_raised", "Make a Piece of It", "MOD_EXPLODE"), _LEAVE),
    "recessed-shape": (_LEAVE,),
    "small-hole": (Button("foamwright.fill_holes", "Fill the Hole", "MOD_MESHDEFORM"),),
    "loose-parts": (Button("foamwright.separate_parts", "Separate the Parts", "MOD_EXPLODE"),),
    "crumbs": (Button("foamwright.delete_crumbs", "Delete the Crumbs", "TRASH"),),
    "marks-lost": (_ACROSS,),
    "smeared-marks": (_LINES,),
    "mark-without-face": (_CLEAR,),
    "mark-on-rim": (_CLEAR,),
    "line-on-seam": (_SEAM, _TRENCH, _SCORE),
    "trench-on-score": (_TRENCH, _SCORE),
    "closed-without-seam": (_PROPOSED,),
    "tube": (_PROPOSED,),
    "cannot-flatten": (_PROPOSED, _RELIEF),
    "overlaps-itself": (_RELIEF,),
    "needs-relief": (_RELIEF,),
    "try-on-scrap": (_RELIEF,),
    "unmarked-fold": (_TRENCH, _SEAM),
}


def buttons(finding: bpy.types.PropertyGroup) -> list[Button]:
    """The buttons for a finding of the list, of those whose operators there are."""
    return [button for button in REMEDIES.get(finding.code, ())
            if _registered(button.operator)
            and (not button.edges or '"edges"' in finding.places)]


def draw(layout: bpy.types.UILayout, button: Button, finding: bpy.types.PropertyGroup, index: int,
         text: str | None = None, everywhere: bool = False) -> None:
    """Draw a button for the finding at this place in the list."""
    shown = layout.operator(button.operator, text=button.text if text is None else text,
                            icon=button.icon if text is None else "NONE")
    known = _properties(button.operator)
    for name, value in {"finding": index, "piece": finding.piece, "everywhere": everywhere}.items():
        if name in known:
            setattr(shown, name, value)
    for name, value in button.properties.items():
        setattr(shown, name, value)


def takes_all(button: Button) -> bool:
    """Can this one do it for every finding of the kind at once?"""
    return "everywhere" in _properties(button.operator)


def _registered(operator: str) -> bool:
    module, name = operator.split(".")
    return hasattr(bpy.types, f"{module.upper()}_OT_{name}")


def _properties(operator: str):
    module, name = operator.split(".")
    return getattr(getattr(bpy.ops, module), name).get_rna_type().properties.keys()
