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
import window_looks as looks
import window_ways as ways
from mathutils import Vector


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
    yield from ways.open_sidebar()
    yield from hands.picture(folder / "first_screen.png")


def open_example(folder):
    """Open the example suit with the button on that first screen, and confirm."""
    with hands.context():
        bpy.ops.object.select_all(action="SELECT")
        bpy.ops.object.delete()
    yield from ways.open_sidebar()
    yield from hands.press("foamwright.open_example(")
    if "Breast plate" not in bpy.data.objects:
        yield from hands.key("Return")  # unsaved changes: it asks first
    yield from hands.expect("the suit is open", lambda: "Breast plate" in bpy.data.objects)
    yield from ways.open_sidebar()
    yield from hands.picture(folder / "example.png")
    heights = [hands.on_screen(item.matrix_world @ Vector(corner))[1]
               for item in bpy.context.scene.objects if item.foamwright.include
               for corner in item.bound_box]
    view = hands.region()
    assert 0.5 * view.height < max(heights) - min(heights) < view.height, "not large and whole"
    assert view.y < min(heights) and max(heights) < view.y + view.height


def mark(folder):
    """Click an edge of the breast plate in Edit Mode; mark it as seam, trench and score; undo."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    yield from ways.edit("Breast plate")
    before = ways.marked()
    edge, place = ways.edge_in_the_middle()
    yield from hands.click(*place)
    yield from hands.expect("the edge is selected", lambda: ways.selected_edges() == {edge})
    for kind in ("SEAM", "TRENCH", "SCORE"):
        yield from hands.press(f"foamwright.mark_edges(kind='{kind}'")
        yield from hands.expect(kind, lambda: ways.marked() == {**before, edge: kind})  # noqa: B023
    yield from hands.picture(folder / "mark.png")
    for left in ({edge: "TRENCH"}, {edge: "SEAM"}, {}):
        yield from ways.undo()
        yield from hands.expect("undone", lambda: ways.marked() == {**before, **left})  # noqa: B023
    yield from hands.key("Tab")


def check(folder):
    """Stop a check of the foam with Esc; check again: every piece can be made."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    group = bpy.context.scene.foamwright
    yield from hands.press("foamwright.check(")
    yield from hands.picture(folder / "progress.png", whole=True)
    yield from hands.key("Escape")
    yield 2.0
    assert not group.summary, "not stopped: " + group.summary
    yield from ways.check_foam()
    assert str(ways.PIECES) in group.summary, group.summary
    assert not any(finding.severity == "error" for finding in group.findings)
    yield from hands.picture(folder / "check.png")


def findings(folder):
    """Check the suit without the seams on the knee domes, and click the first finding."""
    yield from ways.open_file(folder / "ferry_warden_failing.blend")
    yield from ways.check_foam()
    assert "relief" in bpy.context.scene.foamwright.summary
    yield from hands.press("foamwright.select_finding(")
    yield from hands.expect("a knee is in Edit Mode", lambda: bpy.context.mode == "EDIT_MESH"
                            and "Knee" in bpy.context.object.name)
    mesh = bmesh.from_edit_mesh(bpy.context.object.data)
    assert any(face.select for face in mesh.faces)
    yield hands.DRAWN
    box = [hands.on_screen(bpy.context.object.matrix_world @ v.co) for v in mesh.verts]
    wide = max(x for x, _ in box) - min(x for x, _ in box)
    assert 0.1 < wide / hands.region().width < 1.5, f"the knee is seen {wide:.0f} pixels wide"
    yield from hands.find("foamwright.suggest_relief(")
    yield from hands.picture(folder / "finding.png")


