"""A look over the sculpt tells its size, its parts and what is torn, and leaves it alone."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.errors import FoamError
from addon.core.model import Sculpt, SculptObject
from addon.core.skin import DOUBLE, OPEN, SOLID
from addon.core.survey import Survey, look_over
from tests import shapes


def found(sculpt, *arguments):
    """Findings by code, several of one code as a list."""
    _, findings = look_over(sculpt, *arguments)
    by_code = {}
    for finding in findings:
        by_code.setdefault(finding.code, []).append(finding)
    return by_code


def surveyed(sculpt, *arguments):
    (survey,), _ = look_over(sculpt, *arguments)
    return survey


def both(*meshes):
    """Several shapes as one object."""
    joined = trimesh.util.concatenate([
        m if isinstance(m, trimesh.Trimesh) else trimesh.Trimesh(*m, process=False)
        for m in meshes])
    return Sculpt.plain(joined.vertices, joined.faces)


def box(*extents, at=(0, 0, 0)):
    return trimesh.creation.box(extents, trimesh.transformations.translation_matrix(at))


def plain(mesh):
    return Sculpt.plain(mesh.vertices, mesh.faces)


def quads(points, faces):
    """A sculpt of four-sided faces of the maker's."""
    faces = np.asarray(faces)
    triangles = np.concatenate([faces[:, :3], faces[:, [0, 2, 3]]])
    return replace(Sculpt.plain(points, triangles),
                   polygon=np.tile(np.arange(len(faces)), 2))


CUBE = [(x, y, z) for x in (0, 200) for y in (0, 200) for z in (0, 200)]
SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]


# --- kinds and sizes -------------------------------------------------------------


def test_a_plain_sheet_is_an_open_surface_with_nothing_to_say():
    surveys, findings = look_over(shapes.sculpt(shapes.cylinder(200, 1.0, 300)))
    assert findings == ()
    (survey,) = surveys
    assert (survey.parts, survey.rims, survey.kinds) == (1, 1, {OPEN: 1})
    # an arc of one radian that starts on the x axis, 300 mm high
    assert survey.size == pytest.approx((200 * (1 - np.cos(1)), 200 * np.sin(1), 300), rel=1e-9)


def test_a_ball_is_a_solid():
    survey = surveyed(plain(trimesh.creation.icosphere(2, 100)))
    assert (survey.kinds, survey.rims, survey.wall) == ({SOLID: 1}, 0, 0)
    assert set(found(plain(trimesh.creation.icosphere(2, 100)))) == {"closed-solid"}


def test_a_wall_is_measured():
    """A cylinder 10 mm thick, closed at its rims."""
    shell = trimesh.creation.annulus(140, 150, 300, sections=96)
    survey = surveyed(plain(shell.subdivide_to_size(30)))
    assert survey.kinds == {DOUBLE: 1}
    assert survey.wall == pytest.approx(10, rel=0.05)


@pytest.mark.parametrize(("kinds", "wall", "words"), [
    ({OPEN: 1}, 0.0, "Single surface"), ({SOLID: 1}, 0.0, "Closed solid"),
    ({DOUBLE: 1}, 9.04, "Double-walled, wall about 9 mm"),
    ({DOUBLE: 2, OPEN: 3}, 10.0, "3 single surfaces; 2 double-walled parts, wall about 10 mm"),
    ({}, 0.0, "To be told once its faults are mended")])
def test_the_kinds_are_told_in_words(kinds, wall, words):
    assert Survey("x", (1, 1, 1), 1, 0, kinds, wall).words() == words
    assert "in" in Survey("x", (1, 1, 1), 1, 0, {DOUBLE: 1}, 9.0).words("in")


def test_progress_is_told_in_order():
    shares = []
    look_over(plain(box(200, 200, 200)), progress=lambda share, text: shares.append(share))
    assert shares == sorted(shares) and len(shares) > 2


def test_nothing_is_said_of_kinds_while_faults_remain():
    made = plain(trimesh.creation.icosphere(2, 100))
    faces = made.faces.copy()
    faces[5] = faces[5, ::-1]
    survey = surveyed(replace(made, faces=faces))
    assert survey.kinds == {}
    assert "flipped-normals" in found(replace(made, faces=faces))


def test_an_empty_sculpt_is_refused():
    with pytest.raises(FoamError) as caught:
        look_over(Sculpt.plain(np.zeros((3, 3)), []))
    assert caught.value.finding.code == "no-faces"


def test_a_vertex_that_lies_nowhere_does_not_stop_the_look():
    made = plain(box(200, 200, 200))
    points = made.vertices.copy()
    points[0] = np.nan
    assert "not-finite" in found(replace(made, vertices=points))


@pytest.mark.parametrize(("factor", "said"), [
    (1.0, False), (1000.0, True), (0.001, True), (10.0, True), (0.05, True)])
