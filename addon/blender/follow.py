"""What is selected on the flat pieces shows on the sculpt, and the other way round.

A handler only notes that something happened; a timer looks a moment later. A flat piece that is
clicked is selected on the sculpt, ready for Edit Mode. While the maker edits the sculpt, the flat
pieces of the selected faces are shaded in another colour and not selected: else they would be
moved, joined or edited along with the sculpt.
"""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from bpy.app.handlers import persistent

from . import flats, handlers

_WAIT = 0.1  # seconds from a click to the look
_seen: dict[int, frozenset[str]] = {}  # scene -> pieces that were selected at the last look


def look(scene: bpy.types.Scene, view_layer: bpy.types.ViewLayer) -> bool:
    """Select the faces of the flat pieces that have been selected since the last look, or point
    out the flat pieces of the faces that are selected in Edit Mode; False where there is nothing
    to do."""
    active = view_layer.objects.active
    pointed = _point_out(scene, view_layer)
    if active is not None and active.mode != "OBJECT":
        return pointed
    chosen = [o for o in flats.shown(scene) if o.select_get(view_layer=view_layer)]
    codes = frozenset(o.foamwright.piece for o in chosen)
    if codes == _seen.get(scene.session_uid, frozenset()):
        return pointed
    _seen[scene.session_uid] = codes
    places = flats.places_of(chosen)
    for item in {o.foamwright.source for o in chosen}:
        faces = np.array(places.get(item.name, {}).get("faces", ()), dtype=np.int64)
        if item.mode == "OBJECT" and len(faces) and faces.max() < len(item.data.polygons):
            _select(item.data, faces)
    return pointed or bool(codes)


def _point_out(scene: bpy.types.Scene, view_layer: bpy.types.ViewLayer) -> bool:
    """Shade the flat pieces of the faces selected in Edit Mode, and no others; True where that
    changes how one looks. It is kept on the pieces alone, so that undo and a save are no matter."""
    chosen = {item: _selected(item.data) for item in view_layer.objects
              if item.type == "MESH" and item.mode == "EDIT" and not flats.is_flat(item)}
    changed = [flats.point_out(flat, np.isin(
        flats.faces_of(flat), chosen.get(flat.foamwright.source, ())).any())
        for flat in flats.shown(scene)]
    return any(changed)


def _selected(mesh: bpy.types.Mesh) -> np.ndarray:
    """Indices of the selected faces of a mesh in Edit Mode."""
    if not mesh.total_face_sel:
        return np.empty(0, dtype=np.int64)
    faces = bmesh.from_edit_mesh(mesh).faces
    return np.flatnonzero(np.fromiter((f.select for f in faces), bool, len(faces)))


def _select(mesh: bpy.types.Mesh, faces: np.ndarray) -> None:
    """Select exactly these faces, with their edges and vertices, as Edit Mode will show them."""
    chosen = np.zeros(len(mesh.polygons), dtype=bool)
    chosen[faces] = True
    totals = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", totals)
    loops = np.repeat(chosen, totals)
    for elements, corner in ((mesh.vertices, ".corner_vert"), (mesh.edges, ".corner_edge")):
        index = np.empty(len(mesh.loops), dtype=np.int32)
        mesh.attributes[corner].data.foreach_get("value", index)
        flags = np.zeros(len(elements), dtype=bool)
        flags[index[loops]] = True
        elements.foreach_set("select", flags)
    mesh.polygons.foreach_set("select", chosen)


def _timer() -> None:
    context = bpy.context
    look(context.scene, context.view_layer)


@persistent
def _changed(scene, depsgraph):
    group = scene.foamwright
    if group.flats is not None and group.follow and not bpy.app.timers.is_registered(_timer):
        bpy.app.timers.register(_timer, first_interval=_WAIT)


@persistent
def _forget(*_):
    """Another file or another past: nothing seen before holds, nor is a look due."""
    _seen.clear()
    if bpy.app.timers.is_registered(_timer):
        bpy.app.timers.unregister(_timer)


_HANDLERS = (("depsgraph_update_post", _changed), ("load_pre", _forget), ("undo_post", _forget),
             ("redo_post", _forget))


def register() -> None:
    handlers.add(_HANDLERS)


def unregister() -> None:
    handlers.remove(_HANDLERS)
    _forget()
