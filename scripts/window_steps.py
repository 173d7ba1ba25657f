"""The steps of the window test: what a maker does, and what must then be true.

Each step is a generator that takes the folder of the run; its docstring says what is done, and
stands in docs/window.md. Every step but the first needs only the installed
extension, so that one can be tried alone.
"""

import glob
import json
import os
import sys

import bmesh
import bpy
import window_hands as hands
from mathutils import Vector

LONG = 300  # seconds for work that takes a maker's machine a tenth of it


def versions():
    """What this ran on."""
    import gpu
    import numpy

    return {"Blender": bpy.app.version_string, "Python": sys.version.split()[0],
            "numpy": numpy.__version__,
            "OpenGL": gpu.platform.renderer_get() + ", " + gpu.platform.version_get()}


def install(folder):
    """Install the zip as an extension and enable it."""
    path = str(next(folder.glob("foamwright*.zip")))
    done = bpy.ops.extensions.package_install_files(
        filepath=path, repo="user_default", enable_on_install=True)
    assert done == {"FINISHED"}, done
    assert "bl_ext.user_default.foamwright" in bpy.context.preferences.addons
    import scipy
    assert "extensions" in scipy.__file__, "scipy does not come from the zip: " + scipy.__file__
    yield


def first_screen(folder):
    """Empty the scene, open the sidebar with N, and see what the tab says there."""
    with hands.context():
        bpy.ops.object.select_all(action="SELECT")
        bpy.ops.object.delete()
    yield from open_sidebar()
    yield from hands.picture(folder / "first_screen.png")


def open_example(folder):
    """Open the example suit with the button on that first screen, and confirm."""
    with hands.context():
        bpy.ops.object.select_all(action="SELECT")
        bpy.ops.object.delete()
    yield from open_sidebar()
    yield from hands.press("foamwright.open_example(")
    if "Breast plate" not in bpy.data.objects:
        yield from hands.key("Return")  # unsaved changes: it asks first
    yield from hands.expect("the suit is open", lambda: "Breast plate" in bpy.data.objects)
    yield from open_sidebar()
    yield from hands.picture(folder / "example.png")


def mark(folder):
    """Click an edge of the breast plate in Edit Mode; mark it as seam, trench and score; undo."""
    yield from open_file(folder / "ferry_warden.blend")
    yield from edit("Breast plate")
    before = marked()
    edge, place = edge_in_the_middle()
    yield from hands.click(*place)
    yield from hands.expect("the edge is selected", lambda: selected_edges() == {edge})
    for kind in ("SEAM", "TRENCH", "SCORE"):
        yield from hands.press(f"foamwright.mark_edges(kind='{kind}'")
        yield from hands.expect(kind, lambda: marked() == {**before, edge: kind})  # noqa: B023
    yield from hands.picture(folder / "mark.png")
    for left in ({edge: "TRENCH"}, {edge: "SEAM"}, {}):
        yield from undo()
        yield from hands.expect("undone", lambda: marked() == {**before, **left})  # noqa: B023
    yield from hands.key("Tab")


def check(folder):
    """Stop a check of the foam with Esc; check again: all 35 pieces can be made."""
    yield from open_file(folder / "ferry_warden.blend")
    group = bpy.context.scene.foamwright
    yield from hands.press("foamwright.check(")
    yield from hands.picture(folder / "progress.png", whole=True)
    yield from hands.key("Escape")
    yield 2.0
    assert not group.summary, "not stopped: " + group.summary
    yield from check_foam()
    assert "35" in group.summary, group.summary
    assert not any(finding.severity == "error" for finding in group.findings)
    yield from hands.picture(folder / "check.png")


def findings(folder):
    """Check the suit without the seams on the knee domes, and click the first finding."""
    yield from open_file(folder / "ferry_warden_failing.blend")
    yield from check_foam()
    assert "relief" in bpy.context.scene.foamwright.summary
    yield from hands.press("foamwright.select_finding(")
    yield from hands.expect("a knee is in Edit Mode", lambda: bpy.context.mode == "EDIT_MESH"
                            and "Knee" in bpy.context.object.name)
    mesh = bmesh.from_edit_mesh(bpy.context.object.data)
    assert any(face.select for face in mesh.faces)
    yield from hands.picture(folder / "finding.png")


def overlay(folder):
    """Show on the sculpt what the foam says: pieces, strain and lines, on a dark and a light theme.
    """
    yield from open_file(folder / "ferry_warden_failing.blend")
    yield from hands.press("foamwright.overlay ", 0.135)
    yield from hands.expect("it is on", lambda: bpy.context.scene.foamwright.overlay)
    yield from answered()
    assert len(part("live").state.drawn) == 9, sorted(part("live").state.drawn)
    modes = ("lines", 0.8), ("strain", 0.5), ("pieces", 0.2)
    for theme in ("dark", "light"):  # Blender starts with the dark one
        if theme == "light":
            bpy.ops.script.execute_preset(
                filepath=next(path for folder in bpy.utils.preset_paths("interface_theme")
                              for path in glob.glob(os.path.join(folder, "*Light.xml"))),
                menu_idname="USERPREF_MT_interface_theme_presets")
        seen = {}
        for name, along in modes if theme == "dark" else modes[:2]:
            yield from hands.press("foamwright.overlay_shows ", along)
            yield from answered()
            path = folder / f"overlay_{name}_{theme}.png"
            yield from hands.picture(path)
            seen[name] = hands.pixels(path)[:, :700]  # beside the sidebar
        for name in set(seen) - {"lines"}:
            share = (abs(seen[name] - seen["lines"]).max(axis=2) > 0.1).mean()
            assert share > 0.03, f"{name} tints only {share:.1%} of the view"
    bpy.ops.preferences.reset_default_theme()


