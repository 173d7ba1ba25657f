"""Pieces laid flat beside the sculpt, linked both ways; and the UV map at true scale."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

import bmesh  # noqa: E402
from mathutils import Matrix  # noqa: E402

from addon.blender import flats, true_scale  # noqa: E402
from addon.blender.colours import of_utilisation  # noqa: E402
from addon.blender.draw_data import at_vertices  # noqa: E402
from addon.blender.read import read_scene, suit_objects  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402


@pytest.fixture
def tent(add_object, scene):
    """Two sheets of 112 x 200 mm that meet in a seam; of pentagons."""
    vertices = [(0, -.1, 0), (.2, -.1, 0), (.2, 0, .05), (0, 0, .05), (0, .1, 0), (.2, .1, 0),
                (.1, -.1, 0), (.1, .1, 0)]
    item = add_object("tent", vertices, [(0, 6, 1, 2, 3), (3, 2, 5, 7, 4)], seams=[(2, 3)])
    item.select_set(True)
    item.foamwright.include = True
    bpy.context.view_layer.objects.active = item
    return item


def shown():
    return {o.foamwright.piece: o for o in flats.shown(bpy.context.scene)}


def points_of(item):
    """World points (n, 3) of a mesh object, in Blender units."""
    bpy.context.view_layer.update()
    local = np.array([v.co[:] for v in item.data.vertices])
    matrix = np.array(item.matrix_world)
    return local @ matrix[:3, :3].T + matrix[:3, 3]


def pattern_of(scene):
    settings = read_settings(scene)
    return check(read_scene(scene, suit_objects(scene), settings)[0], settings)


# --- the flat preview --------------------------------------------------------------


def test_flat_pieces_are_updated_while_they_are_selected_themselves(scene, tent):
    tent.foamwright.include = False
    bpy.ops.foamwright.show_flat()
    tent.select_set(False)
    shown()["TE1"].select_set(True)
    assert suit_objects(scene, bpy.context.selected_objects) == [tent]
    assert bpy.ops.foamwright.show_flat() == {"FINISHED"}
    tent.foamwright.leave_out = True
    assert not suit_objects(scene, bpy.context.selected_objects)


def test_pieces_whose_sculpt_was_deleted_say_so(scene, tent):
    bpy.ops.foamwright.show_flat()
    bpy.data.objects.remove(tent)
    next(o for o in scene.objects if flats.is_flat(o)).select_set(True)
    with pytest.raises(RuntimeError, match="come from is no longer there"):
        bpy.ops.foamwright.select_on_sculpt()


def test_pieces_stand_beside_the_sculpt_at_true_size(scene, tent):
    assert bpy.ops.foamwright.show_flat() == {"FINISHED"}
    pattern, items = pattern_of(scene), shown()
    assert items.keys() == {p.code for p in pattern.pieces} and len(items) == 2
    floor = []
    for piece in pattern.pieces:
        points = points_of(items[piece.code])
        floor.append(points.min(axis=0)[2])
        # Upright, seen from the front (-y), at the size of the flat.
        assert np.ptp(points[:, [0, 2]], axis=0) * 1000 == pytest.approx(
            np.ptp(piece.flat, axis=0), abs=0.01)
        assert np.ptp(points[:, 1]) == pytest.approx(0.0, abs=1e-6)
        assert points[:, 0].min() > 0.2, "stands in the sculpt"
        a, b, c = points[list(items[piece.code].data.polygons[0].vertices)]
        assert np.cross(b - a, c - a)[1] < 0, "the front does not face the viewer"
    assert min(floor) == pytest.approx(0.0, abs=0.011)


@pytest.mark.parametrize(("system", "scale"), [("NONE", 1.0), ("METRIC", 0.001),
                                               ("IMPERIAL", 0.0254)])
def test_the_size_holds_in_any_unit_of_the_scene(scene, tent, system, scale):
    scene.unit_settings.system, scene.unit_settings.scale_length = system, scale
    metres = 1.0 if system == "NONE" else scale
    tent.scale = [1 / metres] * 3
    bpy.context.view_layer.update()
    bpy.ops.foamwright.show_flat()
    for piece in pattern_of(scene).pieces:
        size = np.ptp(points_of(shown()[piece.code]), axis=0)[[0, 2]] * metres * 1000
        assert size == pytest.approx(np.ptp(piece.flat, axis=0), rel=1e-4)


def test_lines_and_letters_lie_on_the_foam_and_cannot_be_clicked(scene, tent):
    bpy.ops.foamwright.show_flat()
    for item in shown().values():
        drawn, = item.children
        assert drawn.hide_select and len(drawn.data.polygons) > 5, "no letters"
        assert len([e for e in drawn.data.edges if e.is_loose]) > 4, "no lines"
        low, high = points_of(item).min(axis=0) - 0.011, points_of(item).max(axis=0) + 0.011
        points = points_of(drawn)  # a bevel may reach 10 mm beyond the line of the sculpt
        assert (points > low).all() and (points < high).all()


def test_showing_again_replaces_and_removing_leaves_nothing(scene, tent, fingerprint):
    before = fingerprint()
    names = set()
    for _ in range(3):
        bpy.ops.foamwright.show_flat()
        now = {kind: sorted(x.name for x in getattr(bpy.data, kind))
               for kind in ("objects", "meshes", "collections", "materials", "curves")}
        names.add(repr(now))
    assert len(names) == 1
    assert bpy.ops.foamwright.remove_flat() == {"FINISHED"}
    assert fingerprint() == before
    assert not len(bpy.data.collections) and not len(bpy.data.materials)
    assert not bpy.ops.foamwright.remove_flat.poll()


def test_where_the_maker_put_the_pieces_they_stay(scene, tent):
    bpy.ops.foamwright.show_flat()
    before = {code: np.array(item.matrix_world) for code, item in shown().items()}
    put = Matrix.Translation((5, 6, 7)) @ Matrix.Rotation(0.5, 4, "Z")
    for item in shown().values():
        item.matrix_world = put @ item.matrix_world
    scene.foamwright.flats.name = "Mine"
    for _ in range(2):
        bpy.ops.foamwright.show_flat()
        bpy.context.view_layer.update()
        for code, item in shown().items():
            assert np.array(item.matrix_world) == pytest.approx(
                np.array(put) @ before[code], abs=1e-5)
    assert scene.foamwright.flats.name == "Mine"


def test_a_piece_that_was_moved_alone_goes_back_to_the_others(scene, add_sheet):
    for number in range(3):
        item = add_sheet(f"sheet {number}")
        item.location.x, item.foamwright.include = number, True
    bpy.ops.foamwright.show_flat()
    before = {code: item.matrix_basis.copy() for code, item in shown().items()}
    next(iter(shown().values())).location.x += 3
    bpy.ops.foamwright.show_flat()
    for code, item in shown().items():
        assert np.array(item.matrix_basis) == pytest.approx(np.array(before[code]), abs=1e-5)


def test_no_line_runs_from_a_piece_to_a_parent_elsewhere(scene, tent):
    bpy.ops.foamwright.show_flat()
    bpy.context.view_layer.update()
    for item in scene.foamwright.flats.objects:
        assert item.type == "MESH"
        assert item.parent is None or item.matrix_world == item.parent.matrix_world


def test_what_the_maker_put_into_the_collection_survives(scene, tent, add_sheet):
    bpy.ops.foamwright.show_flat()
    other = add_sheet("note")
    home = scene.foamwright.flats
    home.objects.link(other)
    bpy.ops.foamwright.show_flat()
    bpy.ops.foamwright.remove_flat()
    assert set(home.objects) == {other} and scene.foamwright.flats is None


@pytest.mark.parametrize("edited", ["sculpt", "piece"])
def test_pieces_are_laid_afresh_also_in_edit_mode(scene, tent, edited):
    bpy.ops.foamwright.show_flat()
    item = tent if edited == "sculpt" else next(iter(shown().values()))
    tent.select_set(edited == "sculpt")
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.ops.foamwright.show_flat() == {"FINISHED"}
    assert len(shown()) == 2 and len(bpy.data.objects) == 5
    assert tent.mode == ("EDIT" if edited == "sculpt" else "OBJECT")
    assert bpy.ops.foamwright.remove_flat() == {"FINISHED"}
    assert [o.name for o in bpy.data.objects] == ["tent"]


def test_a_second_scene_has_pieces_of_its_own(scene, tent):
    bpy.ops.foamwright.show_flat()
    other = bpy.data.scenes.new("Other")
    other.collection.objects.link(tent)
    with bpy.context.temp_override(scene=other, view_layer=other.view_layers[0],
                                   selected_objects=[tent]):
        bpy.ops.foamwright.show_flat()
        assert len(flats.shown(other)) == len(flats.shown(scene)) == 2
        bpy.ops.foamwright.remove_flat()
    assert not flats.shown(other) and len(flats.shown(scene)) == 2


@pytest.mark.parametrize("name", ["show_flat", "write_uv"])
def test_what_cannot_be_done_changes_nothing(scene, tent, fingerprint, name):
    bpy.ops.foamwright.show_flat()
    bpy.ops.foamwright.write_uv()
    scene.foamwright.stock = "granite"
    before = fingerprint()
    with pytest.raises(RuntimeError, match="granite"):
        getattr(bpy.ops.foamwright, name)()
    scene.foamwright.stock = ""
    tent.foamwright.include = False
    bpy.ops.object.select_all(action="DESELECT")
    with pytest.raises(RuntimeError, match="No mesh object is part of the suit"):
        getattr(bpy.ops.foamwright, name)()
    tent.select_set(True)
    assert fingerprint() == before and len(shown()) == 2


def test_one_undo_takes_the_pieces_away(scene, tent):
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.foamwright.show_flat("EXEC_DEFAULT", True)
    assert len(bpy.data.objects) == 5
    bpy.ops.ed.undo()
    assert [o.name for o in bpy.data.objects] == ["tent"]
    assert bpy.context.scene.foamwright.flats is None


def test_flat_pieces_are_never_made_of_foam(scene, tent):
    bpy.ops.foamwright.show_flat()
    tent.foamwright.include = False
    piece = next(iter(shown().values()))
    piece.foamwright.include = True
    assert suit_objects(scene, [piece, tent]) == [tent]
    bpy.ops.object.select_all(action="DESELECT")
    piece.select_set(True)
    assert not bpy.ops.foamwright.add_to_suit.poll()


def selected_faces(item):
    item.update_from_editmode()
    return [p.index for p in item.data.polygons if p.select]


def test_a_flat_piece_selects_its_faces_on_the_sculpt_and_back(scene, tent):
    bpy.ops.foamwright.show_flat()
    pattern = pattern_of(scene)
    for piece in pattern.pieces:
        face = sorted(set(pattern.sculpt.polygon[piece.source_face].tolist()))
        if bpy.context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        bpy.ops.object.select_all(action="DESELECT")
        assert not bpy.ops.foamwright.select_on_sculpt.poll()
        shown()[piece.code].select_set(True)
        assert bpy.ops.foamwright.select_on_sculpt() == {"FINISHED"}
        assert bpy.context.mode == "EDIT_MESH" and selected_faces(tent) == face
        assert bpy.ops.foamwright.select_flat() == {"FINISHED"}
        assert bpy.context.mode == "OBJECT"
        assert [o.foamwright.piece for o in bpy.context.selected_objects] == [piece.code]
        assert bpy.context.object == shown()[piece.code]


def test_the_link_outlives_new_names_and_tells_of_changes(scene, tent):
    bpy.ops.foamwright.show_flat()
    tent.name = "awning"
    bpy.ops.object.select_all(action="DESELECT")
    next(iter(shown().values())).select_set(True)
    assert bpy.ops.foamwright.select_on_sculpt() == {"FINISHED"}
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.delete(type="FACE")
    with pytest.raises(RuntimeError, match="No selected face"):
        bpy.ops.foamwright.select_flat()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.object.select_all(action="DESELECT")
    next(iter(shown().values())).select_set(True)
    assert bpy.ops.foamwright.select_on_sculpt() == {"CANCELLED"}
    bpy.data.objects.remove(tent)
    assert not shown(), "pieces of a sculpt that is gone lead nowhere"


def test_stretch_is_kept_on_the_faces(scene, tent):
    bpy.ops.foamwright.show_flat()
    for piece in pattern_of(scene).pieces:
        use = shown()[piece.code].data.attributes[flats.USE]
        values = [value.value for value in use.data]
        assert use.domain == "FACE" and len(values) == len(piece.faces)
        colours = shown()[piece.code].data.color_attributes.active_color
        assert colours.name == flats.COLOUR and len(colours.data) == 3 * len(piece.faces)
        smooth = at_vertices(piece.vertices, piece.faces, np.array(values))
        assert colours.data[0].color_srgb[:3] == pytest.approx(
            of_utilisation(smooth[piece.faces[0, :1]])[0], abs=0.01)
        assert values == pytest.approx(piece.stock.heated.utilisation(piece.stretch), abs=1e-5)


# --- the UV map --------------------------------------------------------------------


def islands(item):
    """UV places (k, 2) of each face's corners, in the order of the faces."""
    uv = np.empty((len(item.data.loops), 2), dtype=np.float32)
    item.data.uv_layers[true_scale.LAYER].uv.foreach_get("vector", uv.ravel())
    return [uv[list(p.loop_indices)].astype(float) for p in item.data.polygons]


