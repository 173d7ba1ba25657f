"""Make the example scenes of this folder.

    python example_scenes/build_ferry_warden.py [FOLDER]

Runs in Blender's Python module and writes `ferry_warden.blend` and
`ferry_warden_failing.blend`, in which the knee domes lack the seams that give
the foam relief. The same script always makes the same scenes.
"""

import sys
from pathlib import Path

import bpy
import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from addon.blender import properties, schema  # noqa: E402
from addon.blender.marks import ATTRIBUTES, SEAM_ATTRIBUTE  # noqa: E402
from addon.core import model  # noqa: E402
from example_scenes.armour import Plate, Rail, rails, suit  # noqa: E402
from example_scenes.figure import figure  # noqa: E402
from example_scenes.shapes import SCORE, SEAM, TRENCH, Mesh  # noqa: E402

NAME, TITLE = "ferry_warden", "Ferry warden"
EDGE_ATTRIBUTES = {SEAM: SEAM_ATTRIBUTE, TRENCH: ATTRIBUTES[model.TRENCH],
                   SCORE: ATTRIBUTES[model.SCORE]}
ARMOUR_COLOUR, FIGURE_COLOUR = (0.10, 0.22, 0.26, 1.0), (0.60, 0.56, 0.51, 1.0)
SUIT_STOCK = "eva-10"


def blender_mesh(name: str, mesh: Mesh) -> bpy.types.Mesh:
    """A mesh in metres with its marks, smooth but for the marked folds."""
    made = bpy.data.meshes.new(name)
    made.from_pydata((mesh.vertices / 1000.0).tolist(), [], mesh.quads.tolist())
    made.shade_smooth()
    pairs = np.empty(2 * len(made.edges), dtype=np.int32)
    made.attributes[".edge_verts"].data.foreach_get("value", pairs)
    index = {tuple(sorted(pair)): i for i, pair in enumerate(pairs.reshape(-1, 2).tolist())}
    flags = {kind: np.zeros(len(made.edges), dtype=bool) for kind in EDGE_ATTRIBUTES}
    for kind, edges in mesh.marks.items():
        flags[kind][[index[tuple(sorted(edge))] for edge in edges.tolist()]] = True
        made.attributes.new(EDGE_ATTRIBUTES[kind], "BOOLEAN", "EDGE").data.foreach_set(
            "value", flags[kind])
    if mesh.marks:
        sharp = made.attributes.new("sharp_edge", "BOOLEAN", "EDGE")
        sharp.data.foreach_set("value", flags[SEAM] | flags[TRENCH])
    return made


def add(name: str, mesh: Mesh, colour: tuple, collection: bpy.types.Collection
        ) -> bpy.types.Object:
    item = bpy.data.objects.new(name, blender_mesh(name, mesh))
    item.color = colour
    collection.objects.link(item)
    return item


def add_rail(rail: Rail, collection: bpy.types.Collection) -> bpy.types.Object:
    """A curve with a round bevel."""
    curve = bpy.data.curves.new(rail.name, "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", rail.diameter / 2000.0, 4
    curve.use_fill_caps = True
    spline = curve.splines.new("POLY")
    spline.points.add(len(rail.axis) - 1)
    spline.points.foreach_set("co", np.column_stack(
        [rail.axis / 1000.0, np.ones(len(rail.axis))]).ravel())
    spline.use_smooth = True
    item = bpy.data.objects.new(rail.name, curve)
    item.color = ARMOUR_COLOUR
    collection.objects.link(item)
    return item


def fill(scene: bpy.types.Scene, plates: list[Plate], rods: list[Rail]) -> None:
    """Put the suit and the figure into an empty scene."""
    scene.unit_settings.system = "METRIC"
    scene.unit_settings.length_unit = "MILLIMETERS"
    scene.foamwright.stock = SUIT_STOCK
    scene.foamwright.title = TITLE
    schema.upgrade(scene)
    armour = bpy.data.collections.new("Armour")
    body = bpy.data.collections.new("Figure, not built")
    for collection in (armour, body):
        scene.collection.children.link(collection)
    for plate in plates:
        item = add(plate.name, plate.mesh, ARMOUR_COLOUR, armour)
        item.foamwright.include = True
        if plate.stock != SUIT_STOCK:
            item.foamwright.stock = plate.stock
    for rail in rods:
        add_rail(rail, armour).foamwright.include = True
    for name, mesh in figure().items():
        item = add(name, mesh, FIGURE_COLOUR, body)
        item.foamwright.include, item.foamwright.body = False, True
        item.hide_select = True  # so that a click or Select All never takes the figure


def save(path: Path, plates: list[Plate]) -> None:
    bpy.ops.wm.read_factory_settings(use_empty=True)
    fill(bpy.context.scene, plates, rails())
    for screen in bpy.data.screens:  # show the colours above
        for area in (a for a in screen.areas if a.type == "VIEW_3D"):
            area.spaces[0].shading.color_type = "OBJECT"
    bpy.context.preferences.filepaths.save_version = 0  # no .blend1 beside it
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True, check_existing=False)


def main(folder: Path) -> None:
    known = properties.is_registered()
    if not known:
        properties.register()
        schema.register()
    try:
        save(folder / f"{NAME}.blend", suit())
        save(folder / f"{NAME}_failing.blend", suit(relief=False))
    finally:
        if not known:
            schema.unregister()
            properties.unregister()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
