"""The ferry warden's armour: what plates there are, and of which foam.

The surfaces are the outer face of the foam, in millimetres, where they sit on
the figure; the emblem's is the face by which it is glued on the breast. Folds
lie only where a seam or trench is marked, so every piece is a cone, a cylinder
or a gently domed patch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .limbs import forearm, knee, thigh
from .shapes import Mesh
from .trunk import back_plate, breast_plate, emblem, gorget, grab_rail

THICK, THIN = "eva-10", "eva-6"  # shipped foams of 10 and 6 mm


@dataclass(frozen=True, eq=False)
class Plate:
    """One object of the scene: its name, mesh and the foam it is made of."""

    name: str
    mesh: Mesh
    stock: str = THICK


@dataclass(frozen=True, eq=False)
class Rail:
    """A rod of foam: its name, its axis (k, 3) mm, and its diameter in mm."""

    name: str
    axis: np.ndarray
    diameter: float


def _both(name: str, left: Mesh, stock: str = THICK) -> list[Plate]:
    return [Plate(f"{name} left", left, stock), Plate(f"{name} right", left.mirrored(), stock)]


def suit(relief: bool = True) -> list[Plate]:
    """All plates. Without relief the knee domes keep only the seam to their wing,
    and no 10 mm sheet follows them."""
    return [
        Plate("Gorget", gorget(), THIN),
        Plate("Breast plate", breast_plate()),
        Plate("Back plate", back_plate()),
        *_both("Forearm", forearm(), THIN),
        *_both("Thigh", thigh()),
        *_both("Knee", knee(relief)),
        *([Plate("Emblem", emblem(), THIN)] if relief else []),
    ]


def rails() -> list[Rail]:
    """The rods that go with the suit."""
    left = grab_rail()
    return [Rail("Grab rail left", left, 15.0),
            Rail("Grab rail right", left * (-1.0, 1.0, 1.0), 15.0)]
