"""What the overlay draws: true to the check, and readable with any colour vision."""

import ast
from dataclasses import replace

import numpy as np
import pytest

from addon.blender import colours
from addon.blender.draw_data import (
    MATE,
    PIECE,
    at_vertices,
    carried,
    draw,
    face_utilisation,
    map_corners,
    scale_top,
    surely_cold,
)
from addon.blender.line_styles import PROPOSED, STYLES, dashed
from addon.core import make, mesh
from addon.core.model import SCORE, SEAM, TRENCH, Sculpt, SculptObject, Settings
from addon.core.stock import Limits, Stock, find_stock
from tests import shapes

# Machado, Oliveira, Fernandes, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency", IEEE TVCG 15, 2009: matrices of full severity, for linear RGB.
VISIONS = {
    "normal": np.eye(3),
    "protanopia": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                            [-0.003882, -0.048116, 1.051998]]),
    "deuteranopia": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                              [-0.011820, 0.042940, 0.968881]]),
    "tritanopia": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                            [0.004733, 0.691367, 0.303900]]),
}


def linear(colour):
    """Linear light of sRGB colours (IEC 61966-2-1)."""
    colour = np.asarray(colour, dtype=float)
    return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """CIE L*a*b* (D65) of linear RGB with sRGB's primaries."""
    xyz = np.clip(rgb, 0, 1) @ np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722],
                                         [0.0193, 0.1192, 0.9505]]).T / (0.9505, 1.0, 1.089)
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]),
                     200 * (f[..., 1] - f[..., 2])], axis=-1)


def seen(colour, vision):
    return lab(linear(colour) @ VISIONS[vision].T)


@pytest.fixture(scope="module")
def glances():
    """A half pipe of 4 mm foam with a seam across, a trench and a score line along, as it is
    seen after cutting, flattening and lettering."""
    columns, rows = 17, 11
    vertices, faces = shapes.cylinder(80.0, 1.6, 100.0, columns, rows)
    at = lambda i, j: j * columns + i  # noqa: E731
    seam = [(at(i, 5), at(i + 1, 5)) for i in range(columns - 1)]
    trench = [(at(8, j), at(8, j + 1)) for j in range(5)]
    score = [(at(4, j), at(4, j + 1)) for j in range(5, rows - 1)]
    edges = seam + trench + score
    kinds = [SEAM] * len(seam) + [TRENCH] * len(trench) + [SCORE] * len(score)
    found = []
    make.check(Sculpt.plain(vertices, faces, edges, kinds, name="Pipe"),
               Settings(find_stock("eva-4")), see=found.append)
    return found


# --- colours -----------------------------------------------------------------------


@pytest.mark.parametrize("vision", VISIONS)
def test_tints_differ_for_any_colour_vision(vision):
    tints = seen(colours.TINTS, vision)
    apart = np.linalg.norm(tints[:, None] - tints[None], axis=-1)
    # CIE 1976: a difference of 2.3 is just noticeable (Mahy, Van Eycken, Oosterlinck 1994;
    # from memory).
    assert apart[np.triu_indices(len(tints), 1)].min() > 4 * 2.3


@pytest.mark.parametrize("vision", VISIONS)
def test_the_scale_of_utilisation_darkens_evenly_for_any_colour_vision(vision):
    scale = seen(colours.of_utilisation(np.linspace(0, colours.MOST, 101)), vision)
    step = np.diff(scale[:, 0])
    assert step.max() < 0 and step.min() > 2 * step.mean()  # lightness falls all the way, evenly
    assert np.linalg.norm(scale[0] - scale[-1]) > 60


@pytest.mark.parametrize("vision", VISIONS)
def test_lines_and_words_stand_out_on_every_tint(vision):
    grounds = np.concatenate([colours.TINTS, colours.of_utilisation(np.array([0, 0.5, 1, 2]))])
    for style in STYLES.values():
        # A dark line on a pale ground; on a dark one its light edge shows it, or the other way.
        contrast = [max(abs(seen(c, vision)[0] - seen(g, vision)[0])
                        for c in (style.colour, style.edge or colours.PAPER)) for g in grounds]
        assert min(contrast) > 20
    # Level AA of WCAG 2: contrast of words of at least 4.5 to 1.
    luminance = [linear(c) @ (0.2126, 0.7152, 0.0722) for c in (colours.PAPER, colours.INK)]
    assert (luminance[0] + 0.05) / (luminance[1] + 0.05) > 4.5


