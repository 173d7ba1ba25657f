"""What the steps of the window test do again and again: open, look, check, mark, undo."""

import sys

import bmesh
import bpy
import window_hands as hands
from mathutils import Vector

PIECES = 36  # of the example suit
LONG = 300  # seconds for work that takes a maker's machine a tenth of it


def part(name):
    """A module of the add-on as it was installed."""
    return sys.modules["bl_ext.user_default.foamwright.blender." + name]


def answered():
    """Wait until the overlay shows what the foam says of the sculpt as it is."""
    live = part("live")
    yield 1.0
    yield from hands.expect("the foam has answered", lambda: live.state.job is None
                            and live.state.drawn and not live.outdated(), LONG)


def check_foam():
    """Press the button and wait until the check has ended."""
    yield from hands.press("foamwright.check(")
    yield from hands.expect("checked", lambda: bpy.context.scene.foamwright.summary, LONG)


def open_file(path):
    """Open a file as a maker who keeps the layout of the window, and look at it from the front."""
    bpy.ops.wm.open_mainfile(filepath=str(path), load_ui=False)
    yield 1.0
    yield from open_sidebar()
    for key in ("KP_1", "Home"):
        yield from hands.key(key)


def open_sidebar():
    """Show our tab, whatever the file brought, and close the timeline to make room."""
    if any(area.type == "DOPESHEET_EDITOR" for area in hands.window().screen.areas):
        with hands.context("WINDOW", "DOPESHEET_EDITOR"):
            bpy.ops.screen.area_close()
        yield hands.DRAWN
    yield from hands.into_view()
    if hands.region("UI").width < 50:
        yield from hands.key("n")
        yield hands.DRAWN
    assert hands.region("UI").width > 50, "the sidebar did not open"
    hands.region("UI").active_panel_category = "Foamwright"
    yield hands.DRAWN


def look_at(name):
    """Select an object, and see it from the front and large."""
    with hands.context():
        bpy.ops.object.select_all(action="DESELECT")
        item = bpy.data.objects[name]
        item.select_set(True)
        bpy.context.view_layer.objects.active = item
    yield from hands.into_view()
    for key in ("KP_1", "KP_Decimal"):
        yield from hands.key(key)
    yield hands.DRAWN


def edit(name):
    """Bring an object into Edit Mode with edges to select, seen from the front and large."""
    yield from look_at(name)
    for key in ("Tab", "2"):
        yield from hands.key(key)
    yield hands.DRAWN
    assert bpy.context.mode == "EDIT_MESH", bpy.context.mode
    with hands.context():
        bpy.ops.mesh.select_all(action="DESELECT")


def edge_in_the_middle():
    """An edge without a mark near the middle of the view: its index, and where it is seen."""
    view, item = hands.region(), bpy.context.object
    middle = view.x + view.width * 0.4, view.y + view.height * 0.5
    away = hands.area().spaces.active.region_3d.view_rotation @ Vector((0, 0, 1))
    taken, best = marked(), None
    for edge in bmesh.from_edit_mesh(item.data).edges:
        if edge.index in taken or any((item.matrix_world.to_3x3() @ face.normal).dot(away) < 0.7
                                      for face in edge.link_faces):
            continue
        place = hands.on_screen(item.matrix_world @ ((edge.verts[0].co + edge.verts[1].co) / 2))
        far = abs(place[0] - middle[0]) + abs(place[1] - middle[1])
        if best is None or far < best[0]:
            best = far, edge.index, place
    assert best, "no free edge is in view"
    return best[1:]


def marked():
    """The marked edges of the mesh in Edit Mode, their index -> mark."""
    mesh = bmesh.from_edit_mesh(bpy.context.object.data)
    found = {edge.index: "SEAM" for edge in mesh.edges if edge.seam}
    for kind in ("TRENCH", "SCORE"):
        layer = mesh.edges.layers.bool.get("foamwright_" + kind.lower())
        found.update({edge.index: kind for edge in mesh.edges if layer and edge[layer]})
    return found


def selected_edges():
    mesh = bmesh.from_edit_mesh(bpy.context.object.data)
    return {edge.index for edge in mesh.edges if edge.select}


def undo(keys="ctrl+z"):
    """Take the last step back (or do it again), by the keyboard over the view."""
    yield from hands.into_view()
    yield from hands.key(keys)
    yield hands.DRAWN


def click_line(kind="SEAM"):
    """Begin to draw a line, and click from the middle of the breast plate to its side seam."""
    along = {"SEAM": 0.15, "TRENCH": 0.5, "SCORE": 0.85}[kind]
    yield from hands.press(f"foamwright.draw_line(kind='{kind}'", along)
    # On the left, since the sidebar lies over the right of the view.
    for point in ((0, -0.162, 1.149), (-0.075, -0.15, 1.15), (-0.142, -0.116, 1.185)):
        yield from hands.click(*hands.on_screen(point))


def lines():
    """The lines that were drawn across faces."""
    return [item for item in bpy.context.scene.objects
            if item.type == "CURVE" and item.foamwright.guide != "NONE"]


def open_panel(name):
    """Open a panel of our tab by a click on its heading, and those it lies in; close all others.

    A heading is no button that could be felt for, so rows without a button are clicked until the
    panel is drawn; where another was opened, a second click closes it again.
    """
    above = getattr(getattr(bpy.types, name), "bl_parent_id", "")
    if above:
        yield from open_panel(above)
    else:
        yield from _close_panels()
    before = yield from _open_panels()
    for page in range(3):
        if name in before:
            return
        yield from hands.turn_to(page)
        for x, y in hands.rows(0.3):
            yield from hands.rest(x, y)
            if hands.under_pointer().strip():
                continue
            yield from hands.click(x, y)
            now = yield from _open_panels()
            if name in now:
                return
            if now != before:
                yield from hands.click(x, y)
    raise AssertionError(f"no heading in the sidebar opens {name}")


def _close_panels():
    """Close the panels from the top one down, whose headings then lie close together."""
    yield from hands.turn_to(0)
    before = yield from _open_panels()
    for x, y in hands.rows(0.3):
        if not before:
            return
        yield from hands.rest(x, y)
        if hands.under_pointer().strip():
            continue
        yield from hands.click(x, y)
        now = yield from _open_panels()
        if now - before:
            yield from hands.click(x, y)
        else:
            before = now
    assert not before, before


def _open_panels():
    """Names of our panels that are open: those Blender draws, whether they are in view or not."""
    drawn, draws = set(), {kind: kind.draw for kind in bpy.types.Panel.__subclasses__()
                           if kind.__name__.startswith("FOAMWRIGHT_PT")}

    def noting(kind):
        def draw(panel, context):
            drawn.add(kind.__name__)
            draws[kind](panel, context)
        return draw

    for each in draws:
        each.draw = noting(each)
    try:
        hands.region("UI").tag_redraw()
        yield hands.DRAWN
    finally:
        for each, draw in draws.items():
            each.draw = draw
    return drawn
