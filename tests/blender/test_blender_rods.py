"""Curves with a round bevel that were added to the suit are its rods."""

import math

import numpy as np
import pytest

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender.changes import signature  # noqa: E402
from addon.blender.settings import read_settings  # noqa: E402
from addon.core.make import check  # noqa: E402


@pytest.fixture
def circle(scene):
    """circle(radius, thick) in Blender units: a Bezier ring with a round bevel, selected."""
    def add(radius=0.12, thick=0.01):
        bpy.ops.curve.primitive_bezier_circle_add(radius=radius)
        item = bpy.context.object
        item.name, item.data.bevel_depth = "belt loop", thick
        return item
    return add


def add_to_suit(**options):
    return bpy.ops.foamwright.add_to_suit(**options)


def test_a_ring_is_read_at_its_length_and_thickness(scene, add_sheet, circle, read):
    sheet, ring = add_sheet(), circle()
    assert read(sheet)[0].rods == ()  # curves go with a suit only when they were added
    assert add_to_suit() == {"FINISHED"}
    (line,) = read(sheet)[0].rods
    assert (line.name, line.closed) == ("belt loop", True)
    assert line.diameter == pytest.approx(20.0)
    rod, = check(read(sheet)[0], read_settings(scene)).rods
    # Four Bezier arcs lie within 0.03 % of their circle (Goldapp 1991, from memory).
    assert rod.length == pytest.approx(2 * math.pi * 120.0, rel=1e-3)
    assert rod.forming == "bend" and rod.ends == ()
    ring.scale = (2.0, 2.0, 2.0)
    bpy.context.view_layer.update()
    (line,) = read(sheet)[0].rods
    assert line.diameter == pytest.approx(40.0)
    assert np.linalg.norm(line.points, axis=1) == pytest.approx(240.0, rel=1e-3)
    assert add_to_suit(remove=True) == {"FINISHED"}
    assert read(sheet)[0].rods == ()


def test_a_rod_that_is_moved_or_made_thicker_is_a_change(scene, add_sheet, circle, read):
    sheet, ring = add_sheet(), circle()
    add_to_suit()
    settings = read_settings(scene)
    seen = [signature(read(sheet)[0], settings)]
    ring.data.bevel_depth = 0.015
    seen.append(signature(read(sheet)[0], settings))
    ring.location.x = 0.1
    bpy.context.view_layer.update()
    seen.append(signature(read(sheet)[0], settings))
    assert len(set(seen)) == 3


def test_what_is_no_rod_is_not_taken(scene, add_sheet, circle):
    ring = circle(thick=0.0)
    with pytest.raises(RuntimeError, match="curve with a round bevel"):
        add_to_suit()
    ring.data.bevel_depth = 0.01
    ring.foamwright.guide = "SEAM"  # a line drawn on a sculpt
    with pytest.raises(RuntimeError, match="curve with a round bevel"):
        add_to_suit()


def test_a_rod_that_tapers_is_told(scene, add_sheet, circle, read):
    sheet, ring = add_sheet(), circle()
    ring.data.splines[0].bezier_points[0].radius = 0.5
    add_to_suit()
    sculpt, _ = read(sheet)
    assert [f.code for f in sculpt.findings] == ["rod-tapers"]
    assert sculpt.rods[0].diameter == pytest.approx(20.0 * 3.5 / 4)


def test_a_curve_without_a_line_is_told(scene, add_sheet, read):
    sheet = add_sheet()
    curve = bpy.data.curves.new("stub", "CURVE")
    curve.bevel_depth = 0.01
    curve.splines.new("BEZIER")
    item = bpy.data.objects.new("stub", curve)
    scene.collection.objects.link(item)
    item.foamwright.include = True
    pattern = check(read(sheet)[0], read_settings(scene))
    assert pattern.rods == () and "rod-without-size" in [f.code for f in pattern.findings]


def test_each_line_of_a_curve_is_a_rod_of_its_own(scene, add_sheet, read):
    sheet = add_sheet()
    curve = bpy.data.curves.new("tubes", "CURVE")
    curve.dimensions, curve.bevel_depth = "3D", 0.005
    for height in (0.0, 0.1):
        spline = curve.splines.new("POLY")
        spline.points.add(1)
        spline.points[0].co = (0.0, -0.5, height, 1.0)
        spline.points[1].co = (0.3, -0.5, height, 1.0)
    item = bpy.data.objects.new("tubes", curve)
    scene.collection.objects.link(item)
    item.foamwright.include = True
    rods = check(read(sheet)[0], read_settings(scene)).rods
    assert [(r.code, r.name) for r in rods] == [("ROD1", "tubes"), ("ROD2", "tubes 2")]
    assert [r.length for r in rods] == pytest.approx([300.0, 300.0])
