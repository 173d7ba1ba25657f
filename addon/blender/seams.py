"""Proposed seams in the file: their figures on the scene, and their lines on the sculpt.

Where the faces of the sculpt are too large for lines across them, the foam is judged on a smooth
surface through its points. That is kept with the file as meshes that no object uses yet; accepting
makes objects of them. Lines and meshes are in the space of their object, so they move with it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.errors import ERROR, Finding, FoamError
from ..core.mesh import chains, edge_keys
from ..core.model import SCORE
from . import built, changes, guides, identity, marks, proposals, repairs, write
from .choices import SUGGEST
from .own import require_own

if TYPE_CHECKING:
    from ..core.model import Sculpt
    from ..core.suggest import Suggestion
    from .read import Source

KEEP, REPLACE = "KEEP", "REPLACE"
SMOOTH = "{name} Smooth"  # the object made for a coarse one


class FoamwrightSurface(bpy.types.PropertyGroup):
    """One object of the proposal. word: by which it is known. size: its vertices and faces then,
    JSON; details: faces of its mesh that are left out, JSON; mesh: the smooth surface that takes
    its place, if any, and the side of the foam it shows; scores: the score lines that go over to
    it, JSON, points in its space and whether each is closed."""

    word: StringProperty()
    size: StringProperty()
    details: StringProperty()
    mesh: PointerProperty(type=bpy.types.Mesh)
    side: StringProperty()
    scores: StringProperty()


class FoamwrightSeams(bpy.types.PropertyGroup):
    """What is asked for, and the proposal; lengths in mm."""

    ease: FloatProperty(
        name="Easier Foam",
        description="At 0 as few pieces as the heated foam allows; at 1 more pieces, each of which "
                    "asks little of the foam",
        subtype="FACTOR", default=0.0, min=0.0, max=1.0, precision=2)
    marks: EnumProperty(
        name="Seams You Have", description="What becomes of what is marked and drawn already",
        items=((KEEP, "Keep", "They stay, and what is proposed is added to them"),
               (REPLACE, "Replace", "The search begins as if there were no seams, trenches and "
                                    "score lines. They are taken off when you accept")))
    found: BoolProperty()
    pieces: IntProperty()
    failing: IntProperty()
    worst: FloatProperty()  # heated utilisation
    narrowest: FloatProperty()  # mean width of the narrowest piece
    length: FloatProperty()  # of seams and darts
    trenches: FloatProperty()
    coarse: BoolProperty()
    replaces: BoolProperty()  # it was sought as if there were no marks
    edges: IntProperty()  # marked ones when it was sought
    lines: IntProperty()  # drawn ones
    details: IntProperty()  # faces
    surfaces: CollectionProperty(type=FoamwrightSurface)


def store(scene: bpy.types.Scene, found: Suggestion, sculpt: Sculpt, sources: Sequence[Source],
          replaces: bool) -> None:
    """Keep a proposal for a sculpt as it was read, in place of an earlier one, and show its
    lines. replaces: it was sought as if there were no marks."""
    forget(scene)
    group = scene.foamwright.seams
    group.found, group.coarse, group.replaces = True, found.coarse, replaces
    group.pieces = len(found.pieces)
    group.failing = sum(not piece.formable for piece in found.pieces)
    group.worst = min(found.u, 99.0)
    group.narrowest = min((piece.width for piece in found.pieces), default=0.0)
    group.length, group.trenches = found.seams + found.darts, found.trenches
    group.edges, group.lines = len(sculpt.edges), len(sculpt.guides)
    group.details = len(found.details)
    for number, source in enumerate(sources):
        surface = group.surfaces.add()
        surface.name, surface.size = source.name, json.dumps(source.size)
        thing = scene.objects.get(source.name)
        surface.word = identity.mark(scene, thing) if thing else ""
        polygons = sculpt.polygon[found.details]
        mine = polygons[(polygons >= source.polygons.start) & (polygons < source.polygons.stop)]
        own = np.unique(source.origin[mine - source.polygons.start])
        surface.details = json.dumps(own[own >= 0].tolist())
        if found.coarse and (found.smooth.face_object == number).any():
            surface.mesh = _mesh(found.smooth, number, source)
            surface.side = found.smooth.objects[number].side or ""
            surface.scores = json.dumps([] if replaces else _scores(sculpt, number, source))
    names = {flag: name for name, flag in marks.KINDS.items()}
    for guide in found.guides:
        source = sources[guide.object]
        item = scene.objects.get(source.name)
        if item is None:  # it was deleted meanwhile
            continue
        kind = names[guide.kind]
        proposals.show(scene, item, _back(source, guide.points), kind, proposals.SEAMS,
                       f"{item.name} {guides.NAMES[kind]} Proposed", guide.closed)


def _back(source: Source, points: np.ndarray) -> np.ndarray:
    """Points (k, 3) of the sculpt in the space of their object."""
    back = np.linalg.inv(source.matrix)
    return points @ back[:3, :3].T + back[:3, 3]


def _scores(sculpt: Sculpt, number: int, source: Source) -> list:
    """The score lines of an object, marked or drawn, which a search for seams leaves alone."""
    mine = np.isin(sculpt.edges[:, 0], np.arange(source.vertices.start, source.vertices.stop))
    lines = [(sculpt.vertices[path], False)
             for path in chains(sculpt.edges[mine & ((sculpt.kinds & SCORE) != 0)])]
    lines += [(guide.points, guide.closed) for guide in sculpt.guides
              if guide.object == number and guide.kind == SCORE]
    return [(_back(source, points).tolist(), closed) for points, closed in lines]


def _mesh(smooth: Sculpt, number: int, source: Source) -> bpy.types.Mesh:
    """The part of the smooth surface that stands for one object, with its marks."""
    used, faces = np.unique(smooth.faces[smooth.face_object == number], return_inverse=True)
    faces = faces.reshape(-1, 3)
    if np.linalg.det(source.matrix[:3, :3]) < 0:  # reading turned them over
        faces = faces[:, ::-1]
    mesh = write.triangle_mesh(SMOOTH.format(name=source.name),
                               _back(source, smooth.vertices[used]), faces)
    place = np.full(len(smooth.vertices), -1)
    place[used] = np.arange(len(used))
    inside = (place[smooth.edges] >= 0).all(axis=1)
    wanted = edge_keys(place[smooth.edges[inside]], len(used))
    keys = edge_keys(marks.mesh_arrays(mesh)[1], len(used))
    order = np.argsort(keys)
    kinds = np.zeros(len(keys), dtype=np.int64)
    kinds[order[np.searchsorted(keys, wanted, sorter=order)]] = smooth.kinds[inside]
    marks.write_kinds(mesh, kinds)
    return mesh


def accept(context: bpy.types.Context) -> list[bpy.types.Object]:
    """Make the proposal part of the suit, in Object Mode; the lines or objects that are new.

    Raises FoamError `sculpt-gone`, `sculpt-changed` or `of-another-file`, before anything is
    changed.
    """
    scene = context.scene
    group = scene.foamwright.seams
    items = {surface.name: _unchanged(scene, surface) for surface in group.surfaces}
    stay = [surface for surface in group.surfaces if surface.mesh is None]
    for surface in stay:
        built.require_room(items[surface.name].data)
    earlier = [line for surface in stay if group.replaces
               for line in guides.guides_of(scene, items[surface.name])]
    for surface in stay:
        item, details = items[surface.name], json.loads(surface.details)
        if group.replaces:
            marks.write_kinds(item.data, np.zeros(len(item.data.edges), dtype=np.int64))
        if details:
            repairs.change([item], lambda bm, faces=details: built.set_built(bm, faces, False),
                           remakes=False)
    for line in earlier:
        line.foamwright.leave_out = True
    made = [_put(context, items[surface.name], surface) for surface in group.surfaces
            if surface.mesh]
    if not group.coarse:
        made = proposals.shown(scene, proposals.SEAMS)
        proposals.accept(made)
    else:
        changes.note()
    forget(scene)
    return made


def _unchanged(scene: bpy.types.Scene, surface: FoamwrightSurface) -> bpy.types.Object:
    item = identity.find(scene, surface.name, surface.word)
    if item is None or item.type != "MESH":
        raise FoamError(Finding(
            "sculpt-gone", ERROR, f"“{surface.name}”, which the seams are for, is no longer there.",
            "Suggest seams again."))
    require_own([item])
    if [len(item.data.vertices), len(item.data.polygons)] != json.loads(surface.size):
        raise FoamError(Finding(
            "sculpt-changed", ERROR, f"The mesh of “{item.name}” has been changed since the seams "
            "were suggested.", "Suggest seams again."))
    return item


def _put(context: bpy.types.Context, item: bpy.types.Object,
         surface: FoamwrightSurface) -> bpy.types.Object:
    """A new object with the smooth surface in place of another, which is hidden and left out."""
    new = item.copy()
    new.name = surface.mesh.name
    for material in item.data.materials:
        surface.mesh.materials.append(material)
    new.data = surface.mesh
    new.modifiers.clear()  # what they do is in the surface
    new.vertex_groups.clear()
    kept = new.foamwright
    kept.kept_seams = kept.kept_trenches = kept.kept_scores = None  # of the other mesh
    kept.side = surface.side or "AUTO"
    kept.include, kept.leave_out = True, False
    for collection in item.users_collection:
        collection.objects.link(new)
    place = np.array(item.matrix_world)
    for points, closed in json.loads(surface.scores):
        guides.add_guide(context.scene, new, np.array(points) @ place[:3, :3].T + place[:3, 3],
                         "SCORE", closed)
    item.foamwright.include, item.foamwright.leave_out = False, True
    layer = context.view_layer
    if item.name in layer.objects:
        layer.objects.active = new
        new.select_set(True)
        item.hide_set(True)
    return new


def forget(scene: bpy.types.Scene) -> None:
    """Take away the proposal, its lines, its findings, and meshes that were not accepted."""
    proposals.remove(scene, proposals.SEAMS)
    group = scene.foamwright.seams
    meshes = [surface.mesh for surface in group.surfaces if surface.mesh]
    group.surfaces.clear()
    group.found = False
    for mesh in meshes:
        if not mesh.users:
            bpy.data.meshes.remove(mesh)
    write.store_findings(scene, (), step=SUGGEST)