def area(corners):
    x, y = corners.T
    return 0.5 * float(x @ np.roll(y, -1) - np.roll(x, -1) @ y)


def test_the_map_is_at_true_scale_and_not_mirrored(scene, tent):
    assert bpy.ops.foamwright.write_uv() == {"FINISHED"}
    length = tent.data[true_scale.LENGTH]
    pattern = pattern_of(scene)
    for piece in pattern.pieces:
        face, = set(pattern.sculpt.polygon[piece.source_face].tolist())
        corners = islands(tent)[face]
        edges = piece.flat[piece.faces]
        u, v = edges[:, 1] - edges[:, 0], edges[:, 2] - edges[:, 0]
        flat = 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum()
        assert area(corners) * length**2 == pytest.approx(flat, rel=1e-4)
        assert (corners > 0).all() and (corners < 1).all()
    # Flat sheets of 200 mm by the length of the slope: the foam lies along the sculpt.
    assert sum(area(c) for c in islands(tent)) * length**2 == pytest.approx(
        2 * 200 * np.hypot(100, 50), rel=0.05)


def test_a_map_written_before_the_sculpt_was_rescaled_is_told(scene, tent):
    assert not true_scale.is_outdated(scene, tent)
    bpy.ops.foamwright.write_uv()
    assert not true_scale.is_outdated(scene, tent)
    tent.select_set(True)
    tent.rotation_euler.x += 0.4
    tent.location.z += 1.0
    bpy.context.view_layer.update()
    assert not true_scale.is_outdated(scene, tent)
    assert bpy.ops.foamwright.rescale(factor=1.5) == {"FINISHED"}
    bpy.context.view_layer.update()
    assert true_scale.is_outdated(scene, tent)
    bpy.ops.foamwright.write_uv()
    assert not true_scale.is_outdated(scene, tent)
    scene.foamwright.scale = 0.9
    assert true_scale.is_outdated(scene, tent)


