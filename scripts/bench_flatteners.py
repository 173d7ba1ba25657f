"""Ways to lay one surface flat, each timed alike, and one measure for what they give.

Every way takes the same vertices and faces and is judged on the same lengths: the chords of the
mesh, which is what libigl and Blender are given.
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Callable, NamedTuple

import numpy as np

from addon.core import flatten, layer, mesh, seams
from addon.core.model import Sculpt
from addon.core.stock import Limits, Stock

BAND = Limits(compress=0.05, stretch=0.10, radius=2.0)  # every comparison is made in this band
SPARED = 0.01  # share of the area that "over 99 % of the area" leaves out


def foam(limits: Limits) -> Stock:
    """Foam with these limits when heated, so thin that nothing but the surface counts."""
    return Stock("skin", 1e-6, heated=limits)


class Absent(Exception):
    """A way to flatten cannot be measured here; the message says why."""


class Result(NamedTuple):
    """seconds the way took; points (n, 2) of the flat."""

    seconds: float
    points: np.ndarray


def one_region(vertices: np.ndarray, faces: np.ndarray):
    """The surface as the engine's region and layer, its lengths being the chords of the mesh."""
    cut = seams.cut(Sculpt.plain(vertices, faces))
    (region,), (lay,) = cut.regions, layer.layers(cut, [foam(BAND)], ["outer"], 0.3)
    corner = region.vertices[region.faces]
    chords = np.linalg.norm(np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1), axis=2)
    return region, replace(lay, lengths=chords)


def flat_points(region, lay, stock: Stock) -> np.ndarray:
    """The call into the engine that all times of one piece are about."""
    return flatten.flatten(region, lay, stock).points


def foamwright(vertices: np.ndarray, faces: np.ndarray, limits: Limits = BAND) -> Result:
    """Our final flattening, from lengths to a flat."""
    region, lay = one_region(vertices, faces)
    began = time.perf_counter()
    points = flat_points(region, lay, foam(limits))
    seconds = time.perf_counter() - began
    back = np.empty_like(points)
    back[region.source_vertex] = points
    return Result(seconds, back)


def slim(vertices: np.ndarray, faces: np.ndarray, iterations: int = 20) -> Result:
    """libigl's SLIM (Rabinovich et al. 2017), symmetric Dirichlet energy, from a harmonic map
    of the rim to a circle, scaled to the surface's area."""
    try:
        import igl
    except ImportError as error:
        raise Absent("libigl is not installed") from error
    began = time.perf_counter()
    rim = igl.boundary_loop(faces)
    start = igl.harmonic(vertices, faces, rim, igl.map_vertices_to_circle(vertices, rim), 1)
    start *= np.sqrt(mesh.face_normals(vertices, faces)[1].sum() / np.pi)
    data = igl.slim_precompute(vertices, faces, start,
                               igl.MappingEnergyType.SYMMETRIC_DIRICHLET,
                               np.empty(0, np.int32), np.empty((0, 2)), 0.0)
    points = igl.slim_solve(data, iterations)
    return Result(time.perf_counter() - began, np.asarray(points)[:, :2])


def blender(vertices: np.ndarray, faces: np.ndarray, iterations: int = 10) -> Result:
    """Blender's unwrap by minimum stretch, with its default of 10 iterations."""
    try:
        import bpy
    except ImportError as error:
        raise Absent("Blender's module is not installed") from error
    bpy.ops.wm.read_factory_settings(use_empty=True)
    data = bpy.data.meshes.new("patch")
    data.from_pydata(vertices, [], faces.tolist())
    data.uv_layers.new()
    thing = bpy.data.objects.new("patch", data)
    bpy.context.collection.objects.link(thing)
    bpy.context.view_layer.objects.active = thing
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    began = time.perf_counter()
    bpy.ops.uv.unwrap(method="MINIMUM_STRETCH", iterations=iterations, fill_holes=False,
                      correct_aspect=False, margin=0.0)
    seconds = time.perf_counter() - began
    bpy.ops.object.mode_set(mode="OBJECT")
    uv = np.empty(len(data.loops) * 2, np.float32)
    data.uv_layers[0].uv.foreach_get("vector", uv)
    points = np.empty((len(vertices), 2))
    points[faces.ravel()] = uv.reshape(-1, 2)  # without seams every vertex has one place
    return Result(seconds, points)


WAYS: dict[str, Callable[..., Result]] = {
    "Foamwright": foamwright,
    "libigl SLIM, 20 iterations": slim,
    "Blender, minimum stretch, 10 iterations": blender,
    "Blender, minimum stretch, 50 iterations":
        lambda vertices, faces: blender(vertices, faces, 50),
}


# --- the measure -------------------------------------------------------------


def stretch(vertices: np.ndarray, faces: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Singular values (m, 2), larger first, of the map from the flat to the surface; the second
    is negative where a face is turned over. Written apart from the engine, to judge it too."""
    u, v = (vertices[faces[:, k]] - vertices[faces[:, 0]] for k in (1, 2))
    along = u / np.linalg.norm(u, axis=1)[:, None]
    x, normal = np.einsum("ij,ij->i", v, along), np.cross(u, v)
    formed = np.zeros((len(faces), 2, 2))
    formed[:, 0, 0], formed[:, 0, 1] = np.linalg.norm(u, axis=1), x
    formed[:, 1, 1] = np.linalg.norm(normal, axis=1) / formed[:, 0, 0]
    flat = np.stack([points[faces[:, k]] - points[faces[:, 0]] for k in (1, 2)], axis=2)
    jacobian = formed @ np.linalg.inv(flat)
    sigma = np.linalg.svd(jacobian, compute_uv=False)
    sigma[:, 1] *= np.sign(np.linalg.det(flat))
    return sigma


def worst(sigma: np.ndarray, area: np.ndarray, spared: float, limits: Limits = BAND) -> float:
    """Utilisation of the limits once the flat has the size that suits it best; a share of the
    area is spared."""
    middle, reach = -np.log(np.sqrt(np.median(sigma[:, 0]) * abs(np.median(sigma[:, 1])))), 0.2
    best = np.inf
    for _ in range(4):
        scales = np.linspace(middle - reach, middle + reach, 41)
        found = [mesh.largest_but(limits.utilisation(np.exp(s) * sigma), area, spared * area.sum())
                 for s in scales]
        best, middle, reach = min(found), scales[int(np.argmin(found))], reach / 15
    return float(best)
