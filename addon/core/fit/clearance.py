"""How far the body is from the inner face of the foam."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .. import mesh
from ..model import Body, Pattern, Piece, PieceFit
from ..trace.surface import Surface

# A surface encloses something if its volume is at least this, of its area to the power of 3/2 (a
# ball has 0.094, a pipe forty times as long as thick 0.022, scattered faces none), and its rims are
# no wider than this, of its area (a half of a ball has 0.5).
ENCLOSES, OPEN = 0.01, 0.25


class Skin:
    """The body's surface, its faces turned outward, ready to be asked.

    turned: faces of it had to be turned; open: it has a rim, so that inside and outside are told by
    the nearest face alone; mixed: neighbouring faces look to different sides, or lie on one
    another. size: its longest side, mm.
    """

    def __init__(self, body: Body):
        vertices, faces = np.array(body.vertices), np.array(body.faces)
        self.name = body.name
        inward = _inward(vertices, faces)
        self.turned = bool(inward.any())
        faces[inward] = faces[inward, ::-1]
        self.open = bool((mesh.twins(faces) < 0).any())
        start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
        way = (start * len(vertices) + end)[start != end]
        self.mixed = len(np.unique(way)) < len(way)
        self.size = float(np.ptp(vertices[np.unique(faces)], axis=0).max())
        self.surface = Surface(vertices, faces)
        self._normals = mesh.vertex_normals(vertices, self.surface.faces, len(vertices))

    def distance(self, points: np.ndarray) -> np.ndarray:
        """Distances (k,) of points (k, 3) from the skin, below 0 inside of it.

        Inside and outside are told by the normal at the nearest point, mixed from the corners'
        angle-weighted normals (Baerentzen and Aanaes 2005).
        """
        foot = self.surface.nearest(points)
        corner = self._normals[self.surface.faces[foot.face]]
        normal = np.einsum("ij,ijk->ik", foot.weights, corner)
        side = np.einsum("ij,ij->i", points - foot.points, normal)
        return np.where(side < 0, -foot.distance, foot.distance)


def inner_face(piece: Piece) -> np.ndarray:
    """Where the foam's inner face lies (n, 3) at the vertices of a piece."""
    normals = mesh.vertex_normals(piece.vertices, piece.faces, len(piece.vertices))
    return piece.vertices - piece.stock.depths(piece.side)[1] * normals


def clearances(pattern: Pattern, skin: Skin, say: Callable[[float], object]
               ) -> tuple[PieceFit, ...]:
    """The clearance of every piece; say is told the share that is done."""
    total = sum(len(piece.vertices) for piece in pattern.pieces)
    found, done = [], 0
    for piece in pattern.pieces:
        inner = inner_face(piece)
        away = skin.distance(inner)
        area = mesh.face_normals(inner, piece.faces)[1]
        mean = away[piece.faces].mean(axis=1)
        found.append(PieceFit(piece.code, away, float(away.min()),
                              float(area @ mean / max(area.sum(), 1e-300)),
                              float(area @ (away[piece.faces] < 0).mean(axis=1))))
        done += len(piece.vertices)
        say(done / total)
    return tuple(found)


def _inward(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Which faces (m,) look inward, as the signs of volumes tell, seen from the middle: each part
    of a body that encloses one, such as an arm that was mirrored, by its own, and all else by that
    of the whole."""
    count, part = mesh.components(len(vertices), np.concatenate([faces[:, :2], faces[:, 1:]]))
    part = part[faces[:, 0]]
    normal, area = mesh.face_normals(vertices, faces)
    total = lambda v: np.stack([np.bincount(part, area * x, count)  # noqa: E731
                                for x in v.T], axis=1)
    size = np.bincount(part, area, count)
    centre = total(vertices[faces].mean(axis=1)) / np.maximum(size, 1e-300)[:, None]

    def volume(points: np.ndarray) -> np.ndarray:
        a, b, c = points.transpose(1, 0, 2)
        return np.einsum("ij,ij->i", a, np.cross(b, c)) / 6

    own = np.bincount(part, volume(vertices[faces] - centre[part][:, None]), count)
    whole = volume(vertices[faces] - vertices.mean(axis=0)).sum()
    encloses = (abs(own) > ENCLOSES * size**1.5) & (
        np.linalg.norm(total(normal), axis=1) < OPEN * size)
    return np.where(encloses, own, whole)[part] < 0
