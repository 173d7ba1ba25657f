"""Make the pictures of the README from the example scene.

    python example_scenes/render_pictures.py [FOLDER]

`suit.png` shows the sculpt with its marks and needs Blender's Python module
only. `templates.png` and `plan.png` are pages of the PDFs that
the command writes for the suit; they need `pdftoppm` (poppler) and are left
out, with a word, where it is not installed.
"""

import math
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix, Vector

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from addon.blender.marks import read_marks  # noqa: E402
from addon.core.mesh import arc_length, chains  # noqa: E402
from addon.core.model import SCORE, SEAM, TRENCH  # noqa: E402
from addon.core.stock import find_stock  # noqa: E402
from example_scenes import armour  # noqa: E402

SCENE = ROOT / "example_scenes" / "ferry_warden.blend"
PAGE, WORDS = (0.93, 0.92, 0.90), (0.0, 0.0, 0.0, 1.0)
# Colour, radius (m), and dash and gap (m) of each mark; each is told apart without its colour.
STYLE = {SEAM: ("seam", (0.85, 0.16, 0.05, 1.0), 0.0021, None),
         TRENCH: ("trench", (0.20, 0.62, 1.0, 1.0), 0.0019, (0.020, 0.008)),
         SCORE: ("score line", (0.95, 0.66, 0.05, 1.0), 0.0017, (0.004, 0.006))}


def dashes(points: np.ndarray, dash: tuple[float, float] | None) -> list[np.ndarray]:
    """A line (k, 3) cut into dashes; the whole line where it is drawn through."""
    if dash is None:
        return [points]
    along = arc_length(points)
    starts = np.arange(0.0, along[-1] - 0.25 * dash[0], sum(dash))
    at = [np.unique(np.clip([s, s + dash[0] / 2, s + dash[0]], 0, along[-1])) for s in starts]
    return [np.stack([np.interp(a, along, points[:, k]) for k in range(3)], axis=1) for a in at]


def draw_lines(name: str, lines: list[np.ndarray], kind: int, collection) -> bpy.types.Object:
    """Thin tubes of one mark's style."""
    _, colour, radius, dash = STYLE[kind]
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", radius, 2
    curve.use_fill_caps = True
    for line in lines:
        for part in dashes(line, dash):
            spline = curve.splines.new("POLY")
            spline.points.add(len(part) - 1)
            spline.points.foreach_set(
                "co", np.concatenate([part, np.ones((len(part), 1))], axis=1).ravel())
    item = bpy.data.objects.new(name, curve)
    item.color = colour
    collection.objects.link(item)
    return item


def draw_marks(item: bpy.types.Object, collection) -> None:
    edges, kinds = read_marks(item.data)
    position = np.empty(3 * len(item.data.vertices), dtype=np.float32)
    item.data.attributes["position"].data.foreach_get("vector", position)
    position = position.reshape(-1, 3).astype(float)
    for kind in STYLE:
        runs = chains(edges[kinds == kind])
        if runs:
            draw_lines(f"{item.name} {STYLE[kind][0]}", [position[r] for r in runs], kind,
                       collection)


def thicken(item: bpy.types.Object, thickness: float) -> None:
    """Show the foam: it lies inside the sculpted face."""
    solid = item.modifiers.new("foam", "SOLIDIFY")
    solid.thickness, solid.offset, solid.use_even_offset = thickness, -1.0, True


def words(text: str, at: tuple, size: float, turn: Matrix, collection) -> None:
    curve = bpy.data.curves.new(text, "FONT")
    curve.body, curve.size = text, size
    curve.font = bpy.data.fonts.load(str(ROOT / "addon" / "fonts" / "IBMPlexSans-Regular.ttf"),
                                     check_existing=True)
    item = bpy.data.objects.new(text, curve)
    item.color = WORDS
    item.matrix_world = Matrix.Translation(at) @ turn
    collection.objects.link(item)


