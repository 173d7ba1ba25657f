"""The shortest line along a strip of faces, and the shifting of the strip until none is shorter.

Laid flat, a strip is a polygon; the shortest way through it is found by pulling a string
through its doors, the edges between the faces (Lee and Preparata 1984, Euclidean shortest
paths in the presence of rectilinear barriers). The string turns at corners of doors only.
Where the surface beyond such a corner offers an angle of less than half a turn, the way round
its other side is shorter, and the strip is led there (Xin and Wang 2007, Efficiently
determining a locally exact shortest path on polyhedral surfaces).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from .graph import push, turn

if TYPE_CHECKING:
    from .surface import Surface

LEAST = 1e-9  # radians by which a way round must be narrower than half a turn
ROUNDS = 400
EVEN = 1e-12  # a point this near a corner of a door, as a share of the door, is the corner


@dataclass(frozen=True, eq=False)
class Way:
    """A line over faces: points (k, 3), face (k,) with weights (k, 3) of each, and across
    (k-1,) the face that each piece of it crosses."""

    points: np.ndarray
    face: np.ndarray
    weights: np.ndarray
    across: np.ndarray

    @property
    def length(self) -> float:
        return mesh.polyline_length(self.points)


def strip_length(surface: Surface, strip: list[int], first: np.ndarray, last: np.ndarray) -> float:
    """Length of the shortest line from a point of the strip's first face to one of its last,
    that keeps to the strip."""
    strip, first, last = _trimmed(surface, strip, first, last)
    if len(strip) == 1:
        return _within(surface, strip[0], first, last).length
    flat = _Flat(surface, strip, first, last)
    return flat.way(flat.pull()).length


def straighten(surface: Surface, strip: list[int], first: np.ndarray, last: np.ndarray) -> Way:
    """The locally shortest line from a point of the strip's first face to one of its last.

    first, last (3,): weights of the corners of those faces.
    """
    for _ in range(ROUNDS):
        strip, first, last = _trimmed(surface, strip, first, last)
        if len(strip) == 1:
            return _within(surface, strip[0], first, last)
        flat = _Flat(surface, strip, first, last)
        bends = flat.pull()
        shifted = _shifted(surface, strip, flat, bends)
        if shifted is None:
            break
        strip = shifted
    return flat.way(bends)


def _within(surface: Surface, face: int, first: np.ndarray, last: np.ndarray) -> Way:
    weights = np.stack([first, last])
    return Way(weights @ surface.vertices[surface.faces[face]], np.array([face, face]), weights,
               np.array([face]))


def _trimmed(surface: Surface, strip: list[int], first: np.ndarray, last: np.ndarray
             ) -> tuple[list[int], np.ndarray, np.ndarray]:
    """The strip without faces at its ends which the end of the line only touches."""
    strip = list(strip)
    for back in (False, True):
        weights = last if back else first
        while len(strip) > 1:
            here, onward = (strip[-1], strip[-2]) if back else (strip[0], strip[1])
            side = _door(surface, here, onward) % 3
            if weights[(side + 2) % 3] > 0:
                break
            moved = np.zeros(3)
            other = int(surface.twin[3 * here + side]) % 3
            moved[other], moved[(other + 1) % 3] = weights[(side + 1) % 3], weights[side]
            weights = moved
            strip.pop(-1 if back else 0)
        if back:
            last = weights
        else:
            first = weights
    return strip, first, last


def _door(surface: Surface, here: int, onward: int) -> int:
    """The half-edge of the face `here` beyond which `onward` lies."""
    beyond = surface.twin[3 * here:3 * here + 3] // 3
    return 3 * here + int(np.flatnonzero(beyond == onward)[0])


@dataclass(frozen=True)
class _Bend:
    """The string turns by `angle` at the left or right end of the door, which is a node."""

    door: int
    left: bool
    node: int
    angle: float


class _Flat:
    """A strip laid flat: the ends of its doors as complex numbers, seen on the way."""

    def __init__(self, surface: Surface, strip: list[int], first: np.ndarray, last: np.ndarray):
        self.surface, self.strip, self.first, self.last = surface, strip, first, last
        faces = np.array(strip)
        out = surface.twin[3 * faces[:-1, None] + np.arange(3)] // 3 == faces[1:, None]
        self.doors = doors = 3 * faces[:-1] + out.argmax(axis=1)
        nodes, corners = surface.nodes.ravel(), surface.faces.ravel()
        start, end = doors, mesh.after(doors)
        inner = surface.twin[doors]
        a, b = surface.vertices[corners[start]], surface.vertices[corners[end]]
        self.right_point, self.left_point = a, b  # looking out of a face, its edge runs leftward
        self.right_node, self.left_node = nodes[start].tolist(), nodes[end].tolist()
        new = surface.vertices[corners[mesh.after(mesh.after(inner))]]
        new[-1] = last @ surface.vertices[surface.faces[strip[-1]]]
        ahead = _beside(a, b, new)
        origin = first @ surface.vertices[surface.faces[strip[0]]]
        behind = np.conj(_beside(a[:1], b[:1], origin[None]))[0]
        self.right, self.left = right, left = [0j], [complex(np.linalg.norm(b[0] - a[0]))]
        self.start = behind * left[0]
        for i, (z, keep) in enumerate(zip(ahead.tolist(), self.right_node[1:], strict=False)):
            p = right[i] + (left[i] - right[i]) * z
            if keep == self.right_node[i]:
                right.append(right[i])
                left.append(p)
            else:
                right.append(p)
                left.append(left[i])
        self.goal = right[-1] + (left[-1] - right[-1]) * complex(ahead[-1])

    def pull(self) -> list[_Bend]:
        """The bends of the string pulled tight, in order."""
        ends = [[*self.right, self.goal], [*self.left, self.goal]]
        nodes = [[*self.right_node, -1], [*self.left_node, -1]]
        apex, apex_node = self.start, -2
        arm, arm_node, arm_door = [0j, 0j], [-2, -2], [0, 0]  # right and left side of the funnel
        found, i = [], 0
        while i <= len(self.right):
            for side, sign in ((0, 1.0), (1, -1.0)):
                step, node, other = ends[side][i] - apex, nodes[side][i], arm[1 - side]
                mine = arm[side]
                if sign * (mine.real * step.imag - mine.imag * step.real) < 0:
                    continue  # the door is wider than the funnel here
                if (arm_node[side] == apex_node or not mine
                        or sign * (other.real * step.imag - other.imag * step.real) < 0):
                    arm[side], arm_node[side], arm_door[side] = step, node, i
                    continue
                # The sides have crossed: the string bends at the end of the other one.
                i, apex_node = arm_door[1 - side], arm_node[1 - side]
                apex += other
                if apex_node >= 0:
                    found.append((i, side == 0, apex_node, apex))
                arm, arm_node, arm_door = [0j, 0j], [apex_node] * 2, [i, i]
                break
            i += 1
        places = [self.start, *(at for *_, at in found), self.goal]
        return [_Bend(door, left, node, _turned(before, at, after)) for
                (door, left, node, at), before, after in
                zip(found, places, places[2:], strict=False)]

    def way(self, bends: list[_Bend]) -> Way:
        """The line through the doors."""
        count = len(self.doors)
        right, left = np.array(self.right), np.array(self.left)
        stops = [-1, *(b.door for b in bends), count]
        places = np.array([self.start, *((left if b.left else right)[b.door] for b in bends),
                           self.goal])
        leg = np.searchsorted(stops[1:], np.arange(count), side="left")
        a, b = places[leg], places[leg + 1]
        across = left - right
        slope = (np.conj(b - a) * across).imag
        with np.errstate(divide="ignore", invalid="ignore"):
            t = -(np.conj(b - a) * (right - a)).imag / slope
        t = np.where(np.isfinite(t), np.clip(t, 0.0, 1.0), 0.5)
        at_left, at_right = np.array(self.left_node), np.array(self.right_node)
        for bend in bends:  # all doors that end there are passed there, as far as the line goes
            same = (at_left if bend.left else at_right) == bend.node
            run = _run(same, bend.door)
            t[run.start:run.stop] = float(bend.left)
        t[t < EVEN], t[t > 1 - EVEN] = 0.0, 1.0
        points = self.right_point + t[:, None] * (self.left_point - self.right_point)
        weights = np.zeros((count, 3))
        rows, side = np.arange(count), self.doors % 3
        weights[rows, side], weights[rows, (side + 1) % 3] = 1 - t, t
        faces = np.array(self.strip)
        corner = self.surface.vertices[self.surface.faces[faces[[0, -1]]]]
        points = np.concatenate([[self.first @ corner[0]], points, [self.last @ corner[1]]])
        weights = np.concatenate([[self.first], weights, [self.last]])
        step = np.linalg.norm(np.diff(points, axis=0), axis=1)
        face = np.concatenate([faces[:1], faces[:-1], faces[-1:]])
        # Doors that end in one corner are passed at once there.
        kept = step > 0
        if not kept.any():
            kept[-1] = True
        chosen = np.concatenate([np.flatnonzero(kept), [count + 1]])
        chosen[0] = 0
        return Way(points[chosen], face[chosen], weights[chosen], faces[kept])


def _shifted(surface: Surface, strip: list[int], flat: _Flat, bends: list[_Bend]
             ) -> list[int] | None:
    """The strip led round the other side of every bend where that is shorter, None if nowhere.

    Of bends so near to each other that both would change a face, the later one waits.
    """
    strip, changed, before = list(strip), False, len(strip)
    for bend in reversed(bends):
        if not surface.total_angle[bend.node] - abs(bend.angle) < 2 * np.pi - LEAST:
            continue
        nodes = np.array(flat.left_node if bend.left else flat.right_node)
        run = _run(nodes == bend.node, bend.door)
        first, last = run.start, run.stop  # its faces, both ends included
        if last >= before:
            continue
        found = turn(surface, strip[first], bend.node, [strip[last]], not bend.left)
        if found is None:
            continue
        before, changed = first, True
        strip[first:last + 1] = [strip[first], *found[1]]
    if not changed:
        return None
    clean: list[int] = []
    for face in strip:
        push(clean, face)
    return clean


def _run(same: np.ndarray, at: int) -> range:
    """The run of true values round a place."""
    start = stop = at
    while start > 0 and same[start - 1]:
        start -= 1
    while stop < len(same) and same[stop]:
        stop += 1
    return range(start, stop)


def _beside(a: np.ndarray, b: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points (k, 3) to the right of a -> b as complex numbers, where a is 0 and b is 1.

    Beyond a door from a on the right to b on the left lies what is ahead.
    """
    side, arm = b - a, points - a
    square = np.maximum(np.einsum("ij,ij->i", side, side), 1e-300)
    high = np.linalg.norm(np.cross(side, arm), axis=1)
    return (np.einsum("ij,ij->i", arm, side) - 1j * high) / square


def _turned(before: complex, at: complex, after: complex) -> float:
    """Angle by which a line turns left at a point."""
    a, b = at - before, after - at
    return float(np.arctan2(a.real * b.imag - a.imag * b.real,
                            a.real * b.real + a.imag * b.imag))
