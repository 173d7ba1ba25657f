"""Draws what the foam says over the sculpt. All that is drawn is computed in `draw_data`."""

from __future__ import annotations

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix, Vector

from . import fitting, labels, legend, lines_shown, live, maps, trial
from .draw_data import RELIEF, TRY, Drawn, map_corners, scale_top
from .line_styles import STYLES

# Shares of the distance by which things are drawn nearer to the eye than the sculpt. What is only
# proposed may run below coarse faces.
_SURFACE, EDGES, LINES = 0.001, 0.002, 0.0035
_PROPOSED_EDGES, _PROPOSED = 0.006, 0.0075
_EDGE = 2.2  # points that a line is wider with its edge
_handles: list = []
_shaders: dict[str, gpu.types.GPUShader] = {}
_batches: dict[tuple[int, bool], tuple[Drawn, object, dict[str, object]]] = {}
_map_batches: dict[tuple[int, float], object] = {}  # by the mesh of a map, and its scale
_shown_batches: dict[int, tuple[lines_shown.Shown, dict[str, object]]] = {}

_VERTEX = """
void main()
{
  direction = normal;
  tint = colour;
  gl_Position = transform * vec4(pos, 1.0);
}
"""
_FRAGMENT = """
void main()
{
  vec3 facing = normalize(direction);
  if (!gl_FrontFacing) {
    facing = -facing;
  }
  float light = mix(0.78, 1.0, clamp(dot(facing, light_from), 0.0, 1.0));
  vec3 shown = tint.rgb;
  if (tint.a > look.w) {  // beyond what heated foam takes; denser beyond what may be tried
    float period = tint.a > dense ? 7.0 : 14.0;
    if (mod(gl_FragCoord.x + gl_FragCoord.y, period * look.y) < 1.5 * look.y) {
      shown = mix(shown, vec3(0.98, 0.96, 0.90), 0.6);
    }
  }
  if (!gl_FrontFacing) {
    shown = mix(shown, vec3(0.45), 0.6);
  }
  shown *= light;
  if (look.z > 0.5) {  // the frame wants linear light and encodes it itself
    shown = mix(shown / 12.92, pow((shown + 0.055) / 1.055, vec3(2.4)),
                step(vec3(0.04045), shown));
  }
  colour_out = vec4(shown, look.x);
}
"""


def surface_shader() -> gpu.types.GPUShader:
    """Faces in their colour, lit a little from beside the eye, and hatched on the screen."""
    if "surface" not in _shaders:
        between = gpu.types.GPUStageInterfaceInfo("foamwright_surface")
        between.smooth("VEC3", "direction")
        between.smooth("VEC4", "tint")
        info = gpu.types.GPUShaderCreateInfo()
        info.push_constant("MAT4", "transform")
        info.push_constant("VEC3", "light_from")
        # Opacity, pixels in a point, 1 for linear light, and utilisation where hatching begins.
        info.push_constant("VEC4", "look")
        info.push_constant("FLOAT", "dense")  # utilisation where it is denser
        info.vertex_in(0, "VEC3", "pos")
        info.vertex_in(1, "VEC3", "normal")
        info.vertex_in(2, "VEC4", "colour")
        info.vertex_out(between)
        info.fragment_out(0, "VEC4", "colour_out")
        info.vertex_source(_VERTEX)
        info.fragment_source(_FRAGMENT)
        _shaders["surface"] = gpu.shader.create_from_info(info)
    return _shaders["surface"]


def _line_shader() -> gpu.types.GPUShader:
    return gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")


def batches(drawn: Drawn, utilised: bool) -> tuple[object, dict[str, object]]:
    """The surface and the lines on the graphics card; built once for each answer."""
    key = id(drawn), utilised
    if key not in _batches:
        alive = {id(d) for d in live.state.drawn.values()}
        for old in [k for k in _batches if k[0] not in alive]:
            del _batches[old]
        surface = batch_for_shader(surface_shader(), "TRIS", drawn.corners(utilised))
        lines = {kind: line_batch(ends) for kind, ends in drawn.lines.items() if len(ends)}
        _batches[key] = drawn, surface, lines
    return _batches[key][1:]