def test_an_image_through_the_map_is_as_large_on_the_sculpt_as_printed(scene, tent, tmp_path):
    # Blender's own export of the layout, read back from the SVG it writes, is the reference.
    import re

    import addon_utils

    addon_utils.enable("io_mesh_uv_layout")
    bpy.ops.foamwright.write_uv()
    length = tent.data[true_scale.LENGTH]
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    path = tmp_path / "layout.svg"
    bpy.ops.uv.export_layout(filepath=str(path), mode="SVG", size=(1000, 1000), export_all=True,
                             check_existing=False)
    bpy.ops.object.mode_set(mode="OBJECT")
    drawn = [np.array([pair.split(",") for pair in points.split()], dtype=float)
             for points in re.findall(r'points="([^"]*)"', path.read_text())]
    assert len(drawn) == 2
    for corners in drawn:  # 1000 pixels are the printed length; the sheets are 200 mm wide
        assert np.ptp(corners[:, 0]) * length / 1000 == pytest.approx(200, abs=0.5)


def test_the_length_of_the_map_is_the_makers(scene, tent):
    scene.foamwright.uv_length = "1 m"
    bpy.ops.foamwright.write_uv()
    assert tent.data[true_scale.LENGTH] == 1000.0
    scene.foamwright.uv_length = "100 mm"
    with pytest.raises(RuntimeError, match="do not fit a UV map 100 mm wide"):
        bpy.ops.foamwright.write_uv()
    scene.foamwright.uv_length = "wide"
    with pytest.raises(RuntimeError, match="not a length"):
        bpy.ops.foamwright.write_uv()
    assert tent.data[true_scale.LENGTH] == 1000.0


