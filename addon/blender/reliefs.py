"""Proposals of relief cuts in the file: their figures on the scene, and one shown as lines.

The lines are kept in the space of their object, so they move with it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import BoolProperty, FloatProperty, StringProperty

from ..core.errors import ERROR, NOTE, Finding, FoamError
from ..core.mesh import edge_keys
from ..core.model import SEAM
from . import identity, marks, proposals, write

if TYPE_CHECKING:
    from ..core.model import Sculpt
    from ..core.suggest.relief import Relief
    from .read import Source


class FoamwrightRelief(bpy.types.PropertyGroup):
    """One proposal. sculpt, word: name of its object, and the word by which that is known.
    lines: JSON, points of each line in the space of the object;
    cleared: JSON, edges of its mesh, as pairs of vertices, that are seams no more;
    alone: why there are no proposals of another kind."""

    kind: StringProperty()
    before: FloatProperty()  # heated utilisation of the piece as it is
    worst: FloatProperty()  # of the worst piece after the cut
    pieces: StringProperty()  # JSON: heated utilisation of each of them
    passes: BoolProperty()
    length: FloatProperty()  # mm
    visibility: FloatProperty()
    where: StringProperty()
    sculpt: StringProperty()
    word: StringProperty()
    lines: StringProperty()
    cleared: StringProperty()
    alone: StringProperty()


def store(scene: bpy.types.Scene, piece: str, found: Sequence[Relief], sculpt: Sculpt,
          sources: Sequence[Source]) -> None:
    """Keep proposals for a piece (its code) in place of earlier ones; none is shown yet.

    One that moves a seam is left out where modifiers hide which of the maker's edges that is.
    """
    forget(scene)
    group = scene.foamwright
    group.relief_piece = piece
    for each in found:
        edges = _own_edges(each, sculpt, sources)
        if edges is None:
            continue
        item = group.reliefs.add()
        item.cleared = json.dumps(edges)
        for name in ("kind", "worst", "passes", "length", "visibility", "where", "alone"):
            setattr(item, name, getattr(each, name))
        item.before = min(each.before, 99.0)
        item.pieces = json.dumps(each.heated)
        source = sources[each.guides[0].object]
        back = np.linalg.inv(source.matrix)
        item.sculpt = source.name
        thing = scene.objects.get(source.name)
        item.word = identity.mark(scene, thing) if thing else ""
        item.lines = json.dumps([
            (guide.points @ back[:3, :3].T + back[:3, 3]).tolist() for guide in each.guides])


def show(scene: bpy.types.Scene, index: int) -> bool:
    """Show one proposal as lines on its object; False where that is gone."""
    proposals.remove(scene, proposals.RELIEF)
    group = scene.foamwright
    group.relief = index
    each = group.reliefs[index]
    item = _item(scene, each)
    if item is None:
        return False
    for number, points in enumerate(json.loads(each.lines)):
        proposals.show(scene, item, points, "SEAM", proposals.RELIEF,
                       f"{group.relief_piece} relief {number + 1}")
    return True


def shown(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The lines of the proposal that is shown."""
    return proposals.shown(scene, proposals.RELIEF)


def accept(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """Make the lines that are shown lines of the suit; the other proposals are forgotten.

    Raises FoamError `sculpt-gone` where their object is no longer there, `seam-gone` where a seam
    was to be moved that is not.
    """
    group, lines = scene.foamwright, shown(scene)
    each = group.reliefs[group.relief]
    item = _item(scene, each)
    if item is None:
        raise gone(scene)
    _clear(item.data, json.loads(each.cleared or "[]"))
    proposals.accept(lines)
    forget(scene)
    return lines


def gone(scene: bpy.types.Scene) -> FoamError:
    """What to say where the object of the proposal is no longer there."""
    name = scene.foamwright.reliefs[scene.foamwright.relief].sculpt
    return FoamError(Finding(
        "sculpt-gone", ERROR, f"“{name}”, which the lines are for, is no longer there.",
        "Suggest relief cuts again."))


def _item(scene: bpy.types.Scene, each: FoamwrightRelief) -> bpy.types.Object | None:
    """The object of a proposal, whatever it is called now; None where it is gone."""
    item = identity.find(scene, each.sculpt, each.word)
    return item if item is not None and item.type == "MESH" else None


def _clear(mesh: bpy.types.Mesh, edges: list[list[int]]) -> None:
    """Take the seams off edges of a mesh in Object Mode."""
    if not edges:
        return
    ends, kinds = marks.mesh_arrays(mesh)[1], marks.read_kinds(mesh)
    count = max(len(mesh.vertices), 1 + max(map(max, edges)))
    hit = np.isin(edge_keys(ends, count), edge_keys(edges, count)) & ((kinds & SEAM) != 0)
    if hit.sum() < len(edges):
        raise FoamError(Finding(
            "seam-gone", ERROR, "The seam that was to be moved is no longer there.",
            "Suggest relief cuts again."))
    kinds[hit] = 0
    marks.write_kinds(mesh, kinds)


def _own_edges(each: Relief, sculpt: Sculpt, sources: Sequence[Source]) -> list | None:
    """Edges of the maker's mesh that a proposal clears; None where they cannot be told."""
    if not len(each.cleared):
        return []
    name = sources[each.guides[0].object].name
    found = write.locate(Finding("moved-seam", NOTE, "", "", edges=each.cleared), sculpt, sources)
    edges = found.get(name, {}).get("edges", [])
    return edges if len(edges) == len(each.cleared) else None


def forget(scene: bpy.types.Scene) -> None:
    """Take away all proposals and the lines that show one."""
    proposals.remove(scene, proposals.RELIEF)
    group = scene.foamwright
    group.reliefs.clear()
    group.relief, group.relief_piece = 0, ""
