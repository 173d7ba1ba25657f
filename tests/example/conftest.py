"""The example suit as the core sees it, built without Blender."""

import numpy as np
import pytest

from addon.core import make
from addon.core.model import SCORE, SEAM, TRENCH, RodLine, Sculpt, SculptObject, Settings
from addon.core.stock import find_stock
from example_scenes import armour, shapes

FLAGS = {shapes.SEAM: SEAM, shapes.TRENCH: TRENCH, shapes.SCORE: SCORE}


def triangles(quads):
    """Quads (m, 4) -> triangles (2 m, 3), both cut from the first corner."""
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]], axis=1).reshape(-1, 3)


def as_sculpt(plates, rails=()):
    starts = np.cumsum([0, *(len(p.mesh.vertices) for p in plates)])[:-1]
    marks = [(edges + start, np.full(len(edges), FLAGS[kind]))
             for start, plate in zip(starts, plates, strict=True)
             for kind, edges in plate.mesh.marks.items()]
    faces = [triangles(p.mesh.quads) + s for s, p in zip(starts, plates, strict=True)]
    count = sum(len(f) for f in faces)
    return Sculpt(
        vertices=np.concatenate([p.mesh.vertices for p in plates]),
        faces=np.concatenate(faces),
        edges=np.sort(np.concatenate([m[0] for m in marks]), axis=1),
        kinds=np.concatenate([m[1] for m in marks]),
        face_object=np.repeat(np.arange(len(plates)), [len(f) for f in faces]),
        objects=tuple(SculptObject(p.name, find_stock(p.stock)) for p in plates),
        polygon=np.arange(count) // 2,
        rods=tuple(RodLine(r.axis, r.diameter, name=r.name) for r in rails))


@pytest.fixture(scope="session")
def plates():
    return armour.suit()


@pytest.fixture(scope="session")
def failing_plates():
    return armour.suit(relief=False)


@pytest.fixture(scope="session")
def pattern(plates):
    return make.check(as_sculpt(plates, armour.rails()), Settings(find_stock(armour.THICK)))


@pytest.fixture(scope="session")
def failing_pattern(failing_plates):
    return make.check(as_sculpt(failing_plates), Settings(find_stock(armour.THICK)))