def test_a_mirrored_object_is_still_read_from_the_outside(scene, tent):
    tent.scale.x = -1  # its normals still point up, though the corners now run the other way
    bpy.context.view_layer.update()
    bpy.ops.foamwright.write_uv()
    points = np.array([tent.matrix_world @ v.co for v in tent.data.vertices])
    for polygon, corners in zip(tent.data.polygons, islands(tent), strict=True):
        # Seen from above, which is outside, the map shows the corners in the same order.
        a, b, c = (points[polygon.vertices[i]] for i in (0, 2, 3))
        world = np.cross(b - a, c - a)
        assert world[2] < 0 and area(corners) < 0


def test_a_second_map_replaces_the_first_in_any_mode(scene, tent):
    tent.data.uv_layers.new(name="Mine")
    bpy.ops.object.mode_set(mode="EDIT")
    for _ in range(2):
        bpy.ops.foamwright.write_uv()
        assert bpy.context.mode == "EDIT_MESH"
    bpy.ops.object.mode_set(mode="OBJECT")
    assert [layer.name for layer in tent.data.uv_layers] == ["Mine", true_scale.LAYER]
    assert sum(area(c) for c in islands(tent)) > 0


def test_where_no_map_can_be_written_it_is_told(scene, tent, add_sheet):
    tent.modifiers.new("Fine", "SUBSURF").subdivision_type = "SIMPLE"
    with pytest.raises(RuntimeError, match="“tent”: its modifiers make other faces"):
        bpy.ops.foamwright.write_uv()
    other = add_sheet("other")
    other.foamwright.include = True
    assert bpy.ops.foamwright.write_uv() == {"FINISHED"}
    assert true_scale.LAYER not in tent.data.uv_layers
    assert true_scale.LAYER in other.data.uv_layers
    for number in range(9):
        other.data.uv_layers.new(name=f"full {number}")
    other.data.uv_layers.remove(other.data.uv_layers[true_scale.LAYER])
    other.data.uv_layers.new(name="full")
    with pytest.raises(RuntimeError, match="no room for another UV map|its modifiers"):
        bpy.ops.foamwright.write_uv()


