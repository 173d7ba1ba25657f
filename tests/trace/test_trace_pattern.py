"""Patterns of sculpts whose marks are guides, beside the same marks on the mesh's own edges."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import mesh
from addon.core.errors import FoamError
from addon.core.make import check, make_pattern
from addon.core.model import SEAM, TRENCH, Guide, Sculpt, Settings
from addon.core.stock import Stock
from addon.core.trace import lay, on_sculpt
from addon.export.folder import write_all
from tests import shapes
from tests.sound import pattern_or_reasons

FOAM = Settings(Stock("foam", 5.0))


def on_cylinder(radius, angle, height):
    angle = np.atleast_1d(angle)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle),
                            np.broadcast_to(height, angle.shape)])


@pytest.fixture
def shell():
    return shapes.cylinder(80.0, 2.0, 200.0, 41, 21)


def test_a_slanted_seam_cuts_a_cylinder_in_two(shell):
    # Between the rims at 61 and 143 mm: as flat, two trapezoids whose areas are known.
    ends = np.concatenate([on_cylinder(80, 0.0, 61.0), on_cylinder(80, 2.0, 143.0)])
    pattern, found = pattern_or_reasons(
        replace(Sculpt.plain(*shell), guides=(Guide(ends),)), FOAM)
    assert [f.code for f in found] == []
    wide = 160.0 * 40 * np.sin(0.025)  # of the faceted cylinder
    areas = sorted(piece.area for piece in pattern.pieces)
    # The sculpt is the outside of the foam, whose middle is shorter round by half a thickness.
    assert areas == pytest.approx([wide * 98 * 77.5 / 80, wide * 102 * 77.5 / 80], rel=0.02)
    (mate,) = pattern.mates
    assert mate.lengths[0] == pytest.approx(np.hypot(wide, 82.0), rel=0.02)
    assert mate.gap < 0.1


def test_guides_give_what_marks_on_edges_give():
    vertices, faces = shapes.cap(90.0, 0.9, 12)
    spokes = shapes.spokes(vertices, faces)
    marked = Sculpt.plain(vertices, faces, spokes, [SEAM] * len(spokes))
    rim = [90 * np.array([np.sin(0.9) * np.cos(a), np.sin(0.9) * np.sin(a), np.cos(0.9)])
           for a in np.arange(6) * np.pi / 3]
    guided = replace(Sculpt.plain(vertices, faces), guides=tuple(
        Guide([rim[i], [0, 0, 90], rim[i + 3]]) for i in range(3)))
    edge, line = check(marked, FOAM), check(guided, FOAM)
    assert len(line.pieces) == len(edge.pieces) == 6
    for a, b in zip(sorted(edge.pieces, key=lambda p: p.area),
                    sorted(line.pieces, key=lambda p: p.area), strict=True):
        assert b.area == pytest.approx(a.area, rel=0.02)  # spokes are ridges
        assert b.verdict.heated == pytest.approx(a.verdict.heated, abs=0.02)


def test_a_line_across_faces_is_not_faired(shell):
    ends = np.concatenate([on_cylinder(80, 0.0, 61.0), on_cylinder(80, 2.0, 143.0)])
    sculpt = lay(replace(Sculpt.plain(*shell), guides=(Guide(ends),)))
    from addon.core.seams import cut

    assert all(not len(b.faired) for r in cut(sculpt, 0.5).regions for b in r.borders)


def test_a_trench_across_faces_is_drawn_everywhere(shell, tmp_path):
    ends = np.concatenate([on_cylinder(80, 0.3, 21.0), on_cylinder(80, 1.6, 183.0)])
    sculpt = replace(Sculpt.plain(*shell, name="shell"), guides=(Guide(ends, TRENCH),))
    pattern = make_pattern(sculpt, replace(FOAM, nest_seconds=0.5))
    (piece,) = pattern.pieces
    assert [fold.kind for fold in piece.folds] == [TRENCH]
    assert mesh.polyline_length(piece.folds[0].points) == pytest.approx(
        np.hypot(1.3 * 77.5, 162), rel=0.02)
    assert write_all(pattern, tmp_path)


def test_scale_moves_guides_with_the_sculpt(shell):
    vertices, faces = shell
    ends = np.concatenate([on_cylinder(80, 0.0, 61.0), on_cylinder(80, 2.0, 143.0)])
    sculpt = replace(Sculpt.plain(vertices / 25.4, faces), guides=(Guide(ends / 25.4),))
    assert len(check(sculpt, replace(FOAM, scale=25.4)).pieces) == 2


def test_a_guide_off_the_surface_is_told_also_where_nothing_can_be_made():
    vertices, faces = shapes.platonic("icosahedron", 80.0)
    away = Guide(vertices[:2] * 1.3, name="Back")
    with pytest.raises(FoamError) as error:
        check(replace(Sculpt.plain(vertices, faces), guides=(away,)), FOAM)
    codes = [f.code for f in error.value.findings]
    assert codes == ["closed-without-seam", "guide-off-surface"]
    assert "“Back”" in error.value.findings[1].message


def test_places_are_told_in_elements_of_the_sculpt():
    # Every finding of a guided sculpt names vertices, edges and faces that the sculpt has.
    vertices, faces = shapes.cap(60.0, 2.3, 20)
    rng = np.random.default_rng(1)
    guides = tuple(Guide(vertices[rng.integers(len(vertices), size=3)]) for _ in range(3))
    sculpt = replace(Sculpt.plain(vertices, faces), guides=guides)
    _, found = pattern_or_reasons(sculpt, FOAM)
    assert found
    for finding in found:
        assert (finding.vertices < len(vertices)).all() and (finding.faces < len(faces)).all()
        assert (finding.edges < len(vertices)).all()


def test_an_edge_that_is_new_is_told_as_the_faces_it_lies_in(shell):
    ends = np.concatenate([on_cylinder(80, 0.3, 21.0), on_cylinder(80, 1.6, 183.0)])
    sculpt = replace(Sculpt.plain(*shell), guides=(Guide(ends),))
    laid = lay(sculpt)
    from addon.core.errors import NOTE, Finding

    edge = laid.edges[len(laid.edges) // 2]
    (told,) = on_sculpt([Finding("x", NOTE, "A.", "B.", edges=[edge, [0, 1]], vertices=[3])],
                        laid, len(sculpt.vertices))
    assert told.edges.tolist() == [[0, 1]] and told.vertices.tolist() == [3]
    holding = laid.origin[[set(edge) <= set(f) for f in laid.faces.tolist()]]
    assert set(holding) <= set(told.faces) and len(told.faces) <= 2
