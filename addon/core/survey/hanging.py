"""How the faces of one object hang together: parts, rims, and edges that only look joined."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..errors import NOTE, WARNING, Finding
from ..model import Sculpt

TOGETHER = 1e-6  # of an object's size: vertices nearer than this lie on each other
CRUMB = 0.02  # of the largest part's size: a smaller part was hardly meant
HOLE = 0.005  # of its part's area: a rim that could enclose no more goes round a small hole
SIDES = 4  # that a face left out has at most
FACE = 1.2  # times the outline of a face beside it: a shorter rim is that of a missing face


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the faces (k,) of one object hang together, once vertices in one place are one.

    part (k,) labels, largest part first; count of parts; size (count,) diagonal of the box
    round each, mm; area (count,) mm^2. rims: closed lines of vertices, first and last the same,
    where it ends. owner (n,): of each vertex on a rim a face that has it, index into faces.
    split (s, 2): edges on the rim of the mesh as it is that lie on another such edge.
    """

    faces: np.ndarray
    part: np.ndarray
    count: int
    size: np.ndarray
    area: np.ndarray
    rims: tuple[np.ndarray, ...]
    owner: np.ndarray
    split: np.ndarray

    @classmethod
    def of(cls, sculpt: Sculpt, faces: np.ndarray) -> Hanging:
        corners = sculpt.faces[faces]
        edges = _sides(corners)
        rim = _single(mesh.edge_keys(edges, len(sculpt.vertices)))
        together = _together(sculpt.vertices, np.unique(edges[rim]))
        joined = together[edges]
        key = mesh.edge_keys(joined, len(sculpt.vertices))
        open_ = _single(key)
        _, label = mesh.components(len(sculpt.vertices), joined)
        part, count, size = _by_size(sculpt.vertices, corners, label[joined[::3, 0]])
        lines = mesh.chains(joined[open_])
        owner = np.full(len(sculpt.vertices), -1)
        owner[joined[open_, 0]] = np.flatnonzero(open_) // 3
        _, area = mesh.face_normals(sculpt.vertices, corners)
        return cls(faces, part, count, size, np.bincount(part, area, minlength=count),
                   tuple(line for line in lines if line[0] == line[-1]), owner,
                   edges[rim & ~open_])


def findings(sculpt: Sculpt, hanging: Hanging, name: str) -> Iterator[Finding]:
    """What is torn or loose in one object."""
    if len(hanging.split):
        count = len(hanging.split)
        yield Finding(
            "split-vertices", WARNING,
            f"“{name}” has {count} edges that look joined and are not: the vertices at their ends "
            "only lie on each other.",
            "Merge vertices by distance, or the foam falls apart there.",
            edges=hanging.split)
    yield from _loose(hanging, name)
    yield from _holes(sculpt, hanging, name)


def _loose(hanging: Hanging, name: str) -> Iterator[Finding]:
    crumb = hanging.size < CRUMB * hanging.size.max()
    crumbs = hanging.faces[crumb[hanging.part]]
    if len(crumbs):
        count = int(crumb.sum())
        yield Finding(
            "crumbs", WARNING,
            f"“{name}” has {count} tiny loose {'part' if count == 1 else 'parts'}, at most "
            f"{hanging.size[crumb].max():.1f} mm long.",
            "Delete what is left over from modelling; each would become a piece of its own.",
            faces=crumbs)
    others = hanging.faces[(hanging.part > 0) & ~crumb[hanging.part]]
    if len(others):
        count = hanging.count - int(crumb.sum())
        yield Finding(
            "loose-parts", NOTE,
            f"“{name}” is {count} parts that are not joined to each other.",
            "Separate them if they are to be of different foam; else nothing need be done.",
            faces=others)


def _holes(sculpt: Sculpt, hanging: Hanging, name: str) -> Iterator[Finding]:
    """Rims that are short beside their part, or no longer than a face beside them."""
    outline = _outlines(sculpt, hanging.faces)
    for rim in hanging.rims:
        length = mesh.polyline_length(sculpt.vertices[rim])
        beside = hanging.owner[rim]
        # No line of a length encloses more than the circle.
        small = length**2 / (4 * np.pi) < HOLE * hanging.area[hanging.part[beside[0]]]
        missing = len(rim) - 1 <= SIDES and length <= FACE * outline[beside].max()
        if small or missing:
            what = "looks like a missing face" if missing else "is small beside the rest"
            yield Finding(
                "small-hole", NOTE,
                f"“{name}” has a hole {_in_words(length)} round, which {what}.",
                "Fill it, unless you meant it.",
                edges=np.stack([rim[:-1], rim[1:]], axis=1))


def _in_words(length: float) -> str:
    """A length in mm, as exact as it matters; never 0."""
    return f"{length:.0f} mm" if length >= 10 else (
        f"{length:.1f} mm" if length >= 0.1 else "less than 0.1 mm")


def _outlines(sculpt: Sculpt, faces: np.ndarray) -> np.ndarray:
    """Length (k,) round the maker's own face that each triangle is part of."""
    _, polygon = np.unique(sculpt.polygon[faces], return_inverse=True)
    edges = _sides(sculpt.faces[faces])
    owner = np.repeat(polygon, 3)
    _, key = np.unique(mesh.edge_keys(edges, len(sculpt.vertices)), return_inverse=True)
    outer = _single(owner * (key.max() + 1) + key)
    length = np.linalg.norm(np.diff(sculpt.vertices[edges], axis=1)[:, 0], axis=1)
    return np.bincount(owner, length * outer)[polygon]


def _sides(corners: np.ndarray) -> np.ndarray:
    """Sides (3k, 2) of triangles (k, 3)."""
    return np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2)


def _single(keys: np.ndarray) -> np.ndarray:
    """Which of the keys (k,) come once only."""
    _, inverse, counts = np.unique(keys, return_inverse=True, return_counts=True)
    return counts[inverse] == 1


def _together(vertices: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """For each vertex (n,) the first of the chosen ones that lies on it, else itself."""
    together = np.arange(len(vertices))
    points = vertices[chosen]
    finite = np.isfinite(points).all(axis=1)
    chosen, points = chosen[finite], points[finite]
    if len(chosen):
        step = TOGETHER * max(float(np.ptp(points, axis=0).max()), 1e-300)
        place = np.rint((points - points.min(axis=0)) / step).astype(np.int64)
        _, first, inverse = np.unique(place, axis=0, return_index=True, return_inverse=True)
        together[chosen] = chosen[first[inverse.ravel()]]
    return together


def _by_size(vertices: np.ndarray, corners: np.ndarray, label: np.ndarray
             ) -> tuple[np.ndarray, int, np.ndarray]:
    """Labels (k,) from 0 on in falling order of size, their number, and the sizes (count,)."""
    _, part = np.unique(label, return_inverse=True)
    count = int(part.max()) + 1
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    for corner in corners.T:
        points = np.nan_to_num(vertices[corner], posinf=0.0, neginf=0.0)
        np.minimum.at(low, part, points)
        np.maximum.at(high, part, points)
    size = np.linalg.norm(high - low, axis=1)
    order = np.argsort(-size, kind="stable")
    rank = np.empty(count, dtype=np.int64)
    rank[order] = np.arange(count)
    return rank[part], count, size[order]