def test_the_map_changes_nothing_else_and_is_undone_in_one_step(scene, tent):
    before = [v.co[:] for v in tent.data.vertices]
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.foamwright.write_uv("EXEC_DEFAULT", True)
    assert [v.co[:] for v in tent.data.vertices] == before
    bpy.ops.ed.undo()
    mesh = bpy.data.meshes["tent"]
    assert not len(mesh.uv_layers) and true_scale.LENGTH not in mesh


def test_faces_that_a_drawn_line_crosses_lie_with_one_piece():
    """A quad cut in two by a line through its middle: the map goes on past the line."""
    from dataclasses import replace

    from addon.blender.read import Source
    from addon.core.model import Pattern, Placement, Sculpt, Settings
    from addon.core.stock import find_stock
    from tests.sheets.conftest import make_piece, rectangle

    square = np.array([(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0)], dtype=float)
    read = Sculpt.plain(square, [(0, 1, 2), (0, 2, 3)])
    sculpt = replace(read, polygon=np.zeros(2, dtype=int))
    # Left of x = 7 one piece, of new vertices 4 and 5 at the line; right of it another.
    left = np.array([(0, 0, 0), (7, 0, 0), (7, 10, 0), (0, 10, 0)], dtype=float)
    one = replace(make_piece("L", rectangle(7, 10)), vertices=left, flat=left[:, :2],
                  faces=[(0, 1, 2), (0, 2, 3)], source_vertex=[0, 4, 5, 3], source_face=[0, 1])
    right = np.array([(7, 0, 0), (10, 0, 0), (10, 10, 0), (7, 10, 0)], dtype=float)
    two = replace(make_piece("R", rectangle(3, 10)), vertices=right, flat=right[:, :2] - (7, 0),
                  faces=[(0, 1, 2), (0, 2, 3)], source_vertex=[4, 1, 2, 5], source_face=[0, 1])
    pattern = Pattern(Settings(find_stock()), sculpt, (one, two), ())
    placements = (Placement("L", 0.0, (20, 30)), Placement("R", 0.0, (50, 30)))
    source = Source("x", range(0, 4), range(0, 1), np.array([0]), True, np.eye(4), (4, 1))
    uv, found, crossed = true_scale.loop_uvs(
        pattern, source, placements, 100.0, np.zeros(4, dtype=int), np.arange(4))
    assert found.all() and crossed.tolist() == [0]
    assert uv * 100 == pytest.approx(square[:, :2] + (20, 30))


