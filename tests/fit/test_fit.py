"""Clearances, girths and spacers against closed forms and a general-purpose mesh library."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ellipe

from addon.core.errors import FoamError
from addon.core.fit import fitted
from addon.core.fit.clearance import Skin
from addon.core.make import check
from addon.core.model import Body, Settings
from addon.core.sections import bodies, cut, tape
from addon.core.stock import find_stock
from tests import shapes

SETTINGS = Settings(find_stock("eva-10"), nest_seconds=0.0)


def grid_body(points, closed_u=True, name="body"):
    """A body of a grid (rows, columns, 3) of points that closes along its columns."""
    rows, columns, _ = points.shape
    index = np.arange(rows * columns).reshape(rows, columns)
    after = np.roll(index, -1, axis=1)
    quads = np.stack([index[:-1], after[:-1], after[1:], index[1:]], axis=-1).reshape(-1, 4)
    faces = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    return Body(points.reshape(-1, 3), faces, name)


def pillar(radius=80.0, low=-300.0, high=1500.0, wide=1.0):
    """A closed pillar about the z axis, an ellipse of half axes wide * radius and radius."""
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    ring = np.stack([wide * radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    size = np.array([1e-6, 1, *np.ones(59), 1e-6])
    height = np.concatenate([[low], np.linspace(low, high, 60), [high]])
    points = np.concatenate([size[:, None, None] * ring, np.broadcast_to(
        height[:, None, None], (62, 180, 1))], axis=2)
    return grid_body(points)


def about(pattern, body, *heights):
    """The fit of a pattern, with girths at some heights."""
    return fitted(replace(pattern, settings=replace(pattern.settings, girth_heights=heights)), body)


def shell(radius=120.0, arc=2.0 * np.pi * 0.75, high=200.0):
    """An upright part of a pipe: its outer face has that radius, its inner one 10 mm less."""
    return check(shapes.sculpt(shapes.cylinder(radius, arc, high, 49, 13)), SETTINGS)


def test_a_pipe_about_a_pillar_is_as_far_as_their_radii_differ():
    """120 mm outside, 10 mm of foam, 80 mm of body: 30 mm of air."""
    found = fitted(shell(), pillar()).fitted
    piece, = found.pieces
    assert piece.clearance == pytest.approx(30.0, abs=0.15)
    assert found.least == piece.least and piece.mean == pytest.approx(30.0, abs=0.1)
    assert piece.pressing == 0.0


@pytest.mark.parametrize("side", ["outer", "middle", "inner"])
def test_the_inner_face_counts_whatever_face_was_sculpted(side):
    tube = shapes.sculpt(shapes.cylinder(120.0, 4.0, 200.0, 49, 13))
    piece, = fitted(check(tube, replace(SETTINGS, side=side)), pillar()).fitted.pieces
    depth = {"outer": 10.0, "middle": 5.0, "inner": 0.0}[side]
    assert piece.mean == pytest.approx(40.0 - depth, abs=0.1)


def test_what_presses_is_told_with_its_faces():
    pattern = fitted(shell(), pillar(115.0))
    piece, = pattern.fitted.pieces
    assert piece.least == pytest.approx(-5.0, abs=0.15)
    assert piece.pressing == pytest.approx(pattern.pieces[0].area, rel=0.1)
    told, = (f for f in pattern.findings if f.code == "presses")
    assert "5 mm into the body" in told.message and len(told.faces) == len(pattern.sculpt.faces)


def test_a_body_that_is_inside_out_or_open_is_told():
    body = pillar()
    turned = fitted(shell(), replace(body, faces=body.faces[:, ::-1]))
    assert turned.fitted.least == pytest.approx(30.0, abs=0.15)
    assert "turned-body" in {f.code for f in turned.findings}
    opened = fitted(shell(), replace(body, faces=body.faces[400:-400]))
    assert "open-body" in {f.code for f in opened.findings}


@pytest.mark.parametrize("way", [1, -1], ids=["outward", "inward"])
def test_each_closed_part_of_a_body_is_turned_outward_by_itself(way):
    """A small arm inside out beside a large trunk: volumes of the whole would not tell."""
    trunk, arm = pillar(300.0), pillar()
    both = Body(np.concatenate([trunk.vertices + (900.0, 0, 0), arm.vertices]),
                np.concatenate([trunk.faces, arm.faces[:, ::way] + len(trunk.vertices)]), "body")
    done = fitted(shell(), both)
    assert done.fitted.least == pytest.approx(30.0, abs=0.15)
    codes = [f.code for f in done.findings]
    assert codes.count("turned-body") == (way < 0) and "presses" not in codes


def test_a_body_of_mixed_or_doubled_faces_or_in_another_unit_is_told():
    body = pillar()
    some = body.faces.copy()
    some[4000:6000:3] = some[4000:6000:3, ::-1]
    for change, code in (
            ({"faces": some}, "mixed-body"),
            ({"faces": np.concatenate([body.faces, body.faces[:, ::-1]])}, "mixed-body"),
            ({"faces": np.concatenate([body.faces, body.faces[:9]])}, "mixed-body"),
            ({"vertices": body.vertices / 1000}, "implausible-body"),
            ({"vertices": body.vertices * 25.4}, "implausible-body")):
        told = {f.code for f in fitted(shell(), replace(body, **change)).findings}
        assert told & {"mixed-body", "implausible-body"} == {code}
    plain = {f.code for f in fitted(shell(), body).findings}
    assert not plain & {"mixed-body", "implausible-body", "turned-body"}


def test_a_patch_of_a_body_that_is_hollow_is_not_turned_by_itself():
    """Such as the back of a knee that is an object of its own."""
    trunk = pillar(300.0)
    points, faces = shapes.cylinder(120.0, 2.0, 200.0, 49, 13)
    hollow = Body(np.concatenate([trunk.vertices + (900.0, 0, 0), points]),
                  np.concatenate([trunk.faces, faces[:, ::-1] + len(trunk.vertices)]), "body")
    assert not Skin(hollow).turned
    assert Skin(replace(hollow, faces=hollow.faces[:, ::-1])).turned


@pytest.mark.parametrize(("vertices", "code"), [
    (np.zeros((3, 3)), "no-body"), (np.full((3, 3), np.nan), "no-body"),
    ([(0, 0, 0), (1, 0, 0), (0, 1, 0)], "no-body")])
def test_what_is_no_body_is_refused(vertices, code):
    with pytest.raises(FoamError) as error:
        fitted(shell(), Body(np.asarray(vertices, dtype=float), [(0, 1, 2)]))
    assert error.value.finding.code == code
    with pytest.raises(FoamError, match="body-without-faces"):
        fitted(shell(), Body(np.zeros((3, 3)), np.empty((0, 3))))


def test_distances_agree_with_trimesh():
    """From a torus: as far as trimesh finds it, and inside where its tube is."""
    trimesh = pytest.importorskip("trimesh")
    u, v = (np.linspace(0, 2 * np.pi, n, endpoint=False) for n in (90, 40))
    out = 200 + 60 * np.cos(v)
    points = np.stack([np.cos(u)[:, None] * out, np.sin(u)[:, None] * out,
                       np.broadcast_to(60 * np.sin(v), (90, 40))], axis=2)
    body = grid_body(np.concatenate([points, points[:1]]))
    places = np.random.default_rng(1).uniform(-300, 300, (300, 3))
    mesh = trimesh.Trimesh(body.vertices, body.faces)
    found = Skin(body).distance(places)
    assert np.abs(found) == pytest.approx(
        trimesh.proximity.closest_point_naive(mesh, places)[1], abs=1e-6)
    tube = np.hypot(np.hypot(places[:, 0], places[:, 1]) - 200, places[:, 2]) - 60
    assert found == pytest.approx(tube, abs=0.5)  # facets


@pytest.mark.parametrize(("a", "b"), [(100.0, 100.0), (180.0, 120.0), (200.0, 40.0)])
def test_the_girth_of_an_ellipsoid_is_that_of_its_ellipse(a, b):
    """4 a E(1 - b2/a2), the complete elliptic integral of the second kind (DLMF 19.30)."""
    u, v = np.meshgrid(np.linspace(0, 2 * np.pi, 361)[:-1], np.linspace(-np.pi / 2, np.pi / 2, 61))
    points = np.stack([a * np.cos(v) * np.cos(u), b * np.cos(v) * np.sin(u), 90 * np.sin(v)],
                      axis=2)
    body = grid_body(points)
    part, = bodies(cut(body.vertices, body.faces, body.vertices[:, 2] - 1e-3)[..., :2])
    assert part.exterior.length == pytest.approx(4 * a * ellipe(1 - b**2 / a**2), rel=1e-4)


def test_a_tape_spans_the_hollow_of_a_torus():
    """Upright, its plane of symmetry cuts two discs: as a belt round both, 2 pi r + 4 R."""
    u, v = (np.linspace(0, 2 * np.pi, n, endpoint=False) for n in (121, 120))
    out = 200 + 60 * np.cos(v)
    points = np.stack([np.cos(u)[:, None] * out, np.broadcast_to(60 * np.sin(v), (121, 120)),
                       np.sin(u)[:, None] * out], axis=2)
    body = grid_body(np.concatenate([points, points[:1]]))
    parts = bodies(cut(body.vertices, body.faces, body.vertices[:, 2])[..., :2])
    assert len(parts) == 2
    around = np.concatenate([np.array(part.exterior.coords) for part in parts])
    assert tape(around) == pytest.approx(2 * np.pi * 60 + 4 * 200, rel=1e-3)


def test_girths_of_a_round_suit_are_its_circles():
    """Inside 110 mm in radius about a pillar of 80 mm: 2 pi (110 - 80) of ease."""
    pattern = about(shell(arc=1.98 * np.pi), pillar(low=0.0), 100.0, 150.0)
    low, high = pattern.fitted.girths[-2:]
    assert (low.name, low.height, high.height) == ("at 100 mm", 100.0, 150.0)
    assert low.inside == pytest.approx(2 * np.pi * 110, rel=2e-3)
    assert low.body == pytest.approx(2 * np.pi * 80, rel=1e-3)
    assert low.ease == pytest.approx(2 * np.pi * 30, rel=0.01) and low.round > 0.95
    assert not [f for f in pattern.findings if f.code == "little-ease"]


def test_too_little_ease_is_told_of_what_goes_all_round():
    narrow = about(shell(arc=1.98 * np.pi), pillar(105.0, low=0.0), 100.0)
    told, = (f for f in narrow.findings if f.code == "little-ease")
    assert "only 31" in told.message and "50 mm" in told.remedy
    # What is open at the back and strapped gives way.
    half = about(shell(arc=1.2 * np.pi), pillar(105.0, low=0.0), 100.0)
    assert half.fitted.girths[-1].round < 0.7
    assert not [f for f in half.findings if f.code == "little-ease"]
    assert about(shell(arc=0.4), pillar(105.0, low=0.0), 100.0).fitted.girths == ()


def test_a_height_at_which_no_girth_can_be_told_is_named():
    """Above the body, and where next to no foam goes round it."""
    pattern = about(shell(arc=1.98 * np.pi), pillar(low=0.0), 100.0, 5000.0)
    told, = (f.message for f in pattern.findings if f.code == "no-girth")
    assert "5000 mm over the soles" in told and len(pattern.fitted.girths) == 1
    bare = about(shell(arc=0.4), pillar(105.0, low=0.0), 100.0)
    assert [f.code for f in bare.findings].count("no-girth") == 1


def test_spacers_stand_far_apart_and_are_as_high_as_the_gap():
    found = fitted(shell(), pillar()).fitted.spacers
    assert 3 <= len(found) <= 6
    for spacer in found:
        assert spacer.height == pytest.approx(30.0, abs=0.2)
        assert np.hypot(*spacer.point[:2]) == pytest.approx(110.0, abs=0.2)
        assert 25 < spacer.point[2] < 175  # off the rims
    at = np.array([spacer.point for spacer in found])
    apart = np.linalg.norm(at[:, None] - at, axis=2) + 1e9 * np.eye(len(at))
    assert apart.min() > 80.0
    assert fitted(shell(), pillar(105.0)).fitted.spacers == ()  # it lies on the body


def test_everything_is_where_it_was_when_the_suit_is_turned():
    """The figures do not depend on which way is up."""
    turn = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    body = pillar(wide=1.2, low=0.0)
    tube = shapes.sculpt(shapes.cylinder(130.0, 4.8, 200.0, 49, 13))
    one = about(check(tube, SETTINGS), body, 100.0).fitted
    lying = replace(tube, vertices=tube.vertices @ turn.T, up=turn @ tube.up,
                    front=turn @ tube.front)
    two = about(check(lying, SETTINGS), replace(body, vertices=body.vertices @ turn.T),
                100.0).fitted
    assert two.least == pytest.approx(one.least, abs=1e-6)
    assert two.girths[0].inside == pytest.approx(one.girths[0].inside, abs=1e-6)
    assert two.girths[0].body == pytest.approx(one.girths[0].body, abs=1e-6)
