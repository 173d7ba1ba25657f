"""Blender's objects -> the core's Sculpt, in mm. Nothing of the maker's file is changed.

Objects are read as their modifiers show them in the viewport, with their scale
and the scene's units. A Solidify modifier is left out, since foam brings its
own thickness; it only tells which face of the foam the surface is.

A Blender unit is `scale_length` metres. With the unit system None it is one
metre, as Blender's own exporters take it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import bpy
import numpy as np

from ..core.errors import ERROR, NOTE, Finding, FoamError
from ..core.model import Sculpt, Settings
from . import anchors, body, copies, guides, markings, read_lines, rods, schema, widenings
from .read_object import mean_scale, read_choices, read_mesh
from .settings import overrides, read_settings


@dataclass(frozen=True, eq=False)
class Source:
    """Where one object lies in the Sculpt.

    vertices and polygons: its ranges of sculpt vertices and sculpt polygons.
    origin (polygons,): the maker's own face each polygon came from, -1 where a
    modifier made a new mesh. same: the modifiers kept every element in place.
    matrix (4, 4): from the object's own space to the sculpt's. size: the maker's own vertices and
    faces. ground: the surface for lines to be bound to, None where none were drawn or modifiers
    have lost the maker's faces.
    """

    name: str
    vertices: range
    polygons: range
    origin: np.ndarray
    same: bool
    matrix: np.ndarray
    size: tuple[int, int]
    ground: anchors.Ground | None = None


def mm_per_unit(scene: bpy.types.Scene) -> float:
    """Millimetres in one Blender unit of this scene."""
    units = scene.unit_settings
    # Blender keeps single precision; seven digits give back what the maker typed.
    metres = 1.0 if units.system == "NONE" else float(f"{units.scale_length:.7g}")
    return 1000.0 * metres


def longest_side(items: Sequence[bpy.types.Object], scene: bpy.types.Scene) -> float:
    """Longest side of the box round the largest object as it goes into the foam, mm."""
    sides = [np.ptp(np.array(item.bound_box) @ np.array(item.matrix_world)[:3, :3].T, axis=0).max()
             for item in items]
    return float(max(sides)) * mm_per_unit(scene) * scene.foamwright.scale


def suit_objects(scene: bpy.types.Scene,
                 selected: Sequence[bpy.types.Object] = ()) -> list[bpy.types.Object]:
    """The objects to make of foam: those chosen as part of the suit, else the selected meshes,
    else those that selected flat pieces come from.

    Flat pieces of the preview are never among them, nor objects that were left out.
    """
    able = lambda o: is_sculpt(o) and not o.foamwright.leave_out  # noqa: E731
    chosen = [o for o in scene.objects if able(o) and o.foamwright.include]
    if not chosen:
        chosen = [o for o in selected if able(o)]
    if not chosen:
        sources = {o.foamwright.source for o in selected if o.foamwright.piece}
        chosen = [o for o in scene.objects if o in sources and able(o)]
    return chosen


def is_sculpt(item: bpy.types.Object) -> bool:
    """Can this object be made of foam? A flat piece of the preview cannot."""
    return item.type == "MESH" and not item.foamwright.piece


def goes_with(item: bpy.types.Object) -> bool:
    """Can this object be part of the suit, as a sculpt or as a rod?"""
    return is_sculpt(item) or rods.is_rod(item)


def read_scene(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object], settings: Settings,
               bind: bool = False) -> tuple[Sculpt, tuple[Source, ...]]:
    """Read the objects as one sculpt; sources tell where each of them lies in it, with the ground
    for lines where there are any, or to `bind` one that will be.

    Raises FoamError `nothing-to-read` when there are no objects, `zero-scale` where one has no
    extent, `no-place` where one lies nowhere, and `bad-stock` or `bad-length` for what was
    entered on one.
    """
    if not objects:
        raise FoamError(Finding(
            "nothing-to-read", ERROR, "No mesh object is part of the suit.",
            "Select the sculpted objects and choose Add to Suit."))
    findings = _scene_findings(scene)
    parts, records, sources, lines = [], [], [], []
    vertex = polygon = 0
    mm = mm_per_unit(scene)
    drawn = [bind or guides.has_lines(scene, item) for item in objects]
    with copies.evaluated(scene, objects, drawn) as evaluated:
        for item, shown in zip(objects, evaluated, strict=True):
            require_scale(item.name, shown.matrix_world)
            part = read_mesh(shown, mm)
            record, notes = read_choices(item, settings, mean_scale(shown) * mm)
            findings += notes + part.findings(item.name, vertex)
            world = np.array(shown.matrix_world, dtype=np.float64)
            matrix = np.diag([mm, mm, mm, 1.0]) @ world
            ground = part.ground(item.data, matrix, settings.scale) if drawn[len(parts)] else None
            sources.append(Source(
                item.name, range(vertex, vertex + len(part.vertices)),
                range(polygon, polygon + len(part.origin)), part.origin, part.same, matrix,
                part.size, ground))
            lines += read_lines.read_guides(scene, item, world, mm, len(parts), ground)
            parts.append(part)
            records.append(record)
            vertex, polygon = sources[-1].vertices.stop, sources[-1].polygons.stop
    starts = [(s.vertices.start, s.polygons.start) for s in sources]
    along, notes = rods.read_rods(scene, mm)
    findings += notes
    marked, strips, notes = markings.read_markings(scene, objects, mm, settings.unit)
    findings += notes
    sculpt = Sculpt(
        vertices=np.concatenate([p.vertices for p in parts]),
        faces=np.concatenate([p.faces + v for p, (v, _) in zip(parts, starts, strict=True)]),
        edges=np.concatenate([p.edges + v for p, (v, _) in zip(parts, starts, strict=True)]),
        kinds=np.concatenate([p.kinds for p in parts]),
        face_object=np.repeat(np.arange(len(parts)), [len(p.faces) for p in parts]),
        objects=tuple(records),
        polygon=np.concatenate([p.polygon + f for p, (_, f) in zip(parts, starts, strict=True)]),
        unbuilt=np.concatenate([p.unbuilt + v for p, (v, _) in zip(parts, starts, strict=True)]),
        findings=tuple(findings), guides=tuple(lines), rods=tuple(along),
        markings=tuple(marked), strips=tuple(strips),
        widenings=tuple(widenings.read(scene, objects, mm, settings.unit)),
    )
    loose, notes = read_lines.read_loose(scene, sculpt, mm, settings.scale)
    if loose or notes:
        sculpt = replace(sculpt, guides=(*lines, *loose), findings=(*notes, *findings))
    if sculpt.guides and len(objects) > 1:
        sculpt = replace(sculpt, findings=(*sculpt.findings, *read_lines.without_lines(
            objects, sculpt, [s.vertices.start for s in sources])))
    return sculpt, tuple(sources)


def with_body(scene: bpy.types.Scene, sculpt: Sculpt) -> Sculpt:
    """The sculpt with the wearer's body, where objects are marked as that."""
    return replace(sculpt, body=body.read(scene, mm_per_unit(scene)))


