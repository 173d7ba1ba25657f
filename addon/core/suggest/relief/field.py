"""A piece's ground as a field of possible cuts: what they cost, and which are worth a trial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ... import mesh
from . import exposure, trial
from .curve import between_edges, smooth_line
from .ground import Ground
from .lines import DART, Path, paths, places
from .site import Site

SEEN = 0.65  # share of its length that a hidden line costs less than one in plain sight
EASY = 0.8  # guessed utilisation below which the shorter line is the better one
SHORT = 3.0  # thicknesses: a dart shorter than this is not one
NEAR, ALIKE = 0.15, 0.5  # of its length: what is near a line, and how much may be near another


@dataclass(frozen=True, eq=False)
class Field:
    """A ground with what its edges (e,) cost, and what hides them."""

    ground: Ground
    features: dict[str, np.ndarray]

    @classmethod
    def of(cls, ground: Ground, site: Site) -> Field:
        return cls(ground, exposure.features(ground, site.sculpt.up, site.sculpt.front,
                                             site.middle))

    @cached_property
    def visibility(self) -> np.ndarray:
        return exposure.visibility(self.features)

    @cached_property
    def cost(self) -> np.ndarray:
        return self.ground.length * (1 - SEEN + SEEN * self.visibility)

    def candidates(self, strained: Sequence[np.ndarray], site: Site) -> list[tuple[float, Path]]:
        """Paths, the most promising first; a dart into a saddle would lie over itself flat."""
        ground = self.ground
        found = []
        for path in paths(ground, self.cost, places(ground, strained)):
            if path.kind == DART and (ground.scale[path.vertices[-1]] <= 0 or mesh.polyline_length(
                    ground.points[list(path.vertices)]) < SHORT * site.stock.thickness):
                continue
            guessed = trial.guess(ground, path.edges, site.stock)
            found.append((path.cost * max(guessed, EASY) ** 2, path))
        return sorted(found, key=lambda each: each[0])

    def line(self, path: Path, site: Site) -> np.ndarray:
        """Points (k, 3) of a smooth line on the site along a path."""
        line = smooth_line(self.ground, path, self.features["edge"] > 0.5, site.surface)
        return between_edges(line, site.surface)

    def beside(self, one: Path, other: Path) -> bool:
        """Does one path run mostly beside another?"""
        a, b = self.ground.points[list(one.vertices)], self.ground.points[list(other.vertices)]
        return near(a, b, mesh.polyline_length(b))


def near(one: np.ndarray, other: np.ndarray, length: float) -> bool:
    """Do the points (k, 3) of a line lie mostly beside those (j, 3) of another of that length?"""
    from scipy.spatial import cKDTree

    return float((cKDTree(other).query(one)[0] < NEAR * length).mean()) > ALIKE
