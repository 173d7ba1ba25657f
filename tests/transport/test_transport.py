"""Parts in a box: cubes that fit exactly, bowls that nest, and every arrangement looked at again
by a general-purpose mesh library, voxel by voxel."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import Part, Settings
from addon.core.order.solids import solids
from addon.core.stock import find_stock
from addon.core.transport import packed, put_in
from addon.core.transport.load import UPRIGHT, load_of
from addon.core.units import parse_box
from tests import shapes

trimesh = pytest.importorskip("trimesh")
SETTINGS = Settings(find_stock("eva-10"), nest_seconds=0.0)


def block(name, *size, turn=UPRIGHT[0]):
    mesh = trimesh.creation.box(size)
    return load_of(Part(name, (name,)), mesh.vertices @ turn.T, mesh.faces, float(np.prod(size)))


def cubes(count, side, **more):
    return [block(f"cube {k}", side, side, side, **more) for k in range(count)]


def apart(found):
    """Do the boxes about the parts keep clear of one another, and inside?"""
    low = np.array([p.low for p in found.packed])
    high = np.array([p.high for p in found.packed])
    assert (low >= -1e-6).all() and (high <= np.array(found.box) + 1e-6).all()
    clear = (low[:, None] >= high[None] - 1e-6).any(axis=2)
    return (clear | clear.T | np.eye(len(low), dtype=bool)).all()


def require_sound(found, meshes, pitch=2.0):
    """No two parts share a voxel of their faces, none reaches out of the box, and none lies over
    one that is put in after it. meshes: (points, faces) in the sculpt, by part."""
    shells, size = [], (np.ceil(np.array(found.box[:2]) / pitch) + 2).astype(int)
    for one in found.packed:
        assert one.turn @ one.turn.T == pytest.approx(np.eye(3), abs=1e-9)
        assert np.linalg.det(one.turn) == pytest.approx(1.0)
        points, faces = meshes[one.part]
        there = one.place(points)
        assert (there >= -1e-6).all() and (there <= np.array(found.box) + 1e-6).all()
        assert there.min(axis=0) == pytest.approx(one.low, abs=1e-6)
        assert there.max(axis=0) == pytest.approx(one.high, abs=1e-6)
        voxels = trimesh.Trimesh(there, faces, process=False).voxelized(pitch)
        shells.append(np.unique(np.round(voxels.points / pitch).astype(int), axis=0))
    for k, later in enumerate(shells):
        for earlier in shells[:k]:
            # Straight from above: whatever is in its columns is under it.
            top, bottom = np.full((2, *size), -1)
            np.maximum.at(top, tuple(earlier[:, :2].T), earlier[:, 2])
            bottom[:] = 10**6
            np.minimum.at(bottom, tuple(later[:, :2].T), later[:, 2])
            assert (top < bottom).all(), found.packed[k].part


def test_there_are_24_rotations():
    assert len(UPRIGHT) == 24 == len({turn.tobytes() for turn in UPRIGHT})
    for turn in UPRIGHT:
        assert np.linalg.det(turn) == pytest.approx(1.0)


@pytest.mark.parametrize(("count", "side"), [(8, 200.0), (27, 400 / 3)])
def test_cubes_that_fill_a_box_exactly_go_in(count, side):
    found = put_in(cubes(count, side), (400, 400, 400), gap=0.0)
    assert found.fits and len(found.packed) == count and apart(found)
    assert found.height == pytest.approx(400.0)


def test_bricks_are_turned_to_fit():
    """A 2 x 4 x 8 box of 8 bricks of 1 x 2 x 4, each lying otherwise in its own space."""
    bricks = [block(f"brick {k}", 50, 100, 200, turn=UPRIGHT[3 * k]) for k in range(8)]
    found = put_in(bricks, (400, 200, 100), gap=0.0)
    assert found.fits and apart(found)


def test_a_brick_that_stands_askew_is_set_straight():
    """As long, wide and high as the box, turned by 33 degrees about all axes at once."""
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_rotvec([0.33, 0.33, 0.33]).as_matrix()
    found = put_in([block("brick", 300, 200, 100, turn=turn)], (300.1, 200.1, 100.1), gap=0.0)
    assert found.fits and np.sort(found.packed[0].high - found.packed[0].low) == pytest.approx(
        (100, 200, 300), abs=1e-6)


def test_what_cannot_fit_is_told_with_the_reason():
    """By volume, by length in any direction; and where it only was not found."""
    found = put_in(cubes(8, 201.0), (400, 400, 400), gap=0.0)
    assert not found.fits and found.certain and "64 litres" in found.why and len(found.packed) == 1
    found = put_in([block("pole", 700, 10, 10)], (400, 400, 400))
    assert not found.fits and found.certain and "pole measures 700" in found.why
    assert found.packed == () and found.left == ("pole",)
    # 560 mm lie across the floor only, which is not along a side.
    found = put_in([block("pole", 500, 10, 10)], (400, 400, 400))
    assert not found.fits and not found.certain and "along its sides" in found.why
    found = put_in(cubes(9, 180.0), (400, 400, 400), gap=0.0)
    assert not found.fits and not found.certain and len(found.packed) == 8 and apart(found)
    assert "may still" in found.why and len(found.left) == 1


def test_the_gap_is_kept():
    assert not put_in(cubes(8, 198.0), (400, 400, 400), gap=6.0).fits  # 2 x 198 + 6 + 6 > 400
    found = put_in(cubes(8, 194.0), (400, 400, 400), gap=6.0)
    assert found.fits
    low, high = (np.array([getattr(p, name) for p in found.packed]) for name in ("low", "high"))
    assert low.min() >= 3.0 - 1e-6 and high.max() <= 397 + 1e-6
    for k in range(8):
        for other in range(k):
            air = np.maximum(low[k] - high[other], low[other] - high[k]).max()
            assert air >= 6.0 - 1e-6


def bowls(count):
    """A pattern of equal caps of 10 mm foam, 45 degrees from pole to rim, and their solids."""
    vertices, faces = shapes.cap(110.0, np.radians(45), 12)
    points = np.concatenate([vertices + np.array([300.0 * k, 0, 0]) for k in range(count)])
    whole = shapes.sculpt((points, np.concatenate([faces + k * len(vertices)
                                                   for k in range(count)])))
    from addon.core.model import SculptObject

    pattern = check(replace(whole, face_object=np.repeat(np.arange(count), len(faces)),
                            objects=tuple(SculptObject(f"bowl {k}") for k in range(count))),
                    SETTINGS)
    return pattern, {p.object: (body.points, body.faces) for p in pattern.pieces
                     if (body := solids([p], whole=True))}


def test_bowls_stack_into_one_another():
    """Six caps are 6 x 37 mm high one above the other; one in another each adds its thickness over
    the cosine of the slope, 14 mm, and what the gap and the cells take."""
    pattern, meshes = bowls(6)
    found = packed(pattern, (190, 190, 180), gap=3.0).transport
    assert found.fits, found.why
    require_sound(found, meshes, pitch=1.5)
    assert sum(high - low for high, low in (
        (p.high[2], p.low[2]) for p in found.packed)) > 1.2 * found.height
    # They nest, but not into nothing.
    tight = packed(pattern, (190, 190, 90), gap=2.0)
    assert not tight.transport.fits and not tight.transport.certain
    told, = (f for f in tight.findings if f.code == "box-too-small")
    assert tight.transport.left[0] in told.message and len(told.faces)


def test_the_same_parts_give_the_same_arrangement():
    pattern, _ = bowls(3)
    one, two = (packed(pattern, (400, 300, 100)).transport for _ in range(2))
    assert [p.part for p in one.packed] == [p.part for p in two.packed]
    for a, b in zip(one.packed, two.packed, strict=True):
        assert np.array_equal(a.turn, b.turn) and np.array_equal(a.offset, b.offset)


@pytest.mark.parametrize(("box", "gap"), [
    ((0, 400, 400), 6.0), ((600, 400), 6.0), ((600, 400, np.nan), 6.0), ((6e6, 400, 400), 6.0),
    ((600, 400, 400), -1.0), ((600, 400, 400), np.nan)])
def test_nonsense_is_refused(box, gap):
    pattern = check(shapes.sculpt(shapes.cylinder(100.0, 2.0, 150.0, 21, 9)), SETTINGS)
    with pytest.raises(FoamError, match="bad-box"):
        packed(pattern, box, gap)


@pytest.mark.parametrize(("text", "size"), [
    ("600x400x400", (600, 400, 400)), ("60 x 40 × 35.5 cm", (600, 400, 355)),
    ("24in*16in*12in", (609.6, 406.4, 304.8)), ('24x16x12"', (609.6, 406.4, 304.8)),
    ("0.6mx40cmx400mm", (600, 400, 400))])
def test_sizes_of_boxes_are_read(text, size):
    assert parse_box(text) == pytest.approx(size)


@pytest.mark.parametrize("text", ["600x400", "600", "axbxc", "600x400x", "600x400x400x2", "-1x2x3"])
def test_what_is_no_size_of_a_box_is_refused(text):
    with pytest.raises(FoamError, match="bad-length"):
        parse_box(text)