def require_scale(name: str, matrix: Sequence) -> None:
    """Raises FoamError `zero-scale` where an object's matrix (4, 4) flattens its space, since
    nothing can then be carried back into it, and `no-place` where it is not finite."""
    if not np.isfinite(np.array(matrix, dtype=float)).all():
        raise FoamError(Finding(
            "no-place", ERROR, f"“{name}” has a location, rotation or scale that is no number.",
            "Set them back with Object > Clear, on it and on what it is parented to."))
    sizes = np.linalg.svd(np.array(matrix, dtype=float)[:3, :3], compute_uv=False)
    if sizes[-1] <= 1e-6 * sizes[0]:
        raise FoamError(Finding(
            "zero-scale", ERROR, f"“{name}” has a scale of 0.",
            "Apply the scale with Object > Apply > Scale, or give the object its size back."))


def read_blend(path: str | Path) -> tuple[Sculpt, dict[str, object]]:
    """The suit in a .blend file, and the fields of Settings that the file decides.

    Reads the objects chosen as part of the suit, else every visible mesh. The
    file is never saved, and its scripts do not run. Raises FoamError
    `unreadable-blend`, `newer-file` or what `read_scene` raises.
    """
    with _registered():
        try:
            bpy.ops.wm.open_mainfile(filepath=str(path), load_ui=False, use_scripts=False)
        except RuntimeError as error:
            raise FoamError(Finding(
                "unreadable-blend", ERROR, f"Blender cannot open {path}: {error}".strip(),
                "Check the path, and that the file opens in this version of Blender.")) from error
        scene = bpy.context.scene
        schema.require(scene)
        objects = suit_objects(scene, [o for o in scene.objects if o.visible_get()])
        sculpt, _ = read_scene(scene, objects, read_settings(scene))
        return with_body(scene, sculpt), overrides(scene)


def _scene_findings(scene: bpy.types.Scene) -> list[Finding]:
    if scene.unit_settings.system != "NONE":
        return []
    return [Finding(
        "scene-without-units", NOTE,
        "The scene has no units, so one Blender unit was read as one metre.",
        "Choose Metric or Imperial in Scene properties > Units, or set the sculpt's scale.")]


@contextmanager
def _registered() -> Iterator[None]:
    """The add-on's properties are known inside, as they are in a Blender that has it enabled."""
    from . import calibration, printed, properties

    if properties.is_registered():
        yield
        return
    properties.register()
    printed.register()
    calibration.register()
    schema.register()
    try:
        yield
    finally:
        schema.unregister()
        calibration.unregister()
        printed.unregister()
        properties.unregister()
