"""Is the sculpt fit to be cut? Names every fault and where it is; repairs nothing.

Whether a part can be opened along its seams is judged where it is cut, since
seams may still be added by angle. See `seams.cut`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from . import measures, mesh, smears
from .errors import ERROR, NOTE, WARNING, Finding, FoamError, severity_rank
from .model import SCORE, SEAM, TRENCH, Sculpt

FLAT = 1e-9  # height over longest side of a triangle that counts as having no area
SMALLEST, LARGEST = 5.0, 5000.0  # mm; a sculpt outside was read in the wrong unit
LEAST, MOST = 0.05, 20_000.0  # mm; one outside would fill no page, or thousands


def inspect(sculpt: Sculpt) -> tuple[Finding, ...]:
    """Everything that is wrong with the sculpt or worth knowing, worst first.

    Raises FoamError with all the fatal findings when the sculpt cannot be cut.
    Takes about a second per million faces.
    """
    found = faults(sculpt)
    fatal = [finding for finding in found if finding.severity == ERROR]
    if fatal:
        raise FoamError(*fatal)
    return found


def faults(sculpt: Sculpt) -> tuple[Finding, ...]:
    """What `inspect` finds, fatal or not. Raises FoamError `no-faces` alone."""
    if len(sculpt.faces) == 0:
        raise FoamError(Finding(
            "no-faces", ERROR, "The sculpt has no faces.",
            "Choose a mesh object that has a surface, or export the file again with its faces."))
    if sculpt.faces.min() < 0 or sculpt.faces.max() >= len(sculpt.vertices):
        raise ValueError("faces refer to vertices that do not exist")
    topology = _Topology.of(sculpt)
    return tuple(sorted((*_empty(sculpt), *_shape(sculpt, topology.broken),
                         *_surface(sculpt, topology), *_marks(sculpt, topology)),
                        key=severity_rank))


def _empty(sculpt: Sculpt) -> Iterator[Finding]:
    with_faces = np.bincount(sculpt.face_object, minlength=len(sculpt.objects)) > 0
    for number in np.flatnonzero(~with_faces):
        yield Finding(
            "object-without-faces", WARNING, f"“{sculpt.objects[number].name}” has no faces to "
            "make of foam.",
            "Give it a surface, build faces that were left out, or take it out of the suit.")


@dataclass(frozen=True)
class _Topology:
    """Undirected edges of the sound faces and how faces meet along them.

    broken (m,) faces without area or with a corner nowhere; duplicate (m,) all but
    the first of faces on the same corners. Neither takes part in the rest:
    ends (e, 2), key (e,) ascending and faces_on (e,) of each edge; pairs (p, 2) the
    faces beside an edge of two; alike (p,) both run along it the same way, so one
    of them is turned over; half_edge (h,) the edge of each half-edge, face (h,) its face.
    """

    broken: np.ndarray
    duplicate: np.ndarray
    ends: np.ndarray
    key: np.ndarray
    faces_on: np.ndarray
    pairs: np.ndarray
    alike: np.ndarray
    half_edge: np.ndarray
    face: np.ndarray

    @classmethod
    def of(cls, sculpt: Sculpt) -> _Topology:
        faces, count = sculpt.faces, len(sculpt.vertices)
        broken = _without_area(sculpt.vertices, faces)
        duplicate = _duplicates(faces, count) & ~broken
        kept = np.flatnonzero(~broken & ~duplicate)
        start = faces[kept].ravel()
        end = np.roll(faces[kept], -1, axis=1).ravel()
        key = mesh.edge_keys(np.stack([start, end], axis=1), count)
        order = np.argsort(key, kind="stable")
        ordered = key[order]
        first = np.flatnonzero(np.diff(ordered, prepend=-1))
        faces_on = np.diff(np.append(first, len(ordered)))
        half_edge = np.empty(len(key), dtype=np.int64)
        half_edge[order] = np.repeat(np.arange(len(first)), faces_on)
        face = np.repeat(kept, 3)
        two = first[faces_on == 2]
        beside = order[np.stack([two, two + 1], axis=1)]
        key = ordered[first]
        return cls(broken, duplicate, np.stack([key // count, key % count], axis=1), key,
                   faces_on, face[beside], start[beside[:, 0]] == start[beside[:, 1]],
                   half_edge, face)


def _without_area(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Faces (m,) whose height is nothing beside their longest side, or not a number."""
    corners = vertices[faces]
    with np.errstate(invalid="ignore", over="ignore"):
        sides = np.roll(corners, -1, axis=1) - corners
        double = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
        longest = np.einsum("ijk,ijk->ij", sides, sides).max(axis=1)
        return ~(double > FLAT * longest)


def _duplicates(faces: np.ndarray, count: int) -> np.ndarray:
    """Faces (m,) on the same three corners as an earlier one, whichever way they are wound."""
    a, b, c = np.sort(faces, axis=1).T
    pair = a * count + b
    order = np.lexsort((c, pair))  # stable, so the earliest face of each group comes first
    same = (np.diff(pair[order]) == 0) & (np.diff(c[order]) == 0)
    duplicate = np.zeros(len(faces), dtype=bool)
    duplicate[order[1:][same]] = True
    return duplicate


