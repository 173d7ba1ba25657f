"""Relief for pieces that cannot be formed: the proposals against closed forms and the engine."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import Cancelled, FoamError
from addon.core.make import check
from addon.core.model import SEAM, Guide, Sculpt, SculptObject, Settings
from addon.core.stock import Limits, Stock, find_stock
from addon.core.suggest import relief
from addon.core.suggest.relief import exposure, lines, trial
from addon.core.suggest.relief.ground import Ground
from tests.shapes import cap, cylinder, disc, raised, sculpt, surface

SETTINGS = Settings(Stock("foam 4 mm", 4.0, heated=Limits(0.05, 0.10, 2.0)))
SIDE = np.linspace(-60, 60, 25)
SHAPES = {
    "cap": lambda: cap(100, math.radians(60), 14),
    "cone": lambda: raised(lambda x, y: (80 * x, 80 * y, -70 * np.sqrt(x * x + y * y + 0.04)),
                           disc("jittered", 14)),
    "saddle": lambda: surface(lambda x, y: (x, y, (x * x - y * y) / 100), SIDE, SIDE),
}


@cache
def shape(name: str) -> Sculpt:
    return sculpt(SHAPES[name]())


@cache
def proposals(name: str) -> tuple[relief.Relief, ...]:
    return relief.relieve(shape(name), SETTINGS, [0])


def with_lines(part: Sculpt, each: relief.Relief) -> Sculpt:
    return replace(part, guides=(*part.guides, *each.guides))


def ground_of(points, faces) -> Ground:
    """The mesh itself, without thickness."""
    corner = points[faces]
    lengths = np.linalg.norm(np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1), axis=2)
    normals = mesh.vertex_normals(points, faces)
    return Ground(points, normals, np.zeros((len(points), 2)), faces, lengths)


# --- proposals ---------------------------------------------------------------------


def test_the_cap_is_beyond_what_any_flat_of_it_allows():
    """Milnor 1969: a cap of polar angle a asks for the ratio a / sin a."""
    ratio = math.radians(60) / math.sin(math.radians(60))
    least = (ratio - 1) / (0.10 + 0.05 * ratio)
    assert least > 1.2
    assert proposals("cap")[0].before == pytest.approx(least, rel=0.04)


@pytest.mark.parametrize("name", SHAPES)
def test_what_fails_passes_with_every_proposal_as_predicted(name):
    assert check(shape(name), SETTINGS).pieces[0].verdict.kind == "relief"
    found = proposals(name)
    assert 2 <= len(found) <= 3
    for each in found:
        assert each.passes and each.worst <= 1 < each.before
        pattern = check(with_lines(shape(name), each), SETTINGS)
        assert all(p.verdict.kind != "relief" for p in pattern.pieces)
        assert not [f for f in pattern.findings if f.code == "overlaps-itself"]
        for state in ("cold", "heated"):
            now = sorted(getattr(p.verdict, state) for p in pattern.pieces)
            assert now == pytest.approx(sorted(getattr(each, state)), rel=0.02)


@pytest.mark.parametrize("name", SHAPES)
def test_kinds_are_what_they_say(name):
    for each in proposals(name):
        pattern = check(with_lines(shape(name), each), SETTINGS)
        assert len(pattern.pieces) == len(each.heated) == (1 if each.kind == relief.DART else 2)
        assert all(guide.kind == SEAM and not guide.closed for guide in each.guides)
        assert each.length == pytest.approx(sum(
            mesh.polyline_length(guide.points) for guide in each.guides))
        assert 0 <= each.visibility <= 1 and each.where


def test_a_dome_and_a_tip_get_a_dart_and_a_saddle_none():
    """A slit opens where Gauss's curvature is positive; where it is negative its lips would
    lie over each other."""
    assert relief.DART in {each.kind for each in proposals("cap")}
    assert relief.DART in {each.kind for each in proposals("cone")}
    assert relief.DART not in {each.kind for each in proposals("saddle")}


def test_the_dart_reaches_from_the_rim_to_the_tip_of_the_cone():
    dart = next(each for each in proposals("cone") if each.kind == relief.DART)
    radius = np.hypot(*dart.guides[0].points[[0, -1], :2].T)
    assert radius.max() == pytest.approx(80, abs=0.5) and radius.min() < 12


def test_lines_lie_on_the_sculpt_and_do_not_zigzag():
    for name in ("cap", "saddle"):
        for each in proposals(name):
            for guide in each.guides:
                points = guide.points
                if name == "cap":
                    assert np.linalg.norm(points, axis=1) == pytest.approx(100, abs=1.0)
                step = np.diff(points, axis=0)
                step /= np.linalg.norm(step, axis=1)[:, None]
                turn = np.arccos(np.clip((step[1:] * step[:-1]).sum(axis=1), -1, 1))
                assert turn.max() < math.radians(35)


def test_the_same_proposals_every_time_and_at_another_scale():
    again = relief.relieve(shape("saddle"), SETTINGS, [3])
    small = replace(shape("saddle"), vertices=shape("saddle").vertices / 10)
    scaled = relief.relieve(small, replace(SETTINGS, scale=10.0), [3])
    for one, two, three in zip(proposals("saddle"), again, scaled, strict=True):
        assert one.heated == two.heated == pytest.approx(three.heated, rel=1e-3)
        assert np.array_equal(one.guides[0].points, two.guides[0].points)
        assert three.guides[0].points * 10 == pytest.approx(one.guides[0].points, abs=0.1)


def test_a_piece_among_others_keeps_its_neighbours(recwarn):
    """The cap again, inside a wider one: only the middle piece fails and is relieved."""
    vertices, faces = cap(100, math.radians(75), 20)
    ring = np.flatnonzero(np.isclose(np.arccos(vertices[:, 2] / 100), math.radians(60)))
    edges, _ = mesh.edge_faces(faces)
    seam = edges[np.isin(edges, ring).all(axis=1)]
    slit = edges[(np.abs(vertices[edges][..., 1]) < 1e-9).all(axis=1)
                 & (vertices[edges][..., 0] > 100 * math.sin(math.radians(60)) - 1e-6).all(axis=1)]
    part = sculpt((vertices, faces), np.concatenate([seam, slit]))
    before = check(part, SETTINGS)
    failing = [p for p in before.pieces if p.verdict.kind == "relief"]
    assert len(failing) == 1 and len(before.pieces) == 2
    best = relief.relieve(part, SETTINGS, failing[0].source_face)[0]
    assert best.passes
    after = check(with_lines(part, best), SETTINGS)
    assert all(p.verdict.kind != "relief" for p in after.pieces)
    mine = [p.verdict.heated for p in after.pieces
            if np.isin(p.source_face, failing[0].source_face).all()]
    assert sorted(mine) == pytest.approx(sorted(best.heated), rel=0.02)


@cache
def in_two() -> Sculpt:
    """A shallow bowl of which a seam cuts a narrow strip: the wide piece fails, the strip has
    strain to spare."""
    vertices, faces = surface(lambda x, y: (x, y, -(x * x + y * y) / 115),
                              np.linspace(-80, 80, 33), SIDE)
    edges, _ = mesh.edge_faces(faces)
    return sculpt((vertices, faces), edges[np.isclose(vertices[edges][..., 0], -50).all(axis=1)])


def test_a_seam_beside_the_piece_is_moved_and_both_can_be_formed():
    part = in_two()
    before = check(part, SETTINGS)
    bad = max(before.pieces, key=lambda p: p.verdict.heated)
    assert [p.verdict.kind == "relief" for p in before.pieces] == [p is bad for p in before.pieces]
    found = relief.relieve(part, SETTINGS, bad.source_face)
    each = next(each for each in found if each.kind == relief.SPLIT)
    old = part.edges[part.kinds == SEAM]
    assert each.passes and sorted(map(tuple, each.cleared)) == sorted(map(tuple, old))
    was = np.linalg.norm(np.diff(part.vertices[old], axis=1), axis=2).sum()
    assert each.length == pytest.approx(
        mesh.polyline_length(each.guides[0].points) - was, abs=0.1)
    assert each.guides[0].points[:, 0].min() > -45  # into the wide piece
    after = check(replace(part, edges=part.edges[:0], kinds=part.kinds[:0], guides=each.guides),
                  SETTINGS)
    assert len(after.pieces) == 2
    assert all(p.verdict.kind != "relief" for p in after.pieces)
    assert sorted(p.verdict.heated for p in after.pieces) == pytest.approx(
        sorted(each.heated), rel=0.02)
    assert all(not len(other.cleared) for other in found if other.kind != relief.SPLIT)


def slit_dome() -> Sculpt:
    """A dome with a long slit that ends inside on both sides, drawn as a line across its faces."""
    vertices, faces = cap(120, 1.2, 12)
    angle = np.linspace(-1.1, 1.1, 9)
    line = np.stack([np.sin(angle), 0.3 * np.cos(angle), 0.95 * np.cos(angle)], axis=1)
    line *= 120 / np.linalg.norm(line, axis=1)[:, None]
    return replace(sculpt((vertices, faces)), guides=(Guide(line),))


def test_no_proposal_passes_whose_flat_the_check_finds_overlapping():
    """And a line from the slit to the rim leaves one piece: it is a dart."""
    settings, part = Settings(find_stock()), slit_dome()
    found = relief.relieve(part, settings, check(part, settings).pieces[0].source_face)
    assert found
    for each in found:
        pattern = check(with_lines(part, each), settings)
        folded = any(f.code == "overlaps-itself" for f in pattern.findings)
        failed = any(p.verdict.kind == "relief" for p in pattern.pieces)
        assert each.passes == (not folded and not failed)
        assert (each.kind == relief.DART) == (len(pattern.pieces) == 1)


def test_lines_are_of_the_object_that_the_piece_is_of():
    saddle, flat = shape("saddle"), sculpt(cylinder(80, 1.0, 60))
    both = Sculpt(
        vertices=np.concatenate([flat.vertices + [300, 0, 0], saddle.vertices]),
        faces=np.concatenate([flat.faces, saddle.faces + len(flat.vertices)]),
        edges=np.empty((0, 2)), kinds=(),
        face_object=np.repeat([0, 1], [len(flat.faces), len(saddle.faces)]),
        objects=(SculptObject("arm"), SculptObject("seat")),
        polygon=np.arange(len(flat.faces) + len(saddle.faces)))
    best = relief.relieve(both, SETTINGS, [len(flat.faces) + 5])[0]
    assert best.passes and [guide.object for guide in best.guides] == [1]
    pattern = check(with_lines(both, best), SETTINGS)
    assert len(pattern.pieces) == 3
    assert all(p.verdict.kind != "relief" for p in pattern.pieces)


# --- what needs none, or cannot be helped --------------------------------------------


def test_a_piece_that_can_be_formed_is_told_so():
    with pytest.raises(FoamError) as caught:
        relief.relieve(sculpt(cylinder(80, 2.0, 100)), SETTINGS, [0])
    assert caught.value.finding.code == "no-relief-needed"
    assert caught.value.finding.remedy.endswith(".")


def test_a_face_of_no_piece_is_told():
    with pytest.raises(FoamError) as caught:
        relief.relieve(sculpt(cylinder(80, 2.0, 100)), SETTINGS, [10**6])
    assert caught.value.finding.code == "no-such-piece"


def test_it_can_be_cancelled():
    said = []

    def progress(share, text):
        said.append(share)
        if share > 0.15:
            raise Cancelled

    with pytest.raises(Cancelled):
        relief.relieve(shape("cap"), SETTINGS, [0], progress)
    assert said == sorted(said) and said[-1] < 0.5


def test_progress_grows_to_the_end():
    said = []
    relief.relieve(shape("saddle"), SETTINGS, [0], lambda share, text: said.append((share, text)))
    shares = [share for share, _ in said]
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1
    assert all(text for _, text in said)


# --- the parts -----------------------------------------------------------------------


def test_the_conformal_scale_of_a_cap_is_that_of_the_stereographic_map():
    """Stereographic projection scales by 1 / (1 + cos polar angle) up to a constant."""
    angle = math.radians(40)
    ground = ground_of(*cap(100, angle, 24))
    polar = np.arccos(ground.points[:, 2] / 100)
    exact = np.log((1 + np.cos(angle)) / (1 + np.cos(polar)))
    assert np.abs(np.abs(ground.scale) - np.abs(exact)).max() < 0.03 * np.abs(exact).max()
    assert (ground.scale[~ground.rim] > 0).all()


def test_the_worst_place_of_a_cap_is_its_pole():
    ground = ground_of(*cap(100, math.radians(60), 12))
    place = lines.places(ground, [np.array([50.0, 0.0, 86.0])])[0]
    assert ground.points[place] == pytest.approx([0, 0, 100], abs=1e-6)


def test_paths_go_from_rim_to_place_or_rim_to_rim():
    ground = ground_of(*cap(100, math.radians(60), 12))
    found = lines.paths(ground, ground.length, [0])
    assert {path.kind for path in found} == {relief.DART, relief.SEAM}
    for path in found:
        rim = ground.rim[list(path.vertices)]
        assert rim[0] and not rim[1:-1].any() and rim[-1] == (path.kind == relief.SEAM)
        assert (ground.numbers(path.edges) >= 0).all()
    costs = [path.cost for path in found]
    assert costs == sorted(costs)


def test_dividing_and_thinning_keep_area_and_lengths():
    from addon.core import layer, seams

    for rings in (3, 40):
        region = seams.cut(sculpt(cap(100, math.radians(50), rings))).regions[0]
        stock = SETTINGS.stock
        lay = layer.layers(seams.cut(sculpt(cap(100, math.radians(50), rings))), [stock],
                           ["outer"], 0.3)[0]
        ground = Ground.of(region, lay, stock, "outer")
        assert 250 < len(ground.faces) < 2000
        a, b, c = np.sort(ground.lengths, axis=1).T
        half = (a + b + c) / 2
        area = np.sqrt(half * (half - a) * (half - b) * (half - c)).sum()
        # The layer lies half the thickness inside: a cap of 98 mm (2 pi R^2 (1 - cos a)).
        assert area == pytest.approx(2 * math.pi * 98**2 * (1 - math.cos(math.radians(50))),
                                     rel=0.03)


def test_a_guess_comes_near_to_what_a_search_finds():
    ground = ground_of(*cap(100, math.radians(60), 12))
    none = np.empty((0, 2), dtype=np.int64)
    ratio = math.radians(60) / math.sin(math.radians(60))
    least = (ratio - 1) / (0.10 + 0.05 * ratio)  # Milnor 1969
    assert trial.guess(ground, none, SETTINGS.stock) == pytest.approx(least, rel=0.25)
    assert trial.search(ground, none, SETTINGS.stock).u == pytest.approx(least, rel=0.06)


def test_a_dart_into_a_saddle_lies_over_itself():
    ground = ground_of(*SHAPES["saddle"]())
    middle = int(np.argmin((ground.points**2).sum(axis=1)))
    dart = next(p for p in lines.paths(ground, ground.length, [middle]) if p.kind == relief.DART
                and p.vertices[-1] == middle)
    assert trial.search(ground, dart.edges, SETTINGS.stock).u == np.inf


@pytest.mark.parametrize(("shape_of", "feature"), [
    (lambda: surface(lambda x, y: (x, y, y * y / 60), SIDE, SIDE), "valley"),
    (lambda: surface(lambda x, y: (x, y, -60 * np.abs(y / 60)), SIDE, SIDE), "edge"),
    (lambda: surface(lambda x, y: (x, -y, 0 * x), SIDE, SIDE), "underside"),
    (lambda: surface(lambda x, y: (-x, 0 * x, y), SIDE, SIDE), "back"),
])
def test_places_that_hide_a_seam_are_known(shape_of, feature):
    from addon.core import layer, seams

    part = sculpt(shape_of())
    cut = seams.cut(part)
    lay = layer.layers(cut, [SETTINGS.stock], ["outer"], 0.3)[0]
    ground = Ground.of(cut.regions[0], lay, SETTINGS.stock, "outer")
    found = exposure.features(ground, part.up, part.front, None)
    middle = np.abs(ground.points[ground.edges][..., :]).max(axis=1)
    line = (middle[:, 1] < 1.0) if feature != "back" else (middle[:, 2] < 1.0)
    line &= ~ground.rim[ground.edges].all(axis=1)
    assert line.any() and found[feature][line].mean() > 0.5
    assert exposure.visibility(found)[line].max() < 0.8
    assert exposure.WORDS[feature] in exposure.in_words(found, np.flatnonzero(line), ground.length)


def test_the_middle_hides_a_seam_only_where_the_suit_is_symmetric():
    ground = ground_of(*surface(lambda x, y: (x, y, 0 * x), SIDE, SIDE))
    up, front = np.array([0.0, 0, 1]), np.array([0.0, -1, 0])
    on = (np.abs(ground.points[ground.edges][..., 0]) < 1e-9).all(axis=1)
    assert "middle" not in exposure.features(ground, up, front, None)
    found = exposure.features(ground, up, front, 0.0)
    assert found["middle"][on].min() == 1
    assert exposure.in_words(found, np.flatnonzero(on), ground.length) == exposure.WORDS["middle"]
    far = np.flatnonzero((np.abs(ground.points[ground.edges][..., 0]) > 20).all(axis=1))
    assert exposure.in_words(found, far, ground.length) == exposure.PLAIN


def test_a_guide_is_what_is_handed_out():
    assert all(isinstance(guide, Guide) for each in proposals("cap") for guide in each.guides)


def test_it_is_said_why_there_is_one_kind_only():
    assert {each.kind for each in proposals("saddle")} == {relief.SEAM}
    for each in proposals("saddle"):
        assert each.alone.startswith("A dart would lie over itself here")
    assert {each.alone for each in proposals("cap")} == {""}


def test_what_lies_open_for_most_of_its_way_is_in_plain_sight():
    none, all_ = np.zeros(10), np.ones(10)
    half = np.repeat([1.0, 0.0], 5)
    line, length = np.arange(10), np.ones(10)
    words = lambda **features: exposure.in_words(features, line, length)  # noqa: E731
    assert words(valley=none, back=none) == exposure.PLAIN
    assert words(valley=half, back=none) == exposure.WORDS["valley"]
    assert words(valley=all_, edge=all_) == exposure.SHARP_VALLEY
    assert words(valley=0.2 * all_, back=none) == exposure.PLAIN
