"""Marked lines are kept beside the mesh and laid on it again, also after real remeshes."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from mathutils import Matrix  # noqa: E402

from addon.blender import lines, marks, remedies  # noqa: E402
from addon.blender.guides import guides_of, world_polylines  # noqa: E402
from addon.blender.marks import read_marks  # noqa: E402
from addon.core.errors import ERROR, FoamError  # noqa: E402
from addon.core.mesh import chains, polyline_length  # noqa: E402
from addon.core.model import SCORE, SEAM, TRENCH  # noqa: E402
from addon.core.soundness import inspect  # noqa: E402

RADIUS = 0.15


def globe(rows=32, columns=64):
    """A closed ball of quads with a cap of one polygon at either pole, in metres; and the
    vertex of a row and column."""
    polar, turn = np.meshgrid(np.pi * np.arange(1, rows) / rows,
                              2 * np.pi * np.arange(columns) / columns, indexing="ij")
    points = RADIUS * np.stack([np.sin(polar) * np.cos(turn), np.sin(polar) * np.sin(turn),
                                np.cos(polar)], axis=2).reshape(-1, 3)
    ids = np.arange(len(points)).reshape(rows - 1, columns)
    right = np.roll(ids, -1, axis=1)
    quads = np.stack([ids[:-1], ids[1:], right[1:], right[:-1]], axis=2).reshape(-1, 4).tolist()
    return points, [*quads, ids[0].tolist(), ids[-1][::-1].tolist()], ids


@pytest.fixture
def ball(scene):
    """The active object: a ball with its equator as a seam, a quarter of a parallel as a trench
    and a piece of a meridian, which starts at the equator, as a score line."""
    points, faces, ids = globe()
    mesh = bpy.data.meshes.new("ball")
    mesh.from_pydata(points.tolist(), [], faces)
    item = bpy.data.objects.new("ball", mesh)
    scene.collection.objects.link(item)
    equator, parallel, meridian = np.append(ids[15], ids[15, 0]), ids[9, :17], ids[15:25, 40]
    pairs = {tuple(sorted(e.vertices)): e.index for e in mesh.edges}
    for name, path in (("uv_seam", equator), ("foamwright_trench", parallel),
                       ("foamwright_score", meridian)):
        flags = np.zeros(len(mesh.edges), dtype=bool)
        flags[[pairs[tuple(sorted(e))] for e in zip(path.tolist(), path[1:].tolist(),
                                                    strict=False)]] = True
        mesh.attributes.new(name, "BOOLEAN", "EDGE").data.foreach_set("value", flags)
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    bpy.context.view_layer.update()
    return item


def points_of(mesh):
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.attributes["position"].data.foreach_get("vector", points)
    return points.reshape(-1, 3).astype(float)


def marked_lines(item, kind):
    """The marked lines of one kind, as points in the object's space."""
    edges, kinds = read_marks(item.data)
    points = points_of(item.data)
    return [points[path] for path in chains(edges[kinds == kind])]


def codes(read, item):
    try:
        return {f.code: f for f in inspect(read(item)[0])}
    except FoamError as error:
        return {f.code: f for f in error.findings}


def remesh(item, size):
    item.data.remesh_voxel_size = size
    item.data.use_remesh_preserve_attributes = True
    bpy.ops.object.voxel_remesh()


def is_the_balls(item, edge):
    """Do the marks follow the lines of `ball` within an edge length?"""
    (seam,) = marked_lines(item, SEAM)
    assert np.array_equal(seam[0], seam[-1]) and np.abs(seam[:, 2]).max() < edge
    turns = np.unwrap(np.arctan2(seam[:, 1], seam[:, 0]))
    assert abs(turns[-1] - turns[0]) == pytest.approx(2 * np.pi)
    (trench,) = marked_lines(item, TRENCH)
    # Row 9 of the vertices lies at 10/32 of the way from pole to pole.
    assert np.abs(trench[:, 2] - RADIUS * np.cos(np.pi * 10 / 32)).max() < edge
    assert np.linalg.norm(trench[0] - trench[-1]) == pytest.approx(
        RADIUS * np.sin(np.pi * 10 / 32) * 2**0.5, abs=2 * edge)
    (score,) = marked_lines(item, SCORE)
    assert np.isclose(score[[0, -1]][:, None], seam[None], atol=1e-7).all(axis=2).any()
    away = score @ [-np.sin(2 * np.pi * 40 / 64), np.cos(2 * np.pi * 40 / 64), 0.0]
    assert np.abs(away).max() < edge
    return True


