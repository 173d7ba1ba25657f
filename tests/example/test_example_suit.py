"""The example suit is what its README says: true in size, mirrored, marked, and buildable."""

import numpy as np
import pytest
import shapely
from scipy.spatial import ConvexHull, cKDTree

from addon.core.errors import ERROR, NOTE
from addon.core.make import in_order
from addon.core.model import BACK, FRONT, SCORE, TRENCH
from addon.core.stock import find_stock
from addon.export.drawing import draw_piece
from example_scenes.figure import figure
from example_scenes.shapes import SCORE as SCORE_MARK
from example_scenes.shapes import SEAM as SEAM_MARK
from example_scenes.shapes import TRENCH as TRENCH_MARK
from example_scenes.shapes import Net, sample, spline


def by_name(plates):
    return {p.name: p.mesh for p in plates}


def rows(array):
    """Rows in one fixed order, so that arrays compare as sets."""
    return array[np.lexsort(array.T[::-1])] + 0.0


def girth(meshes, height):
    """Length of a tape drawn tight round the meshes' edges where they cross a height, mm."""
    points = []
    for mesh in meshes:
        a = mesh.vertices[mesh.quads]
        b = np.roll(a, -1, axis=1)
        a, b = a.reshape(-1, 3), b.reshape(-1, 3)
        crosses = (a[:, 2] - height) * (b[:, 2] - height) < 0
        a, b = a[crosses], b[crosses]
        t = ((height - a[:, 2]) / (b[:, 2] - a[:, 2]))[:, None]
        points.append((a + t * (b - a))[:, :2])
    return ConvexHull(np.concatenate(points)).area  # of a plane hull: its perimeter


# --- size --------------------------------------------------------------------


# ANSUR II (2012 US Army survey, public data), p5 of women to p95 of men, mm. The figure's waist
# is taken at the navel as the survey does.
@pytest.mark.parametrize("height, low, high", [(1280, 824, 1207), (1050, 710, 1131)],
                         ids=["chest", "waist"])
def test_figure_has_the_girth_of_an_adult(height, low, high):
    assert low < girth([figure()["Trunk"]], height) < high


def test_figure_is_as_tall_as_an_adult():
    # ANSUR II: mean stature 1628.5 mm (women) and 1756.2 mm (men).
    top = max(mesh.vertices[:, 2].max() for mesh in figure().values())
    assert 1628.5 < top < 1756.2 + 70  # about one standard deviation; that one from memory


def test_chest_has_room_to_breathe(plates):
    # The inside of a ring of foam is 2 pi t shorter than its outside; rigid foam needs 50 to 80 mm
    # of girth over the undersuit (common practice, no source).
    mesh = by_name(plates)
    outside = girth([mesh["Breast plate"], mesh["Back plate"]], 1245)
    inside = outside - 2 * np.pi * find_stock("eva-10").thickness
    assert 50 < inside - girth([figure()["Trunk"]], 1245) < 200


def test_every_plate_clears_the_figure_by_more_than_its_thickness(plates):
    skins = []
    for mesh in figure().values():
        corner = mesh.vertices[mesh.quads]
        normal = np.cross(corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1])
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        u, v = (g.ravel() for g in np.meshgrid([.125, .375, .625, .875], [.125, .375, .625, .875]))
        weight = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v])
        points = np.einsum("wk,mwd->mkd", weight, corner).reshape(-1, 3)
        skins.append((cKDTree(points), points, np.repeat(normal, len(u), axis=0)))
    for plate in plates:
        thickness = find_stock(plate.stock).thickness
        for tree, points, normals in skins:
            distance, nearest = tree.query(plate.mesh.vertices)
            away = plate.mesh.vertices - points[nearest]
            outwards = np.einsum("ij,ij->i", away, normals[nearest])
            near = distance < 100
            assert np.all(outwards[near] > 0), plate.name
            assert np.all(distance > thickness + 5), plate.name


# --- mesh --------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Gorget", "Breast plate", "Back plate"])
def test_plate_on_the_middle_is_its_own_mirror_image(plates, name):
    mesh = by_name(plates)[name]
    mirror = mesh.mirrored()
    assert np.array_equal(rows(mesh.vertices), rows(mirror.vertices))
    centre = lambda m: rows(m.vertices[m.quads].mean(axis=1).round(6))  # noqa: E731
    assert np.array_equal(centre(mesh), centre(mirror))
    for kind in mesh.marks:
        middle = lambda m, k=kind: rows(m.vertices[m.marks[k]].mean(axis=1).round(6))  # noqa: E731
        assert np.array_equal(middle(mesh), middle(mirror))


@pytest.mark.parametrize("name", ["Forearm", "Thigh", "Knee"])
def test_left_and_right_are_exact_mirror_images(plates, name):
    left, right = (by_name(plates)[f"{name} {side}"] for side in ("left", "right"))
    assert left.vertices[:, 0].min() > 0  # the wearer's left is +x, as the front is -y
    assert np.array_equal(left.vertices * (-1, 1, 1), right.vertices)
    # Mirrored faces run the other way round, from the same first corner.
    assert np.array_equal(left.quads[:, [0, 3, 2, 1]], right.quads)


