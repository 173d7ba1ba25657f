"""On which object of the sculpt a line lies."""

from __future__ import annotations

import numpy as np

from ..model import Sculpt
from .surface import Surface

OFF = 5.0  # mm: a guide with a point farther than this from the surface is not on it


class Surfaces:
    """The surfaces of a sculpt's objects, each made when it is first asked for."""

    def __init__(self, sculpt: Sculpt, whole: Surface | None = None):
        self._sculpt = sculpt
        self._whole = whole
        self._of_object: dict[int, tuple[Surface, np.ndarray]] = {}

    def surface(self, thing: int) -> tuple[Surface, np.ndarray]:
        """The surface of one object, and the sculpt's face (m,) that each of its faces is."""
        if thing not in self._of_object:
            faces = np.flatnonzero(self._sculpt.face_object == thing)
            all_of_it = self._whole is not None and len(faces) == len(self._sculpt.faces)
            self._of_object[thing] = (self._whole if all_of_it else Surface(
                self._sculpt.vertices, self._sculpt.faces[faces]), faces)
        return self._of_object[thing]

    def home(self, points: np.ndarray, other_than: int = -1, off: float = OFF) -> int:
        """The object whose surface all the points (k, 3) lie on, that they are nearest to where
        there are several; -1 for none. off: how far from it still counts, in the sculpt's mm."""
        best, distance = -1, off
        if not len(points) or not np.isfinite(points).all():
            return best
        for thing in np.unique(self._sculpt.face_object).tolist():
            if thing == other_than:
                continue
            far = self.surface(thing)[0].nearest(points).distance.max()
            if far <= distance:
                best, distance = thing, far
        return best