def test_marks_that_modifiers_lose_are_kept_as_they_lie_on_the_own_mesh(scene, ball):
    before = {kind: sum(map(polyline_length, found)) for kind, found in _kept_of(ball).items()}
    for name in lines.KEPT.values():
        setattr(ball.foamwright, name, None)
    ball.modifiers.new("new mesh", "REMESH").voxel_size = 0.01
    objects = set(bpy.data.objects)
    assert bpy.ops.foamwright.keep_lines() == {"FINISHED"}
    after = {kind: sum(map(polyline_length, found)) for kind, found in lines.kept(ball).items()}
    assert after == pytest.approx(before) and set(before) == {SEAM, TRENCH, SCORE}
    assert set(bpy.data.objects) == objects and len(ball.modifiers) == 1


def _kept_of(item):
    bpy.ops.foamwright.keep_lines()
    return lines.kept(item)


def test_a_line_is_kept_as_a_curve_in_the_objects_space(ball):
    ball.location, ball.scale = (3.0, 0.0, 1.0), (2.0, 2.0, 2.0)
    bpy.context.view_layer.update()
    assert bpy.ops.foamwright.keep_lines() == {"FINISHED"}
    found = lines.kept(ball)
    assert {kind: len(each) for kind, each in found.items()} == {SEAM: 1, TRENCH: 1, SCORE: 1}
    (seam,) = found[SEAM]
    assert np.array_equal(seam[0], seam[-1])
    assert np.linalg.norm(seam, axis=1) == pytest.approx(RADIUS, rel=1e-5)
    assert ball.foamwright.kept_seams.splines[0].use_cyclic_u
    assert not any(o.type == "CURVE" for o in bpy.data.objects)  # nothing new in the scene


def test_keeping_again_replaces_and_changes_nothing_where_the_lines_are_the_same(ball):
    bpy.ops.foamwright.keep_lines()
    first = ball.foamwright.kept_seams
    bpy.ops.foamwright.keep_lines()
    assert ball.foamwright.kept_seams == first and len(bpy.data.curves) == 3
    ball.data.attributes.remove(ball.data.attributes["foamwright_score"])
    ball.data.attributes["foamwright_trench"].data[0].value = True
    bpy.ops.foamwright.keep_lines()
    assert set(lines.kept(ball)) == {SEAM, TRENCH} and len(bpy.data.curves) == 2
    assert len(lines.kept(ball)[TRENCH]) == 2


def test_what_was_kept_outlives_marks_that_are_gone(ball):
    bpy.ops.foamwright.keep_lines()
    for name in ("uv_seam", "foamwright_trench", "foamwright_score"):
        ball.data.attributes.remove(ball.data.attributes[name])
    assert bpy.ops.foamwright.keep_lines() == {"CANCELLED"}
    assert len(lines.kept(ball)) == 3


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT", "SCULPT"])
def test_lines_are_laid_where_they_were(ball, mode):
    before = read_marks(ball.data)
    bpy.ops.foamwright.keep_lines()
    for name in ("uv_seam", "foamwright_trench"):
        ball.data.attributes.remove(ball.data.attributes[name])
    bpy.ops.object.mode_set(mode=mode)
    assert bpy.ops.foamwright.lay_lines() == {"FINISHED"}
    assert ball.mode == mode
    bpy.ops.object.mode_set(mode="OBJECT")
    after = read_marks(ball.data)
    assert np.array_equal(before[0], after[0]) and np.array_equal(before[1], after[1])


@pytest.mark.parametrize("size", [0.004, 0.008, 0.016])
def test_a_voxel_remesh_smears_marks_and_laying_the_kept_lines_mends_them(ball, read, size):
    assert "smeared-marks" not in codes(read, ball)
    bpy.ops.foamwright.keep_lines()
    remesh(ball, size)
    found = codes(read, ball)["smeared-marks"]
    assert found.severity == ERROR and len(found.edges) > 8
    assert bpy.ops.foamwright.keep_lines() == {"CANCELLED"}  # the good ones stay
    bpy.ops.foamwright.lay_lines()
    assert "smeared-marks" not in codes(read, ball)
    assert is_the_balls(ball, edge=size)


def test_a_quad_remesh_is_mended_too(ball, read):
    bpy.ops.foamwright.keep_lines()
    bpy.ops.object.quadriflow_remesh(target_faces=1200, preserve_attributes=True)
    assert "smeared-marks" in codes(read, ball)
    bpy.ops.foamwright.lay_lines()
    assert "smeared-marks" not in codes(read, ball)
    # 1200 quads on the ball's area are 15 mm wide, were they squares; some are half as long again.
    assert is_the_balls(ball, edge=1.5 * np.sqrt(4 * np.pi * RADIUS**2 / 1200))


