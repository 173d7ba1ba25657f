"""Mesh files written by another library, or by hand from the standards, are read true."""

import json
import struct

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.errors import FoamError
from addon.core.model import Sculpt
from addon.core.units import MM_PER
from addon.files import READERS, read_mesh
from addon.files.polygons import triangulate


@pytest.fixture
def ball():
    mesh = trimesh.creation.icosphere(subdivisions=2, radius=1.5)
    mesh.apply_scale((1.0, 0.7, 2.0))
    mesh.apply_translation((0.3, -4.0, 7.0))
    return mesh


def written(mesh, path, **options):
    mesh.export(path, **options)
    return path


def area(sculpt):
    return trimesh.Trimesh(sculpt.vertices, sculpt.faces, process=False).area


def turned_up(points):
    """y-up to z-up by a quarter turn about x."""
    return trimesh.transform_points(
        points, trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))


KINDS = {"binary.stl": {"file_type": "stl"}, "text.stl": {"file_type": "stl_ascii"},
         "binary.ply": {"encoding": "binary"}, "text.ply": {"encoding": "ascii"}, "a.obj": {},
         "a.glb": {}}


@pytest.mark.parametrize("name", KINDS)
def test_what_another_library_wrote_is_read_point_by_point(tmp_path, ball, name):
    sculpt = read_mesh(written(ball, tmp_path / name, **KINDS[name]), unit="mm")
    assert (len(sculpt.vertices), len(sculpt.faces)) == (len(ball.vertices), len(ball.faces))
    expected = turned_up(ball.vertices) if name.endswith(".glb") else ball.vertices
    corners = expected[ball.faces]
    assert sculpt.vertices[sculpt.faces] == pytest.approx(corners, abs=2e-6)  # single precision
    assert trimesh.Trimesh(sculpt.vertices, sculpt.faces, process=False).is_watertight


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", 25.4)])
def test_a_unit_scales_by_its_definition(tmp_path, unit, mm):
    # The inch is 25.4 mm exactly: international yard and pound agreement, 1959.
    (tmp_path / "t.obj").write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    sculpt = read_mesh(tmp_path / "t.obj", unit=unit)
    assert sculpt.vertices.tolist() == [[0, 0, 0], [mm, 0, 0], [0, mm, 0]]
    assert not sculpt.findings


def test_without_a_unit_glb_is_in_metres_and_others_say_that_mm_was_assumed(tmp_path, ball):
    sculpt = read_mesh(written(ball, tmp_path / "a.glb"))
    assert area(sculpt) == pytest.approx(ball.area * 1000**2, rel=1e-5)
    assert not sculpt.findings
    sculpt = read_mesh(written(ball, tmp_path / "a.ply"))
    assert area(sculpt) == pytest.approx(ball.area, rel=1e-5)
    assert [f.code for f in sculpt.findings] == ["unit-assumed"]


def test_unknown_units_are_a_programming_mistake(tmp_path):
    with pytest.raises(ValueError, match="unknown"):
        read_mesh(tmp_path / "a.obj", unit="furlong")
    assert "furlong" not in MM_PER


def test_the_axis_that_points_up_can_be_chosen(tmp_path, ball):
    obj = read_mesh(written(ball, tmp_path / "a.obj"), "mm", up="y")
    glb = read_mesh(written(ball, tmp_path / "a.glb"), "mm")
    assert obj.vertices == pytest.approx(turned_up(ball.vertices), abs=1e-5)
    assert glb.vertices[glb.faces] == pytest.approx(obj.vertices[obj.faces], abs=1e-5)
    as_is = read_mesh(tmp_path / "a.glb", "mm", up="z")
    assert as_is.vertices == pytest.approx(ball.vertices, abs=1e-5)


# --- welding -----------------------------------------------------------------


def test_a_shell_split_at_every_face_is_closed_again(tmp_path, ball):
    loose = trimesh.Trimesh(ball.triangles.reshape(-1, 3),
                            np.arange(3 * len(ball.faces)).reshape(-1, 3), process=False)
    sculpt = read_mesh(written(loose, tmp_path / "a.ply"), "mm")
    assert len(sculpt.vertices) == len(ball.vertices)
    assert trimesh.Trimesh(sculpt.vertices, sculpt.faces, process=False).is_watertight


@pytest.mark.parametrize(("gap", "welded"), [(0.0, True), (0.5e-6, True), (3e-6, False)])
def test_points_weld_within_a_millionth_of_the_diagonal(tmp_path, gap, welded):
    d = np.sqrt(2.0) * gap  # the square's diagonal is sqrt 2
    (tmp_path / "a.obj").write_text(
        "v 0 0 0\nv 1 0 0\nv 1 1 0\n"
        f"v {d:.12f} 0 0\nv {1 + d:.12f} 1 0\nv 0 1 0\nf 1 2 3\nf 4 5 6\n")
    sculpt = read_mesh(tmp_path / "a.obj", "mm")
    assert len(sculpt.vertices) == (4 if welded else 6)