def test_plates_are_sheets_of_well_shaped_quads(plates):
    for plate in plates:
        vertices, quads = plate.mesh.vertices, plate.mesh.quads
        assert np.array_equal(np.unique(quads), np.arange(len(vertices)))
        sides = np.stack([quads, np.roll(quads, -1, axis=1)], axis=-1)
        edges = np.sort(sides.reshape(-1, 2), axis=1)
        assert np.unique(edges, axis=0, return_counts=True)[1].max() == 2
        length = np.linalg.norm(np.diff(vertices[edges], axis=1)[:, 0], axis=1)
        assert 6 < np.median(length) < 12, plate.name
        assert 2 < length.min() and length.max() < 20, plate.name
        for i in range(4):  # no corner folded over or needle sharp
            to_next = vertices[quads[:, (i + 1) % 4]] - vertices[quads[:, i]]
            to_last = vertices[quads[:, i - 1]] - vertices[quads[:, i]]
            cosine = np.einsum("ij,ij->i", to_next, to_last) / (
                np.linalg.norm(to_next, axis=1) * np.linalg.norm(to_last, axis=1))
            assert np.abs(cosine).max() < np.cos(np.radians(10)), plate.name


def test_outside_faces_away_from_the_figure(plates):
    middle = {"Gorget": (0, 6), "Breast plate": (0, 0), "Back plate": (0, 0)}
    for name, mesh in by_name(plates).items():
        if name in middle:
            corner = mesh.vertices[mesh.quads]
            normal = np.cross(corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1])
            away = corner.mean(axis=1)[:, :2] - middle[name]
            assert np.all(np.einsum("ij,ij->i", normal[:, :2], away) > 0), name


# --- marks -------------------------------------------------------------------


def test_every_kind_of_mark_is_there(plates):
    marked = {kind: {p.name for p in plates if len(p.mesh.marks[kind])}
              for kind in (SEAM_MARK, TRENCH_MARK, SCORE_MARK)}
    assert marked[SEAM_MARK] == {p.name for p in plates} - {"Emblem"}
    assert {"Breast plate", "Thigh left", "Forearm right"} <= marked[TRENCH_MARK]
    assert {"Breast plate", "Forearm left", "Thigh right"} == marked[SCORE_MARK] & {
        "Breast plate", "Forearm left", "Thigh right"}


def test_no_edge_carries_two_marks(plates):
    for plate in plates:
        edges = np.concatenate([np.sort(e, axis=1) for e in plate.mesh.marks.values()])
        assert len(np.unique(edges, axis=0)) == len(edges), plate.name


def test_failing_variant_lacks_the_emblem_and_the_seams_on_the_knees_alone(plates, failing_plates):
    assert [p.name for p in plates][len(failing_plates):] == ["Emblem"]
    for good, bad in zip(plates, failing_plates, strict=False):
        assert np.array_equal(good.mesh.vertices, bad.mesh.vertices)
        for kind in (TRENCH_MARK, SCORE_MARK):
            assert np.array_equal(good.mesh.marks[kind], bad.mesh.marks[kind])
        lost = {tuple(e) for e in good.mesh.marks[SEAM_MARK].tolist()} - {
            tuple(e) for e in bad.mesh.marks[SEAM_MARK].tolist()}
        assert bool(lost) == good.name.startswith("Knee")


# --- what becomes of it ------------------------------------------------------


def test_suit_is_cut_into_a_few_dozen_pieces(pattern):
    assert 20 <= len(pattern.pieces) <= 40
    sheet = pattern.settings.stock.sheet
    for piece in pattern.pieces:
        assert np.all(np.ptp(piece.flat, axis=0) < np.array(sheet)), piece.code


def test_every_piece_can_be_formed_and_some_need_heat(pattern):
    kinds = {p.code: p.verdict.kind for p in pattern.pieces}
    assert "relief" not in kinds.values()
    hot = [p.verdict for p in pattern.pieces if p.verdict.kind == "heat"]
    assert any(v.cold > 1 and v.heated <= 1 for v in hot)
    assert {f.severity for f in pattern.findings} <= {NOTE}, [str(f) for f in pattern.findings]


def test_failing_variant_needs_relief_on_the_knees_alone(failing_pattern):
    bad = [p for p in failing_pattern.pieces if p.verdict.kind == "relief"]
    assert {p.object for p in bad} == {"Knee left", "Knee right"}
    errors = [f for f in failing_pattern.findings if f.severity == ERROR]
    assert {f.piece for f in errors} == {p.code for p in bad}
    assert {f.code for f in errors} == {"needs-relief"}