def line_batch(ends: np.ndarray) -> gpu.types.GPUBatch:
    """Straight parts of lines, on the graphics card."""
    return batch_for_shader(_line_shader(), "LINES", {"pos": ends})


def pulled(projection: Matrix, share: float, distance: float) -> Matrix:
    """The projection with depths nearer to the eye by a share of the distance."""
    near = projection.copy()
    if projection[3][3] == 0.0:  # perspective: depth is a + b / distance
        near[2][3] /= 1.0 - share
    else:
        near[2][3] += projection[2][2] * share * distance
    return near


def shown_objects(context: bpy.types.Context) -> list[tuple[bpy.types.Object, Drawn, Matrix]]:
    """Each object that can be seen with what to draw of it, and how it was moved since."""
    space, scene, found = context.space_data, context.scene, []
    if live.state.scene != scene.session_uid:
        return []
    for name, drawn in live.state.drawn.items():
        item = scene.objects.get(name)
        if item and item.visible_get() and item.visible_in_viewport_get(space):
            found.append((item, drawn, item.matrix_world @ live.state.placed[name].inverted_safe()))
    return found


def draw_view(context: bpy.types.Context, view: Matrix, projection: Matrix,
              linear: bool = False) -> None:
    """Faces, lines and labels, into the picture and depths that are being drawn.

    linear: that picture takes linear light, as that of a 3D view does; Blender's own shaders
    find that out for themselves.
    """
    group = context.scene.foamwright
    items = shown_objects(context)
    scale, distance = scales(context)
    utilised = group.overlay_shows == "UTILISATION"
    surfaces = []
    if group.overlay_shows in ("TRIAL", "FIT"):
        surfaces = [(item, batch, item.matrix_world) for item, batch in _maps(context)]
    elif group.overlay_shows != "LINES":
        surfaces = [(item, batches(drawn, utilised)[0], moved) for item, drawn, moved in items]
    if not items and not surfaces:
        return
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    with gpu.matrix.push_pop(), gpu.matrix.push_pop_projection():
        near = pulled(projection, _SURFACE, distance)
        for item, batch, moved in surfaces:
            opacity = group.overlay_opacity * (1.0 if item.mode == "OBJECT" else 0.5)
            draw_surface(batch, near, view @ moved, opacity, scale, linear)
        for edge, share in ((True, EDGES), (False, LINES)):
            gpu.matrix.load_projection_matrix(pulled(projection, share, distance))
            for _, drawn, moved in items:
                gpu.matrix.load_matrix(view @ moved)
                draw_styled(batches(drawn, utilised)[1], edge, scale)
        labels.draw(context, items, view, projection, scale)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def draw_surface(batch: gpu.types.GPUBatch, projection: Matrix, view: Matrix, opacity: float,
                 scale: float, linear: bool) -> None:
    """Faces of one thing, on the graphics card as `Drawn.corners` has them."""
    eye = view.to_3x3().inverted_safe() @ Vector((-0.35, 0.45, 1.0))
    shader = surface_shader()
    shader.bind()
    shader.uniform_float("transform", projection @ view)
    shader.uniform_float("light_from", eye.normalized())
    shader.uniform_float("look", (opacity, scale, float(linear), TRY))
    shader.uniform_float("dense", RELIEF)
    batch.draw(shader)


