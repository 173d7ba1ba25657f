"""A suit sculpted in miniature and scaled up is drawn on as one at full size: what a millimetre
decides is a millimetre of the suit as it is built."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender import anchors, guides, lines  # noqa: E402

RING = np.array([(0.05, 0, 0.05), (0.15, 0, 0.06), (0.14, 0, 0.15), (0.05, 0, 0.14)])


@pytest.fixture(params=[1.0, 10.0, 0.2], ids=lambda scale: f"scale {scale:g}")
def sheet(request, scene, add_sheet):
    """A sheet of 200 x 200 mm once it is scaled; a row of its edges, which goes up and down by
    4 mm, is a seam."""
    scale = scene.foamwright.scale = request.param
    row = 13 * 6 + np.arange(13)
    item = add_sheet(columns=12, rows=12, width=0.2 / scale, height=0.2 / scale,
                     seams=np.stack([row[:-1], row[1:]], axis=1))
    for k, vertex in enumerate(row.tolist()):
        item.data.vertices[vertex].co.z += (-1) ** k * 0.002 / scale
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    return item


def draw(item, points, **more):
    scale = bpy.context.scene.foamwright.scale
    return bpy.ops.foamwright.draw_line("EXEC_DEFAULT", points=[
        {"name": "", "place": np.array(p) / scale} for p in points], **more)


def test_a_line_is_drawn_and_bound_as_finely_at_every_scale(scene, sheet):
    draw(sheet, RING, closed=True, fair=True)
    line, = (o for o in bpy.data.objects if guides.is_guide(o))
    (points, closed), = guides.world_polylines(line)
    bond = anchors.load(line.data)
    assert closed and len(points) == 66
    at = scene.foamwright.scale * bond.bound  # in Blender units of the suit
    apart = np.linalg.norm(np.diff(at, axis=0), axis=1)
    assert 0.4 / 0.005 <= len(at) <= 0.4 / 0.005 + 66 and apart.max() <= 0.005 + 1e-6


@pytest.mark.parametrize(("off", "drawn"), [(0.004, True), (0.006, False)])
def test_a_pick_lies_on_the_suit_or_off_it_by_its_own_millimetres(scene, sheet, off, drawn):
    points = [RING[0], RING[2] + (0, off, 0)]
    if drawn:
        assert draw(sheet, points) == {"FINISHED"}
        return
    with pytest.raises(RuntimeError, match=r"6\.0 mm away"):
        draw(sheet, points)


@pytest.mark.parametrize("off", [0.004, 0.006])
def test_lines_are_cut_where_they_lie_within_5_mm_of_the_suit(scene, sheet, off):
    points = RING[[0, 2]] + (0, off, 0)
    guides.add_guide(scene, sheet, points / scene.foamwright.scale, "TRENCH")
    if off < 0.005:
        assert bpy.ops.foamwright.cut_lines() == {"FINISHED"}
        return
    with pytest.raises(RuntimeError, match="not on|off|away"):
        bpy.ops.foamwright.cut_lines()


@pytest.mark.parametrize(("high", "kept"), [(0.004, (0.003, 0.004)), (0.0006, (0.0, 0.0002))])
def test_kept_lines_lose_as_much_of_their_zigzag_at_every_scale(scene, sheet, read, high, kept):
    """Either side gives way by no more than 0.5 mm; 0.6 mm of zigzag go."""
    scale = scene.foamwright.scale
    for k in range(13):
        sheet.data.vertices[13 * 6 + k].co.z = (0.1 + (-1) ** k * high / 2) / scale
    lines.keep(scene, *read(sheet))
    (found,), = lines.kept(sheet).values()
    assert kept[0] - 1e-6 <= np.ptp(scale * found[2:-2, 2]) <= kept[1] + 1e-6
