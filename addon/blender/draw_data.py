"""What the overlay draws, as arrays: pure numpy, without Blender.

Positions are in Blender units in the world, float32 as the graphics card takes them, and lie
on the sculpt itself: whoever draws them pulls them a little towards the eye.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..core import fair, mesh
from ..core.model import SCORE, TRENCH, Cut, Glance, Region
from ..core.stock import Stock
from . import colours
from .line_styles import dash_length, inked

PIECE, MATE = "piece", "mate"
TRY, RELIEF = 1.0, 1.5  # utilisation, heated: at the limit; beyond what may be tried on scrap


@dataclass(frozen=True, eq=False)
class Label:
    """A word on the sculpt, to be written at the one of its points (k, 3) that is seen best.

    kind PIECE or MATE; normals (k, 3) of the surface there; room (k,): distance to the nearest
    edge of the piece, or half the seam's length; utilisation: of a piece, NaN where unknown.
    """

    text: str
    kind: str
    points: np.ndarray
    normals: np.ndarray
    room: np.ndarray
    utilisation: float = np.nan


@dataclass(frozen=True, eq=False)
class Drawn:
    """What is drawn of one object.

    points and normals (n, 3); triangles (m, 3) with their tint (m, 3) and utilisation (m,), NaN
    where unknown; lines: ends (2 k, 3) of straight parts by kind; labels, the largest pieces
    first; cold: utilisation up to which the foam surely need not be heated.
    """

    points: np.ndarray
    normals: np.ndarray
    triangles: np.ndarray
    tint: np.ndarray
    utilisation: np.ndarray
    lines: dict[str, np.ndarray]
    labels: tuple[Label, ...]
    cold: float

    def corners(self, utilised: bool) -> dict[str, np.ndarray]:
        """Per corner of each triangle: pos and normal (3 m, 3), and colour (3 m, 4), tinted or
        by utilisation; its fourth number is then the utilisation, by which it is hatched."""
        corner = self.triangles.ravel()
        colour = np.zeros((len(corner), 4), dtype=np.float32)
        if utilised:
            u = at_vertices(self.points, self.triangles, self.utilisation)[corner]
            colour[:, :3], colour[:, 3] = colours.of_utilisation(u), np.nan_to_num(u, nan=0.0)
        else:
            colour[:, :3] = np.repeat(self.tint, 3, axis=0)
        return {"pos": self.points[corner], "normal": self.normals[corner], "colour": colour}


def at_vertices(points: np.ndarray, triangles: np.ndarray, u: np.ndarray) -> np.ndarray:
    """Utilisation (n,) at points (n, 3): the mean of that of the triangles (m, 3) round each by
    their area; NaN where unknown. For the eye alone, which a few faces would lead astray: the
    best flat of a piece is not the only one, and its faces inside may be strained this way or that.
    None counts for more than the scale shows.
    """
    area = mesh.face_normals(points.astype(float), triangles)[1] * ~np.isnan(u)
    around = lambda values: np.bincount(  # noqa: E731
        triangles.ravel(), np.repeat(values, 3), len(points))
    whole = around(area)
    total = around(area * np.minimum(np.nan_to_num(u, nan=0.0), colours.MOST))
    return np.where(whole > 0, total / np.maximum(whole, 1e-300), np.nan)


def scale_top(most: float) -> float:
    """The round number of mm, 1 or more, at the dark end of a map whose largest value is most."""
    power = 10.0 ** np.floor(np.log10(max(most, 1.0)))
    return float(next(power * k for k in (1.0, 2.0, 5.0, 10.0) if most <= power * k + 1e-9))


def map_corners(points: np.ndarray, triangles: np.ndarray, beside: np.ndarray, top: float
                ) -> dict[str, np.ndarray]:
    """As `Drawn.corners`, of points (n, 3) and triangles (m, 3) by mm (n,) on a scale up to top;
    never hatched."""
    corner = triangles.ravel()
    colour = np.zeros((len(corner), 4), dtype=np.float32)
    colour[:, :3] = colours.of_share(beside / top)[corner]
    normals = mesh.vertex_normals(points.astype(float), triangles)
    return {"pos": single(points[corner]), "normal": single(normals[corner]), "colour": colour}


def draw(glance: Glance, unit: float) -> dict[str, Drawn]:
    """The pieces of a check, as far as it has come, by the names of the objects they are of.
    unit: Blender units in one mm."""
    glance = carried(glance, None)
    if not glance.cut.regions:
        return {}
    dash = unit * dash_length(np.concatenate([r.vertices for r in glance.cut.regions]))
    objects: dict[str, list[int]] = {}
    for index, region in enumerate(glance.cut.regions):
        objects.setdefault(glance.sculpt.objects[region.object].name, []).append(index)
    return {name: _draw_object(glance, chosen, unit, dash) for name, chosen in objects.items()}


def carried(glance: Glance, earlier: Glance | None) -> Glance:
    """The glance with what it does not know yet taken from an earlier one, where the piece or the
    seam is the same: strain not known at all is NaN, a verdict None, a letter empty."""
    if earlier is None:
        earlier = Glance(glance.sculpt, Cut((), ()), (), ())
    old = dict(zip(_pieces(earlier), range(len(earlier.codes)), strict=True))
    same = [old.get(key) for key in _pieces(glance)]
    sigma = tuple(
        new if new is not None else np.full((len(region.faces), 2), np.nan)
        if i is None or not earlier.sigma else earlier.sigma[i] for i, region, new in zip(
            same, glance.cut.regions, glance.sigma or (None,) * len(same), strict=True))
    verdicts = glance.verdicts or tuple(
        None if i is None or not earlier.verdicts else earlier.verdicts[i] for i in same)
    letters = glance.letters
    if not letters:
        before = dict(zip(_seams(earlier), earlier.letters, strict=False))
        letters = tuple(before.get(key, "") for key in _seams(glance))
    return replace(glance, sigma=sigma, verdicts=verdicts, letters=letters)


def _pieces(glance: Glance) -> list[tuple]:
    return [(r.vertices.tobytes(), r.faces.tobytes(), stock)
            for r, stock in zip(glance.cut.regions, glance.stocks, strict=True)]


def _seams(glance: Glance) -> list[bytes]:
    regions = glance.cut.regions
    return [regions[r].vertices[regions[r].borders[b].vertices].tobytes()
            for r, b in (seam.sides[0] for seam in glance.cut.seams)]


def _draw_object(glance: Glance, chosen: list[int], unit: float, dash: float) -> Drawn:
    """The chosen regions, those of one object; dash: Blender units for one mm of a pattern."""
    regions = [glance.cut.regions[i] for i in chosen]
    number = {index: k for k, index in enumerate(chosen)}
    start = np.cumsum([0, *(len(r.vertices) for r in regions)])
    vertices = np.concatenate([r.vertices for r in regions])
    faces = np.concatenate([r.faces + s for r, s in zip(regions, start, strict=False)])
    normals = mesh.vertex_normals(vertices, faces)
    own = [slice(a, b) for a, b in zip(start, start[1:], strict=False)]

    seams = [i for i, s in enumerate(glance.cut.seams) if s.sides[0][0] in number]
    beside = [[number[r] for r, _ in glance.cut.seams[i].sides] for i in seams]
    tint = colours.TINTS[colours.told_apart(len(regions), beside)]
    utilisation = np.concatenate(
        [face_utilisation(glance.sigma[i], glance.stocks[i]) for i in chosen])

    sides = [(number[r], b) for r, b in (glance.cut.seams[i].sides[0] for i in seams)]
    curves = _curves(regions, sides)
    lines = {kind: inked(kind, [unit * line for line in found], dash)
             for kind, found in curves.items()}
    labels = [_piece_label(region, normals[part], glance.codes[i], unit,
                           glance.verdicts[i].heated if glance.verdicts[i] else np.nan)
              for i, region, part in zip(chosen, regions, own, strict=True)]
    labels.sort(key=lambda label: -label.room.max())
    labels += [_mate_label(curve, normals[own[r]][regions[r].borders[b].vertices],
                           glance.letters[i], unit)
               for i, curve, (r, b) in zip(seams, curves["seam"], sides, strict=True)
               if glance.letters[i]]
    return Drawn(single(unit * vertices), single(normals), faces.astype(np.int32),
                 single(np.repeat(tint, [len(r.faces) for r in regions], axis=0)),
                 utilisation, lines, tuple(labels),
                 min(surely_cold(glance.stocks[i]) for i in chosen))


def face_utilisation(sigma: np.ndarray, stock: Stock) -> np.ndarray:
    """Utilisation (m,) of each face of a flat in the heated foam, by the singular values (m, 2)
    of its forming; 1 is the limit, infinite where the face turned over, NaN where unknown."""
    return np.where(np.isnan(sigma[:, 0]), np.nan, stock.heated.utilisation(sigma))


def surely_cold(stock: Stock) -> float:
    """Utilisation in the heated foam below which no face asks too much of the cold one."""
    return min(stock.cold.stretch / stock.heated.stretch,
               stock.cold.compress / stock.heated.compress, 1.0)


def single(array: np.ndarray) -> np.ndarray:
    """In single precision, in one block, as the graphics card takes it."""
    return np.ascontiguousarray(array, dtype=np.float32)


def _curves(regions: Sequence[Region], seams: Sequence[tuple[int, int]]
            ) -> dict[str, list[np.ndarray]]:
    """Every marked line (k, 3) in mm by its kind; seams: one (region, border) of each."""
    found = {kind: [] for kind in ("rim", "score", "trench")}
    found["seam"] = [fair.curve(regions[r], regions[r].borders[b]) for r, b in seams]
    for region in regions:
        found["rim"] += [fair.curve(region, b) for b in region.borders if b.seam < 0]
        for kind, flag in (("trench", TRENCH), ("score", SCORE)):
            found[kind] += [fair.curve(region, ln) for ln in region.lines if ln.kind == flag]
    return found


def _piece_label(region: Region, normals: np.ndarray, code: str, unit: float,
                 utilisation: float) -> Label:
    """The code, at the roomiest place of each side from which a fair part of the piece is seen."""
    from scipy.spatial import cKDTree

    a, b, c = region.faces[:: max(len(region.faces) // 1000, 1)].T
    middle = lambda rows: (rows[a] + rows[b] + rows[c]) / 3  # noqa: E731
    centre, normal = middle(region.vertices), middle(normals)
    rim = np.concatenate([region.vertices[b.vertices] for b in region.borders] or [centre[:0]])
    room = cKDTree(rim).query(centre)[0] if len(rim) else np.ones(len(centre))
    axis = np.abs(normal).argmax(axis=1)
    side = 2 * axis + (normal[np.arange(len(axis)), axis] > 0)
    chosen = [group[np.argmax(room[group])] for s in range(6)
              if len(group := np.flatnonzero(side == s)) > 0.12 * len(side)]
    return Label(code, PIECE, single(unit * centre[chosen]), single(normal[chosen]),
                 unit * room[chosen], utilisation)


def _mate_label(curve: np.ndarray, normals: np.ndarray, letter: str, unit: float) -> Label:
    """The letter of both mates, at the middle of the seam, else at a quarter or three."""
    arc = mesh.arc_length(curve)
    at = arc[-1] * np.array([0.5, 0.25, 0.75])
    along = lambda rows: np.stack([np.interp(at, arc, x) for x in rows.T], axis=1)  # noqa: E731
    return Label(letter, MATE, single(unit * along(curve)), single(along(normals)),
                 np.full(3, unit * arc[-1] / 2))