def draw_lines(context: bpy.types.Context, view: Matrix, projection: Matrix) -> None:
    """The lines that are seen without asking the foam, likewise."""
    found = shown_lines(context)
    for old in [key for key in _shown_batches if key not in {id(each) for each in found}]:
        del _shown_batches[old]
    if not found:
        return
    for each in found:
        if id(each) not in _shown_batches:
            _shown_batches[id(each)] = each, {each.kind: line_batch(each.ends)}
    scale, distance = scales(context)
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    with gpu.matrix.push_pop(), gpu.matrix.push_pop_projection():
        gpu.matrix.load_matrix(view)
        for edge, share in ((True, _PROPOSED_EDGES), (False, _PROPOSED)):
            gpu.matrix.load_projection_matrix(pulled(projection, share, distance))
            for each in found:
                draw_styled(_shown_batches[id(each)][1], edge, scale)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def shown_lines(context: bpy.types.Context) -> list[lines_shown.Shown]:
    """Of these lines those whose object can be seen; the marks only where seams are shown."""
    space, objects = context.space_data, context.scene.objects
    return [each for each in lines_shown.of_scene(context.scene)
            if (item := objects.get(each.name)) and item.visible_get()
            and item.visible_in_viewport_get(space)
            and (item.type != "MESH" or space.overlay.show_edge_seams)]


def _maps(context: bpy.types.Context) -> list[tuple[bpy.types.Object, object]]:
    """The maps of the trial build, or of the fit, of objects that can be seen, on the graphics
    card."""
    space, scene = context.space_data, context.scene
    fit = scene.foamwright.overlay_shows == "FIT"
    top = fitting.FAR if fit else scale_top(scene.foamwright.trial.most)
    known = fitting.shown(scene) if fit else trial.shown(scene)
    found = [(item, mesh) for item, mesh in known
             if item.visible_get() and item.visible_in_viewport_get(space)]
    for old in set(_map_batches) - {(mesh.session_uid, top) for _, mesh in found}:
        del _map_batches[old]
    for _, mesh in found:
        if (mesh.session_uid, top) not in _map_batches:
            shown = maps.read(mesh)
            # Dark is what matters: far beside the sculpt, or near the body.
            shares = top - shown.beside if fit else shown.beside
            _map_batches[mesh.session_uid, top] = batch_for_shader(
                surface_shader(), "TRIS",
                map_corners(shown.points, shown.triangles, shares, top))
    return [(item, _map_batches[mesh.session_uid, top]) for item, mesh in found]


def scales(context: bpy.types.Context) -> tuple[float, float]:
    """Pixels in a point, and the distance of what is looked at."""
    region = context.region_data
    return (context.preferences.system.ui_scale or 1.0, region.view_distance if region else 1.0)


def draw_styled(lines: dict[str, object], edge: bool, scale: float) -> None:
    """Lines by their kinds, on the graphics card, or what stands beside them."""
    shader = _line_shader()
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    for kind, style in STYLES.items():
        if kind not in lines or edge and style.edge is None:
            continue
        shader.uniform_float("lineWidth", scale * (style.width + (_EDGE if edge else 0.0)))
        shader.uniform_float("color", (*style.edge, 0.85) if edge else (*style.colour, 1.0))
        lines[kind].draw(shader)


def _post_view():
    context = bpy.context
    if not context.space_data.overlay.show_overlays:
        return
    view, lens = gpu.matrix.get_model_view_matrix(), gpu.matrix.get_projection_matrix()
    if context.scene.foamwright.overlay:
        draw_view(context, view, lens, linear=True)
    draw_lines(context, view, lens)


def _post_pixel():
    context = bpy.context
    if context.space_data.overlay.show_overlays:
        overlay = context.scene.foamwright.overlay
        legend.draw(context, [drawn for _, drawn, _ in shown_objects(context)] if overlay else (),
                    {each.kind for each in shown_lines(context)})


def register() -> None:
    if not bpy.app.background:
        for function, when in ((_post_view, "POST_VIEW"), (_post_pixel, "POST_PIXEL")):
            _handles.append(bpy.types.SpaceView3D.draw_handler_add(function, (), "WINDOW", when))


def unregister() -> None:
    for handle in _handles:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")
    _handles.clear()
    _batches.clear()
    _shown_batches.clear()
    _map_batches.clear()
    _shaders.clear()
