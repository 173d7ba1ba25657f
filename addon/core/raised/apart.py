"""Make a raised shape a piece of its own, glued on what is then smooth below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..model import INNER, Sculpt, SculptObject, Settings
from ..stock import Stock
from .find import Raised, raised
from .lower import lowered


def nearest_stock(stocks: Sequence[Stock], height: float) -> Stock:
    """The foam whose thickness is nearest to the height of a step, mm; the thinner of two."""
    return min(stocks, key=lambda stock: (round(abs(stock.thickness - height), 6),
                                          stock.thickness))


def apart(sculpt: Sculpt, settings: Settings, one: Raised, stock: Stock) -> Sculpt:
    """A sculpt in which a raised shape is let down and lies again on top as an object of its own.

    That is sculpted as its inner face, which touches the outer face of the foam below. Marks on
    the edges of the step go with it. Raises FoamError `not-lowered`.
    """
    down = lowered(sculpt, one)
    base = sculpt.objects[one.object]
    front = (base.stock or settings.stock).depths(base.side or settings.side)[0]
    on_top = down.faces[down.top]
    ids, local = np.unique(on_top, return_inverse=True)
    local = local.reshape(-1, 3)
    out = mesh.vertex_normals(down.vertices[ids], local)
    vertices = np.concatenate([down.vertices, down.vertices[ids] + front * out])
    faces = np.concatenate([down.faces, local + len(down.vertices)])
    detail = SculptObject(_name(sculpt, base.name), stock, INNER)  # that it touches tells the rest
    polygon = sculpt.polygon[down.source]
    whole = replace(
        sculpt, vertices=vertices, faces=faces,
        face_object=np.concatenate([sculpt.face_object[down.source],
                                    np.full(len(local), len(sculpt.objects))]),
        objects=(*sculpt.objects, detail),
        polygon=np.concatenate([polygon, polygon[down.top] + polygon.max() + 1]),
        origin=np.arange(len(faces)), uncut=(), parent=())
    return _tidied(whole)


def all_apart(sculpt: Sculpt, settings: Settings, stocks: Sequence[Stock]) -> Sculpt:
    """With every raised shape made an object of its own, of the nearest foam; what is raised on
    another first. Heights and foam are in mm of the suit as built, whatever the settings' scale.
    """
    sculpt = sculpt.scaled(settings.scale)
    while shapes := [one for one in raised(sculpt) if one.height > 0]:
        sculpt = apart(sculpt, settings, shapes[0], nearest_stock(stocks, shapes[0].height))
    return sculpt.scaled(1 / settings.scale)


def _name(sculpt: Sculpt, base: str) -> str:
    taken = {thing.name for thing in sculpt.objects}
    names = [f"{base} detail", *(f"{base} detail {n}" for n in range(2, len(taken) + 2))]
    return next(name for name in names if name not in taken)


def _tidied(sculpt: Sculpt) -> Sculpt:
    """Without vertices that no face uses any more, and without marks where no edge is."""
    used = np.union1d(np.unique(sculpt.faces), sculpt.unbuilt).astype(np.int64)
    number = np.full(len(sculpt.vertices), -1)
    number[used] = np.arange(len(used))
    start, end, _ = mesh.half_edges(sculpt.faces)
    size = len(sculpt.vertices)
    there = np.isin(mesh.edge_keys(sculpt.edges, size),
                    mesh.edge_keys(np.stack([start, end], axis=1), size))
    return replace(sculpt, vertices=sculpt.vertices[used], faces=number[sculpt.faces],
                   edges=number[sculpt.edges[there]], kinds=sculpt.kinds[there],
                   unbuilt=number[np.asarray(sculpt.unbuilt, dtype=np.int64)])
