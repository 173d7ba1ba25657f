"""Marked lines kept beside the mesh, since a mesh made anew loses or smears its marks.

Each object holds a curve for each kind of mark, in its own space: polylines along the surface,
rings closed. They are not cut; they only remember, and can be laid on the mesh again.
"""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np

from ..core import mesh as kernels
from ..core import smears, snap
from ..core.fair import fair
from ..core.model import SCORE, SEAM, TRENCH, Sculpt
from . import carry, guides, marks
from .read import Source, mm_per_unit, require_scale

KEPT = {SEAM: "kept_seams", TRENCH: "kept_trenches", SCORE: "kept_scores"}
_CORNER, _WINDOW = np.radians(45.0), 8.0  # a sharper turn within so many mm of suit is a corner
_FAIRING = 0.5  # mm of suit; furthest a line is moved off the edges to be smooth
_NORMALS = "normals"  # property of a curve: the surface normals at its points, one after another
_SAME = 1e-5  # of the size of a line; Blender keeps single precision


def keep(scene: bpy.types.Scene, sculpt: Sculpt,
         sources: Sequence[Source]) -> tuple[dict[str, int], list[str]]:
    """Keep the marked lines of the objects as they were read, in place of earlier ones.

    Returns how many lines of each object are kept, and the objects whose marks are smeared:
    what was kept of those stays. So it does where an object has no marks. Nothing can be kept on
    an object of another file.
    """
    scale = scene.foamwright.scale  # by which the suit is larger than the world shows it
    smeared = [f.edges[0, 0] for f in smears.find(sculpt.scaled(scale), _rim(sculpt))]
    normals = kernels.vertex_normals(sculpt.vertices, sculpt.faces, len(sculpt.vertices))
    kept, refused = {}, []
    for source in sources:
        item = scene.objects.get(source.name)
        if any(vertex in source.vertices for vertex in smeared):
            refused.append(source.name)
        elif item is not None and item.is_editable and (
                found := _lines(sculpt, source, normals, scale)):
            for kind, name in KEPT.items():
                _store(item, name, found.get(kind, []))
            mm = mm_per_unit(scene)
            item.foamwright.kept_matrix = (np.diag([1 / mm] * 3 + [1.0]) @ source.matrix).ravel()
            kept[source.name] = sum(map(len, found.values()))
    return kept, refused


def kept(item: bpy.types.Object) -> dict[int, list[np.ndarray]]:
    """The kept lines of an object by kind: polylines (k, 3) in its own space, a ring's first
    point again at its end."""
    found = {kind: _splines(curve) for kind, name in KEPT.items()
             if (curve := getattr(item.foamwright, name))}
    return {kind: lines for kind, lines in found.items() if lines}


def lay(item: bpy.types.Object) -> tuple[int, float]:
    """Mark the edges of a mesh in Object Mode that follow the kept lines; other marks go.

    Returns how many lines were laid, and the length of what lies off the mesh as a share of
    all lines. Where nothing can be laid the marks stay as they are.
    """
    mesh = item.data
    points, edges, found = _seen(item)
    laid = snap.lay(points, edges, [line for _, line, _ in found], marks.rim(mesh),
                    marks.normals(mesh), [facing for _, _, facing in found])
    if laid.paths:
        kinds = np.zeros(len(edges), dtype=np.int64)
        keys = kernels.edge_keys(edges, len(points))
        order = np.argsort(keys)
        for path, number in zip(laid.paths, laid.lines, strict=True):
            steps = kernels.edge_keys(np.stack([path[:-1], path[1:]], axis=1), len(points))
            along = order[np.searchsorted(keys, steps, sorter=order)]
            # Where lines run together the one that is cut deepest wins.
            kind = found[number][0]
            kinds[along[(kinds[along] == 0) | (kinds[along] > kind)]] = kind
        marks.write_kinds(mesh, kinds)
    lengths = np.array([kernels.polyline_length(line) for _, line, _ in found])
    return len(laid.paths), float(laid.lost @ lengths / max(lengths.sum(), 1e-12))


