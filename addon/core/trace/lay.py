"""Guides become marked edges of the working copy; its shape stays as it was."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..errors import NOTE, WARNING, Finding, FoamError
from ..model import SCORE, SEAM, SMOOTH, TRENCH, Guide, Sculpt
from .cutter import Cutter
from .gather import crossings, led_through, mark_crossings
from .home import OFF, Surfaces
from .line import SurfaceLine, feet, needed, through, way_between
from .straight import Way
from .surface import Surface

STRAIGHT, STRAIGHT_SHARE = 0.1, 0.01  # mm, and share of its length: how near to a guide a
# straight step across a face must run to do for the guide's own points inside
GAP, GAP_SHARE = 2.0, 0.1  # mm, and share of its length: an end this near to a line joins it


Around = dict[int, set[int]]  # the neighbours of a vertex along marked edges


def lay(sculpt: Sculpt) -> Sculpt:
    """The sculpt with every guide cut into its triangles and marked; it has no guides then.

    New vertices come after the old ones. Divided faces stay in their place in the order, and
    polygon, origin and face_object tell where each came from; marks on divided edges stay on
    both halves. An end of a guide near a rim, a seam or another guide is led up to it, and a
    guide that passes near a crossing of two others goes through there. One that is not on the
    surface is left out with the finding `guide-off-surface`; one that lies on another object's
    surface than its own is laid there, with the note `guide-of-another`.
    """
    if not sculpt.guides:
        return sculpt
    work = _Work(sculpt)
    for number, guide in enumerate(sculpt.guides):
        work.add(number, guide)
    work.meet()
    vertices, faces, source, edges, kinds = work.cutter.result()
    return replace(
        sculpt, vertices=vertices, faces=faces, edges=edges, kinds=kinds,
        face_object=sculpt.face_object[source], polygon=sculpt.polygon[source],
        origin=sculpt.origin[source], guides=(),
        uncut=sculpt.uncut if len(sculpt.parent) else sculpt.faces,
        parent=sculpt.parent[source] if len(sculpt.parent) else source,
        findings=(*sculpt.findings, *work.found))


def on_sculpt(findings: Iterable[Finding], laid: Sculpt, count: int) -> list[Finding]:
    """Findings about a laid sculpt in the terms of the one it came from, of `count` vertices.

    Where one names a vertex or an edge that only the laid sculpt has, the faces that it lies in
    take its place.
    """
    told = []
    for finding in findings:
        new = finding.vertices >= count
        across = (finding.edges >= count).any(axis=1)
        if new.any() or across.any():
            touched = np.isin(laid.faces, finding.vertices[new]).any(axis=1)
            sides = np.stack([laid.faces, np.roll(laid.faces, -1, axis=1)], axis=2)
            keys = mesh.edge_keys(sides.reshape(-1, 2), len(laid.vertices)).reshape(-1, 3)
            wanted = mesh.edge_keys(finding.edges[across], len(laid.vertices))
            touched |= np.isin(keys, wanted).any(axis=1)
            finding = replace(
                finding, vertices=finding.vertices[~new], edges=finding.edges[~across],
                faces=np.union1d(finding.faces, laid.origin[touched]))
        told.append(finding)
    return told


class _Work:
    """What is laid so far: the guides with the length and the two end vertices of each."""

    def __init__(self, sculpt: Sculpt):
        self.sculpt = sculpt
        self.whole = Surface(sculpt.vertices, sculpt.faces)
        self.cutter = Cutter(sculpt, self.whole)
        self.found: list[Finding] = []
        self.laid: list[tuple[Guide, float, int, int]] = []
        self.maker_marks = dict(self.cutter.marks)
        self.traced: list[tuple[Guide, SurfaceLine]] = []
        self.crossed: list[tuple[int, bool, np.ndarray]] = []  # object, of two seams, places
        self.surfaces = Surfaces(sculpt, self.whole)
        self.surface = self.surfaces.surface

    def add(self, number: int, guide: Guide) -> None:
        """Lay a guide, or say why not."""
        surface, faces = self.surface(guide.object)
        points = guide.points.reshape(-1, 3)
        if len(faces) == 0 or len(points) < 2 or not np.isfinite(points).all():
            self._refuse(number, guide, "has no two points to lie between", [])
            return
        foot = surface.nearest(points)
        off = np.flatnonzero(foot.distance > OFF)
        if len(off):
            other = self.surfaces.home(points, guide.object)
            if other >= 0:
                self._move(number, guide, other)
                return
            far = foot.distance[off].max()
            self._refuse(
                number, guide, f"is up to {far:.1f} mm away from the surface",
                faces[foot.face[off]], remedy="Draw the line again, or move its points onto the "
                "sculpt. Where a modifier or a shape key moves the surface away from it, switch "
                "that off, check the foam, and switch it on again: the line was bound to the "
                "surface then and goes along.")
            return
        try:
            line = through(surface, points, guide.closed)
        except FoamError as error:
            self._refuse(number, guide, "runs over parts that do not hang together",
                         faces[error.finding.faces])
            return
        line = self._gathered(guide, line)
        chain, gaps = self._chain(
            simplified(line, min(STRAIGHT, STRAIGHT_SHARE * line.length)), faces, guide.marks)
        if len(chain) < 2:
            self._refuse(number, guide, "is too short to be cut", faces[foot.face])
            return
        if gaps:
            self._refuse(number, guide, "crosses faces too thin to be cut", gaps,
                         "it has a gap there")
        self.laid.append((guide, line.length, chain[0], chain[-1]))

    def _move(self, number: int, guide: Guide, thing: int) -> None:
        """Lay a guide on the object whose surface it lies on, and tell so."""
        there, own = (self.sculpt.objects[i].name for i in (thing, guide.object))
        self.found.append(Finding(
            "guide-of-another", NOTE,
            f"{_called(number, guide)} belongs to “{own}” but lies on “{there}”, so it was taken "
            "as a line there.",
            f"To keep it there when you move one of them, parent it to “{there}” with Object > "
            "Parent > Object (Keep Transform)."))
        self.add(number, replace(guide, object=thing))

    def _gathered(self, guide: Guide, line: SurfaceLine) -> SurfaceLine:
        """The line led through the crossings of earlier lines that it all but meets."""
        surface, _ = self.surface(guide.object)
        near = [places for thing, seams, places in self.crossed
                if thing == guide.object and (seams or guide.kind != SEAM)]
        if near:
            line = led_through(surface, line, np.concatenate(near),
                               min(GAP, GAP_SHARE * line.length))
        for other, way in self.traced:
            if other.object == guide.object:
                self.crossed.append((guide.object, guide.kind == other.kind == SEAM,
                                     crossings(line, way)))
        for kind in (SEAM, TRENCH | SCORE):
            self.crossed.append((guide.object, guide.kind == kind == SEAM, mark_crossings(
                surface, line, self.maker_marks, kind)))
        self.traced.append((guide, line))
        return line

    def _chain(self, line: SurfaceLine | Way, faces: np.ndarray, kind: int
               ) -> tuple[list[int], list[int]]:
        """Cut a line in; its vertices in order, and faces in which a step could not be cut."""
        chain: list[int] = []
        gaps: list[int] = []
        for face, weights, across in zip(line.face, line.weights, [-1, *line.across.tolist()],
                                         strict=True):
            vertex = self.cutter.vertex(int(faces[face]), weights)
            if chain and vertex == chain[-1]:
                continue
            if chain and not self.cutter.join(int(faces[across]), chain[-1], vertex, kind):
                gaps.append(int(faces[across]))
            chain.append(vertex)
        return chain, gaps

    def _refuse(self, number: int, guide: Guide, why: str, faces: Sequence[int],
                so: str = "it was left out",
                remedy: str = "Draw the line again, or move its points onto the sculpt.") -> None:
        x, y, z = guide.points.reshape(-1, 3)[0] if guide.points.size else (0.0, 0.0, 0.0)
        self.found.append(Finding(
            "guide-off-surface", WARNING,
            f"{_called(number, guide)} {why}, so {so}. "
            f"It starts near x {x:.0f}, y {y:.0f}, z {z:.0f} mm.",
            remedy,
            faces=np.unique(self.sculpt.origin[np.asarray(faces, dtype=np.int64)])))

    # --- ends -------------------------------------------------------------------

    def meet(self) -> None:
        """Lead the ends of open guides up to what they all but reach, and trim what is beyond."""
        for guide, length, *ends in self.laid:
            reach = min(GAP, GAP_SHARE * length)
            for end in () if guide.closed else ends:
                around = self._around(guide.kind)
                if not (self._on_rim(end) or len(around.get(end, ())) > 1
                        or self._trim(around, end, reach)):
                    self._extend(guide, around, end, reach)

    def _around(self, kind: int) -> Around:
        """The neighbours of each vertex along the edges that a line of a kind ends at."""
        around: Around = {}
        for (u, w), other in self.cutter.marks.items():
            if other & SEAM or kind != SEAM:
                around.setdefault(u, set()).add(w)
                around.setdefault(w, set()).add(u)
        return around

    def _on_rim(self, vertex: int) -> bool:
        own = len(self.sculpt.vertices)
        return vertex in self.cutter.rim if vertex >= own else bool(self._rim[vertex])

    @property
    def _rim(self) -> np.ndarray:
        if not hasattr(self, "_rims"):
            half = np.flatnonzero(self.whole.twin < 0)
            self._rims = np.zeros(len(self.sculpt.vertices), dtype=bool)
            self._rims[self.whole.faces.ravel()[half]] = True
            self._rims[self.whole.faces.ravel()[mesh.after(half)]] = True
        return self._rims

    def _trim(self, around: Around, end: int, reach: float) -> bool:
        """Take the marks off from an end back to another line that is only just crossed."""
        length, here, tail = 0.0, end, []
        while length <= reach:
            if tail and (self._on_rim(here) or len(around[here]) > 2):
                for key in tail:
                    del self.cutter.marks[key]
                return True
            onward = [w for w in around.get(here, ()) if _key(here, w) not in tail]
            if len(onward) != 1 or not self.cutter.marks[_key(here, onward[0])] & SMOOTH:
                return False
            tail.append(_key(here, onward[0]))
            length += float(np.linalg.norm(self.cutter.place(onward[0]) - self.cutter.place(here)))
            here = onward[0]
        return False

    def _extend(self, guide: Guide, around: Around, end: int, reach: float) -> None:
        """Cut on from a vertex to the nearest line or rim within reach."""
        surface, faces = self.surface(guide.object)
        at = self.cutter.place(end)
        best, goal = reach, None
        for a, b in self._targets(guide, around, end, reach):
            side = b - a
            t = np.clip(((at - a) * side).sum(axis=1)
                        / np.maximum((side**2).sum(axis=1), 1e-300), 0, 1)
            foot = a + t[:, None] * side
            away = np.linalg.norm(foot - at, axis=1)
            if len(away) and away.min() < best:
                best, goal = float(away.min()), foot[away.argmin()]
        if goal is None:
            return
        try:
            way = way_between(surface, feet(surface, np.array([at, goal])))
        except FoamError:  # another part, which only lies beside this one
            return
        if way.length <= 2 * reach:
            self._chain(way, faces, guide.marks)

    def _targets(self, guide: Guide, around: Around, end: int, reach: float
                 ) -> Iterator[tuple[np.ndarray, np.ndarray]]:
        """Edges (k, 3), (k, 3) that a line may end at: rims, and marks but for its own tail."""
        surface, _ = self.surface(guide.object)
        half = np.flatnonzero(surface.twin < 0)
        corner = surface.faces.ravel()
        yield surface.vertices[corner[half]], surface.vertices[corner[mesh.after(half)]]
        own, waiting = set(), [(end, 0.0)]
        while waiting:
            u, length = waiting.pop()
            for w in around.get(u, ()):
                key = _key(u, w)
                if key not in own and length < 3 * reach:
                    own.add(key)
                    step = float(np.linalg.norm(self.cutter.place(w) - self.cutter.place(u)))
                    waiting.append((w, length + step))
        other = [key for key, kind in self.cutter.marks.items()
                 if key not in own and (kind & SEAM or guide.kind != SEAM)]
        yield tuple(np.array([self.cutter.place(e[i]) for e in other]).reshape(-1, 3)
                    for i in (0, 1))


def _called(number: int, guide: Guide) -> str:
    return f"The line “{guide.name}”" if guide.name else f"Line {number + 1}"


def _key(u: int, w: int) -> tuple[int, int]:
    return (u, w) if u < w else (w, u)


def simplified(line: SurfaceLine, limit: float) -> SurfaceLine:
    """The line without those points inside faces that a straight step across the face does
    without, to within a limit in mm."""
    kept = [0]
    start = 0
    count = len(line.across)
    while start < count:
        stop = start
        while stop < count and line.across[stop] == line.across[start]:
            stop += 1
        kept += [start + i for i in needed(line.points[start:stop + 1], limit)[1:]]
        start = stop
    kept = np.array(kept)
    return SurfaceLine(line.points[kept], line.face[kept], line.weights[kept],
                       line.across[kept[:-1]], np.array([0, len(kept) - 1]), line.closed)