def test_utilisation_beyond_the_scale_and_unknown_have_colours():
    found = colours.of_utilisation(np.array([0.0, 2.0, 9.0, np.inf, np.nan]))
    assert np.array_equal(found[1], found[2]) and np.array_equal(found[2], found[3])
    assert np.array_equal(found[4], colours.UNKNOWN) and not np.array_equal(found[0], found[4])


def test_neighbours_have_unlike_tints():
    ring = [[i, (i + 1) % 7] for i in range(7)] + [[3, 3]]
    chosen = colours.told_apart(7, ring)
    assert all(chosen[a] != chosen[b] for a, b in ring[:-1])
    everyone = [[a, b] for a in range(9) for b in range(a)]  # more than there are tints
    assert set(colours.told_apart(9, everyone)) == set(range(len(colours.TINTS)))


def test_lines_are_told_apart_without_colour():
    for kinds in (("seam", "trench", "score"), PROPOSED.values()):
        patterns = [STYLES[kind].pattern for kind in kinds]
        assert len(set(patterns)) == 3
    assert STYLES["seam"].pattern == ()
    # What is proposed is light between dark, in place of dark between light.
    light = {kind: sum(style.colour) > sum(style.edge) for kind, style in STYLES.items()
             if style.edge}
    assert {kind for kind in light if light[kind]} == set(PROPOSED.values())


# --- utilisation -------------------------------------------------------------------


def test_a_face_has_the_utilisation_of_its_worse_limit():
    stock = Stock("foam", 10.0, heated=Limits(0.05, 0.10, 2.0), cold=Limits(0.02, 0.03, 5.0))
    sigma = np.array([[1.0, 1.0], [1.10, 1.0], [1.05, 0.95], [1.0, 0.90], [1.0, -0.1],
                      [np.nan, np.nan]])
    assert face_utilisation(sigma, stock) == pytest.approx([0, 1, 1, 2, np.inf, np.nan],
                                                           nan_ok=True)
    assert surely_cold(stock) == pytest.approx(0.3)  # 3 of 10 % comes before 2 of 5 %


def test_strain_is_shown_smooth_by_the_area_of_the_faces_around():
    # Four triangles of areas 1, 1, 1 and 3 round the point 0.
    points = np.array([(0, 0, 0), (1, 0, 0), (0, 2, 0), (-1, 0, 0), (-1, -2, 0), (1, -4, 0)], float)
    faces = np.array([(0, 1, 2), (0, 2, 3), (0, 3, 4), (0, 4, 5)])
    area = mesh.face_normals(points, faces)[1]
    assert area == pytest.approx([1, 1, 1, 3])
    found = at_vertices(points, faces, np.array([0.6, 0.0, 1.2, 0.4]))
    assert found[[0, 1, 5]] == pytest.approx([(0.6 + 1.2 + 3 * 0.4) / 6, 0.6, 0.4])
    # A face that turned over counts as the end of the scale, one not known does not count.
    found = at_vertices(points, faces, np.array([np.inf, 0.0, np.nan, np.nan]))
    assert found[:4] == pytest.approx([colours.MOST / 2, colours.MOST, colours.MOST / 2, 0.0])
    assert np.isnan(found[4:]).all()


# --- what is drawn -----------------------------------------------------------------


def test_the_surface_is_the_sculpt_in_blender_units(glances):
    drawn = draw(glances[0], 0.001)["Pipe"]
    area = mesh.face_normals(drawn.points.astype(float), drawn.triangles)[1].sum()
    sculpt = glances[0].sculpt
    assert area == pytest.approx(mesh.face_normals(sculpt.vertices, sculpt.faces)[1].sum() * 1e-6,
                                 rel=1e-5)
    # Normals of a cylinder about the z axis point away from it.
    radial = drawn.points[:, :2] / np.linalg.norm(drawn.points[:, :2], axis=1)[:, None]
    assert np.einsum("ij,ij->i", radial, drawn.normals[:, :2]).min() > 0.99
    assert len(np.unique(drawn.tint, axis=0)) == 2  # two pieces


