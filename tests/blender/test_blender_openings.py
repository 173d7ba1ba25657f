"""From the refusal of a closed sculpt to one that is cut, with what the sidebar offers."""

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

import bmesh  # noqa: E402


@pytest.fixture
def ring(add_object, scene):
    """A closed ring of quads, 280 mm across, without a mark."""
    around, along = 16, 32
    a, b = np.meshgrid(np.arange(along) * 2 * np.pi / along, np.arange(around) * 2 * np.pi / around)
    vertices = np.stack([(0.1 + 0.04 * np.cos(b)) * np.cos(a), (0.1 + 0.04 * np.cos(b)) * np.sin(a),
                         0.04 * np.sin(b)], axis=-1).reshape(-1, 3)
    i = np.arange(around * along).reshape(around, along)
    east, north = np.roll(i, -1, axis=1), np.roll(i, -1, axis=0)
    faces = np.stack([i, east, np.roll(north, -1, axis=1), north], axis=-1).reshape(-1, 4)
    item = add_object("ring", vertices, faces)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    scene.foamwright.stock = "eva-2"
    return item


def test_the_proposed_line_is_selected_and_marking_it_is_all_that_it_takes(scene, ring):
    with pytest.raises(RuntimeError, match="closed all round"):
        bpy.ops.foamwright.check()
    assert [f.code for f in scene.foamwright.findings] == ["closed-without-seam"]
    assert bpy.ops.foamwright.select_finding(index=0) == {"FINISHED"}
    chosen = [e for e in bmesh.from_edit_mesh(ring.data).edges if e.select]
    # Both equators and a circle across each half; no face comes along with them.
    assert len(chosen) == 2 * 32 + 16
    assert not any(f.select for f in bmesh.from_edit_mesh(ring.data).faces)
    assert bpy.ops.foamwright.mark_edges(kind="SEAM") == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    assert bpy.ops.foamwright.check() == {"FINISHED"}
    assert not {f.code for f in scene.foamwright.findings} & {
        "closed-without-seam", "tube", "cannot-flatten"}
