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

from ..core.errors import ERROR, NOTE, WARNING, Finding, FoamError
from ..core.model import INNER, MIDDLE, OUTER, Sculpt, SculptObject, Settings
from ..core.trace import Places
from ..core.units import format_length
from . import anchors, guides, read_lines, schema
from .built import read_built
from .marks import read_marks
from .settings import object_side, object_stock, overrides, read_settings

_ORIGIN = "foamwright_polygon"  # on working copies only: the maker's face each face came from
_FACE_NAMES = {OUTER: "outer face", MIDDLE: "middle", INNER: "inner face"}


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


def read_scene(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object], settings: Settings,
               bind: bool = False) -> tuple[Sculpt, tuple[Source, ...]]:
    """Read the objects as one sculpt; sources tell where each of them lies in it, with the ground
    for lines where there are any, or to `bind` one that will be.

    Raises FoamError `nothing-to-read` when there are no objects, `zero-scale` where one has no
    extent, and `bad-stock` or `bad-length` for what was entered on one.
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
    with _evaluated(scene, objects, drawn) as evaluated:
        for item, shown in zip(objects, evaluated, strict=True):
            require_scale(item.name, shown.matrix_world)
            part = _read_mesh(shown, mm)
            record, notes = _read_choices(item, settings, _mean_scale(shown) * mm)
            findings += notes + part.findings(item.name, vertex)
            world = np.array(shown.matrix_world, dtype=np.float64)
            matrix = np.diag([mm, mm, mm, 1.0]) @ world
            ground = part.ground(item.data, matrix) if drawn[len(parts)] else None
            sources.append(Source(
                item.name, range(vertex, vertex + len(part.vertices)),
                range(polygon, polygon + len(part.origin)), part.origin, part.same, matrix,
                part.size, ground))
            lines += read_lines.read_guides(scene, item, world, mm, len(parts), ground)
            parts.append(part)
            records.append(record)
            vertex, polygon = sources[-1].vertices.stop, sources[-1].polygons.stop
    starts = [(s.vertices.start, s.polygons.start) for s in sources]
    sculpt = Sculpt(
        vertices=np.concatenate([p.vertices for p in parts]),
        faces=np.concatenate([p.faces + v for p, (v, _) in zip(parts, starts, strict=True)]),
        edges=np.concatenate([p.edges + v for p, (v, _) in zip(parts, starts, strict=True)]),
        kinds=np.concatenate([p.kinds for p in parts]),
        face_object=np.repeat(np.arange(len(parts)), [len(p.faces) for p in parts]),
        objects=tuple(records),
        polygon=np.concatenate([p.polygon + f for p, (_, f) in zip(parts, starts, strict=True)]),
        unbuilt=np.concatenate([p.unbuilt + v for p, (v, _) in zip(parts, starts, strict=True)]),
        findings=tuple(findings), guides=tuple(lines),
    )
    loose, notes = read_lines.read_loose(scene, sculpt, mm, settings.scale)
    if loose or notes:
        sculpt = replace(sculpt, guides=(*lines, *loose), findings=(*notes, *findings))
    if sculpt.guides and len(objects) > 1:
        sculpt = replace(sculpt, findings=(*sculpt.findings, *read_lines.without_lines(
            objects, sculpt, [s.vertices.start for s in sources])))
    return sculpt, tuple(sources)


def require_scale(name: str, matrix: Sequence) -> None:
    """Raises FoamError `zero-scale` where an object's matrix (4, 4) flattens its space, since
    nothing can then be carried back into it."""
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
        return sculpt, overrides(scene)


# --- one object --------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Part:
    """The arrays of one evaluated mesh, indices counted from zero."""

    vertices: np.ndarray
    faces: np.ndarray
    polygon: np.ndarray
    unbuilt: np.ndarray
    edges: np.ndarray
    kinds: np.ndarray
    origin: np.ndarray
    same: bool
    place: np.ndarray | None  # (m, 3, 2) of the triangles' corners in the maker's own faces
    size: tuple[int, int]  # of the mesh without its modifiers
    mirrored: bool
    lost: bool  # modifiers dropped every mark

    def ground(self, mesh: bpy.types.Mesh, matrix: np.ndarray) -> anchors.Ground | None:
        """The surface for lines; mesh: the maker's own, matrix (4, 4): from its space to mm."""
        if self.place is None:
            return None
        origin = np.append(self.origin, -1)[self.polygon]
        return anchors.Ground(Places(self.vertices, self.faces, origin, self.place),
                              anchors.digest(mesh), matrix)

    def findings(self, name: str, first: int) -> list[Finding]:
        """What to say about the object; first: its first vertex in the sculpt. They name the
        vertices at the sides of its box, so that they can be shown and are about it alone."""
        found, ends = [], np.empty(0, dtype=np.int64)
        if len(self.vertices):
            ends = first + np.unique([self.vertices.argmin(axis=0), self.vertices.argmax(axis=0)])
        if self.mirrored:
            found.append(Finding(
                "negative-scale", WARNING,
                f"“{name}” has a negative scale that was not applied, which turns its faces "
                "inside out. They were turned back for the templates.",
                "Apply the scale with Object > Apply > Scale, then check the face orientation.",
                vertices=ends))
        if self.lost:
            found.append(Finding(
                "marks-lost", WARNING,
                f"The marks on “{name}” do not survive its modifiers.",
                "Move a modifier that makes a new mesh, such as Remesh, away, or apply it and "
                "mark the new mesh.", vertices=ends))
        return found


