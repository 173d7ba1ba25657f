"""Worn rings: can a head or a body get into what glue makes of the pieces?

A part that goes all round the body has to go over the head or the body on its way there, as long
as no removable join opens it from rim to rim. Which measure has to pass is told by where the part
is worn; its own narrowest girth is that of its sections square to the ring's axis.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from .. import mesh
from ..errors import WARNING, Finding
from ..measures import guessed, span
from ..model import Cut, Piece
from ..units import format_length

PASSES = {"head": ("head", "head"), "neck": ("head", "head"), "torso": ("body", "chest"),
          "hips": ("body", "hips")}  # worn on: what goes through, and by which measure
LEVELS = 24  # sections in which a ring is measured
BAG = 2.5  # times the area of the flat disc in its rim: a shell of more closes round what is in
# it (2 is a half ball)
CLOSED = 0.4  # of the disc in a circle of its length, which a rim that goes round an opening holds
ROUND = 0.25  # share of the longest rim below which a rim is a hole in the ring, no way through


def ring_findings(cut: Cut, pieces: Sequence[Piece], removable: Sequence[bool],
                  worn: Sequence[str] = (), wearer: Mapping[str, float] | None = None
                  ) -> list[Finding]:
    """`no-way-in`: parts worn round the head, neck, torso or hips that nothing gets into.

    removable: per seam of the cut, whether it is undone to put the suit on. worn: of each object
    of the sculpt where it is worn, "" for as its name says; wearer: own measures in mm, by their
    names.
    """
    found = []
    for members, points, faces in _parts(cut, removable):
        piece = pieces[members[0]]
        home = cut.regions[members[0]].object
        place = (worn[home] if home < len(worn) else "") or guessed(piece.object)
        what, measure = PASSES.get(place, ("", ""))
        if not what:
            continue
        inward = piece.stock.depths(piece.side)[1]
        girth = passage(points, faces) - 2 * math.pi * inward
        needed = span(measure, wearer)[1]
        upto = "" if (wearer or {}).get(measure) else "up to "
        if girth < needed:
            codes = ", ".join(pieces[k].code for k in members)
            found.append(Finding(
                "no-way-in", WARNING,
                f"{codes}, glued together, go all round, and their narrowest inside, about "
                f"{format_length(max(girth, 0.0))} round, lets no {what} through, which measures "
                f"{upto}{format_length(needed)}.",
                "Make a seam from rim to rim removable (hook-and-loop or straps), or two on "
                "opposite sides.", piece=piece.code,
                faces=np.concatenate([pieces[k].source_face for k in members])))
    return found


def passage(points: np.ndarray, faces: np.ndarray) -> float:
    """The narrowest girth, mm, that what gets into a surface from a rim has to pass; infinite
    where it does not go all round. Girths are of the convex hulls of sections, as a tape
    measures."""
    loops = [points[faces.ravel()[loop]] for loop in mesh.boundary_loops(faces)]
    if not loops:
        return 0.0
    lengths = [mesh.polyline_length(np.append(r, r[:1], axis=0)) for r in loops]
    rims = [r for r, size in zip(loops, lengths, strict=True) if size > ROUND * max(lengths)]
    across = [np.cross(r, np.roll(r, -1, axis=0)).sum(0) / 2 for r in rims]
    area = float(mesh.face_normals(points, faces)[1].sum())
    largest = max(across, key=np.linalg.norm)
    if len(rims) < 2:
        round_it = max(lengths) ** 2 / (4 * math.pi)
        size = np.linalg.norm(largest)
        if area < BAG * size or size < CLOSED * round_it:
            return math.inf
        return _girth(rims[0], largest)
    axis = largest / max(np.linalg.norm(largest), 1e-9)
    height = points @ axis
    ends = sorted(float((r @ axis).mean()) for r in rims)
    return min([_girth(r, axis) for r in rims]
               + [_girth(cut, axis) for level in np.linspace(ends[0], ends[-1], LEVELS + 2)[1:-1]
                  if _goes_round(cut := _section(points, faces, height, level), axis)])


def _section(points: np.ndarray, faces: np.ndarray, height: np.ndarray, level: float
             ) -> np.ndarray:
    """Points (k, 3) in which the edges of a surface cross a level."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    a, b = height[start] - level, height[end] - level
    cross = (a < 0) != (b < 0)
    share = (a[cross] / (a[cross] - b[cross]))[:, None]
    return (1 - share) * points[start[cross]] + share * points[end[cross]]


def _goes_round(section: np.ndarray, axis: np.ndarray) -> bool:
    """Do points lie all round their middle, seen along the axis?"""
    if len(section) < 8:
        return False
    flat = _flat(section, axis)
    flat = flat - (flat.min(0) + flat.max(0)) / 2
    angle = np.sort(np.arctan2(flat[:, 1], flat[:, 0]))
    return float(np.diff(np.append(angle, angle[0] + 2 * np.pi)).max()) < np.pi / 2


def _girth(points: np.ndarray, axis: np.ndarray) -> float:
    import shapely

    return float(shapely.MultiPoint(_flat(points, axis)).convex_hull.length)


def _flat(points: np.ndarray, axis: np.ndarray) -> np.ndarray:
    return points @ np.linalg.svd(axis[None])[2][1:].T


def _parts(cut: Cut, removable: Sequence[bool]):
    """Of what glue holds together: its regions, and the surface (points, faces) they make, open
    along what is not glued."""
    starts = np.cumsum([0] + [len(r.vertices) for r in cut.regions])
    points = np.concatenate([r.vertices for r in cut.regions])
    links = []
    for seam, apart in zip(cut.seams, removable, strict=True):
        if apart:
            continue
        one, other = (starts[r] + cut.regions[r].borders[b].vertices for r, b in seam.sides)
        links.append(np.stack([one, other[::-1]], axis=1))
    _, label = mesh.components(len(points), np.concatenate([np.empty((0, 2), int), *links]))
    faces = [r.faces + s for r, s in zip(cut.regions, starts, strict=False)]
    whole = label[np.concatenate(faces)]
    start, end, _ = mesh.half_edges(whole)
    _, part = mesh.components(int(label.max()) + 1, np.stack([start, end], axis=1))
    first = np.unique(label, return_index=True)[1]
    of_region = [int(part[label[s]]) for s in starts[:-1]]
    for number in dict.fromkeys(of_region):
        members = [k for k, p in enumerate(of_region) if p == number]
        mine = np.concatenate([label[faces[k]] for k in members])
        used, local = np.unique(mine, return_inverse=True)
        yield members, points[first[used]], local.reshape(-1, 3)