def test_utilisation_is_unknown_until_the_pieces_are_flat(glances):
    cut, flat, _ = (draw(glance, 1.0)["Pipe"] for glance in glances)
    assert np.isnan(cut.utilisation).all() and not np.isnan(flat.utilisation).any()
    corners = cut.corners(utilised=True)
    assert np.allclose(corners["colour"][:, :3], colours.UNKNOWN)
    stock = glances[1].stocks[0]
    expected = np.concatenate([stock.heated.utilisation(s) for s in glances[1].sigma])
    assert np.array_equal(flat.utilisation, expected)
    assert flat.cold == surely_cold(stock)


def test_corners_repeat_each_face_for_the_graphics_card(glances):
    drawn = draw(glances[1], 1.0)["Pipe"]
    corners = drawn.corners(utilised=False)
    count = 3 * len(drawn.triangles)
    assert corners["pos"].shape == corners["normal"].shape == (count, 3)
    assert corners["colour"].shape == (count, 4)
    assert {a.dtype for a in corners.values()} == {np.dtype(np.float32)}
    assert np.array_equal(corners["pos"][3:6], drawn.points[drawn.triangles[1]])
    assert np.array_equal(corners["colour"][0], corners["colour"][2])
    assert not corners["colour"][:, 3].any()


def test_each_mark_is_drawn_as_its_kind(glances):
    lines = draw(glances[0], 1.0)["Pipe"].lines
    length = {kind: np.linalg.norm(ends[1::2] - ends[::2], axis=1).sum()
              for kind, ends in lines.items()}
    arc = 2 * 80 * 16 * np.sin(1.6 / 32)  # chords of the mesh
    assert length["seam"] == pytest.approx(arc, rel=1e-4)
    assert length["rim"] == pytest.approx(2 * arc + 200, rel=1e-4)
    assert 25 < length["trench"] < 45 and 10 < length["score"] < 35  # of 50 mm each, in dashes
    for kind, x in (("trench", 8), ("score", 4)):
        angle = np.arctan2(lines[kind][:, 1], lines[kind][:, 0])
        assert np.ptp(angle) < 1e-5, (kind, x)


def test_labels_come_with_what_is_known(glances):
    first, _, last = (draw(glance, 1.0)["Pipe"].labels for glance in glances)
    assert [label.kind for label in first] == [PIECE, PIECE]
    assert {label.text for label in first} == {"PI1", "PI2"}
    assert np.isnan([label.utilisation for label in first]).all()
    assert [label.kind for label in last] == [PIECE, PIECE, MATE]
    assert last[2].text == "A"
    assert [label.utilisation for label in last[:2]] == [v.heated for v in glances[2].verdicts]


def test_what_did_not_change_keeps_its_strain_and_letters(glances):
    first, _, last = glances
    again = carried(first, last)
    assert again.letters == last.letters and again.verdicts == last.verdicts
    assert all(np.array_equal(a, b) for a, b in zip(again.sigma, last.sigma, strict=True))
    moved = first.cut.regions[0].vertices.copy()
    moved[np.argmin(moved[:, 2])] += 1.0  # not at the seam
    regions = replace(first.cut.regions[0], vertices=moved), *first.cut.regions[1:]
    changed = carried(replace(first, cut=replace(first.cut, regions=regions)), last)
    assert np.isnan(changed.sigma[0]).all() and changed.verdicts[0] is None
    assert np.array_equal(changed.sigma[1], last.sigma[1]) and changed.letters == last.letters
    drawn = draw(changed, 1.0)["Pipe"]
    assert 0 < np.isnan(drawn.utilisation).sum() < len(drawn.utilisation)
    other = carried(replace(first, stocks=(find_stock("eva-10"),) * 2), last)
    assert all(np.isnan(s).all() for s in other.sigma)  # another foam, another strain


def test_a_label_lies_well_inside_its_piece(glances):
    for label in draw(glances[2], 1.0)["Pipe"].labels[:2]:
        assert label.room.max() > 15  # the halves are 50 mm high
        assert np.allclose(np.linalg.norm(label.points[:, :2], axis=1), 80, atol=0.5)
        assert np.einsum("ij,ij->i", label.points[:, :2], label.normals[:, :2]).min() > 0