# --- vertices and single faces -----------------------------------------------


def _shape(sculpt: Sculpt, broken: np.ndarray) -> Iterator[Finding]:
    finite = np.isfinite(sculpt.vertices).all(axis=1)
    used = np.zeros(len(sculpt.vertices), dtype=bool)
    used[sculpt.faces] = True
    nowhere = np.flatnonzero(~finite)
    if len(nowhere):
        yield Finding(
            "not-finite", ERROR, f"{_count(nowhere, 'vertex lies', 'vertices lie')} nowhere: a "
            "coordinate is not a number or infinite.",
            "Delete these vertices or give them a position.", vertices=nowhere)
    flat = np.flatnonzero(broken & finite[sculpt.faces].all(axis=1))
    if len(flat):
        yield Finding(
            "zero-area-face", ERROR, f"{_count(flat, 'face has', 'faces have')} no area. "
            + _near(sculpt, sculpt.faces[flat[0]]),
            "Merge vertices by distance or dissolve degenerate faces in the modeller.",
            faces=flat)
    meant = used.copy()
    meant[sculpt.unbuilt] = True
    loose = np.flatnonzero(finite & ~meant)
    if len(loose):
        yield Finding(
            "loose-vertices", NOTE, f"{_count(loose, 'vertex belongs', 'vertices belong')} to no "
            "face. " + _near(sculpt, loose), "They are ignored; delete them if you like.",
            vertices=loose)
    points = sculpt.vertices[finite & used]
    size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    if size and not SMALLEST <= size <= LARGEST:
        yield Finding(
            "implausible-size", WARNING if LEAST <= size <= MOST else ERROR,
            f"The whole sculpt measures {measures.size_text(size)}, too "
            f"{'small' if size < SMALLEST else 'large'} for armour: "
            f"{measures.likeness(size)}. "
            f"{measures.explanation(size, measures.plausible())}".strip(),
            "Say in which unit the sculpt was made, or scale it to the size at which it is worn.",
            vertices=_farthest(sculpt, finite & used))


def _farthest(sculpt: Sculpt, chosen: np.ndarray) -> np.ndarray:
    """The chosen vertices (n,) at both ends of the longest side of the box round them."""
    ids = np.flatnonzero(chosen)
    points = sculpt.vertices[ids]
    along = points[:, np.argmax(np.ptp(points, axis=0))]
    return ids[[along.argmin(), along.argmax()]]


# --- how faces meet ----------------------------------------------------------


def _surface(sculpt: Sculpt, topology: _Topology) -> Iterator[Finding]:
    twice = np.flatnonzero(topology.duplicate)
    if len(twice):
        yield Finding(
            "duplicate-face", ERROR, f"{_count(twice, 'face lies', 'faces lie')} exactly on "
            "another one. " + _near(sculpt, sculpt.faces[twice[0]]),
            "Delete one face of each pair.", faces=twice)
    many = np.flatnonzero(topology.faces_on > 2)
    if len(many):
        edges = topology.ends[many]
        yield Finding(
            "non-manifold-edge", ERROR, f"{_count(many, 'edge has', 'edges have')} three or more "
            "faces, so foam would branch there. " + _near(sculpt, edges[0]),
            "Delete the faces inside, or separate the parts that meet here.",
            edges=edges, faces=np.unique(topology.face[topology.faces_on[topology.half_edge] > 2]))
    yield from _winding(sculpt, topology)


def _winding(sculpt: Sculpt, topology: _Topology) -> Iterator[Finding]:
    """Faces that look the other way than their neighbours, and closed parts turned inside out."""
    turned, one_sided = _turned(topology, len(sculpt.faces))
    if one_sided.any():
        faces = np.flatnonzero(one_sided)
        yield Finding(
            "one-sided", ERROR, "A part of the surface has only one side, like a twisted ring. "
            + _near(sculpt, sculpt.faces[faces[0]]),
            "Cut the ring open and join it again without the twist.", faces=faces)
    number, part = mesh.components(len(sculpt.faces), topology.pairs)
    points = np.nan_to_num(sculpt.vertices, posinf=0.0, neginf=0.0)
    points -= points.mean(axis=0)
    a, b, c = (points[sculpt.faces[:, i]] for i in range(3))
    sign = np.where(turned, -1.0, 1.0)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    volume = np.bincount(part, sign * np.einsum("ij,ij->i", a, np.cross(b, c)) / 6, number)
    whole = np.bincount(part, area, number)
    closed = np.ones(number, dtype=bool)
    closed[part[topology.face[topology.faces_on[topology.half_edge] != 2]]] = False
    closed[part[topology.broken | topology.duplicate | one_sided]] = False
    closed &= np.abs(volume) > 1e-9 * whole**1.5  # else a double sheet: no inside
    # What is turned: in a closed part the faces that look inward, in an open one the lesser half.
    lesser = np.bincount(part, area * turned, number) > whole / 2
    swap = np.where(closed, volume < 0, lesser)
    mixed = np.bincount(part, turned, number) > 0
    hollow = _cavities(sculpt, part, np.flatnonzero(closed & ~mixed & (volume < 0)),
                       np.flatnonzero(closed & ~mixed & (volume > 0)))
    swap[hollow] = False
    wrong = np.flatnonzero((turned ^ swap[part]) & ~one_sided)
    if len(wrong):
        edges = topology.ends[topology.faces_on == 2][topology.alike]
        yield Finding(
            "flipped-normals", ERROR, f"{_count(wrong, 'face looks', 'faces look')} inward, "
            "so that outside and inside of the foam are confused. "
            + _near(sculpt, sculpt.faces[wrong[0]]),
            "Recalculate the normals so that every face looks outward. A mirrored object "
            "needs its negative scale applied first.", faces=wrong, edges=edges)