def overlay(folder):
    """Show on the sculpt what the foam says: pieces, strain and lines, on a dark and a light theme;
    in local view of what is seen there alone."""
    yield from ways.open_file(folder / "ferry_warden_failing.blend")
    yield from hands.press("foamwright.overlay ", 0.135)
    yield from hands.expect("it is on", lambda: bpy.context.scene.foamwright.overlay)
    yield from ways.answered()
    assert len(ways.part("live").state.drawn) == 9, sorted(ways.part("live").state.drawn)
    modes = ("lines", 0.9), ("strain", 0.3), ("pieces", 0.1)
    for theme in ("dark", "light"):  # Blender starts with the dark one
        if theme == "light":
            bpy.ops.script.execute_preset(
                filepath=next(path for folder in bpy.utils.preset_paths("interface_theme")
                              for path in glob.glob(os.path.join(folder, "*Light.xml"))),
                menu_idname="USERPREF_MT_interface_theme_presets")
        seen = {}
        for name, along in modes if theme == "dark" else modes[:2]:
            yield from hands.press("foamwright.overlay_shows ", along)
            yield from ways.answered()
            path = folder / f"overlay_{name}_{theme}.png"
            yield from hands.picture(path)
            seen[name] = hands.pixels(path)[:, :700]  # beside the sidebar
        for name in set(seen) - {"lines"}:
            share = (abs(seen[name] - seen["lines"]).max(axis=2) > 0.1).mean()
            assert share > 0.03, f"{name} tints only {share:.1%} of the view"
    bpy.ops.preferences.reset_default_theme()
    yield from ways.look_at("Breast plate")
    with hands.context():
        bpy.ops.view3d.localview(frame_selected=False)
    yield hands.DRAWN
    with hands.context():
        seen = [item.name for item, _, _ in ways.part("overlay").shown_objects(bpy.context)]
    assert seen == ["Breast plate"], seen
    with hands.context():
        bpy.ops.view3d.localview(frame_selected=False)  # and out of it again


def draw_line(folder):
    """Draw a seam across the faces of the breast plate with three clicks: stopped by Esc, then
    confirmed by Enter, undone and done again. The check counts one piece more."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    bpy.context.scene.foamwright.overlay = True
    yield from ways.look_at("Breast plate")
    yield from ways.answered()
    size = len(bpy.context.object.data.vertices)
    yield from ways.click_line()
    yield from hands.picture(folder / "draw_line.png", park=False)
    yield from hands.key("Escape")
    yield hands.DRAWN
    assert not ways.lines(), ways.lines()
    yield from ways.click_line()
    yield from hands.key("Return")
    yield from hands.expect("the line is there", lambda: len(ways.lines()) == 1)
    yield from ways.undo()
    yield from hands.expect("it is undone", lambda: not ways.lines())
    yield from ways.undo("ctrl+shift+z")
    yield from hands.expect("it is done again", lambda: len(ways.lines()) == 1)
    assert len(bpy.data.objects["Breast plate"].data.vertices) == size, "the mesh was cut"
    yield from ways.check_foam()
    summary = bpy.context.scene.foamwright.summary
    assert str(ways.PIECES + 1) in summary, summary


def relief(folder):
    """Have relief cuts suggested for a knee that fails; accept one. The check then has one
    failing piece less."""
    yield from ways.open_file(folder / "ferry_warden_failing.blend")
    group = bpy.context.scene.foamwright
    group.overlay, group.overlay_shows = True, "UTILISATION"
    yield from ways.check_foam()
    yield from hands.press("foamwright.select_finding(")
    yield from hands.expect("a knee is in Edit Mode", lambda: bpy.context.mode == "EDIT_MESH")
    yield from hands.press("foamwright.suggest_relief(")
    yield from hands.expect("cuts are suggested", lambda: len(group.reliefs), ways.LONG)
    assert bpy.context.mode == "OBJECT", "the lines lie beside the mesh that was edited"
    yield from ways.answered()
    assert group.reliefs[0].passes and group.reliefs[0].before > 1, group.reliefs[0].worst
    yield from hands.find("foamwright.accept_relief(", 0.25)
    yield from hands.picture(folder / "relief.png")
    yield from hands.press("foamwright.accept_relief(", 0.25)
    yield from hands.expect("it is a line", lambda: any(not line.foamwright.proposed
                                                        for line in ways.lines()))
    failing = lambda: sum(finding.severity == "error" for finding in group.findings)  # noqa: E731
    assert failing() == 2, failing()
    group.summary = ""
    yield from ways.check_foam()
    assert failing() == 1, failing()
    yield from ways.answered()
    yield from hands.picture(folder / "relieved.png")


def suggest(folder):
    """Have seams suggested for a breast plate as if it had none, and accept them in place of its
    own. The check then finds that every piece can be made."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    for item in bpy.data.objects:
        item.foamwright.include = item.name == "Breast plate"
    group = bpy.context.scene.foamwright
    group.overlay, group.overlay_shows = True, "LINES"
    yield from ways.look_at("Breast plate")
    yield from ways.answered()
    yield from hands.press("foamwright.seams.marks ", 0.75)
    yield from hands.expect("they are replaced", lambda: group.seams.marks == "REPLACE")
    yield from hands.press("foamwright.suggest_seams(")
    yield from hands.expect("seams are suggested", lambda: group.seams.found, ways.LONG)
    assert ways.lines() and group.seams.pieces > 1 and not group.seams.failing
    yield from hands.find("foamwright.accept_seams(", 0.25)
    yield from hands.picture(folder / "suggested.png")
    yield from hands.press("foamwright.accept_seams(", 0.25)
    yield from hands.key("Return")  # it asks, since what is marked is taken off
    yield from hands.expect("they are seams", lambda: not group.seams.found)
    assert all(not line.foamwright.proposed for line in ways.lines())
    yield from ways.check_foam()
    assert not any(finding.severity == "error" for finding in group.findings), group.summary


