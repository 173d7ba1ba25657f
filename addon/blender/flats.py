"""The flat preview: every piece as a flat, lettered object beside the sculpt.

A collection keeps the pieces together; where the maker has moved or turned them
to, those that are shown next go too. A piece's object knows its code and the object it comes from,
its faces the maker's own face each came from, so that either can be selected from the other. All
of it can be thrown away and made again at any time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import bpy
import numpy as np
from mathutils import Matrix

from ..core.model import Pattern, Piece
from ..core.nest import beside
from ..export.flats import letters, lines
from ..export.strokes import Drawing
from .colours import of_utilisation
from .draw_data import at_vertices
from .read import Source
from .write import Places, in_units, own_faces, triangle_mesh

NAME = "Foamwright Flat"
FACE = "foamwright_face"  # of the flat's faces: the maker's own face, -1 where it has none
USE = "foamwright_use"  # of the flat's faces: utilisation, 1 is the limit of the heated foam
COLOUR = "Strain"  # of the flat's corners: utilisation as the overlay shows it, smoothed
_GAP = 30.0  # between pieces, mm
_ASIDE = 150.0  # between the sculpt and the first piece, mm
_LIFT = 1.0  # of the lines above the foam, mm
FOAM, LINES, CHOSEN = "Foamwright Foam", "Foamwright Lines", "Foamwright Chosen"
_LOOKS = {FOAM: (0.70, 0.67, 0.61, 1.0), LINES: (0.02, 0.02, 0.02, 1.0),
          CHOSEN: (0.95, 0.62, 0.12, 1.0)}


def show(scene: bpy.types.Scene, pattern: Pattern, sources: Sequence[Source],
         drawings: Mapping[str, Drawing]) -> list[bpy.types.Object]:
    """Show the pieces of a pattern, in place of those shown before; returns their objects.

    drawings: what is drawn on each piece, by its code (see export.flats.sketch).
    """
    home = _home(scene)
    moved = _moved(scene)
    _clear(home)
    # The pieces stand upright and face the front, as the suit does.
    corner = Matrix.Translation(in_units(scene, _corner(pattern))) @ Matrix.Rotation(
        np.pi / 2, 4, "X")
    height = float(np.ptp(pattern.sculpt.vertices[pattern.sculpt.faces].reshape(-1, 3) @
                          pattern.sculpt.up))
    shown = []
    for place in beside(pattern.pieces, height, _GAP):
        piece = pattern.piece(place.piece)
        item = _piece(scene, piece, pattern, sources)
        drawn = _lines(scene, piece, drawings[piece.code])
        drawn.parent = item  # it lies in the same place, so Blender draws no line between them
        placed = corner @ Matrix.Translation((*in_units(scene, place.offset), 0.0))
        item.foamwright.laid = [x for row in placed for x in row]
        item.matrix_basis = moved @ placed
        for made in (item, drawn):
            home.objects.link(made)
        shown.append(item)
    return shown


def remove(scene: bpy.types.Scene) -> bool:
    """Remove the preview; False where there is none. What the maker put beside it stays."""
    home = scene.foamwright.flats
    if home is None:
        return False
    _clear(home)
    if home.objects or home.children:
        scene.foamwright.flats = None
    else:
        bpy.data.collections.remove(home)
    for name in _LOOKS:
        look = bpy.data.materials.get(name)
        if look is not None and not look.users:
            bpy.data.materials.remove(look)
    return True


def is_flat(item: bpy.types.Object) -> bool:
    """Is this object a part of the preview, and nothing to make of foam?"""
    return bool(item.foamwright.piece)


def shown(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The objects of the pieces, without their lines."""
    home = scene.foamwright.flats
    return [o for o in home.objects if is_flat(o) and o.foamwright.source] if home else []


def places_of(items: Sequence[bpy.types.Object]) -> Places:
    """The maker's own faces that these pieces are made from, ready for `write.select`."""
    places: Places = {}
    for item in items:
        faces = faces_of(item)
        found = places.setdefault(item.foamwright.source.name, {"faces": []})["faces"]
        found += np.unique(faces[faces >= 0]).tolist()
    return {name: elements for name, elements in places.items() if elements["faces"]}


def faces_of(item: bpy.types.Object) -> np.ndarray:
    """The maker's own face (m,) that each face of a flat piece came from, -1 where none."""
    attribute = item.data.attributes.get(FACE)
    if attribute is None or attribute.domain != "FACE":  # the maker took it away
        return np.empty(0, dtype=np.int32)
    faces = np.empty(len(attribute.data), dtype=np.int32)
    attribute.data.foreach_get("value", faces)
    return faces


def point_out(item: bpy.types.Object, chosen: bool) -> bool:
    """Shade a flat piece as one that is chosen on the sculpt, or as others; False where it is."""
    look = CHOSEN if chosen else FOAM
    if not item.material_slots:  # the maker took it away
        return False
    slot = item.material_slots[0]
    if slot.material is not None and slot.material.name == look:
        return False
    slot.link, slot.material = "OBJECT", _look(look)
    item.color = _LOOKS[look]
    return True


# --- building ------------------------------------------------------------------


