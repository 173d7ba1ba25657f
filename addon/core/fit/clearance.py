"""How far the body is from the inner face of the foam."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .. import mesh
from ..model import Body, Pattern, Piece, PieceFit
from ..trace.surface import Surface


class Skin:
    """The body's surface, its faces turned outward, ready to be asked.

    turned: its faces had to be turned; open: it has a rim, so that inside and outside are told by
    the nearest face alone.
    """

    def __init__(self, body: Body):
        vertices, faces = np.array(body.vertices), np.array(body.faces)
        self.name = body.name
        self.turned = _volume(vertices, faces) < 0
        if self.turned:
            faces = faces[:, ::-1]
        self.open = bool((mesh.twins(faces) < 0).any())
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


def _volume(vertices: np.ndarray, faces: np.ndarray) -> float:
    """Signed volume of a mesh, as seen from its middle."""
    a, b, c = (vertices - vertices.mean(axis=0))[faces].transpose(1, 0, 2)
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6