def test_points_of_different_objects_never_weld(tmp_path):
    (tmp_path / "a.obj").write_text(
        "o left\nv 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n"
        "o right\nv 0 0 0\nv 1 1 0\nv 0 1 0\nf 4 5 6\n")
    sculpt = read_mesh(tmp_path / "a.obj", "mm")
    assert len(sculpt.vertices) == 6
    assert [o.name for o in sculpt.objects] == ["left", "right"]
    assert sculpt.face_object.tolist() == [0, 1]


def test_faces_lost_by_welding_and_repeated_ones_are_left_out_with_a_note(tmp_path):
    (tmp_path / "a.obj").write_text(
        "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 0 0\n"
        "f 1 2 3\nf 2 3 1\nf 1 4 2\nf 3 2 1\n")
    sculpt = read_mesh(tmp_path / "a.obj", "mm")
    # A face turned over is no repetition: which of the two is right is for the maker to say.
    assert sculpt.faces.tolist() == [[0, 1, 2], [2, 1, 0]]
    assert {f.code for f in sculpt.findings} == {"collapsed-face", "repeated-face"}


def test_points_that_lie_nowhere_come_through_to_be_found_later(tmp_path):
    (tmp_path / "a.obj").write_text("v 0 0 0\nv 1 0 0\nv nan 1 0\nv 0 1 0\nf 1 2 3\nf 1 2 4\n")
    sculpt = read_mesh(tmp_path / "a.obj", "mm")
    assert np.flatnonzero(~np.isfinite(sculpt.vertices).all(axis=1)).tolist() == [2]


# --- what each format carries ------------------------------------------------


QUADS = "v 0 0 0\nv 2 0 0\nv 2 1 0\nv 0 1 0\nv 4 0 0\nv 4 1 1\n"


def test_obj_polygons_stay_known_and_indices_may_count_back_or_carry_extras(tmp_path):
    (tmp_path / "a.obj").write_text(
        "# made by hand\nmtllib x.mtl\n" + QUADS + "vt 0 0\nvn 0 0 1\ns off\n"
        "f 1/1/1 2//1 3/1 4\nl 1 2\nf -5 -2 \\\n -1 -4 # a comment\n")
    sculpt = read_mesh(tmp_path / "a.obj", "mm")
    assert sculpt.polygon.tolist() == [0, 0, 1, 1]
    assert set(sculpt.faces[sculpt.polygon == 1].ravel()) == {1, 4, 5, 2}


def test_obj_groups_are_objects_only_where_they_are_apart(tmp_path):
    apart = "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 5 0 0\nv 6 0 0\nv 5 1 0\n"
    (tmp_path / "apart.obj").write_text(apart + "g a\nf 1 2 3\ng b c\nf 4 5 6\n")
    assert [o.name for o in read_mesh(tmp_path / "apart.obj").objects] == ["a", "b c"]
    (tmp_path / "one.obj").write_text(apart + "g a\nf 1 2 3\ng b\nf 1 5 6\n")
    assert [o.name for o in read_mesh(tmp_path / "one.obj").objects] == ["one"]


def ply(order, rows):
    """A PLY file of two quads and a triangle with columns nobody asked for."""
    head = ("ply\nformat {} 1.0\ncomment by hand\nelement vertex 6\nproperty double x\n"
            "property double y\nproperty float z\nproperty uchar red\nelement edge 1\n"
            "property int a\nproperty int b\nelement face 3\n"
            "property list uchar int vertex_indices\nproperty uchar flag\nend_header\n")
    return head.format(order).encode() + rows


PLY_POINTS = [(0, 0, 0), (2, 0, 0), (2, 1, 0), (0, 1, 0), (4, 0, 0), (4, 1, 1)]
PLY_FACES = [(0, 1, 2, 3), (1, 4, 5, 2), (0, 3, 5)]


