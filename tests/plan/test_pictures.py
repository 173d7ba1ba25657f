"""Pictures show what a viewer would see, and shopping adds up."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.mesh import polyline_length
from addon.core.model import TRENCH, Rates
from addon.core.order import plan
from addon.core.order.stages import stages
from addon.export.depth import HIDDEN, depth_map
from addon.export.flow import wrapped
from addon.export.fonts import text_width
from addon.export.picture import CANDIDATES, DARK, Choice, _beside, best_view, suit_picture
from addon.export.plan import steps as plan_steps
from addon.export.plan.illustration import lettering
from addon.export.scene import Scene
from addon.export.shopping import SPARE, cement, glued_area, shopping
from tests.plan.conftest import box_patches, ring_patches, suit


def drawn(picture, kind):
    return sum(polyline_length(line.points) for line in picture.lines if line.kind == kind)


def seam_between(pattern, low, high):
    """Code of the seam whose middle lies in the box low..high."""
    return next(m.code for m in pattern.mates
                if (m.curve.mean(0) >= low).all() and (m.curve.mean(0) <= high).all())


@pytest.fixture(scope="module")
def seams(box):
    """The front and the back edge of the lid of the 200 × 100 × 80 box."""
    return (seam_between(box, (50, -1, 79), (150, 1, 81)),
            seam_between(box, (50, 99, 79), (150, 101, 81)))


def test_a_seam_on_the_far_side_is_not_drawn(box, seams):
    near, far = seams
    low = (0.0, -30.0)  # from the front and below, the lid is out of sight
    assert drawn(suit_picture(box, low, (80, 80), seams=[near]), "seam") > 50
    assert drawn(suit_picture(box, low, (80, 80), seams=[far]), "seam") == 0
    assert far not in suit_picture(box, low, (80, 80), seams=[far]).seam_spots


def test_a_seam_in_full_view_is_drawn_to_scale(box, seams):
    """200 mm of seam on a box 200 mm wide fill the width of the picture, but for its margin."""
    picture = suit_picture(box, "front", (80, 80), seams=[seams[0]])
    assert drawn(picture, "seam") == pytest.approx(78.0, abs=0.5)


def test_the_view_is_chosen_so_that_the_seam_is_seen(box):
    for mate in box.mates:
        pieces = [code for code, _ in mate.edges]
        view = best_view(box, pieces[:1], seams=[mate.code])
        assert view in CANDIDATES
        picture = suit_picture(box, view, (60, 60), pieces, seams=[mate.code])
        assert mate.code in picture.seam_spots
        assert set(pieces) <= set(picture.spots)


@settings(max_examples=12, deadline=None, database=None)
@given(st.data())
def test_no_view_is_passed_over_that_would_have_won(box, data):
    """Against a trial of every view."""
    tube = suit({"Tube": ring_patches(7)})
    pattern = data.draw(st.sampled_from([box, tube]))
    shown = data.draw(st.sets(st.sampled_from([p.code for p in pattern.pieces]), min_size=1))
    mates = [m for m in pattern.mates if shown.issuperset(code for code, _ in m.edges)]
    curves = [m.curve for m in mates if data.draw(st.booleans())]
    wanted = sorted(data.draw(st.sets(st.integers(0, len(shown) - 1))))
    choice = Choice(Scene(pattern, shown), curves, wanted, data.draw(st.booleans()))
    tried = [round(choice.score(i), 3) for i in range(len(CANDIDATES))]
    assert choice.view() == CANDIDATES[int(np.argmax(tried))]


def test_what_is_not_shown_leaves_no_trace(box):
    one = suit_picture(box, (30.0, 20.0), (60, 60), shown=["P1"])
    assert set(one.spots) == {"P1"}
    with pytest.raises(ValueError, match="at least one piece"):
        suit_picture(box, "front", (60, 60), shown=[])


def test_highlighted_pieces_are_darker_than_all_others(box):
    plain = {f.grey for f in suit_picture(box, (30.0, 20.0), (60, 60)).fills}
    marked = {f.grey for f in suit_picture(box, (30.0, 20.0), (60, 60), ["P1", "P2"]).fills}
    assert marked - plain and max(marked - plain) < min(plain)


@settings(max_examples=25, deadline=None, database=None)
@given(st.lists(st.floats(0.5, 15.5), min_size=9, max_size=9))
def test_the_nearest_triangle_wins_at_every_pixel(numbers):
    """Against a test of each pixel centre by signed areas, triangle by triangle."""
    points = np.column_stack([np.reshape(numbers + numbers[::-1], (-1, 3))[:, :2],
                              [1.0, 1.0, 1.0, 2.0, 2.0, 2.0]])
    faces = np.array([[0, 1, 2], [3, 4, 5]])
    seen = depth_map(points, faces, (16, 16))
    for row in range(16):
        for col in range(16):
            p, inside = np.array((col + 0.5, row + 0.5)), []
            for f in faces:
                a, b, c = points[f, :2]
                areas = [np.linalg.det([u - p, v - p]) for u, v in ((a, b), (b, c), (c, a))]
                if abs(sum(areas)) > 1e-6 and min(map(abs, areas)) < 1e-6:
                    break  # on an edge: either answer is right
                inside.append(abs(sum(areas)) > 1e-6
                              and (min(areas) > 0 or max(areas) < 0))
            else:
                assert seen.face[row, col] == (1 if inside[1] else 0 if inside[0] else HIDDEN)


def test_every_seen_piece_is_lettered_once_and_leaders_keep_apart():
    tube = suit({"Tube": ring_patches(10)})
    picture = suit_picture(tube, (0.0, 20.0), (40, 40))
    labels = lettering(picture, {}, 3.1)
    codes = [label[1] for label in labels]
    assert sorted(codes) == sorted(picture.spots)
    for side in ("end", "start"):
        heights = sorted(label[4] for label in labels if label[0] == "leader" and label[2] == side)
        assert (np.diff(heights) > 3.1).all()


# --- shopping ----------------------------------------------------------------


def test_glue_for_a_mitred_box_by_hand(box):
    """Edges of a 200 × 100 × 80 box: 4 × (200 + 100 + 80) = 1520 mm. Each is glued on two
    faces mitred at 45°, so 10 mm of foam give 10 × √2 mm: 2 × 1520 × 14.142 = 42992 mm²."""
    assert shopping(box).glue_area == pytest.approx(42992, rel=1e-4)
    assert sum(glued_area(m, box) for m in box.mates) == pytest.approx(42992, rel=1e-4)


def test_cement_by_the_coverage_on_the_tin():
    """308 square feet a US gallon: 308 × 0.09290304 m² / 3.785412 L = 7.559 m²/L."""
    assert Rates().coverage == pytest.approx(308 * 0.09290304 / 3.785412, rel=1e-3)
    assert cement(7.56e6, 7.56) == pytest.approx(SPARE)
    assert cement(7.56e6, 3.78) == pytest.approx(2 * SPARE)


def test_foam_of_a_box_by_hand(box):
    """2 × (200 × 100 + 200 × 80 + 100 × 80) = 88000 mm², less than a 600 × 600 mat;
    knife work is twice the edges: 3040 mm."""
    buy = shopping(box)
    assert [f.mats for f in buy.foam] == [1] and not buy.foam[0].counted
    assert buy.foam[0].area == pytest.approx(88000)
    assert buy.cut == pytest.approx(3040) and buy.blades == 1


# --- order, again with loops --------------------------------------------------


@settings(max_examples=15, deadline=None, database=None)
@given(st.permutations(range(5)))
def test_renumbering_keeps_the_seams_that_close_a_loop(pieces):
    ring = suit({"Ring": ring_patches(5)})
    names = {f"P{i + 1}": f"N{k}" for i, k in enumerate(pieces)}
    renamed = [replace(ring.pieces[i], code=names[f"P{i + 1}"], template=names[f"P{i + 1}"])
               for i in pieces]
    mates = [replace(m, edges=tuple((names[c], e) for c, e in m.edges)) for m in ring.mates]

    def closers(steps):
        return [m for s in steps if s.kind == "close" for m in s.mates]

    steps = plan(renamed, mates, ring.settings, ring.sculpt)
    assert closers(steps) == closers(ring.steps) and len(closers(steps)) == 1


def test_the_lid_goes_on_last_even_when_numbered_first():
    patches = box_patches()
    box = suit({"Box": patches[::-1]})
    top = max(box.pieces, key=lambda p: p.vertices[:, 2].min()).code
    last = [s for s in box.steps if s.kind == "join"][-1]
    assert all(top in {c for c, _ in m.edges} for m in box.mates if m.code in last.mates)


@pytest.mark.parametrize("width", [4.0, 20.0, 60.0])
def test_wrapped_text_keeps_its_letters_and_its_width(width):
    text = "Press the two ends first, then the middle. Kontaktklebstoffverarbeitungshinweise!"
    lines = wrapped(text, width, 3.0)
    assert all(text_width(line, 3.0) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_what_comes_in_is_darker_as_the_words_say(box):
    """The title names what is added, and the picture shows just that darker."""
    built = replace(box, steps=plan(box.pieces, box.mates, box.settings, box.sculpt))
    joins = [stage for stage in stages(built.steps, built.pieces, built.mates)
             if stage.step.kind == "join"]
    assert len(joins) == 5
    for stage in joins:
        assert stage.step.title.startswith(f"Join {', '.join(stage.lit)} to ")
        picture = plan_steps.drawn(built, stage)
        assert stage.lit <= set(picture.spots)
        for code, (x, y, _) in picture.spots.items():  # painted last: what is over the rest
            painted = [fill.grey for fill in picture.fills if shapely.Polygon(
                fill.rings[0], fill.rings[1:]).contains(shapely.Point(x, y))]
            assert (painted[-1] in DARK) == (code in stage.lit)


def test_letters_of_seams_keep_off_one_another():
    """Of two seams side by side, and of a third that crosses both in the middle."""
    across = np.array([[0.0, 0.0], [40.0, 0.0]])
    taken = []
    for line in (across, across + (0.0, 2.0), across[:, ::-1] + (20.0, -20.0)):
        taken.append(_beside([line], taken))
    apart = [np.hypot(*np.subtract(a, b)) for i, a in enumerate(taken) for b in taken[:i]]
    assert min(apart) >= 5.5 and taken[0] == (20.0, 0.0)
    assert _beside([across[:, ::-1] * 0.05], [(0.0, 1.0)])  # no room at all: the best there is


def test_letters_of_a_whole_picture_keep_apart():
    """Ten seams round a small tube, of which two are seen so near to each other that their
    middles are 4 mm apart; a letter's disc is 4.2 mm wide."""
    tube = suit({"Tube": ring_patches(10)})
    picture = suit_picture(tube, (0.0, 20.0), (40, 40), seams=[m.code for m in tube.mates])
    spots = list(picture.seam_spots.values())
    assert len(spots) == 10
    assert min(np.hypot(*np.subtract(a, b))
               for i, a in enumerate(spots) for b in spots[:i]) >= 5.5


