"""Can an object be as large as it says, worn where it is?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from ..errors import WARNING, Finding
from ..measures import ANYWHERE, explanation, guessed, likeness, plausible, size_text
from ..model import Sculpt


def box(sculpt: Sculpt, faces: np.ndarray) -> tuple[float, float, float]:
    """Sides of the box round the faces, mm: across, front to back, up in the world's axes."""
    points = sculpt.vertices[np.unique(sculpt.faces[faces])]
    points = points[np.isfinite(points).all(axis=1)]
    return tuple(float(side) for side in np.ptp(points, axis=0)) if len(points) else (0.0,) * 3


def findings(sculpt: Sculpt, surveys: Sequence, worn: Mapping[str, str],
             wearer: Mapping[str, float] | None) -> Iterator[Finding]:
    """Objects that are too large or too small for where they are worn.

    A small thing may be worn anywhere, so without a place it is judged by the largest one.
    """
    largest = max(max(survey.size) for survey in surveys)
    for survey in surveys:
        place = worn.get(survey.name) or guessed(survey.name)
        low, high = plausible(place, wearer)
        size = max(survey.size)
        judged = largest if place == ANYWHERE and size < low else size
        if not judged or low <= judged <= high:
            continue
        where = "armour" if place == ANYWHERE else f"something worn on the {place}"
        number = next(i for i, o in enumerate(sculpt.objects) if o.name == survey.name)
        yield Finding(
            "unlikely-size", WARNING,
            f"“{survey.name}” measures {size_text(size)}, {likeness(size)}: too "
            f"{'small' if judged < low else 'large'} for {where}. "
            f"{explanation(size, (low, high))}".strip(),
            "Rescale it, or say where it is worn.",
            vertices=_ends(sculpt, sculpt.face_object == number))


def _ends(sculpt: Sculpt, faces: np.ndarray) -> np.ndarray:
    """The vertices (2,) at both ends of the longest side of the box round the faces."""
    ids = np.unique(sculpt.faces[faces])
    ids = ids[np.isfinite(sculpt.vertices[ids]).all(axis=1)]
    points = sculpt.vertices[ids]
    along = points[:, np.argmax(np.ptp(points, axis=0))]
    return ids[[along.argmin(), along.argmax()]]