@pytest.mark.parametrize("order", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_ply_polygons_of_mixed_sizes_are_read_in_every_encoding(tmp_path, order):
    if order == "ascii":
        lines = [f"{x} {y} {z} 200" for x, y, z in PLY_POINTS] + ["0 1"]
        lines += [f"{len(f)} {' '.join(map(str, f))} 7" for f in PLY_FACES]
        rows = "\n".join(lines).encode()
    else:
        e = "<" if "little" in order else ">"
        rows = b"".join(struct.pack(e + "ddfB", *p, 200) for p in PLY_POINTS)
        rows += struct.pack(e + "ii", 0, 1)
        rows += b"".join(struct.pack(f"{e}B{len(f)}iB", len(f), *f, 7) for f in PLY_FACES)
    path = tmp_path / "a.ply"
    path.write_bytes(ply(order, rows))
    sculpt = read_mesh(path, "mm")
    assert sculpt.vertices.tolist() == [list(map(float, p)) for p in PLY_POINTS]
    assert sculpt.polygon.tolist() == [0, 0, 1, 1, 2]
    for polygon, corners in enumerate(PLY_FACES):
        assert set(sculpt.faces[sculpt.polygon == polygon].ravel()) == set(corners)
    first = sculpt.faces[sculpt.polygon == 0]
    assert area(Sculpt.plain(sculpt.vertices, first)) == 2.0  # the rectangle 2 x 1


def test_each_solid_of_a_text_stl_is_an_object(tmp_path):
    facet = "facet normal 0 0 1\nouter loop\n{}endloop\nendfacet\n"
    corners = "vertex {0} 0 0\nvertex {1} 0 0\nvertex {0} 1 0\n"
    (tmp_path / "a.stl").write_text("".join(
        f"solid {name}\n{facet.format(corners.format(x, x + 1))}endsolid {name}\n"
        for name, x in (("left arm", 0), ("right arm", 1))))
    sculpt = read_mesh(tmp_path / "a.stl")
    assert [o.name for o in sculpt.objects] == ["left arm", "right arm"]


def test_glb_nodes_are_objects_placed_by_their_transforms(tmp_path, ball):
    scene = trimesh.Scene()
    turn = trimesh.transformations.rotation_matrix(0.7, (1, 2, 3), (0, 0, 1))
    mirror = turn @ np.diag((-2.0, 1.0, 1.0, 1.0))
    scene.add_geometry(ball, node_name="thigh", geom_name="m")
    scene.add_geometry(ball, node_name="mirrored thigh", geom_name="m", transform=mirror)
    sculpt = read_mesh(written(scene, tmp_path / "a.glb"), "mm")
    assert sorted(o.name for o in sculpt.objects) == ["mirrored thigh", "thigh"]
    for i, item in enumerate(sculpt.objects):
        matrix = mirror if item.name == "mirrored thigh" else np.eye(4)
        faces = sculpt.faces[sculpt.face_object == i]
        expected = turned_up(trimesh.transform_points(ball.vertices, matrix))
        got = trimesh.Trimesh(sculpt.vertices, faces, process=False)
        assert np.sort(got.vertices[np.unique(faces)], axis=0) == pytest.approx(
            np.sort(expected, axis=0), abs=1e-4)
        # glTF 2.0, 3.7.4: a negative determinant reverses the winding, so both look outward.
        assert got.volume > 0


def glb(document, binary):
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    body = (struct.pack("<2I", len(text), 0x4E4F534A) + text
            + struct.pack("<2I", len(binary), 0x004E4942) + binary)
    return struct.pack("<3I", 0x46546C67, 2, 12 + len(body)) + body


def document(points, mode=4, **more):
    return {
        "asset": {"version": "2.0"}, "nodes": [{"children": [1]}, {
            "mesh": 0, "translation": [1, 2, 3], "scale": [2, 2, 2]}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "mode": mode}]}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": len(points),
                       "type": "VEC3"}],
        "bufferViews": [{"buffer": 0, "byteLength": 12 * len(points)}],
        "buffers": [{"byteLength": 12 * len(points)}], **more}


STRIP = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 0), (0, 2, 0)]


@pytest.mark.parametrize(("mode", "expected"), [
    (5, [[0, 1, 2], [1, 3, 2], [2, 3, 4]]),  # glTF 2.0, 3.7.2.1: p = {v i, v i+1+i%2, v i+2-i%2}
    (6, [[1, 2, 0], [2, 3, 0], [3, 4, 0]])])  # p = {v i+1, v i+2, v 0}
def test_glb_strips_and_fans_are_unrolled_as_the_standard_says(tmp_path, mode, expected):
    path = tmp_path / "a.glb"
    path.write_bytes(glb(document(STRIP, mode), np.array(STRIP, "<f4").tobytes()))
    sculpt = read_mesh(path, "mm", up="z")
    assert sculpt.vertices.tolist() == [[1 + 2 * x, 2 + 2 * y, 3 + 2 * z] for x, y, z in STRIP]
    assert [np.roll(f, -int(np.argmin(f))).tolist() for f in sculpt.faces] == [
        np.roll(f, -int(np.argmin(f))).tolist() for f in expected]


