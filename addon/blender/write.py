"""From the core back to Blender: findings on the scene, and their elements selected.

Together with `read` the only place where elements of the Sculpt are matched
with those of the maker's meshes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from itertools import product

import bmesh
import bpy
import numpy as np

from ..core.errors import Finding, severity_rank
from ..core.model import Pattern, Sculpt, Settings
from . import identity
from .choices import CHECK, FIT, REACH, TRANSPORT, TRIAL
from .read import Source, mm_per_unit

Places = dict[str, dict[str, list]]  # object name -> "vertices" | "edges" | "faces" -> elements
_AROUND = 0.25  # share of an object that is shown around what is selected on it
_MOST = 5000  # elements kept per finding: enough to see where, little enough to save


def locate(finding: Finding, sculpt: Sculpt, sources: Iterable[Source]) -> Places:
    """The maker's own elements that a finding is about, per object.

    Where modifiers changed the mesh, the maker's faces around the elements stand in; where they
    made it anew, the object is named without elements.
    """
    places: Places = {}
    polygons = sculpt.polygon[finding.faces[finding.faces < len(sculpt.faces)]]
    for source in sources:
        start, stop = source.vertices.start, source.vertices.stop
        vertices = finding.vertices[(finding.vertices >= start) & (finding.vertices < stop)]
        edges = finding.edges[((finding.edges >= start) & (finding.edges < stop)).all(axis=1)]
        mine = polygons[(polygons >= source.polygons.start) & (polygons < source.polygons.stop)]
        if not source.same:
            mine = np.concatenate([mine, _around(sculpt, vertices, edges)])
            vertices, edges = vertices[:0], edges[:0]
        faces = np.unique(source.origin[mine - source.polygons.start])
        found = {"vertices": (vertices - start).tolist()[:_MOST],
                 "edges": (edges - start).tolist()[:_MOST],
                 "faces": faces[faces >= 0].tolist()[:_MOST]}
        if any(found.values()) or len(mine):
            places[source.name] = {kind: items for kind, items in found.items() if items}
    return places


def _around(sculpt: Sculpt, vertices: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Sculpt polygons with one of the vertices or both ends of one of the edges."""
    touched = np.isin(sculpt.faces, vertices).any(axis=1)
    count = len(sculpt.vertices)
    sides = np.stack([sculpt.faces, np.roll(sculpt.faces, -1, axis=1)], axis=2)
    keys = sides.min(axis=2) * count + sides.max(axis=2)
    wanted = edges.min(axis=1) * count + edges.max(axis=1)
    return np.unique(sculpt.polygon[touched | np.isin(keys, wanted).any(axis=1)])


def store_findings(scene: bpy.types.Scene, findings: Iterable[Finding],
                   sculpt: Sculpt | None = None, sources: Sequence[Source] = (),
                   step: str = CHECK) -> None:
    """Put the findings of a step on the scene, most serious first, in place of its earlier ones."""
    group = scene.foamwright
    kind = lambda item: (item.step, item.code, item.piece)  # noqa: E731
    opened = kind(group.findings[group.finding]) if group.finding < len(group.findings) else None
    for index in reversed(range(len(group.findings))):
        if group.findings[index].step == step:
            group.findings.remove(index)
    group.finding = len(group.findings)
    for finding in sorted(findings, key=severity_rank):
        item = group.findings.add()
        for name in ("code", "severity", "message", "remedy", "piece"):
            setattr(item, name, getattr(finding, name))
        item.name, item.step = finding.message, step
        if sculpt is not None:
            places = locate(finding, sculpt, sources)
            item.places = json.dumps(places)
            item.sizes = json.dumps({s.name: s.size for s in sources if s.name in places})
            item.words = json.dumps({
                name: identity.mark(scene, about) for name in places
                if (about := scene.objects.get(name)) is not None})
    # The one that was open stays open, if it is still there.
    group.finding = next((i for i, item in enumerate(group.findings) if kind(item) == opened),
                         group.finding)


