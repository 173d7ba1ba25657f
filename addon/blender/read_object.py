"""One object of the suit: its mesh as arrays, its foam, and what to say about it."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np

from ..core.errors import NOTE, WARNING, Finding
from ..core.model import INNER, MIDDLE, OUTER, SculptObject, Settings
from ..core.trace import Places
from ..core.units import format_length
from . import anchors
from .built import read_built
from .copies import ORIGIN
from .marks import read_marks
from .settings import object_side, object_stock
from .triangles import triangles
from .wearer import AUTO

_FACE_NAMES = {OUTER: "outer face", MIDDLE: "middle", INNER: "inner face"}


@dataclass(frozen=True, eq=False)
class Part:
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

    def ground(self, mesh: bpy.types.Mesh, matrix: np.ndarray, scale: float
               ) -> anchors.Ground | None:
        """The surface for lines; mesh: the maker's own, matrix (4, 4): from its space to mm,
        scale: of the suit."""
        if self.place is None:
            return None
        origin = np.append(self.origin, -1)[self.polygon]
        return anchors.Ground(Places(self.vertices, self.faces, origin, self.place),
                              anchors.digest(mesh), matrix, scale)

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


def read_mesh(shown: bpy.types.Object, mm: float) -> Part:
    """An evaluated working copy (see `copies`) in mm; mm: millimetres in a Blender unit."""
    mesh, before = shown.to_mesh(), shown.original.data
    try:
        matrix = np.array(shown.matrix_world, dtype=np.float64)
        local = np.empty(3 * len(mesh.vertices), dtype=np.float32)
        if len(local):  # an empty mesh has no such attribute
            mesh.attributes["position"].data.foreach_get("vector", local)
        divided = triangles(mesh)
        faces, polygon = divided.vertices, divided.polygon
        mirrored = bool(np.linalg.det(matrix[:3, :3]) < 0)
        origin = np.full(len(mesh.polygons), -1, dtype=np.int32)
        attribute = mesh.attributes.get(ORIGIN)
        if attribute and attribute.domain == "FACE" and attribute.data_type == "INT":
            attribute.data.foreach_get("value", origin)
        edges, kinds = read_marks(mesh)
        lost = not len(kinds) and len(read_marks(before)[1]) > 0
        built = read_built(mesh)[polygon]
        place = anchors.corner_places(mesh, divided.loops)
        if place is not None:
            place = place[built, ::-1] if mirrored else place[built]
        faces, edges, kinds, unbuilt = _built_only(faces, built, edges, kinds)
        return Part(
            vertices=(local.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]) * mm,
            faces=faces[:, ::-1] if mirrored else faces,
            polygon=polygon[built],
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


def mean_scale(shown: bpy.types.Object) -> float:
    """How much larger an object is than its own space, the same volume taken for all sides."""
    return abs(np.linalg.det(np.array(shown.matrix_world)[:3, :3])) ** (1 / 3)


def read_choices(item: bpy.types.Object, settings: Settings,
                  mm: float) -> tuple[SculptObject, list[Finding]]:
    """Stock, face and place of one object, and what to say about its Solidify modifier.
    mm: millimetres in a unit of its own space."""
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
    worn = "" if item.foamwright.worn == AUTO else item.foamwright.worn
    return SculptObject(item.name, stock, side, _lies_on(item), worn), findings


def _lies_on(item: bpy.types.Object) -> str | None:
    """The name of what an object is glued on, "" for nothing, None where contact tells."""
    group = item.foamwright
    if group.rests == "OBJECT":
        return group.lies_on.name if group.lies_on else None
    return "" if group.rests == "SELF" else None