# --- polygons ----------------------------------------------------------------


@settings(deadline=None)
@given(st.integers(3, 40), st.integers(0, 2**32 - 1))
def test_any_star_shaped_polygon_is_filled_exactly(k, seed):
    rng = np.random.default_rng(seed)
    angle = (np.arange(k) + rng.uniform(0.1, 0.9, k)) * 2 * np.pi / k
    radius = rng.uniform(0.2, 1.0, k)
    flat = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    x, y = flat.T
    shoelace = (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2
    frame = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    points = flat @ frame[:, :2].T
    normal = np.cross(frame[:, 0], frame[:, 1])
    faces, polygon = triangulate(points, np.arange(k), np.array([k]))
    a, b, c = (points[faces[:, i]] for i in range(3))
    signed = np.cross(b - a, c - a) @ normal / 2
    if shoelace > 0:  # the star may turn round its centre the other way when k is 3
        assert len(faces) == k - 2
        assert (signed > -1e-12).all()
        assert signed.sum() == pytest.approx(shoelace, rel=1e-9)
        assert (polygon == 0).all()


def test_a_quad_with_a_reentrant_corner_is_cut_through_that_corner():
    points = np.array([(0, 0, 0), (4, 0, 0), (1, 1, 0), (0, 4, 0)], dtype=float)
    for shift in range(4):
        faces, _ = triangulate(points, np.roll(np.arange(4), shift), np.array([4]))
        assert all({0, 2} <= set(face) for face in faces.tolist())


# --- errors ------------------------------------------------------------------


def refused(path):
    with pytest.raises(FoamError) as caught:
        read_mesh(path)
    assert path.name in caught.value.finding.message or path.suffix in caught.value.finding.message
    assert caught.value.finding.remedy
    return caught.value.finding.code


@pytest.mark.parametrize("suffix", READERS)
def test_missing_files_folders_and_rubbish_are_refused(tmp_path, suffix):
    assert refused(tmp_path / f"none{suffix}") == "missing-file"
    (tmp_path / f"dir{suffix}").mkdir()
    assert refused(tmp_path / f"dir{suffix}") == "unreadable-file"
    for name, data in (("empty", b""), ("zeros", bytes(200)), ("noise", bytes(range(256)) * 3)):
        path = tmp_path / f"{name}{suffix}"
        path.write_bytes(data)
        assert refused(path) in ("unreadable-file", "no-faces")


def test_an_unknown_kind_of_file_is_refused_before_it_is_looked_for(tmp_path):
    assert refused(tmp_path / "suit.docx") == "unknown-file-type"


@pytest.mark.parametrize("text", [
    "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "v 0 0 0\nf 0 1 2\n", "v 0 0\nf 1 1 1\n",
    "v 0 0 0\nv 1 0 0\nf 1 2\n", "v a b c\nf 1 1 1\n", "v 0 0 0\nf a b c\n"])
def test_broken_obj_files_are_refused(tmp_path, text):
    (tmp_path / "a.obj").write_text(text)
    assert refused(tmp_path / "a.obj") == "unreadable-file"


def test_points_without_faces_are_refused(tmp_path):
    (tmp_path / "a.obj").write_text("v 0 0 0\nv 1 0 0\n")
    assert refused(tmp_path / "a.obj") == "no-faces"


@pytest.mark.parametrize("more", [
    {"extensionsRequired": ["KHR_draco_mesh_compression"]},
    {"buffers": [{"uri": "far.bin", "byteLength": 60}]},
    {"accessors": [{"bufferView": 0, "componentType": 5126, "count": 999, "type": "VEC3"}]},
    {"nodes": [{"children": [1]}, {"mesh": 0, "children": [1]}]},
    {"meshes": [{}]}, {"nodes": {}}])
def test_glb_files_that_cannot_be_read_are_refused(tmp_path, more):
    path = tmp_path / "a.glb"
    path.write_bytes(glb(document(STRIP, 5, **more), np.array(STRIP, "<f4").tobytes()))
    assert refused(path) in ("unreadable-file", "no-faces")


@pytest.mark.parametrize("name", KINDS)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_a_file_cut_short_is_refused_or_read_in_part_but_never_a_bug(
        tmp_path_factory, name, data):
    folder = tmp_path_factory.mktemp("cut")
    whole = written(trimesh.creation.box(), folder / name, **KINDS[name]).read_bytes()
    (folder / name).write_bytes(whole[:data.draw(st.integers(0, len(whole) - 1))])
    try:
        read_mesh(folder / name)
    except FoamError as error:
        assert error.finding.code in ("unreadable-file", "no-faces")
