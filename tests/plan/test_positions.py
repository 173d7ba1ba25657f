"""Small pictures of where a piece is worn. Ground truth: the faces of a box seen in projection."""

import numpy as np
import shapely

from addon.export.position import HATCH, SIZE, Positions
from tests.plan.conftest import box_patches, suit


def hatched(picture):
    """Area of the hatched part, mm²: the length of the lines times their distance."""
    return HATCH * sum(shapely.LineString(s.points).length for s in picture.drawing.strokes
                       if len(s.points) == 2
                       and abs(np.ptp(s.points[:, 0]) - np.ptp(s.points[:, 1])) < 1e-6)


def test_every_piece_of_a_box_is_hatched_where_it_shows(box):
    positions = Positions(box)
    for piece in box.pieces:
        picture = positions.picture(piece.code)
        assert hatched(picture) > 10.0
        points = np.concatenate([s.points for s in picture.drawing.strokes])
        assert (points >= -0.1).all() and (points <= np.array(SIZE) + 0.1).all()
        assert {s.layer for s in picture.drawing.strokes} == {"position"}


def test_what_shows_is_hatched_over_its_own_size(box):
    """200 × 100 × 80 mm seen from a corner, 45° round and 12° above, on a picture 22 mm wide
    inside its margins: the box is (200 + 100) cos 45° wide and its front 200 cos 45°."""
    front = next(p.code for p in box.pieces if np.ptp(p.vertices[:, 1]) == 0
                 and p.vertices[0, 1] == 0)
    picture = Positions(box).picture(front)
    scale = (SIZE[0] - 2) / (300 * np.cos(np.pi / 4))
    expected = 200 * np.cos(np.pi / 4) * 80 * np.cos(np.radians(12)) * scale**2
    assert abs(hatched(picture) - expected) < 0.08 * expected


def test_a_piece_that_is_all_of_its_object_is_shown_on_the_suit():
    two = suit({"Chest": box_patches()[1:3], "Strap": box_patches(at=(250, 0, 0))[1:2]})
    alone = [p.code for p in two.pieces if p.object == "Strap"]
    assert len(alone) == 1 and Positions(two).picture(alone[0]) is not None
    single = suit({"Strap": box_patches()[1:2]})
    assert Positions(single).picture(single.pieces[0].code) is None