def _home(scene: bpy.types.Scene) -> bpy.types.Collection:
    group = scene.foamwright
    if group.flats is None:
        group.flats = bpy.data.collections.new(NAME)
    if group.flats not in scene.collection.children_recursive:
        scene.collection.children.link(group.flats)
    return group.flats


def _moved(scene: bpy.types.Scene) -> Matrix:
    """How the maker has moved most of the pieces that are shown from where they were laid."""
    found: dict[tuple[float, ...], list[Matrix]] = {}
    for item in shown(scene):
        laid = Matrix(np.reshape(item.foamwright.laid, (4, 4)).tolist())
        if not laid[3][3]:  # from before this was kept
            continue
        change = item.matrix_basis @ laid.inverted_safe()
        found.setdefault(tuple(np.round(np.ravel(change), 4)), []).append(change)
    return max(found.values(), key=len)[0] if found else Matrix()


def _clear(home: bpy.types.Collection) -> None:
    items = [o for o in home.objects if is_flat(o)]
    if any(item.mode != "OBJECT" for item in items):
        bpy.ops.object.mode_set(mode="OBJECT")  # else Blender never frees what was edited
    for item in items:
        mesh = item.data
        bpy.data.objects.remove(item)
        if not mesh.users:
            bpy.data.meshes.remove(mesh)


def _corner(pattern: Pattern) -> np.ndarray:
    """Where the lower left corner of the pieces stands: beside the sculpt, on its floor."""
    points = pattern.sculpt.vertices[pattern.sculpt.faces].reshape(-1, 3) / pattern.settings.scale
    low, high = points.min(axis=0), points.max(axis=0)
    return np.array([high[0] + _ASIDE, (low[1] + high[1]) / 2, low[2]])


def _piece(scene: bpy.types.Scene, piece: Piece, pattern: Pattern,
           sources: Sequence[Source]) -> bpy.types.Object:
    flat = np.column_stack([piece.flat, np.zeros(len(piece.flat))])
    mesh = triangle_mesh(f"{piece.code} Flat", in_units(scene, flat), piece.faces)
    use = np.minimum(piece.stock.heated.utilisation(piece.stretch), 1e6)  # flipped: no number
    for name, kind, values in ((FACE, "INT", own_faces(pattern.sculpt, sources, piece.source_face)),
                               (USE, "FLOAT", use)):
        mesh.attributes.new(name, kind, "FACE").data.foreach_set(
            "value", values.astype(np.int32 if kind == "INT" else np.float32))
    seen = of_utilisation(at_vertices(piece.vertices, piece.faces, use)[piece.faces.ravel()])
    mesh.color_attributes.new(COLOUR, "BYTE_COLOR", "CORNER").data.foreach_set(
        "color_srgb", np.column_stack([seen, np.ones(len(seen))]).astype(np.float32).ravel())
    item = _object(mesh, piece, FOAM)
    item.foamwright.source = bpy.data.objects.get(piece.object)
    return item


def _lines(scene: bpy.types.Scene, piece: Piece, drawing: Drawing) -> bpy.types.Object:
    """Lines and letters of a piece in one mesh, which cannot be clicked."""
    ends = lines(drawing).reshape(-1, 2)
    points, faces = _filled(letters(drawing))
    high = np.full((len(ends) + len(points), 1), _LIFT)
    mesh = bpy.data.meshes.new(f"{piece.code} Lines")
    mesh.from_pydata(
        in_units(scene, np.hstack([np.concatenate([ends, points]), high])).tolist(),
        np.arange(len(ends)).reshape(-1, 2).tolist(), [[i + len(ends) for i in f] for f in faces])
    item = _object(mesh, piece, LINES)
    item.hide_select = True
    return item


def _object(mesh: bpy.types.Mesh, piece: Piece, look: str) -> bpy.types.Object:
    mesh.materials.append(_look(look))
    item = bpy.data.objects.new(mesh.name, mesh)
    item.color = _LOOKS[look]
    item.foamwright.piece = piece.code
    return item


def _look(name: str) -> bpy.types.Material:
    material = bpy.data.materials.get(name) or bpy.data.materials.new(name)
    material.diffuse_color = _LOOKS[name]
    return material


def _filled(contours: list[np.ndarray]) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """Points (n, 2) and faces that fill closed contours; Blender's own fill of a flat curve."""
    curve = bpy.data.curves.new(NAME, "CURVE")
    holder = bpy.data.objects.new(NAME, curve)
    try:
        curve.dimensions, curve.fill_mode = "2D", "BOTH"
        for contour in contours:
            spline = curve.splines.new("POLY")
            spline.points.add(len(contour) - 1)
            spline.points.foreach_set("co", np.column_stack(
                [contour, np.zeros(len(contour)), np.ones(len(contour))]).ravel())
            spline.use_cyclic_u = True
        mesh = holder.to_mesh()
        points = np.array([v.co[:2] for v in mesh.vertices]).reshape(-1, 2)
        faces = [tuple(p.vertices) for p in mesh.polygons]
        holder.to_mesh_clear()
    finally:
        bpy.data.objects.remove(holder)
        bpy.data.curves.remove(curve)
    return points, faces