def repair(folder):
    """Look over a breast plate whose faces another program left unjoined; the button beside the
    finding merges their corners. Undone and done again, the finding says so."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    item = bpy.data.objects["Breast plate"]
    for other in bpy.data.objects:
        other.foamwright.include = other == item
    whole = len(item.data.vertices)
    mesh = bmesh.new()
    mesh.from_mesh(item.data)
    bmesh.ops.split_edges(mesh, edges=[e for e in mesh.edges if not e.is_boundary and not e.seam])
    mesh.to_mesh(item.data)
    mesh.free()
    assert len(item.data.vertices) > whole
    yield from ways.look_at("Breast plate")
    bpy.ops.ed.undo_push(message="As it came")
    group = bpy.context.scene.foamwright
    yield from hands.press("foamwright.look_over(")
    yield from hands.expect("it is looked over", lambda: len(group.surveys), ways.LONG)
    yield from hands.press("foamwright.select_finding(")
    yield from hands.expect("it is in Edit Mode", lambda: bpy.context.mode == "EDIT_MESH")
    yield from hands.find("foamwright.merge_vertices(")
    yield from hands.picture(folder / "repair.png")
    yield from hands.press("foamwright.merge_vertices(")
    size = lambda: len(bmesh.from_edit_mesh(bpy.context.object.data).verts)  # noqa: E731
    done = lambda: any(each.state == "DONE" for each in  # noqa: E731
                       bpy.context.scene.foamwright.findings)  # which undo replaces
    yield from hands.expect("they are joined", lambda: size() == whole and done())
    yield from ways.undo()
    yield from hands.expect("it is undone", lambda: size() > whole and not done())
    yield from ways.undo("ctrl+shift+z")
    yield from hands.expect("it is done again", lambda: size() == whole and done())
    yield from hands.key("Tab")


def cut_in(folder):
    """Draw a trench across the faces of the breast plate, cut into the mesh with M; undo that in
    one step, and do it again: its edges are marked."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    yield from ways.edit("Breast plate")
    trenches = sum(kind == "TRENCH" for kind in ways.marked().values())
    yield from hands.key("Tab")
    whole = len(bpy.context.object.data.vertices)
    yield from ways.click_line("TRENCH")
    yield from hands.key("m")
    yield from hands.key("Return")
    size = lambda: len(bpy.data.objects["Breast plate"].data.vertices)  # noqa: E731
    yield from hands.expect("it is cut", lambda: size() > whole)
    yield from ways.undo()
    yield from hands.expect("it is undone", lambda: size() == whole)
    yield from ways.undo("ctrl+shift+z")
    yield from hands.expect("it is done again", lambda: size() > whole)
    assert not ways.lines()
    yield from ways.edit("Breast plate")
    assert sum(kind == "TRENCH" for kind in ways.marked().values()) > trenches + 5
    yield from hands.picture(folder / "cut_in.png")
    yield from hands.into_view()
    yield from hands.key("Tab")


