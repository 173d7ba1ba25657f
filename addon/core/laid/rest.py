"""Which parts of a sculpt lie on others, found by contact or set by hand, and set down there."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..errors import NOTE, WARNING, Finding
from ..model import INNER, MIDDLE, OUTER, Sculpt, Settings
from ..units import format_length
from .ground import Ground, samples

ASKED = 400  # samples of a part, about, that tell whether it lies on something
HALF = 0.5  # share of a part that must touch
FAR = 3.0  # tolerances within which a detail that does not touch is pointed out
BITE = 1.0  # mm by which single vertices may stray further than a detail as a whole
STILL = 0.05  # mm by which a sculpt may stray without being moved


@dataclass(frozen=True, eq=False)
class Rested:
    """A sculpt with its details set down on what they lie on.

    number (m,): of each face of the sculpt as it was read, the detail it belongs to, -1 for
    none; sides: which face of its foam each detail was sculpted as; on: the objects it may lie on.
    """

    sculpt: Sculpt
    number: np.ndarray
    sides: tuple[str, ...] = ()
    on: tuple[tuple[int, ...], ...] = ()

    def side(self, faces: np.ndarray) -> str:
        """The face of its foam that a part with these faces (k,) was sculpted as, "" where it is
        no detail."""
        number = int(self.number[faces[0]])
        return self.sides[number] if number >= 0 else ""


def building_order(sculpt: Sculpt) -> Iterator[tuple[int, list[int]]]:
    """The objects from the largest to the smallest, each after the one it is said to lie on, with
    those before it, or the one it is said to lie on: what it may lie on."""
    _, area = mesh.face_normals(sculpt.vertices, sculpt.faces)
    size = np.bincount(sculpt.face_object, area, minlength=len(sculpt.objects))
    name = {thing.name: k for k, thing in enumerate(sculpt.objects)}
    left = sorted(np.unique(sculpt.face_object).tolist(), key=lambda k: (-round(size[k], 1), k))
    done: list[int] = []
    while left:
        ready = [k for k in left
                 if name.get(sculpt.objects[k].lies_on, k) in (k, *done)] or left
        thing = ready[0]
        left.remove(thing)
        given = sculpt.objects[thing].lies_on
        yield thing, (list(done) if given is None else [name[given]]
                      if name.get(given, -1) in done else [])
        done.append(thing)


def front_of(sculpt: Sculpt, settings: Settings, thing: int) -> float:
    """From the sculpt's face of an object out to the front of its foam, mm."""
    stock = sculpt.objects[thing].stock or settings.stock
    return stock.depths(sculpt.objects[thing].side or settings.side)[0]


def rest(sculpt: Sculpt, settings: Settings, nearest: Callable,
         solids: Collection[int] = ()) -> Rested:
    """The sculpt with details set down on what they lie on.

    solids: objects of which the faces that touch, and the walls, have been taken off.
    nearest: makes a surface that tells nearest points, see trace.Surface. A detail that touches
    with more than half of it, within the settings' tolerance, lies there. What an object was set
    to lie on by hand need not touch so well; that it does not is told.
    """
    number = np.full(int(sculpt.origin.max(initial=-1)) + 1, -1)
    if len(sculpt.objects) < 2:
        return Rested(sculpt, number)
    start, end, _ = mesh.half_edges(sculpt.faces)
    _, label = mesh.components(len(sculpt.vertices), np.stack([start, end], axis=1))
    part = label[sculpt.faces[:, 0]]
    vertices, sides, on, found = sculpt.vertices.copy(), [], [], []
    grounds: dict[int, list[Ground]] = {}
    for thing, below in building_order(sculpt):
        given = sculpt.objects[thing]
        stock = given.stock or settings.stock
        own = np.flatnonzero(sculpt.face_object == thing)
        grounds[thing] = []
        loose: dict[float, list[np.ndarray]] = {}
        for which in np.unique(part[own]):
            ids = own[part[own] == which]
            lie = _lie(vertices, sculpt.faces[ids], [g for k in below for g in grounds[k]],
                       stock.thickness, given.side or (OUTER if thing in solids else None),
                       settings.contact)
            side = given.side or settings.side
            if lie is not None and (lie.share >= HALF or given.lies_on and lie.near >= HALF):
                if lie.share < HALF:
                    found.append(_floats(given.name, given.lies_on, lie, sculpt.origin[ids]))
                side = lie.side
                number[sculpt.origin[ids]] = len(sides)
                sides.append(side)
                on.append(tuple(below))
                used = np.unique(sculpt.faces[ids])
                vertices[used] += _down(vertices[used], np.searchsorted(used, sculpt.faces[ids]),
                                        [g for k in below for g in grounds[k]], lie.level,
                                        settings.contact * (1 if lie.share >= HALF else FAR))
            elif given.lies_on:
                known = any(one.name == given.lies_on for one in sculpt.objects)
                found.append(Finding(
                    "detail-floats", WARNING,
                    f"“{given.name}” is set to lie on “{given.lies_on}” but does not touch it."
                    if known else f"“{given.name}” is set to lie on “{given.lies_on}”, which is "
                    "no part of the suit.",
                    "Move it there, or choose what it lies on. It is made as a piece by itself.",
                    faces=sculpt.origin[ids]))
            elif lie is not None and lie.near >= 0.9 and given.lies_on is None:
                thick = stock.thickness if thing in solids else 0.0
                found.append(_apart(given.name, lie, thick, sculpt.origin[ids]))
            loose.setdefault(stock.depths(side)[0], []).append(ids)
        for front, groups in loose.items():
            grounds[thing].append(Ground(vertices, sculpt.faces[np.concatenate(groups)], front,
                                         nearest))
    if not sides and not found:
        return Rested(sculpt, number)
    return Rested(replace(sculpt, vertices=vertices, findings=(*sculpt.findings, *found)), number,
                  tuple(sides), tuple(on))


