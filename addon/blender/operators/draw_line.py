"""Step 3: lines across faces, drawn on the sculpt with the pointer or from given points."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatVectorProperty,
    StringProperty,
)

from ...core.errors import ERROR, Finding, FoamError
from ...core.model import Guide
from .. import carry, guides, knife, line_preview, marks
from ..choices import MARKS
from ..read import is_sculpt, mm_per_unit
from ..sketch import Sketch, enough
from .base import FoamOperator

_NEAR = 12  # pixels: a click this near to a point takes hold of it, and lines draw it to them
_LOOK = {"MIDDLEMOUSE", "WHEELUPMOUSE", "WHEELDOWNMOUSE", "WHEELINMOUSE", "WHEELOUTMOUSE",
         "TRACKPADPAN", "TRACKPADZOOM", "MOUSEROTATE", "MOUSESMARTZOOM", "NDOF_MOTION",
         *(f"NUMPAD_{k}" for k in (*range(10), "PERIOD", "PLUS", "MINUS"))}


class FoamwrightPick(bpy.types.PropertyGroup):
    """One point that a line was drawn through."""

    place: FloatVectorProperty(size=3, subtype="TRANSLATION", description="Place in the scene")


class DrawLine(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.draw_line"
    bl_label = "Draw Line"
    bl_description = ("Click points on the sculpt; between them the line runs the shortest way "
                      "over the surface, whatever its faces")
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Mark", description="What the maker does along the line", items=MARKS,
                       default="SEAM")
    fair: BoolProperty(
        name="Curved", description="Bend the line evenly through its points, instead of running "
        "straight from each to the next")
    closed: BoolProperty(
        name="Closed", description="Join the last point to the first; needs three points",
        options={"SKIP_SAVE"})
    cut: BoolProperty(
        name="Cut into Mesh",
        description="Make the line part of the mesh now, with new vertices and marked edges. "
        "Otherwise it stays a curve on the sculpt that patterns follow, and the mesh is unchanged")
    points: CollectionProperty(
        type=FoamwrightPick, description="Points of the line, in the scene's units",
        options={"HIDDEN", "SKIP_SAVE"})
    sculpt: StringProperty(
        name="Object", description="Object to draw on; empty for the active one",
        options={"HIDDEN", "SKIP_SAVE"})

    _sketch: Sketch | None = None

    @classmethod
    def description(cls, context, properties):
        return {"SEAM": rpt_("Draw a seam across faces, from point to point"),
                "TRENCH": rpt_("Draw a trench across faces, from point to point"),
                "SCORE": rpt_("Draw a score line across faces, from point to point")}[
                    properties.kind]

    @classmethod
    def poll(cls, context):
        if context.mode in ("OBJECT", "EDIT_MESH") and any(map(is_sculpt, context.scene.objects)):
            return True
        cls.poll_message_set("Leave this mode first: lines are drawn in Object or Edit Mode")
        return False

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        for name in ("kind", "fair", "closed", "cut"):
            layout.prop(self, name)

    # --- from points ------------------------------------------------------------

    def run(self, context):
        item = context.scene.objects.get(self.sculpt) if self.sculpt else context.object
        if item is None or not is_sculpt(item):
            raise FoamError(Finding("no-sculpt", ERROR, "There is no sculpt to draw on.",
                                    "Click the mesh object to draw on first."))
        mm = mm_per_unit(context.scene)
        # Undo in Edit Mode knows nothing of new objects, and a mesh is cut outside of it.
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        sketch = self._sketch
        if sketch is None or sketch.item != item:
            sketch = Sketch(context.scene, item)
        sketch.fair, sketch.closed = self.fair, self.closed
        line = sketch.trace([mm * np.array(point.place) for point in self.points])
        points = enough(line, sketch.scale)
        if self.cut:
            count = knife.plan(context.scene, item, [
                Guide(points, marks.KINDS[self.kind], line.closed, 0, item.name)]).apply()
            self.report({"INFO"}, rpt_("Edges marked: {count}.").format(count=count))
        else:
            made = guides.add_guide(context.scene, item, points / mm, self.kind, line.closed)
            if sketch.ground is not None:
                carry.follow(context.scene, item, sketch.ground)
            self.report({"INFO"}, rpt_("{name}: {length:.1f} mm long.").format(
                name=made.name, length=line.length * sketch.scale))

    # --- with the pointer --------------------------------------------------------

    def invoke(self, context, event):
        if len(self.points):
            return self.execute(context)
        if context.area is None or context.area.type != "VIEW_3D":
            self.report({"ERROR"}, rpt_("Draw lines in a 3D view."))
            return {"CANCELLED"}
        self._hover, self._near, self._held, self._moved = None, -1, -1, False
        self._handle = line_preview.start(self._shown)
        self._tell(context)
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context, event):
        try:
            done = self._event(context, event)
        except FoamError as error:
            self.fail(context, error)
            done = None
        except Exception:
            self._end(context)
            raise
        if done is not None:
            return done
        if context.area:
            context.area.tag_redraw()
        return {"RUNNING_MODAL"}

    def cancel(self, context):
        """Blender ends the operator, because the window closes or another file is opened."""
        self._end(context)

    def _event(self, context, event):
        sketch, pressed = self._sketch, event.value == "PRESS"
        if event.type in _LOOK:
            return {"PASS_THROUGH"}
        if event.type == "MOUSEMOVE":
            self._follow(context, event)
        elif event.type == "LEFTMOUSE":
            if pressed and not _inside(context, event):
                return {"PASS_THROUGH"}
            self._press(context, event) if pressed else self._release()
        elif event.type == "ESC" and pressed:
            self._end(context)
            return {"CANCELLED"}
        elif event.type in ("RET", "NUMPAD_ENTER", "RIGHTMOUSE") and pressed:
            return self._confirm(context)
        elif pressed and sketch is not None and (
                event.type in ("BACK_SPACE", "DEL") or event.type == "Z" and event.ctrl):
            if sketch.picks:
                sketch.picks.pop()
            sketch.closed = sketch.closed and len(sketch.picks) > 2
        elif pressed and event.type == "C" and sketch is not None:
            sketch.closed = not sketch.closed and len(sketch.picks) > 2
        elif pressed and event.type == "F":
            self.fair = not self.fair
            if sketch is not None:
                sketch.fair = self.fair
        elif pressed and event.type == "M":
            self.cut = not self.cut
        self._tell(context)
        return None

    def _press(self, context, event):
        if self._sketch is None:
            item = _under(context, event) or context.object
            if item is None or not is_sculpt(item):
                return
            self._sketch = Sketch(context.scene, item)
            self._sketch.fair = self.fair
        self._follow(context, event)
        if self._near >= 0:
            self._held, self._moved = self._near, False
        elif self._hover is not None and not self._sketch.closed:
            self._sketch.picks.append(self._hover)
            self._held = self._near = len(self._sketch.picks) - 1
            self._moved = True  # a new point can be dragged at once, and does not close the line

    def _release(self):
        sketch = self._sketch
        if sketch and self._held == 0 and not self._moved and len(sketch.picks) > 2:
            sketch.closed = not sketch.closed
        self._held = -1

    def _follow(self, context, event):
        sketch = self._sketch
        if sketch is None:
            return
        place, reach = _place(context, event, sketch)
        self._hover = None if place is None else sketch.snapped(place, reach)
        if self._held >= 0:
            if self._hover is not None and np.linalg.norm(
                    self._hover - sketch.picks[self._held]) > (0 if self._moved else 0.5 * reach):
                sketch.picks[self._held] = self._hover
                self._moved = True
            return
        self._near = -1
        if place is not None and sketch.picks:
            away = np.linalg.norm(np.array(sketch.picks) - place, axis=1)
            if away.min() < reach:
                self._near = int(away.argmin())

    def _confirm(self, context):
        sketch = self._sketch
        if sketch is None or len(sketch.picks) < 2:
            raise FoamError(Finding(
                "line-too-short", ERROR, "A line needs two points.",
                "Click at least twice on the sculpt, then confirm."))
        self.points.clear()
        for pick in sketch.picks:
            self.points.add().place = pick / sketch.mm
        self.closed, self.sculpt = sketch.closed, sketch.item.name
        done = self.execute(context)
        if done == {"FINISHED"}:
            self._end(context)
            return done
        return None  # what is wrong was told; the maker may adjust the line

    def _end(self, context):
        line_preview.stop(self._handle)
        self._handle = self._sketch = None
        if context.area:
            context.area.header_text_set(None)
            context.area.tag_redraw()
        if context.workspace:
            context.workspace.status_text_set(None)

    def _shown(self):
        sketch = self._sketch
        if sketch is None:
            return [], np.empty((0, 3)), -1
        beyond = self._hover if self._held < 0 and self._near < 0 else None
        return ([line / sketch.mm for line in sketch.shown(beyond)],
                np.array(sketch.picks).reshape(-1, 3) / sketch.mm, self._near)

    def _tell(self, context):
        closed = self._sketch is not None and self._sketch.closed
        keys = ((rpt_("Click: add"), False), (rpt_("Drag: move"), False),
                (rpt_("Backspace: take back"), False), (rpt_("C: close"), closed),
                (rpt_("F: curve"), self.fair), (rpt_("M: cut in"), self.cut),
                (rpt_("Enter: confirm"), False), (rpt_("Esc: cancel"), False))
        context.area.header_text_set("   ".join(f"{key} ✓" if on else key for key, on in keys))


def _inside(context: bpy.types.Context, event: bpy.types.Event) -> bool:
    """Is the pointer over the view, and not over a sidebar or header that lies on it?"""
    region = context.region
    return (0 <= event.mouse_region_x < region.width and 0 <= event.mouse_region_y < region.height
            and not any(r.type != "WINDOW" and 0 <= event.mouse_x - r.x < r.width > 1
                        and 0 <= event.mouse_y - r.y < r.height > 1 for r in context.area.regions))


def _ray(context, x: float, y: float) -> tuple[np.ndarray, np.ndarray]:
    from bpy_extras import view3d_utils

    at = context.region, context.region_data, (x, y)
    return (np.array(view3d_utils.region_2d_to_origin_3d(*at)),
            np.array(view3d_utils.region_2d_to_vector_3d(*at)))


def _under(context, event) -> bpy.types.Object | None:
    """The sculpt object under the pointer."""
    origin, direction = _ray(context, event.mouse_region_x, event.mouse_region_y)
    hit, *_, item, _ = context.scene.ray_cast(
        context.evaluated_depsgraph_get(), origin, direction)
    item = item.original if hit else None
    return item if item is not None and is_sculpt(item) else None


def _place(context, event, sketch: Sketch) -> tuple[np.ndarray | None, float]:
    """The place on the sculpt under the pointer, and the length of a few pixels there, mm."""
    from bpy_extras import view3d_utils

    x, y = event.mouse_region_x, event.mouse_region_y
    origin, direction = _ray(context, x, y)
    place = sketch.hit(origin * sketch.mm, direction)
    if place is None:
        return None, 0.0
    beside = view3d_utils.region_2d_to_location_3d(
        context.region, context.region_data, (x + _NEAR, y), (place / sketch.mm).tolist())
    return place, float(np.linalg.norm(np.array(beside) * sketch.mm - place))


CLASSES = (FoamwrightPick, DrawLine)