def _read_mesh(shown: bpy.types.Object, mm: float) -> _Part:
    mesh, before = shown.to_mesh(), shown.original.data
    try:
        matrix = np.array(shown.matrix_world, dtype=np.float64)
        local = np.empty(3 * len(mesh.vertices), dtype=np.float32)
        if len(local):  # an empty mesh has no such attribute
            mesh.attributes["position"].data.foreach_get("vector", local)
        mesh.calc_loop_triangles()
        triangles = mesh.loop_triangles
        faces = np.empty(3 * len(triangles), dtype=np.int32)
        triangles.foreach_get("vertices", faces)
        faces = faces.reshape(-1, 3).astype(np.int64)
        mirrored = bool(np.linalg.det(matrix[:3, :3]) < 0)
        polygon = np.empty(len(triangles), dtype=np.int32)
        triangles.foreach_get("polygon_index", polygon)
        origin = np.full(len(mesh.polygons), -1, dtype=np.int32)
        attribute = mesh.attributes.get(_ORIGIN)
        if attribute and attribute.domain == "FACE" and attribute.data_type == "INT":
            attribute.data.foreach_get("value", origin)
        edges, kinds = read_marks(mesh)
        lost = not len(kinds) and len(read_marks(before)[1]) > 0
        built = read_built(mesh)[polygon]
        place = anchors.corner_places(mesh)
        if place is not None:
            place = place[built, ::-1] if mirrored else place[built]
        faces, edges, kinds, unbuilt = _built_only(faces, built, edges, kinds)
        return _Part(
            vertices=(local.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]) * mm,
            faces=faces[:, ::-1] if mirrored else faces,
            polygon=polygon[built].astype(np.int64),
            unbuilt=unbuilt,
            edges=np.sort(edges, axis=1), kinds=kinds,
            origin=origin,
            same=(len(mesh.vertices) == len(before.vertices)
                  and len(mesh.edges) == len(before.edges)
                  and np.array_equal(origin, np.arange(len(before.polygons)))),
            place=place, size=(len(before.vertices), len(before.polygons)),
            mirrored=mirrored, lost=lost)
    finally:
        shown.to_mesh_clear()


def _built_only(faces: np.ndarray, built: np.ndarray, edges: np.ndarray, kinds: np.ndarray
                ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """The faces that are built, the marks between two of them or away from the others, and the
    vertices of these others that are on no face any more."""
    if built.all():
        return faces, edges, kinds, np.empty(0, dtype=np.int64)
    key = lambda pairs: pairs.min(axis=1) * np.int64(2**32) + pairs.max(axis=1)  # noqa: E731
    sides = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2)
    gone = np.unique(key(sides[~built].reshape(-1, 2)))
    left, times = np.unique(key(sides[built].reshape(-1, 2)), return_counts=True)
    kept = ~np.isin(key(edges), np.setdiff1d(gone, left[times > 1]))
    return (faces[built], edges[kept], kinds[kept],
            np.setdiff1d(faces[~built], faces[built]))