@dataclass(frozen=True)
class _Lie:
    """side: face of the foam that was sculpted, level: its height over the base, share: of the
    part that touches, near: that nearly does, median: how far off it is in the middle, mm."""

    side: str
    level: float
    share: float
    near: float
    median: float


def _over(points: np.ndarray, normals: np.ndarray | None, grounds: list[Ground], lowest: float
          ) -> tuple[np.ndarray, np.ndarray]:
    """Height (k,) of places over the topmost ground under them, and its normal (k, 3)."""
    top, normal = np.full(len(points), np.inf), np.zeros((len(points), 3))
    for ground in grounds:
        if ground.near(points, 100.0):
            found = ground.heights(points, normals)
            better = (found.height < top) & (found.height >= lowest)
            top[better], normal[better] = found.height[better], found.normal[better]
    return top, normal


def _lie(vertices: np.ndarray, faces: np.ndarray, grounds: list[Ground], thickness: float,
         side: str | None, tolerance: float) -> _Lie | None:
    reach = thickness + FAR * tolerance
    grounds = [g for g in grounds if g.near(vertices[faces.ravel()], reach + g.front)]
    if not grounds:
        return None
    points, normals, area = (x[::max(1, len(x) // ASKED)] for x in samples(vertices, faces))
    top, _ = _over(points, normals, grounds, -FAR * tolerance)
    levels = {INNER: 0.0, MIDDLE: thickness / 2, OUTER: thickness}
    tried = []
    for name, level in levels.items():
        if side in (None, name):
            off = top - level
            touch, near = (np.abs(off) <= tolerance), (np.abs(off) <= FAR * tolerance)
            share, close = (float(area[on].sum() / area.sum()) for on in (touch, near))
            mean = float(np.abs(off[near]).mean()) if near.any() else np.inf
            median = float(np.median(off[near])) if near.any() else np.inf
            tried.append(((round(share, 1), -mean), _Lie(name, level, share, close, median)))
    return max(tried, key=lambda one: one[0])[1]


def _down(points: np.ndarray, faces: np.ndarray, grounds: list[Ground], level: float,
          reach: float) -> np.ndarray:
    """Moves (k, 3) that set a detail's vertices down at a height over what is under them.

    Evened out over the size of the ground's facets, so that a smooth detail does not take them
    over; none where that is all it would do.
    """
    from scipy.sparse import coo_matrix, diags
    from scipy.sparse.linalg import spsolve

    top, normal = _over(points, None, grounds, level - reach - BITE)
    off = top - level
    known = np.abs(off) <= reach + BITE
    if not known.any():
        return np.zeros_like(points)
    pairs = np.unique(np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]
                                             ), axis=1), axis=0)
    size = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    scale = max(g.edge() for g in grounds)
    weight = np.minimum((scale / np.maximum(size, 1e-6)) ** 2, 1e4)
    i, j = pairs.T
    count = len(points)
    links = coo_matrix((np.tile(weight, 2), (np.append(i, j), np.append(j, i))), (count, count))
    system = diags(known + 1e-9) + diags(np.asarray(links.sum(axis=1)).ravel()) - links.tocsr()
    right = np.stack([np.where(known, off, 0.0), *(np.where(known, n, 0.0) for n in normal.T)], 1)
    solved = spsolve(system.tocsc(), right)
    if np.abs(solved[:, 0]).max() < STILL:
        return np.zeros_like(points)
    way = np.where(known[:, None], normal, solved[:, 1:])
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    return -solved[:, :1] * way


def _floats(name: str, base: str, lie: _Lie, faces: np.ndarray) -> Finding:
    return Finding(
        "detail-floats", WARNING,
        f"“{name}” is set to lie on “{base}” but is {_off(lie)}.",
        "It is made as if it lay on it. Move it there, or raise the tolerance, if that is wrong.",
        faces=faces)


def _apart(name: str, lie: _Lie, thick: float, faces: np.ndarray) -> Finding:
    """thick: of the foam of a detail that was sculpted as a solid."""
    if thick:
        return Finding(
            "detail-floats", WARNING,
            f"“{name}” stands {format_length(round(thick + lie.median, 1))} high on what is under "
            f"it, but its foam is {format_length(thick)} thick, so it is a piece by itself.",
            "Give it foam as thick as it is, or sculpt it as thick as the foam.", faces=faces)
    return Finding(
        "detail-floats", NOTE,
        f"“{name}” is {_off(lie)} what is under it, so it is a piece by itself.",
        "If it is to be glued on, move it there, or set what it lies on.", faces=faces)


def _off(lie: _Lie) -> str:
    size = format_length(round(abs(lie.median), 1), "mm")
    return f"about {size} {'over' if lie.median > 0 else 'inside of'}"
