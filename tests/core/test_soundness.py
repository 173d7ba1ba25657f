"""What is wrong with a sculpt is found, named by its elements, and never repaired."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from addon.core.errors import ERROR, NOTE, WARNING, FoamError
from addon.core.model import SCORE, SEAM, TRENCH, Sculpt, SculptObject
from addon.core.soundness import faults, inspect


def sculpt(mesh, **more):
    return Sculpt.plain(mesh.vertices, mesh.faces, **more)


def findings(made):
    """Findings by code, fatal or not."""
    try:
        return {f.code: f for f in inspect(made)}
    except FoamError as error:
        return {f.code: f for f in error.findings}


def ball(radius=100.0):
    return trimesh.creation.icosphere(subdivisions=2, radius=radius)


def sheet(n=4, size=100.0):
    """A flat grid of n by n squares, looking up."""
    i, j = (a.ravel() for a in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
    corner = i * (n + 1) + j
    quads = np.stack([corner, corner + n + 1, corner + n + 2, corner + 1], axis=1)
    x, y = (a.ravel() for a in np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij"))
    points = np.stack([x, y, 0 * x], axis=1) * size / n
    return Sculpt.plain(points, np.concatenate([quads[:, :3], quads[:, [0, 2, 3]]]))


def twisted_ring(n=24, radius=100.0, width=30.0):
    """A strip that is turned over once before its ends are joined."""
    a = np.arange(n) * 2 * np.pi / n
    w = np.array([-width / 2, width / 2])[:, None]
    r = radius + w * np.cos(a / 2)
    points = np.stack([r * np.cos(a), r * np.sin(a), w * np.sin(a / 2)], axis=2).reshape(-1, 3)
    faces = []
    for i in range(n):
        p, q = i, n + i
        r, s = (i + 1, n + i + 1) if i < n - 1 else (n, 0)  # the last ones swap sides
        faces += [(p, r, s), (p, s, q)]
    return Sculpt.plain(points, faces)


@pytest.mark.parametrize("made", [
    sheet(), sculpt(ball()), sculpt(trimesh.creation.torus(200, 50)),
    sculpt(trimesh.creation.annulus(100, 120, 50))], ids=["sheet", "ball", "torus", "ring"])
def test_a_sound_sculpt_has_no_findings(made):
    assert inspect(made) == ()


def test_no_faces():
    with pytest.raises(FoamError) as caught:
        inspect(Sculpt.plain(np.zeros((3, 3)), []))
    assert caught.value.finding.code == "no-faces"


def test_an_object_without_faces_beside_others_is_named():
    plate = sheet()
    both = replace(plate, objects=(SculptObject("left"), *plate.objects, SculptObject("right")),
                   face_object=plate.face_object + 1)
    told = inspect(both)
    assert [(f.code, f.severity) for f in told] == [("object-without-faces", WARNING)] * 2
    assert "“left”" in told[0].message and "“right”" in told[1].message


def test_faces_on_missing_vertices_are_a_programming_mistake():
    with pytest.raises(ValueError, match="do not exist"):
        inspect(Sculpt.plain(np.zeros((3, 3)), [[0, 1, 3]]))


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_vertices_that_lie_nowhere_are_named_and_their_faces_not_blamed(value):
    made = sheet()
    points = made.vertices.copy()
    points[7, 1] = value
    found = findings(replace(made, vertices=points))
    assert set(found) == {"not-finite"}
    assert found["not-finite"].vertices.tolist() == [7]


def test_faces_without_area_are_named():
    made = sheet()
    points = made.vertices.copy()
    face = made.faces[5]
    points[face[1]] = (points[face[0]] + points[face[2]]) / 2
    found = findings(replace(made, vertices=points))
    assert found["zero-area-face"].severity == ERROR
    assert found["zero-area-face"].faces.tolist() == [5]
    repeated = Sculpt.plain(made.vertices, [*made.faces, (3, 3, 4)])
    assert findings(repeated)["zero-area-face"].faces.tolist() == [len(made.faces)]


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_area_is_judged_by_shape_and_not_by_size(size):
    made = sheet()
    codes = set(findings(replace(made, vertices=made.vertices * size)))
    assert "zero-area-face" not in codes


def test_an_edge_with_three_faces_is_named():
    made = sheet()
    inner = sorted(made.faces[0][[0, 2]])  # the diagonal, which two faces share already
    points = np.vstack([made.vertices, made.vertices[inner].mean(axis=0) + (0, 0, 20)])
    found = findings(Sculpt.plain(points, [*made.faces, (*inner, len(points) - 1)]))
    assert found["non-manifold-edge"].edges.tolist() == [inner]
    assert len(made.faces) in found["non-manifold-edge"].faces
    assert len(found["non-manifold-edge"].faces) == 3


def test_a_face_on_the_corners_of_another_is_named_and_its_edges_are_not():
    made = sheet()
    for again in (made.faces[9], np.roll(made.faces[9], 1), made.faces[9][::-1]):
        found = findings(Sculpt.plain(made.vertices, [*made.faces, again]))
        assert set(found) == {"duplicate-face"}
        assert found["duplicate-face"].faces.tolist() == [len(made.faces)]


@given(st.sets(st.integers(0, 31), min_size=1, max_size=10))
def test_the_few_turned_faces_of_an_open_sheet_are_named(turned):
    made = sheet()
    faces = made.faces.copy()
    turned = sorted(turned)
    faces[turned] = faces[turned][:, ::-1]
    found = findings(replace(made, faces=faces))
    assert found["flipped-normals"].faces.tolist() == turned


@given(st.integers(0, 319), st.integers(0, 319))
def test_turned_faces_of_a_closed_shell_are_named_even_when_they_are_most(first, last):
    made = sculpt(ball())
    faces = made.faces.copy()
    turned = np.arange(min(first, last), max(first, last) + 1)
    faces[turned] = faces[turned][:, ::-1]
    found = findings(replace(made, faces=faces))
    assert np.array_equal(found["flipped-normals"].faces, turned)
    # The reference library agrees that the rest encloses a positive volume once turned back.
    assert trimesh.Trimesh(made.vertices, made.faces, process=False).volume > 0


def test_the_edges_between_turned_and_right_faces_are_named():
    made = sheet()
    faces = made.faces.copy()
    faces[2] = faces[2][::-1]
    edges = findings(replace(made, faces=faces))["flipped-normals"].edges
    assert {tuple(e) for e in edges} <= {tuple(sorted(e)) for e in zip(
        faces[2], np.roll(faces[2], 1), strict=True)}
    assert len(edges) >= 1


def test_a_closed_shell_turned_inside_out_is_found_and_an_open_one_cannot_be():
    inside_out = sculpt(ball())
    faces = inside_out.faces[:, ::-1]
    found = findings(replace(inside_out, faces=faces))
    assert len(found["flipped-normals"].faces) == len(faces)
    assert inspect(replace(sheet(), faces=sheet().faces[:, ::-1])) == ()


def test_the_inner_wall_of_a_hollow_shell_looks_inward_rightly():
    outer, inner = ball(100), ball(90)
    inner.invert()
    assert inspect(sculpt(outer + inner)) == ()
    # The same small shell beside the large one is turned inside out.
    inner.apply_translation((300, 0, 0))
    found = findings(sculpt(outer + inner))
    assert found["flipped-normals"].faces.min() == len(outer.faces)


def test_a_one_sided_ring_is_found():
    found = findings(twisted_ring())
    assert set(found) == {"one-sided"}
    assert len(found["one-sided"].faces) == 48


def test_loose_vertices_are_a_note():
    made = sheet()
    points = np.vstack([made.vertices, (1, 2, 3)])
    (finding,) = inspect(replace(made, vertices=points))
    assert (finding.code, finding.severity) == ("loose-vertices", NOTE)
    assert finding.vertices.tolist() == [len(points) - 1]


@pytest.mark.parametrize(("radius", "warned"), [
    (1.0, True), (2.4, True), (2.6, False), (2400.0, False), (2600.0, True)])
def test_a_sculpt_smaller_than_5_mm_or_larger_than_5_m_is_in_the_wrong_unit(radius, warned):
    found = inspect(sculpt(ball(radius)))
    assert [f.code for f in found] == ["implausible-size"] * warned
    for finding in found:
        assert finding.severity == WARNING
        assert "unit" in finding.remedy
        assert f"{2 * radius:g} mm" in finding.message


@pytest.mark.parametrize(("radius", "words"), [
    (210_000.0, "millimetres were read as metres; it would then measure 420 mm"),
    (0.21, "metres were read as millimetres; it would then measure 420 mm"),
    (1e30, "times a person's height.")])
def test_the_mistake_that_would_explain_a_size_is_told(radius, words):
    (finding,) = (f for f in faults(sculpt(ball(radius))) if f.code == "implausible-size")
    assert words in finding.message


def test_faults_are_all_named_without_stopping():
    made = sheet()
    broken = Sculpt.plain(made.vertices, [*made.faces, made.faces[3], (0, 0, 1)])
    with pytest.raises(FoamError) as caught:
        inspect(broken)
    assert [f.code for f in faults(broken)] == [f.code for f in caught.value.findings]


def test_all_fatal_findings_come_at_once():
    made = sheet()
    points = np.vstack([made.vertices, (0, 0, 30)])
    points[-1, 2] = np.nan
    faces = [*made.faces, (0, 0, 1), made.faces[3], (0, 1, len(points) - 1)]
    with pytest.raises(FoamError) as caught:
        inspect(Sculpt.plain(points, faces))
    assert {f.code for f in caught.value.findings} == {
        "not-finite", "zero-area-face", "duplicate-face"}
    assert all(f.severity == ERROR and f.remedy for f in caught.value.findings)


def marked(edges, kinds):
    made = sheet()
    return replace(made, edges=edges, kinds=kinds)


def inner_and_rim():
    made = sheet()
    pairs, count = np.unique(np.sort(np.concatenate(
        [made.faces[:, [i, (i + 1) % 3]] for i in range(3)]), axis=1), axis=0, return_counts=True)
    return pairs[count == 2], pairs[count == 1]


def test_marks_on_the_rim_are_a_note_and_inner_marks_none():
    inner, rim = inner_and_rim()
    (finding,) = inspect(marked(np.concatenate([inner[:3], rim[:2]]), [SEAM] * 5))
    assert (finding.code, finding.severity) == ("mark-on-rim", NOTE)
    assert np.array_equal(finding.edges, rim[:2])


def test_a_trench_or_score_line_on_a_seam_is_a_note():
    inner, _ = inner_and_rim()
    found = findings(marked(inner[:4], [SEAM | TRENCH, SEAM | SCORE, SEAM, TRENCH]))
    assert set(found) == {"line-on-seam"}
    assert np.array_equal(found["line-on-seam"].edges, inner[:2])


def test_an_edge_that_is_trench_and_score_line_is_warned_of():
    inner, _ = inner_and_rim()
    found = findings(marked(inner[:2], [TRENCH | SCORE, TRENCH]))
    assert found["trench-on-score"].severity == WARNING
    assert np.array_equal(found["trench-on-score"].edges, inner[:1])


def test_marks_that_lie_on_no_face_are_a_note():
    (finding,) = inspect(marked([[0, 24]], [SEAM]))
    assert finding.code == "mark-without-face"
    assert finding.edges.tolist() == [[0, 24]]


def test_nothing_is_changed():
    made = sheet()
    before = made.vertices.tobytes(), made.faces.tobytes()
    inspect(made)
    assert (made.vertices.tobytes(), made.faces.tobytes()) == before