def test_a_size_no_body_has_is_told(factor, said):
    made = plain(box(300, 250, 350))
    sculpt = replace(made, vertices=made.vertices * factor)
    codes = set(found(sculpt)) & {"implausible-size", "unlikely-size"}
    assert len(codes) == said


def test_a_place_narrows_what_is_likely():
    made = plain(box(90, 90, 60))
    assert "unlikely-size" not in found(made)
    assert "unlikely-size" not in found(made, {"sculpt": "forearm"})
    (finding,) = found(made, {"sculpt": "torso"})["unlikely-size"]
    assert "too small for something worn on the torso" in finding.message
    assert len(finding.vertices) == 2
    assert "unlikely-size" in found(made, {"sculpt": "torso"}, {"chest": 1000.0})
    named = replace(made, objects=(SculptObject("Breastplate"),))
    assert "unlikely-size" in found(named)
    assert "unlikely-size" not in found(named, {"Breastplate": "forearm"})


def test_a_small_thing_beside_armour_is_no_mistake():
    plate, gem = box(300, 20, 300), box(12, 12, 12, at=(0, 200, 0))
    sculpt = both(plate, gem)
    one = replace(sculpt, face_object=np.repeat([0, 1], [12, 12]),
                  objects=(SculptObject("plate"), SculptObject("gem")))
    assert "unlikely-size" not in found(one)
    tiny = replace(one, vertices=one.vertices / 20)
    assert {f.message.split("”")[0] for f in found(tiny)["unlikely-size"]} == {"“plate", "“gem"}
    surveys, _ = look_over(one)
    assert [s.name for s in surveys] == ["plate", "gem"]
    assert surveys[1].size == pytest.approx((12, 12, 12))


# --- torn and loose --------------------------------------------------------------


def test_edges_that_only_look_joined_are_found():
    points = [CUBE[v] for side in SIDES for v in side]
    soup = quads(points, np.arange(24).reshape(-1, 4))
    (finding,) = found(soup)["split-vertices"]
    assert len(finding.edges) == 24  # both sides of the twelve edges of a cube
    assert "small-hole" not in found(soup) and "loose-parts" not in found(soup)
    assert (surveyed(soup).parts, surveyed(soup).rims) == (1, 0)


def test_a_missing_face_is_a_hole_but_the_mouth_of_a_tube_is_not():
    (finding,) = found(quads(CUBE, SIDES[:-1]))["small-hole"]
    assert "looks like a missing face" in finding.message and "800 mm round" in finding.message
    assert {v for edge in finding.edges.tolist() for v in edge} == {1, 5, 7, 3}
    (pin,) = found(quads(np.array(CUBE) / 500, SIDES[:-1]))["small-hole"]
    assert "a hole 1.6 mm round" in pin.message
    (speck,) = found(quads(np.array(CUBE) / 2e4, SIDES[:-1]))["small-hole"]
    assert "a hole less than 0.1 mm round" in speck.message
    steps = 4
    ring = np.array([(-60, -60), (60, -60), (60, 60), (-60, 60)])
    tube = [(x, y, 40 * i) for i in range(steps + 1) for x, y in ring]
    sides = [[4 * i + j, 4 * i + (j + 1) % 4, 4 * i + 4 + (j + 1) % 4, 4 * i + 4 + j]
             for i in range(steps) for j in range(4)]
    assert found(quads(tube, sides)) == {}


def test_small_holes_are_found_by_their_size():
    points, faces = shapes.cylinder(200, 1.5, 300, columns=121, rows=121)
    inside = np.linalg.norm(points[faces].mean(axis=1) - points[60 * 121 + 60], axis=1)
    assert "small-hole" in found(shapes.sculpt((points, faces[inside > 8])))
    assert "small-hole" not in found(shapes.sculpt((points, faces[inside > 60])))


def test_crumbs_and_parts_are_told_apart():
    sculpt = both(box(200, 200, 200), box(1, 1, 1, at=(200, 0, 0)), box(90, 90, 90, at=(0, 300, 0)),
                  box(2, 2, 2, at=(-200, 0, 0)))
    (crumbs,), (parts,) = found(sculpt)["crumbs"], found(sculpt)["loose-parts"]
    assert crumbs.faces.tolist() == [*range(12, 24), *range(36, 48)]
    assert "2 tiny loose parts" in crumbs.message and "3.5 mm" in crumbs.message
    assert parts.faces.tolist() == [*range(24, 36)] and "is 2 parts" in parts.message
    assert surveyed(sculpt).parts == 4


@settings(deadline=None, max_examples=25)
@given(st.permutations(range(6)), st.integers(0, 5))
def test_the_order_of_faces_changes_nothing_found(order, missing):
    sides = [SIDES[i] for i in order]
    sculpt = quads(CUBE, [s for i, s in enumerate(sides) if i != missing])
    assert len(found(sculpt)["small-hole"]) == 1
    assert surveyed(sculpt).rims == 1
