"""Ticks of findings that keep step with undo.

A remedy ticks its finding on the scene. Undo in Edit Mode gives the meshes back and leaves the
scene alone, so what a mesh was like before and after is kept beside the tick. A handler only notes
that the maker has gone back or forth; a timer looks at the meshes a moment later.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable

import bmesh
import bpy
import numpy as np
from bpy.app.handlers import persistent

from . import built, finishes, handlers, joins, marks

_WAIT = 0.05  # seconds from undo to the look


def states(items: Iterable[bpy.types.Object]) -> dict[str, str]:
    """A digest of the mesh of each object, outside Edit Mode, by its name."""
    return {item.name: _digest(item.data) for item in items if item.type == "MESH"}


def turn(finding: bpy.types.PropertyGroup, state: str, before: dict[str, str],
         after: dict[str, str]) -> None:
    """Give a finding another state, the work of a remedy that changed these meshes."""
    finding.turned = json.dumps([finding.state, before, state, after])
    finding.state = state


def _digest(mesh: bpy.types.Mesh) -> str:
    points, edges = marks.mesh_arrays(mesh)
    corner = np.empty(len(mesh.loops), dtype=np.int32)
    if len(corner):
        mesh.attributes[".corner_vert"].data.foreach_get("value", corner)
    digest = hashlib.blake2b(digest_size=12)
    for array in (points, edges, corner, marks.read_kinds(mesh), joins.read_joins(mesh),
                  finishes.read_finishes(mesh), built.read_built(mesh)):
        digest.update(f"{array.shape}".encode() + array.tobytes())
    return digest.hexdigest()


def look() -> None:
    """Set or take the ticks that the meshes as they are now call for."""
    for scene in bpy.data.scenes:
        known: dict[str, str] = {}
        for finding in scene.foamwright.findings:
            if not finding.turned:
                continue
            was, before, becomes, after = json.loads(finding.turned)
            now = {name: _now(scene, name, known) for name in after}
            if now == before:
                finding.state = was
            elif now == after and finding.state == was:
                finding.state = becomes


def _now(scene: bpy.types.Scene, name: str, known: dict[str, str]) -> str:
    item = scene.objects.get(name)
    if item is None or item.type != "MESH":
        return ""
    if name not in known:
        if item.data.is_editmode:  # its own arrays are empty meanwhile
            scratch = bpy.data.meshes.new(item.name)
            try:
                bmesh.from_edit_mesh(item.data).to_mesh(scratch)
                known[name] = _digest(scratch)
            finally:
                bpy.data.meshes.remove(scratch)
        else:
            known[name] = _digest(item.data)
    return known[name]


@persistent
def _another_past(*_):
    if not bpy.app.timers.is_registered(look):
        bpy.app.timers.register(look, first_interval=_WAIT)


_HANDLERS = (("undo_post", _another_past), ("redo_post", _another_past))


def register() -> None:
    handlers.add(_HANDLERS)


def unregister() -> None:
    handlers.remove(_HANDLERS)
    if bpy.app.timers.is_registered(look):
        bpy.app.timers.unregister(look)
