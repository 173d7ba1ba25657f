"""How a suit fits the body that wears it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .frozen import Frozen


@dataclass(frozen=True, eq=False)
class Body(Frozen):
    """The wearer, as a mesh: vertices (n, 3) mm, faces (m, 3) counter-clockwise from outside."""

    _floats = ("vertices",)
    _ints = ("faces",)

    vertices: np.ndarray
    faces: np.ndarray
    name: str = "body"

    def scaled(self, factor: float) -> Body:
        """The same body at another size."""
        return Body(self.vertices * factor, self.faces, self.name)


@dataclass(frozen=True, eq=False)
class PieceFit(Frozen):
    """One piece: clearance (n,) mm from the foam's inner face at each vertex to the body, below 0
    inside of it; least of them, mean by area, and the area that presses, mm2."""

    _floats = ("clearance",)

    code: str
    clearance: np.ndarray
    least: float
    mean: float
    pressing: float


@dataclass(frozen=True)
class GirthFit:
    """Round the trunk at one height: name, height over the soles, mm; body: girth of the body;
    inside: of the foam's inner face, both as a tape spans them, mm; round: share of the way round
    that foam covers; wanted: by how much it should be wider, mm."""

    name: str
    height: float
    body: float
    inside: float
    round: float
    wanted: float

    @property
    def ease(self) -> float:
        """By how much the foam is wider than the body, mm."""
        return self.inside - self.body


@dataclass(frozen=True, eq=False)
class Spacer(Frozen):
    """A block that keeps a piece off the body: piece, its place on the foam's inner face (3,), and
    on the piece's flat (2,), and its height, mm."""

    _floats = ("point", "on_flat")

    piece: str
    point: np.ndarray
    on_flat: np.ndarray
    height: float


@dataclass(frozen=True, eq=False)
class Fitted:
    """A suit beside its wearer. least: of all clearances, mm."""

    body: str
    pieces: tuple[PieceFit, ...]
    girths: tuple[GirthFit, ...]
    spacers: tuple[Spacer, ...]
    least: float