def test_codes_keep_off_the_marks(box):
    """A trench along the lid, a third of its depth from the front: its code stands behind it."""
    lid = max(box.pieces, key=lambda p: p.vertices[:, 2].mean())
    line = lid.source_vertex[np.abs(lid.vertices[:, 1] - np.unique(lid.vertices[:, 1])[1]) < 1e-3]
    line = line[np.argsort(box.sculpt.vertices[line, 0])]
    edges = np.sort(np.stack([line[:-1], line[1:]], axis=1), axis=1)
    sculpt = replace(box.sculpt, edges=np.concatenate([box.sculpt.edges, edges]),
                     kinds=np.concatenate([box.sculpt.kinds, np.full(len(edges), TRENCH)]))
    pictures = [suit_picture(replace(box, sculpt=sculpt), (0.0, 50.0), (60, 60), marks=marks)
                for marks in (True, False)]
    lines = [ln.points for ln in pictures[0].lines if ln.kind == "mark"]
    (x, y, room), (at_x, at_y, before) = (picture.spots[lid.code] for picture in pictures)
    near, was = (min(np.hypot(*(np.array(place) - p)) for ln in lines
                     for p in np.linspace(ln[0], ln[-1], 500)) for place in ((x, y), (at_x, at_y)))
    assert was < before - 1.0  # it would have been written across the mark
    assert near >= room - 0.5 and room < before