def uv_map(folder):
    """Write a UV map at true scale, as from a menu: one for the whole suit, within its bounds. Look
    at it in a UV editor."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    with hands.context():
        bpy.ops.foamwright.write_uv("INVOKE_DEFAULT")
    chosen = [item for item in bpy.data.objects
              if item.foamwright.include and item.type == "MESH"]
    yield from hands.expect("the maps are written", lambda: all(
        "Foamwright" in item.data.uv_layers for item in chosen), ways.LONG)
    length = {item.data["foamwright_uv_mm"] for item in chosen}
    assert len(length) == 1, length
    for item in chosen:
        uv = item.data.uv_layers["Foamwright"].uv
        assert all(0 <= x <= 1 for each in uv for x in each.vector), item.name
    with hands.context():
        bpy.ops.object.select_all(action="DESELECT")
        for item in chosen:
            item.select_set(True)
        bpy.context.view_layer.objects.active = chosen[0]
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.ops.mesh.select_all(action="SELECT")
    view = hands.area()
    view.ui_type = "UV"
    yield hands.DRAWN
    with hands.context("WINDOW", "IMAGE_EDITOR"):
        bpy.ops.image.view_all(fit_view=True)
    yield hands.DRAWN
    yield from hands.picture(folder / "uv_map.png", whole=True, inside="IMAGE_EDITOR")
    hands.area("IMAGE_EDITOR").ui_type = "VIEW_3D"
    yield hands.DRAWN


def flats(folder):
    """Show Flat, as from a menu: the pieces lie flat beside the suit. A piece that is clicked is
    selected on the sculpt."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    with hands.context():
        bpy.ops.foamwright.show_flat("INVOKE_DEFAULT")
    group = bpy.context.scene.foamwright
    yield from hands.expect("the pieces lie flat", lambda: group.flats, ways.LONG)
    pieces = [item for item in group.flats.objects if item.foamwright.source]  # not the lines
    assert len(pieces) == ways.PIECES, len(pieces)
    yield from hands.picture(folder / "flats.png")
    item = max(pieces, key=lambda item: item.dimensions.x * item.dimensions.y)
    middle = sum((item.matrix_world @ Vector(corner) for corner in item.bound_box), Vector()) / 8
    yield from hands.click(*hands.on_screen(middle))
    yield from hands.expect("it is selected", item.select_get)
    source, count = item.foamwright.source, len(item.data.polygons)
    assert count
    yield from hands.expect("so are its faces on the sculpt", lambda: any(
        face.select for face in source.data.polygons))


def export(folder):
    """Write the templates of the example suit to a folder."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    out = folder / "templates"
    bpy.context.scene.foamwright.folder = str(out)
    yield from ways.open_panel("FOAMWRIGHT_PT_templates")
    yield from hands.press("foamwright.make_pattern(")
    yield from hands.expect("the report is written", (out / "report.json").is_file, ways.LONG)
    yield from hands.picture(folder / "export.png")
    for name in ("pattern.pdf", "plan.pdf"):
        assert (out / name).read_bytes().startswith(b"%PDF"), name
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert len(report["pieces"]) == ways.PIECES, len(report["pieces"])
    for ending in ("svg", "dxf"):
        assert list((out / "mats").glob("*." + ending)), ending


STEPS = (install, first_screen, open_example, mark, draw_line, cut_in, overlay, check, findings,
         relief, suggest, repair, flats, uv_map, looks.fit, looks.trial, looks.build_steps, export)