def lay_across(scene: bpy.types.Scene, item: bpy.types.Object) -> tuple[int, float]:
    """As `lay`, but the kept lines become lines across faces, and no edge stays marked."""
    points, edges, found = _seen(item)
    place = np.array(item.matrix_world)
    there = {(o.foamwright.guide, closed, points.round(6).tobytes())
             for o in guides.guides_of(scene, item)
             for points, closed in guides.world_polylines(o)}
    number, on, whole = 0, 0.0, 0.0
    for (kind, line, _), parts in zip(
            found, snap.stretches(points, edges, [line for _, line, _ in found]), strict=True):
        whole += kernels.polyline_length(line)
        on += sum(map(kernels.polyline_length, parts))
        for part in parts:
            ring = np.array_equal(part[0], part[-1])
            world = (part[:-1] if ring else part) + place[:3, 3]
            name = next(name for name, flag in marks.KINDS.items() if flag == kind)
            if (name, ring, world.round(6).tobytes()) not in there:
                guides.add_guide(scene, item, world, name, ring)
            number += 1
    if number:
        carry.bind(scene, [item])
        marks.write_kinds(item.data, np.zeros(len(edges), dtype=np.int64))
    return number, 1.0 - min(on / max(whole, 1e-12), 1.0)


def _seen(item: bpy.types.Object
          ) -> tuple[np.ndarray, np.ndarray, list[tuple[int, np.ndarray, np.ndarray]]]:
    """Points (n, 3) and edges (e, 2) of the mesh, and each kept line with its kind, its points
    and the normals there; points as seen in the world but for the object's place, so that
    lengths are compared as they are, normals in the object's space."""
    points, edges = marks.mesh_arrays(item.data)
    turn = np.array(item.matrix_world)[:3, :3].T
    return points @ turn, edges, [
        (kind, line @ turn, normals) for kind, line, normals in _placed(item, points)]


def _placed(item: bpy.types.Object,
            points: np.ndarray) -> list[tuple[int, np.ndarray, np.ndarray]]:
    """Kind, points and normals of the kept lines where they fit the mesh of these points (n, 3).

    Applying a scale or rotation changes the object's space under them; then they fit where they
    lay in the world.
    """
    from scipy.spatial import cKDTree

    require_scale(item.name, item.matrix_world)
    found = [(kind, line, normals) for kind, name in KEPT.items()
             if (curve := getattr(item.foamwright, name))
             for line, normals in zip(_splines(curve), _normals(curve), strict=True)]
    then = np.array(item.foamwright.kept_matrix).reshape(4, 4)
    change = np.linalg.inv(np.array(item.matrix_world)) @ then
    turn = change[:3, :3]
    if not found or np.allclose(change, np.eye(4), atol=1e-6) or not np.linalg.det(turn):
        return found
    across = np.linalg.inv(turn)  # normals go with the inverse
    moved = [(kind, line @ turn.T + change[:3, 3], normals @ across)
             for kind, line, normals in found]
    tree = cKDTree(points)
    if np.linalg.det(turn) < 0:  # applying such a scale turns faces over in Blender 4, not in 5
        near = tree.query(np.concatenate([line for _, line, _ in moved]))[1]
        facing = np.concatenate([normals for *_, normals in moved])
        if np.sum(facing * marks.normals(item.data)[near]) < 0:
            moved = [(kind, line, -normals) for kind, line, normals in moved]
    away = [np.median(tree.query(np.concatenate([line for _, line, _ in some]))[0])
            for some in (found, moved)]
    if abs(away[1] - away[0]) <= _SAME * np.ptp(points, axis=0).max():
        # A symmetric mesh fits both. A mirrored space that is no more was most likely applied.
        applied = np.linalg.det(then[:3, :3]) < 0 and not item.matrix_world.is_negative
        return moved if applied else found
    return moved if away[1] < away[0] else found