class Stage:
    """A scene of its own in which things stand side by side, seen squarely from one side."""

    def __init__(self, tilt: float):
        self.scene = bpy.data.scenes.new("picture")
        self.collection = self.scene.collection
        self.tilt = math.radians(tilt)  # the camera looks down by this

    def stand(self, items: list[bpy.types.Object], turn: float, across: float) -> None:
        """Copies of the items, turned about the vertical and set aside."""
        place = Matrix.Translation((across, 0, 0)) @ Matrix.Rotation(math.radians(turn), 4, "Z")
        for item in items:
            copy = item.copy()
            copy.matrix_world = place @ item.matrix_world
            self.collection.objects.link(copy)

    def legend(self, left: float, height: float, kinds: list[int], size: float = 0.038,
               step: float = 0.062) -> None:
        """A sample of each mark with its name, flat before the camera."""
        turn = Matrix.Rotation(math.pi / 2 - self.tilt, 4, "X")
        for i, kind in enumerate(kinds):
            z = height - i * step
            line = np.linspace((left, -1.0, z), (left + 0.1, -1.0, z), 9)
            draw_lines(f"legend {kind}", [line], kind, self.collection)
            words(STYLE[kind][0], (left + 0.12, -1.0, z - 0.3 * size), size, turn,
                  self.collection)

    def render(self, path: Path, centre: tuple, width: float, pixels: tuple[int, int]) -> None:
        scene = self.scene
        camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
        camera.data.type, camera.data.ortho_scale = "ORTHO", width
        direction = Vector((0, -math.cos(self.tilt), math.sin(self.tilt)))
        camera.location = Vector(centre) + 6 * direction
        camera.rotation_euler = (math.pi / 2 - self.tilt, 0, 0)
        self.collection.objects.link(camera)
        scene.camera = camera
        scene.world = bpy.data.worlds.new("page")
        scene.world.color = PAGE
        scene.render.engine = "BLENDER_WORKBENCH"
        scene.render.resolution_x, scene.render.resolution_y = pixels
        scene.render.resolution_percentage = 100
        scene.view_settings.view_transform = "Standard"
        scene.display.render_aa = "16"
        scene.render.dither_intensity = 0.0  # noise only makes the file large
        shading = scene.display.shading
        shading.light, shading.color_type = "STUDIO", "OBJECT"
        shading.show_cavity, shading.cavity_type = True, "BOTH"
        shading.curvature_ridge_factor, shading.curvature_valley_factor = 0.6, 0.8
        shading.show_specular_highlight = True
        scene.render.image_settings.file_format = "PNG"
        scene.render.image_settings.color_mode = "RGB"
        scene.render.image_settings.compression = 100
        scene.render.filepath = str(path)
        bpy.ops.render.render(write_still=True, scene=scene.name)


def dressed(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """Everything in the open file, the armour as foam with its marks drawn."""
    drawn = bpy.data.collections.new("marks")
    for plate in armour.suit():
        item = scene.objects[plate.name]
        draw_marks(item, drawn)
        thicken(item, find_stock(plate.stock).thickness / 1000)
    return [*scene.objects, *drawn.objects]


def suit(path: Path) -> None:
    """The suit from the front and from behind, with its marks."""
    bpy.ops.wm.open_mainfile(filepath=str(SCENE), load_ui=False)
    items = dressed(bpy.context.scene)
    stage = Stage(tilt=7)
    stage.stand(items, 28, -0.47)
    stage.stand(items, 208, 0.47)
    stage.legend(-0.14, 0.62, list(STYLE))
    stage.render(path, (0, 0, 1.06), 1.94, (1000, 818))


def page_with(document: Path, *texts: str) -> str:
    """Number of the first page on which all the texts stand. Raises ValueError without one."""
    done = subprocess.run(["pdftotext", "-layout", document, "-"], check=True,
                          capture_output=True, encoding="utf-8")
    for number, page in enumerate(done.stdout.split("\f"), start=1):
        if all(text in page for text in texts):
            return str(number)
    raise ValueError(f"{document.name} has no page with {texts}")


def pages(folder: Path) -> None:
    """A page of templates and a page of the build plan, as pictures."""
    if not (shutil.which("pdftoppm") and shutil.which("pdftotext")):
        print("templates.png and plan.png are left out: poppler is not installed.")
        return
    with tempfile.TemporaryDirectory() as made:
        subprocess.run([sys.executable, "-m", "addon", "make", SCENE, "--out", made],
                       cwd=ROOT, check=True)
        for name, document, texts in (("templates", "pattern.pdf", ("KL3", "scale 1:1")),
                                      ("plan", "plan.pdf", ("Heat-form KL1",))):
            page = page_with(Path(made) / document, *texts)
            subprocess.run(["pdftoppm", "-r", "90", "-f", page, "-l", page, "-gray", "-png",
                            "-singlefile", Path(made) / document, folder / name], check=True)


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    suit(folder / "suit.png")
    pages(folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures")