# --- following the selection -------------------------------------------------------


def test_a_clicked_piece_is_selected_on_the_sculpt_without_leaving_object_mode(scene, tent):
    from addon.blender import follow

    bpy.ops.foamwright.show_flat()
    pattern, layer = pattern_of(scene), bpy.context.view_layer
    bpy.ops.object.select_all(action="DESELECT")
    for piece in pattern.pieces:
        bpy.ops.object.select_all(action="DESELECT")
        shown()[piece.code].select_set(True)
        assert follow.look(scene, layer) and not follow.look(scene, layer)
        assert bpy.context.mode == "OBJECT" and not tent.select_get()
        face = sorted(set(pattern.sculpt.polygon[piece.source_face].tolist()))
        assert [p.index for p in tent.data.polygons if p.select] == face
        layer.objects.active = tent
        for kinds in ((True, False, False), (False, False, True)):  # Blender's modes agree
            bpy.context.tool_settings.mesh_select_mode = kinds
            bpy.ops.object.mode_set(mode="EDIT")
            assert selected_faces(tent) == face
            follow.look(scene, layer)
            assert selected_faces(tent) == face, "never changed while the sculpt is edited"
            bpy.ops.object.mode_set(mode="OBJECT")
            follow.look(scene, layer)


def test_faces_selected_on_the_sculpt_shade_their_flat_pieces_and_select_none(scene, tent):
    from addon.blender import follow

    bpy.ops.foamwright.show_flat()
    pattern, layer = pattern_of(scene), bpy.context.view_layer
    bpy.ops.object.select_all(action="DESELECT")
    layer.objects.active = tent
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")

    def shaded():
        return {code for code, flat in shown().items()
                if flat.material_slots[0].material.name == flats.CHOSEN}

    assert not follow.look(scene, layer) and shaded() == set()
    for piece in pattern.pieces:
        bm = bmesh.from_edit_mesh(tent.data)
        face = pattern.sculpt.polygon[piece.source_face[0]]
        for number, one in enumerate(bm.faces):
            one.select_set(bool(number == face))
        bmesh.update_edit_mesh(tent.data)
        assert follow.look(scene, layer) and not follow.look(scene, layer)
        assert shaded() == {piece.code}
        assert not any(flat.select_get() for flat in shown().values())
    bpy.ops.mesh.select_all(action="SELECT")
    assert follow.look(scene, layer) and shaded() == set(shown())
    bpy.ops.object.mode_set(mode="OBJECT")
    assert follow.look(scene, layer) and shaded() == set()
    assert bpy.ops.foamwright.remove_flat() == {"FINISHED"}
    assert flats.CHOSEN not in bpy.data.materials


def test_nothing_selected_leaves_the_sculpt_alone(scene, tent):
    from addon.blender import follow

    bpy.ops.foamwright.show_flat()
    tent.data.polygons.foreach_set("select", [True, False])
    bpy.ops.object.select_all(action="DESELECT")
    assert not follow.look(scene, bpy.context.view_layer)
    assert [p.select for p in tent.data.polygons] == [True, False]
    piece = next(iter(shown().values()))
    tent.data.clear_geometry()  # pieces of an earlier mesh
    piece.select_set(True)
    assert follow.look(scene, bpy.context.view_layer)


def test_only_a_change_beside_a_preview_calls_for_a_look(scene, tent):
    from addon.blender import follow

    def moved():
        tent.location.x += 1
        bpy.context.view_layer.update()
        found = bpy.app.timers.is_registered(follow._timer)
        if found:
            bpy.app.timers.unregister(follow._timer)
        return found

    assert not moved()
    bpy.ops.foamwright.show_flat()
    moved()
    assert moved()
    scene.foamwright.follow = False
    moved()
    assert not moved()