def test_objects_are_drawn_apart():
    flat = shapes.surface(lambda x, y: (x, y, 0 * x), np.linspace(0, 100, 3),
                          np.linspace(0, 100, 3))
    vertices, faces = flat
    both = Sculpt(
        vertices=np.concatenate([vertices, vertices + (200, 0, 0)]),
        faces=np.concatenate([faces, faces + 9]), edges=np.empty((0, 2)), kinds=(),
        face_object=np.repeat([0, 1], len(faces)), polygon=np.arange(2 * len(faces)),
        objects=(SculptObject("left"), SculptObject("right")))
    found = []
    make.check(both, Settings(find_stock("eva-4")), see=found.append)
    drawn = draw(found[-1], 1.0)
    assert list(drawn) == ["left", "right"]
    assert drawn["left"].points[:, 0].max() == 100 and drawn["right"].points[:, 0].min() == 200
    assert np.array_equal(drawn["left"].tint, drawn["right"].tint)  # cut alike, tinted alike


# --- dashes ------------------------------------------------------------------------


@pytest.mark.parametrize("pattern", [(3.0, 4.0), (16.0, 3.5, 3.0, 3.5, 3.0, 3.5)])
def test_dashes_follow_their_pattern_and_end_with_ink(pattern):
    bend = np.array([[0, 0, 0], [100.0, 0, 0], [100.0, 80.0, 0]])
    parts = dashed(bend, pattern)
    place = np.where(parts[..., 0] < 100, parts[..., 0], 100 + parts[..., 1])
    assert place[0, 0] == 0 and place[-1, 1] == pytest.approx(180)
    runs = np.split(place, np.flatnonzero(place[1:, 0] > place[:-1, 1] + 1e-9) + 1)
    ink = np.array([run[-1, 1] - run[0, 0] for run in runs])
    gap = np.array([b[0, 0] - a[-1, 1] for a, b in zip(runs, runs[1:], strict=False)])
    times = len(ink) // (len(pattern) // 2) + 1
    stretch = ink[0] / pattern[0]
    assert 0.85 < stretch < 1.2
    assert ink == pytest.approx(stretch * np.tile(pattern[::2], times)[:len(ink)])
    assert gap == pytest.approx(stretch * np.tile(pattern[1::2], times)[:len(gap)])


@pytest.mark.parametrize(("points", "count"), [
    ([[0, 0], [1, 0], [2, 0]], 2), ([[0, 0], [0.5, 0]], 1), ([[1, 1], [1, 1]], 1)])
def test_solid_short_and_empty_lines(points, count):
    pattern = () if count == 2 else (3.0, 4.0)
    parts = dashed(np.array(points, dtype=float), pattern)
    assert np.array_equal(parts[0, 0], points[0]) and np.array_equal(parts[-1, 1], points[-1])
    assert len(parts) == count


def test_the_data_need_no_blender(root):
    for name in ("draw_data", "colours", "work"):
        tree = ast.parse((root / "addon" / "blender" / f"{name}.py").read_text("utf-8"))
        named = {a.name.split(".")[0] for node in ast.walk(tree) if isinstance(node, ast.Import)
                 for a in node.names}
        named |= {node.module.split(".")[0] for node in ast.walk(tree)
                  if isinstance(node, ast.ImportFrom) and not node.level}
        assert not named & {"bpy", "bmesh", "mathutils", "gpu", "blf", "gpu_extras"}


def test_a_map_runs_from_light_to_dark_on_a_round_scale():
    assert [scale_top(most) for most in (0.0, 0.4, 1.0, 1.1, 3.9, 7.0, 12.0)] == [
        1.0, 1.0, 1.0, 2.0, 5.0, 10.0, 20.0]
    points = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0)], dtype=float)
    found = map_corners(points, np.array([[0, 1, 2]]), np.array([0.0, 2.5, 5.0]), 5.0)
    assert found["pos"].shape == (3, 3) and not found["colour"][:, 3].any()  # none is hatched
    for vision in VISIONS:
        light = seen(found["colour"][:, :3], vision)[:, 0]
        assert (np.diff(light) < -20).all()
    assert np.allclose(found["normal"], (0, 0, 1))