def draw_line(folder):
    """Draw a seam across the faces of the breast plate with three clicks: stopped by Esc, then
    confirmed by Enter, undone and done again. The check counts one piece more."""
    yield from open_file(folder / "ferry_warden.blend")
    bpy.context.scene.foamwright.overlay = True
    yield from look_at("Breast plate")
    yield from answered()
    size = len(bpy.context.object.data.vertices)
    yield from click_line()
    yield from hands.picture(folder / "draw_line.png", park=False)
    yield from hands.key("Escape")
    yield hands.DRAWN
    assert not lines(), lines()
    yield from click_line()
    yield from hands.key("Return")
    yield from hands.expect("the line is there", lambda: len(lines()) == 1)
    yield from undo()
    yield from hands.expect("it is undone", lambda: not lines())
    yield from undo("ctrl+shift+z")
    yield from hands.expect("it is done again", lambda: len(lines()) == 1)
    assert len(bpy.data.objects["Breast plate"].data.vertices) == size, "the mesh was cut"
    yield from check_foam()
    assert "36" in bpy.context.scene.foamwright.summary, bpy.context.scene.foamwright.summary


def relief(folder):
    """Have relief cuts suggested for a knee that fails; accept one. The check then has one
    failing piece less."""
    yield from open_file(folder / "ferry_warden_failing.blend")
    group = bpy.context.scene.foamwright
    group.overlay, group.overlay_shows = True, "UTILISATION"
    yield from look_at("Knee left")
    yield from answered()
    yield from hands.press("foamwright.suggest_relief(")
    yield from hands.expect("cuts are suggested", lambda: len(group.reliefs), LONG)
    assert group.reliefs[0].passes and group.reliefs[0].before > 1, group.reliefs[0].worst
    yield from hands.find("foamwright.accept_relief(", 0.25)
    yield from hands.picture(folder / "relief.png")
    yield from hands.press("foamwright.accept_relief(", 0.25)
    yield from hands.expect("it is a line", lambda: any(not line.foamwright.proposed
                                                        for line in lines()))
    failing = lambda: sum(finding.severity == "error" for finding in group.findings)  # noqa: E731
    before = failing()
    assert before == 2, before
    group.summary = ""
    yield from check_foam()
    assert failing() < before, (before, failing())
    yield from answered()
    yield from hands.picture(folder / "relieved.png")


def flats(folder):
    """Show Flat, as from a menu: the pieces lie flat beside the suit. A piece that is clicked is
    selected on the sculpt."""
    yield from open_file(folder / "ferry_warden.blend")
    with hands.context():
        bpy.ops.foamwright.show_flat("INVOKE_DEFAULT")
    group = bpy.context.scene.foamwright
    yield from hands.expect("the pieces lie flat", lambda: group.flats, LONG)
    pieces = [item for item in group.flats.objects if item.foamwright.source]  # not the lines
    assert len(pieces) == 35, len(pieces)
    yield from hands.into_view()
    yield from hands.key("Home")
    yield from hands.picture(folder / "flats.png")
    item = max(pieces, key=lambda item: item.dimensions.x * item.dimensions.y)
    middle = sum((item.matrix_world @ Vector(corner) for corner in item.bound_box), Vector()) / 8
    yield from hands.click(*hands.on_screen(middle))
    yield from hands.expect("it is selected", item.select_get)
    source, count = item.foamwright.source, len(item.data.polygons)
    assert count
    yield from hands.expect("so are its faces on the sculpt", lambda: any(
        face.select for face in source.data.polygons))


def part(name):
    """A module of the add-on as it was installed."""
    return sys.modules["bl_ext.user_default.foamwright.blender." + name]


def answered():
    """Wait until the overlay shows what the foam says of the sculpt as it is."""
    live = part("live")
    yield 1.0
    yield from hands.expect("the foam has answered", lambda: live.state.job is None
                            and live.state.drawn and not live.outdated(), LONG)


def export(folder):
    """Write the templates of the example suit to a folder."""
    yield from open_file(folder / "ferry_warden.blend")
    out = folder / "templates"
    bpy.context.scene.foamwright.folder = str(out)
    yield from hands.press("foamwright.make_pattern(")
    yield from hands.expect("the report is written", (out / "report.json").is_file, LONG)
    yield from hands.picture(folder / "export.png")
    for name in ("pattern.pdf", "plan.pdf"):
        assert (out / name).read_bytes().startswith(b"%PDF"), name
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert len(report["pieces"]) == 35, len(report["pieces"])
    for ending in ("svg", "dxf"):
        assert list((out / "mats").glob("*." + ending)), ending


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


def click_line():
    """Begin to draw a seam, and click from the middle of the breast plate to its side seam."""
    yield from hands.press("foamwright.draw_line(kind='SEAM'", 0.75)
    for point in ((0, -0.162, 1.149), (0.075, -0.15, 1.15), (0.142, -0.116, 1.185)):
        yield from hands.click(*hands.on_screen(point))


def lines():
    """The lines that were drawn across faces."""
    return [item for item in bpy.context.scene.objects
            if item.type == "CURVE" and item.foamwright.guide != "NONE"]


STEPS = (install, first_screen, open_example, draw_line, overlay, relief, flats, findings, check,
         mark, export)