def _mean_scale(shown: bpy.types.Object) -> float:
    return abs(np.linalg.det(np.array(shown.matrix_world)[:3, :3])) ** (1 / 3)


def _read_choices(item: bpy.types.Object, settings: Settings,
                  mm: float) -> tuple[SculptObject, list[Finding]]:
    """Stock and face of one object, and what to say about its Solidify modifier."""
    stock, side, findings = object_stock(item, settings), object_side(item), []
    solidify = next((m for m in item.modifiers if m.type == "SOLIDIFY" and m.show_viewport), None)
    if solidify:
        # The modifier grows along the normals from (offset - 1)/2 to (offset + 1)/2 thicknesses.
        offset = solidify.offset * (-1.0 if solidify.thickness < 0 else 1.0)
        implied = OUTER if offset <= -0.5 else INNER if offset >= 0.5 else MIDDLE
        side = side or implied
        shown = abs(solidify.thickness) * mm
        foam = (stock or settings.stock).thickness
        differs = abs(shown - foam) > 0.01 * foam
        findings.append(Finding(
            "solidify-skipped", WARNING if differs else NOTE,
            f"The Solidify modifier of “{item.name}” was left out, since the foam brings its own "
            f"thickness of {format_length(foam, settings.unit)}. The surface is taken as the "
            f"{_FACE_NAMES[side]} of the foam."
            + (f" The modifier shows {format_length(shown, settings.unit)}." if differs else ""),
            "Choose the foam and the face on the object if you meant others."))
    return SculptObject(item.name, stock, side), findings


def _scene_findings(scene: bpy.types.Scene) -> list[Finding]:
    if scene.unit_settings.system != "NONE":
        return []
    return [Finding(
        "scene-without-units", NOTE,
        "The scene has no units, so one Blender unit was read as one metre.",
        "Choose Metric or Imperial in Scene properties > Units, or set the sculpt's scale.")]


# --- Blender's machinery -----------------------------------------------------


@contextmanager
def _evaluated(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object], drawn: Sequence[bool]
               ) -> Iterator[list[bpy.types.Object]]:
    """Evaluated working copies without Solidify, in a scene of their own that is then removed;
    those of drawn objects tell where their corners lie in the maker's own faces."""
    stage = bpy.data.scenes.new(".foamwright")
    copies = []
    try:
        stage.frame_current = scene.frame_current
        if any(item.mode == "SCULPT" for item in objects):
            bpy.ops.ed.flush_edits()  # strokes live in the session until now
        for item, lines in zip(objects, drawn, strict=True):
            if item.data.is_editmode:
                item.update_from_editmode()  # and so do marks just set
            copy = item.copy()
            copies.append(copy)
            copy.hide_viewport = False  # Blender does not evaluate what is disabled there
            copy.data = mesh = item.data.copy()
            stage.collection.objects.link(copy)
            for modifier in [m for m in copy.modifiers if m.type == "SOLIDIFY"]:
                copy.modifiers.remove(modifier)
            if old := mesh.attributes.get(_ORIGIN):
                mesh.attributes.remove(old)
            origin = mesh.attributes.new(_ORIGIN, "INT", "FACE")
            origin.data.foreach_set("value", np.arange(len(mesh.polygons), dtype=np.int32))
            if lines:
                anchors.prepare(mesh)
        layer = stage.view_layers[0]
        layer.update()
        yield [copy.evaluated_get(layer.depsgraph) for copy in copies]
    finally:
        bpy.data.scenes.remove(stage)
        for copy in copies:
            mesh = copy.data
            bpy.data.objects.remove(copy)
            if not mesh.users:
                bpy.data.meshes.remove(mesh)


@contextmanager
def _registered() -> Iterator[None]:
    """The add-on's properties are known inside, as they are in a Blender that has it enabled."""
    from . import properties

    if properties.is_registered():
        yield
        return
    properties.register()
    schema.register()
    try:
        yield
    finally:
        schema.unregister()
        properties.unregister()