def test_marks_that_a_remesh_drops_come_back(ball):
    bpy.ops.foamwright.keep_lines()
    ball.data.remesh_voxel_size = 0.008
    ball.data.use_remesh_preserve_attributes = False
    bpy.ops.object.voxel_remesh()
    assert not len(read_marks(ball.data)[0])
    bpy.ops.foamwright.lay_lines()
    assert is_the_balls(ball, edge=0.008)


@pytest.mark.parametrize("keywords", [
    {"scale": True, "rotation": True, "location": True}, {"scale": True, "location": False},
    None])
def test_kept_lines_find_the_mesh_when_the_object_moves_or_its_transform_is_applied(
        ball, keywords):
    ball.location, ball.scale = (0.3, 0.0, 1.0), (2.0, 2.0, 2.0)
    ball.rotation_euler = (0.0, 0.0, 0.4)
    bpy.context.view_layer.update()
    before = read_marks(ball.data)
    bpy.ops.foamwright.keep_lines()
    for name in ("uv_seam", "foamwright_trench"):
        ball.data.attributes.remove(ball.data.attributes[name])
    if keywords:
        bpy.ops.object.transform_apply(**keywords)
    else:
        ball.location, ball.rotation_euler = (5.0, 1.0, 0.0), (1.0, 0.0, 0.0)
        bpy.context.view_layer.update()
    assert lines.lay(ball) == (3, pytest.approx(0.0, abs=1e-6))
    after = read_marks(ball.data)
    assert np.array_equal(before[0], after[0]) and np.array_equal(before[1], after[1])


@pytest.mark.parametrize("scale", [(-1.0, 1.0, 1.0), (-2.0, -2.0, -2.0)])
@pytest.mark.parametrize("applied", [False, True])
@pytest.mark.parametrize("aside", [0.05, 0.0])  # where it is its own mirror image, but for marks
def test_kept_lines_find_a_mirrored_mesh(ball, scale, applied, aside):
    ball.data.transform(Matrix.Translation((aside, 0.0, 0.0)))
    ball.scale = scale
    bpy.context.view_layer.update()
    before = read_marks(ball.data)
    bpy.ops.foamwright.keep_lines()
    marks.write_kinds(ball.data, np.zeros(len(ball.data.edges), dtype=int))
    if applied:
        bpy.ops.object.transform_apply(location=False, rotation=False, scale=True)
    assert lines.lay(ball) == (3, pytest.approx(0.0, abs=1e-6))
    after = read_marks(ball.data)
    assert np.array_equal(before[0], after[0]) and np.array_equal(before[1], after[1])


def test_lines_of_a_symmetric_mesh_go_with_it_when_it_is_mirrored_as_an_object(ball):
    before = read_marks(ball.data)
    bpy.ops.foamwright.keep_lines()
    marks.write_kinds(ball.data, np.zeros(len(ball.data.edges), dtype=int))
    ball.scale.x = -1.0
    bpy.context.view_layer.update()
    assert lines.lay(ball) == (3, pytest.approx(0.0, abs=1e-6))
    assert np.array_equal(before[0], read_marks(ball.data)[0])


def test_kept_lines_can_be_laid_across_faces(scene, ball, read):
    ball.location, ball.scale = (0.3, 0.0, 1.0), (2.0, 2.0, 2.0)
    bpy.context.view_layer.update()
    bpy.ops.foamwright.keep_lines()
    remesh(ball, 0.008)
    before = points_of(ball.data).tobytes()
    for _ in range(2):  # a second time adds nothing
        bpy.ops.foamwright.lay_lines(way="ACROSS")
        found = {o.foamwright.guide: o for o in guides_of(scene, ball)}
        assert set(found) == {"SEAM", "TRENCH", "SCORE"} and len(guides_of(scene, ball)) == 3
    assert points_of(ball.data).tobytes() == before and not len(read_marks(ball.data)[0])
    ((line, closed),) = world_polylines(found["SEAM"])
    assert closed and line[:, 2] == pytest.approx(1.0, abs=1e-5)
    assert np.linalg.norm(line - [0.3, 0.0, 1.0], axis=1) == pytest.approx(2 * RADIUS, rel=1e-5)
    assert len(read(ball)[0].guides) == 3