def store_boxes(scene: bpy.types.Scene, pattern: Pattern, sources: Sequence[Source]) -> None:
    """Keep with the findings about pieces where these lie."""
    homes = {source.name: source for source in sources}
    pieces = {piece.code: piece for piece in pattern.pieces if piece.object in homes}
    for item in scene.foamwright.findings:
        if item.step in (CHECK, TRIAL, FIT, REACH, TRANSPORT) and item.piece in pieces:
            piece = pieces[item.piece]
            points = in_own_space(piece.vertices, pattern.settings, homes[piece.object])
            item.around = json.dumps([piece.object, points.min(axis=0).tolist(),
                                      points.max(axis=0).tolist()])


def in_own_space(points: np.ndarray, settings: Settings, source: Source) -> np.ndarray:
    """Points (n, 3) of a pattern's sculpt in the own space of the object they are of."""
    back = np.linalg.inv(source.matrix)
    return points / settings.scale @ back[:3, :3].T + back[:3, 3]


def surroundings(scene: bpy.types.Scene, finding: bpy.types.PropertyGroup,
                 items: Sequence[bpy.types.Object]) -> np.ndarray:
    """Points (n, 3) of the world to bring into view for a finding: the box of its piece, else what
    is selected on these objects with a part of them around it."""
    if finding.around:
        name, low, high = json.loads(finding.around)
        item = identity.find(scene, name, json.loads(finding.words or "{}").get(name, ""))
        if item is not None:
            return _in_world(item, np.array(list(product(*zip(low, high, strict=True)))))
    return np.concatenate([np.empty((0, 3)), *map(_selected, items)])


def _selected(item: bpy.types.Object) -> np.ndarray:
    box = np.array(item.bound_box)
    if not item.data.is_editmode:
        return _in_world(item, box)
    bm = bmesh.from_edit_mesh(item.data)
    points = np.array([v.co[:] for v in bm.verts if v.select]).reshape(-1, 3)
    if len(points):
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        points = np.concatenate([points, middle + _AROUND * (box - box.mean(axis=0))])
    return _in_world(item, points)


def _in_world(item: bpy.types.Object, points: np.ndarray) -> np.ndarray:
    place = np.array(item.matrix_world)
    return points @ place[:3, :3].T + place[:3, 3]


def places_of(scene: bpy.types.Scene, finding: bpy.types.PropertyGroup
              ) -> tuple[Places, dict[str, Sequence[int]], list[str]]:
    """The places of a stored finding and the sizes of meshes then, by the names its objects bear
    now; and the names of those that are gone, as they were then."""
    places, sizes, words = (json.loads(text or "{}") for text in (
        finding.places, finding.sizes, finding.words))
    found = {name: identity.find(scene, name, words.get(name, "")) for name in places}
    return ({item.name: places[name] for name, item in found.items() if item is not None},
            {item.name: sizes[name] for name, item in found.items()
             if item is not None and name in sizes},
            [name for name, item in found.items() if item is None])


def select(context: bpy.types.Context, places: Places,
           sizes: dict[str, Sequence[int]] | None = None) -> list[str]:
    """Enter Edit Mode on the objects and select exactly these elements; where there are none at
    all, the objects in Object Mode.

    sizes: by object, how many vertices and faces it had when the places were found, if known.
    Returns the names of objects that are gone, hidden or of another file, or whose mesh has been
    changed, so that the elements are gone or others; those are left alone.
    """
    known = {o.name: o for o in context.view_layer.objects
             if o.type == "MESH" and o.is_editable and o.data.is_editable}
    missing = [name for name, elements in places.items()
               if name not in known or not known[name].visible_get()
               or not _has(known[name], elements, (sizes or {}).get(name))]
    found = [known[name] for name in places if name not in missing]
    if not found:
        return missing
    if context.object and context.object.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for item in context.view_layer.objects:
        item.select_set(item in found)
    context.view_layer.objects.active = found[0]
    kinds = {kind for item in found for kind in places[item.name]}
    if not kinds:
        return missing
    bpy.ops.object.mode_set(mode="EDIT")
    context.tool_settings.mesh_select_mode = (
        "vertices" in kinds, "edges" in kinds, "faces" in kinds)
    bpy.ops.mesh.select_all(action="DESELECT")
    for item in found:
        _select_elements(item.data, places[item.name])
    return missing