def _lines(sculpt: Sculpt, source: Source, normals: np.ndarray, scale: float
           ) -> dict[int, list[np.ndarray]]:
    """The marked lines of one object by kind, smooth, in its own space: points and normals (k, 6).
    scale: of the suit.
    """
    across = source.matrix[:3, :3]  # the sculpt's faces look outward, also where it is mirrored
    inside = np.isin(sculpt.edges[:, 0], np.arange(source.vertices.start, source.vertices.stop))
    back = np.linalg.inv(source.matrix)
    found = {}
    for kind in KEPT:
        edges = sculpt.edges[inside & ((sculpt.kinds & kind) != 0)]
        lines = [np.hstack([_smooth(sculpt.vertices[path], scale) @ back[:3, :3].T + back[:3, 3],
                            normals[path] @ across]) for path in kernels.chains(edges)]
        if lines:
            found[kind] = lines
    return found


def _smooth(points: np.ndarray, scale: float) -> np.ndarray:
    """A line without the zigzag of the edges it follows; ends and corners stay."""
    off = _FAIRING / scale
    cuts = kernels.corners(points, _WINDOW / scale, _CORNER)
    if np.array_equal(points[0], points[-1]) and not len(cuts):
        ring = fair(points[:-1], True, off)
        return np.append(ring, ring[:1], axis=0)
    ends = [0, *cuts.tolist(), len(points) - 1]
    parts = [fair(points[a:b + 1], False, off) for a, b in zip(ends, ends[1:], strict=False)]
    return np.concatenate([parts[0][:1], *(part[1:] for part in parts)])


def _rim(sculpt: Sculpt) -> np.ndarray:
    """Which vertices (n,) lie where the surface ends."""
    start, end, keys = kernels.half_edges(sculpt.faces)
    _, first, times = np.unique(keys, return_index=True, return_counts=True)
    rim = np.zeros(len(sculpt.vertices), dtype=bool)
    rim[start[first[times == 1]]] = rim[end[first[times == 1]]] = True
    return rim


# --- curves ------------------------------------------------------------------


def _store(item: bpy.types.Object, name: str, lines: list[np.ndarray]) -> None:
    old = getattr(item.foamwright, name)
    if old and _alike(_splines(old), [line[:, :3] for line in lines]):
        return
    # A copy of the object shares the curve, so it is never changed but another one made.
    setattr(item.foamwright, name, _curve(f"{item.name} {name.replace('_', ' ')}", lines)
            if lines else None)
    if old and not old.users:
        bpy.data.curves.remove(old)


def _curve(name: str, lines: list[np.ndarray]) -> bpy.types.Curve:
    """A curve through the points of lines (k, 6); the normals are a property of its own."""
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions = "3D"
    normals = []
    for line in lines:
        ring = np.array_equal(line[0, :3], line[-1, :3])
        line = line[:-1] if ring else line
        spline = curve.splines.new("POLY")
        spline.points.add(len(line) - 1)
        spline.points.foreach_set("co", np.column_stack([line[:, :3], np.ones(len(line))]).ravel())
        spline.use_cyclic_u = ring
        normals.append(line[:, 3:] / np.maximum(
            np.linalg.norm(line[:, 3:], axis=1, keepdims=True), 1e-300))
    curve[_NORMALS] = np.concatenate(normals).ravel().tolist()
    return curve


def _splines(curve: bpy.types.Curve) -> list[np.ndarray]:
    lines = []
    for spline in curve.splines:
        points = np.empty(4 * len(spline.points), dtype=np.float32)
        spline.points.foreach_get("co", points)
        lines.append(_closed(points.reshape(-1, 4)[:, :3].astype(np.float64), spline))
    return lines


def _normals(curve: bpy.types.Curve) -> list[np.ndarray]:
    """The surface normals (k, 3) at the points of each line."""
    stops = np.cumsum([len(spline.points) for spline in curve.splines])
    return [_closed(part, spline) for part, spline in zip(
        np.split(np.array(curve[_NORMALS]).reshape(-1, 3), stops[:-1]), curve.splines,
        strict=True)]


def _closed(points: np.ndarray, spline: bpy.types.Spline) -> np.ndarray:
    return np.append(points, points[:1], axis=0) if spline.use_cyclic_u else points


def _alike(some: list[np.ndarray], others: list[np.ndarray]) -> bool:
    return len(some) == len(others) and all(
        a.shape == b.shape and np.abs(a - b).max() <= _SAME * np.ptp(a, axis=0).max()
        for a, b in zip(some, others, strict=True))