def test_the_outside_of_a_thin_shell_is_marked_and_not_its_inside(ball):
    bpy.ops.foamwright.keep_lines()
    modifier = ball.modifiers.new("shell", "SOLIDIFY")
    modifier.thickness = 0.002  # inwards: the outer wall is where the ball was
    bpy.ops.object.modifier_apply(modifier="shell")
    marks.write_kinds(ball.data, np.zeros(len(ball.data.edges), dtype=int))
    bpy.ops.foamwright.lay_lines()
    edges, _ = read_marks(ball.data)
    assert np.linalg.norm(points_of(ball.data)[edges], axis=2) == pytest.approx(RADIUS, rel=1e-5)
    assert len(edges) == 64 + 16 + 9


def test_laying_is_undone_in_one_step(ball):
    bpy.ops.foamwright.keep_lines()
    remesh(ball, 0.016)
    smeared = read_marks(ball.data)[0].tolist()
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.foamwright.lay_lines("EXEC_DEFAULT", True)
    assert read_marks(bpy.data.objects["ball"].data)[0].tolist() != smeared
    bpy.ops.ed.undo()
    assert read_marks(bpy.data.objects["ball"].data)[0].tolist() == smeared


def test_the_part_of_the_lines_that_lies_off_the_mesh_is_told_and_the_rest_laid(ball):
    bpy.ops.foamwright.keep_lines()
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.bisect(plane_co=(0, 0, 0), plane_no=(1, 0, 0), clear_inner=True)
    bpy.ops.object.mode_set(mode="OBJECT")
    number, lost = lines.lay(ball)
    # Half of the equator and, of the rest, what lies there: 471.2 of 471.2 + 471.2 mm ...
    whole = RADIUS * np.array([2 * np.pi, np.pi / 2 * np.sin(np.pi * 10 / 32), np.pi * 9 / 32])
    there = RADIUS * np.array([np.pi, np.pi / 2 * np.sin(np.pi * 10 / 32), 0.0])
    assert number == 2 and lost == pytest.approx(1 - there.sum() / whole.sum(), abs=0.04)
    (seam,) = marked_lines(ball, SEAM)
    assert polyline_length(seam) == pytest.approx(RADIUS * np.pi, rel=0.01)


def test_nothing_kept_is_told_and_nothing_on_the_mesh_changes_nothing(ball):
    with pytest.raises(RuntimeError, match="No lines of these objects were kept"):
        bpy.ops.foamwright.lay_lines()
    before = read_marks(ball.data)[0].tolist()
    bpy.ops.foamwright.keep_lines()
    for kind in lines.KEPT.values():
        for spline in getattr(ball.foamwright, kind).splines:
            for point in spline.points:
                point.co.x += 10.0
    assert bpy.ops.foamwright.lay_lines() == {"CANCELLED"}
    assert read_marks(ball.data)[0].tolist() == before


def test_kept_lines_are_saved_and_go_with_a_copy(ball, tmp_path):
    bpy.ops.foamwright.keep_lines()
    path = str(tmp_path / "suit.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    item = bpy.data.objects["ball"]
    assert {kind: len(each) for kind, each in lines.kept(item).items()} == {
        SEAM: 1, TRENCH: 1, SCORE: 1}
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    bpy.ops.object.duplicate()
    copy = bpy.context.object
    copy.data.attributes.remove(copy.data.attributes["foamwright_score"])
    bpy.ops.foamwright.keep_lines()
    assert SCORE not in lines.kept(copy) and SCORE in lines.kept(item)
    assert len(lines.kept(item)[SEAM]) == 1


def test_a_check_keeps_the_lines_of_every_object(scene, ball, add_sheet):
    sheet = add_sheet("sheet", seams=[(1, 4), (4, 7)])
    ball.foamwright.include = sheet.foamwright.include = True
    bpy.ops.foamwright.check()
    assert set(lines.kept(ball)) == {SEAM, TRENCH, SCORE} and set(lines.kept(sheet)) == {SEAM}
    (line,) = lines.kept(sheet)[SEAM]
    assert line[[0, -1]] == pytest.approx(np.array([[0.1, 0, 0], [0.1, 0, 0.2]]), abs=1e-6)


def test_the_finding_offers_to_lay_the_lines(scene, ball):
    bpy.ops.foamwright.keep_lines()
    remesh(ball, 0.008)
    with pytest.raises(RuntimeError, match="smeared"):
        bpy.ops.foamwright.check()
    found = [f for f in scene.foamwright.findings if f.code == "smeared-marks"]
    assert found and [b.operator for b in remedies.buttons(found[0])] == ["foamwright.lay_lines"]
    bpy.ops.foamwright.lay_lines(finding=list(scene.foamwright.findings).index(found[0]))
    assert is_the_balls(ball, edge=0.008)