def own_faces(sculpt: Sculpt, sources: Iterable[Source], faces: np.ndarray) -> np.ndarray:
    """The maker's own face (k,) each sculpt face came from, -1 where a modifier made it."""
    polygons = sculpt.polygon[faces]
    found = np.full(len(polygons), -1, dtype=np.int64)
    for source in sources:
        mine = (polygons >= source.polygons.start) & (polygons < source.polygons.stop)
        found[mine] = source.origin[polygons[mine] - source.polygons.start]
    return found


def in_units(scene: bpy.types.Scene, mm: np.ndarray | float) -> np.ndarray:
    """Lengths in mm as Blender units of this scene."""
    return np.asarray(mm, dtype=float) / mm_per_unit(scene)


def triangle_mesh(name: str, points: np.ndarray, faces: np.ndarray) -> bpy.types.Mesh:
    """A mesh of points (n, 3) and triangles (m, 3); by arrays, since sculpts may be dense."""
    mesh = bpy.data.meshes.new(name)
    mesh.vertices.add(len(points))
    mesh.attributes["position"].data.foreach_set("vector", points.astype(np.float32).ravel())
    mesh.loops.add(faces.size)
    mesh.attributes[".corner_vert"].data.foreach_set("value", faces.astype(np.int32).ravel())
    mesh.polygons.add(len(faces))
    mesh.polygons.foreach_set("loop_start", np.arange(0, faces.size, 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    return mesh


def triangles_of(sculpt: Sculpt, sources: Iterable[Source], name: str, face: int) -> np.ndarray:
    """Sculpt faces (k,) that came from the maker's own face of this object."""
    found = [np.flatnonzero(source.origin == face) + source.polygons.start
             for source in sources if source.name == name]
    return np.flatnonzero(np.isin(sculpt.polygon, np.concatenate([*found, []])))


def active_face(context: bpy.types.Context) -> tuple[str, int] | None:
    """Object name and index of the face last clicked, None where there is none."""
    item = context.object
    if item is None or item.type != "MESH":
        return None
    if item.data.is_editmode:
        active = bmesh.from_edit_mesh(item.data).faces.active
        index = -1 if active is None else active.index
    else:
        index = item.data.polygons.active
    return (item.name, index) if 0 <= index else None


def _has(item: bpy.types.Object, elements: dict[str, list], size: Sequence[int] | None) -> bool:
    if item.data.is_editmode:
        bm = bmesh.from_edit_mesh(item.data)
        vertices, faces = len(bm.verts), len(bm.faces)
    else:
        vertices, faces = len(item.data.vertices), len(item.data.polygons)
    if size and ("faces" in elements and size[1] != faces
                 or elements.keys() - {"faces"} and size[0] != vertices):
        return False
    highest = max([*elements.get("vertices", ()), *np.ravel(elements.get("edges", ()))], default=-1)
    return highest < vertices and max(elements.get("faces", ()), default=-1) < faces


def _select_elements(mesh: bpy.types.Mesh, elements: dict[str, list]) -> None:
    bm = bmesh.from_edit_mesh(mesh)
    bm.verts.ensure_lookup_table()
    bm.faces.ensure_lookup_table()
    chosen = [bm.verts[i] for i in elements.get("vertices", ())]
    for a, b in elements.get("edges", ()):
        ends = bm.verts[a], bm.verts[b]
        edge = bm.edges.get(ends)
        # A face that is not flat may fold along a diagonal; then it stands for it.
        chosen += [edge] if edge else [f for f in ends[0].link_faces if ends[1] in f.verts]
    chosen += [bm.faces[i] for i in elements.get("faces", ())]
    for element in chosen:
        element.hide_set(False)  # a hidden element cannot be selected
        element.select_set(True)
    bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