def _turned(topology: _Topology, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Faces (m,) of one of the two windings of each part, and faces of one-sided parts.

    Which of the two windings is the right one is for the caller to judge. Every face
    is looked at twice, as it is and turned over (face + count), and linked to the view
    of its neighbour that agrees with it: two groups a part, or one where the part has
    a single side.
    """
    none = np.zeros(count, dtype=bool)
    if not topology.alike.any():
        return none, none
    f, g = topology.pairs.T
    other = np.where(topology.alike, count, 0)
    links = np.concatenate([np.stack([f, g + other], axis=1),
                            np.stack([f + count, g + count - other], axis=1)])
    _, label = mesh.components(2 * count, links)
    seen, reverse = label[:count], label[count:]
    return seen > reverse, seen == reverse


def _cavities(sculpt: Sculpt, part: np.ndarray, inward: np.ndarray,
              outward: np.ndarray) -> list[int]:
    """Those of the inward-looking closed parts that line a hollow inside another part."""
    found = []
    for inner in inward if len(outward) else ():
        points = sculpt.vertices[np.unique(sculpt.faces[part == inner])]
        extremes = points[np.concatenate([points.argmin(axis=0), points.argmax(axis=0)])]
        for outer in outward:
            corners = sculpt.vertices[sculpt.faces[part == outer]]
            low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
            if ((extremes > low) & (extremes < high)).all() and all(
                    _winding_number(corners, p) > 0.5 for p in extremes):
                found.append(inner)
                break
    return found


def _winding_number(corners: np.ndarray, point: np.ndarray) -> float:
    """How often triangles (m, 3, 3) go round a point: 1 inside a closed shell, 0 outside.

    Solid angle of a triangle: Van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983).
    """
    a, b, c = np.moveaxis(corners - point, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    dot = lambda u, v: np.einsum("ij,ij->i", u, v)  # noqa: E731
    top = dot(a, np.cross(b, c))
    bottom = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
    return float(np.arctan2(top, bottom).sum() / (2 * np.pi))


# --- marks -------------------------------------------------------------------


def _marks(sculpt: Sculpt, topology: _Topology) -> Iterator[Finding]:
    key = mesh.edge_keys(sculpt.edges, len(sculpt.vertices))
    place = np.searchsorted(topology.key, key)
    there = np.zeros(len(key), dtype=bool)
    inside = place < len(topology.key)
    there[inside] = topology.key[place[inside]] == key[inside]
    rim = there.copy()
    rim[there] = topology.faces_on[place[there]] == 1
    on_rim = np.zeros(len(sculpt.vertices), dtype=bool)
    on_rim[topology.ends[topology.faces_on == 1]] = True
    yield from smears.find(sculpt, on_rim)
    kinds = sculpt.kinds
    seam, trench, score = ((kinds & kind) != 0 for kind in (SEAM, TRENCH, SCORE))
    for chosen, code, severity, what, remedy in (
        (~there, "mark-without-face", NOTE, "{} on no sound face.",
         "The marks are ignored; delete the edges or clear their marks."),
        (rim, "mark-on-rim", NOTE, "{} on the rim, where the foam ends anyway.",
         "Nothing is cut there; clear the marks if you like."),
        (seam & (trench | score), "line-on-seam", NOTE,
         "{} both on a seam and on a trench or score line.",
         "The seam is cut and the line left out; clear one of the marks."),
        (trench & score & ~seam, "trench-on-score", WARNING,
         "{} both on a trench and on a score line.", "Clear one of the two marks."),
    ):
        edges = sculpt.edges[chosen]
        if len(edges):
            noun = _count(edges, "marked edge lies", "marked edges lie")
            yield Finding(code, severity, f"{what.format(noun)} {_near(sculpt, edges[0])}",
                          remedy, edges=edges)


# --- words -------------------------------------------------------------------


def _count(things: np.ndarray, one: str, many: str) -> str:
    return f"{len(things)} {one if len(things) == 1 else many}"


def _near(sculpt: Sculpt, vertices: np.ndarray) -> str:
    """Where to look for the first of them."""
    x, y, z = np.nan_to_num(sculpt.vertices[np.ravel(vertices)[0]])
    return f"Look near x {x:.0f}, y {y:.0f}, z {z:.0f} mm."