def test_mirrored_pieces_share_a_template(pattern):
    # Only the piece down the spine and the emblem have no partner.
    single = [p for p in pattern.templates if p.copies + p.mirrored == 1]
    assert [p.object for p in single] == ["Back plate", "Emblem"]
    assert all((p.copies, p.mirrored) == (1, 1) for p in pattern.templates if p not in single)


def test_emblem_of_six_millimetres_is_glued_on_the_left_breast(pattern):
    emblem = pattern.pieces[-1]
    base = pattern.piece(emblem.base)
    assert (emblem.object, emblem.stock.thickness) == ("Emblem", 6.0)
    assert base.object == "Breast plate" and base.vertices.mean(axis=0)[0] > 0
    built = in_order(pattern)
    (part,) = [p for p in built.parts if base.code in p.pieces]
    assert emblem.code in part.pieces
    assert [s.title for s in built.steps if s.kind == "lay"] == ["Glue details on: EM1"]


def test_seams_are_convex_and_concave_and_their_mates_agree(pattern):
    folds = np.degrees([m.fold for m in pattern.mates])
    assert folds.max() > 20 and folds.min() < -20
    assert max(m.gap for m in pattern.mates) < 0.1


def test_trenches_are_cut_from_both_faces_and_score_lines_lie_flat(pattern):
    trenches = [f for p in pattern.pieces for f in p.folds if f.kind == TRENCH]
    assert {f.side for f in trenches} == {FRONT, BACK}
    assert all(10 < np.degrees(np.abs(f.fold)).max() < 45 for f in trenches)
    scores = [f for p in pattern.pieces for f in p.folds if f.kind == SCORE]
    assert scores and all(np.degrees(np.abs(f.fold)).max() < 2 for f in scores)


# --- the tools that draw it ----------------------------------------------------


def test_spline_runs_through_its_knots_and_bends_as_scipy_says():
    from scipy.interpolate import CubicSpline

    x, y = [0.0, 1.0, 2.5, 4.0, 7.0], [1.0, 3.0, 2.0, -1.0, 0.0]
    at = np.linspace(0, 7, 50)
    assert spline(x, y)(at) == pytest.approx(CubicSpline(x, y, bc_type="natural")(at), abs=1e-12)


def test_patch_whose_curves_do_not_meet_is_refused():
    side, end = sample(2, (0.0, 0.0), (0.0, 2.0)), sample(2, (0.0, 0.0), (2.0, 0.0))
    with pytest.raises(ValueError, match="do not meet"):
        Net().patch(side, side + (2.0, 0.1), end, end + (0.0, 2.0))


def test_neighbouring_patches_are_welded_along_their_curve():
    net = Net()
    sides = [sample(3, (x, 0.0), (x, 3.0)) for x in (0.0, 2.0, 4.0)]
    for a, b in zip(sides[:-1], sides[1:], strict=True):
        net.patch(a, b, sample(2, a[0], b[0]), sample(2, a[-1], b[-1]))
    net.mark(SEAM_MARK, sides[1])
    mesh = net.build(lambda u, v: np.stack([u, v, 0 * u], axis=1))
    assert len(mesh.vertices) == 4 * 5 and len(mesh.quads) == 3 * 4
    assert np.all(mesh.vertices[mesh.marks[SEAM_MARK], 0] == 2.0)


def test_the_rails_are_half_ellipses_that_stand_on_the_back_plate(pattern):
    """Ramanujan's first approximation of an ellipse's perimeter (1914), exact to 1e-5 here."""
    left, right = pattern.rods
    assert (left.name, right.name) == ("Grab rail left", "Grab rail right")
    a, b = np.linalg.norm(left.points[-1] - left.points[0]) / 2, 50.0
    whole = np.pi * (3 * (a + b) - np.sqrt((3 * a + b) * (a + 3 * b)))
    assert left.length == pytest.approx(whole / 2, abs=0.3)  # its ends follow the plate
    assert left.radius == pytest.approx(b * b / a - left.diameter / 2, rel=0.02)
    for rail in (left, right):
        assert rail.forming == "heat" and len(rail.profiles) == 1
        assert all(end.on == "Back plate" and 0 < np.degrees(end.angle) < 15 for end in rail.ends)
    assert left.longest == pytest.approx(right.longest)


def test_where_a_bevel_changes_looks_like_no_notch(pattern):
    """Ticks across the bevel keep 3 mm from notches, which they would double."""
    ticks = 0
    for piece in pattern.templates:
        drawing = draw_piece(piece, pattern)
        roots = np.array([s.points[0] for s in drawing.on("notch").strokes]).reshape(-1, 2)
        rim = shapely.LinearRing(drawing.on("cut").strokes[0].points)
        for stroke in drawing.on("bevel").strokes:
            root = stroke.points[0]
            if len(stroke.points) == 2 and rim.distance(shapely.Point(root)) < 0.05:
                ticks += 1
                assert np.hypot(*(roots - root).T).min() > 2.9, piece.code
    assert ticks > 10
