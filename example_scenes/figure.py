"""The plain figure that wears the armour: lofted rings, for looking at only.

Adult measures near the ANSUR II means (stature about 1.76 m, chest girth about
1.0 m); it is no one's body scan. Metric sizes in mm, front is -y, up is +z.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .shapes import Mesh, spline

NO_MARKS: dict[str, np.ndarray] = {}

# height, half width, depth to the front, depth to the back
TORSO = (
    (826, 70, 60, 70), (850, 140, 92, 112), (905, 178, 112, 128), (980, 166, 113, 110),
    (1050, 152, 116, 100), (1100, 153, 118, 100), (1160, 162, 124, 106), (1220, 174, 133, 113),
    (1280, 183, 139, 119), (1340, 187, 132, 119), (1385, 183, 112, 106), (1420, 164, 88, 90),
    (1448, 126, 68, 76), (1472, 88, 60, 68), (1500, 66, 58, 62), (1530, 60, 57, 58),
    (1572, 58, 54, 56),
)
HEAD = (  # height, half width, front, back
    (1530, 18, 40, 16), (1545, 40, 72, 40), (1575, 55, 90, 66), (1610, 68, 98, 88),
    (1650, 76, 98, 99), (1690, 75, 94, 98), (1720, 65, 80, 84), (1742, 46, 56, 60),
    (1756, 20, 24, 26),
)
# Limbs: the left one, as points on its axis with half width and half depth.
SHOULDER, ELBOW, WRIST = (192, 6, 1398), (336, 12, 1124), (430, -30, 890)
HIP, KNEE, ANKLE = (98, 4, 890), (140, -8, 492), (166, 16, 92)


def ring_loft(centres: np.ndarray, across: np.ndarray, ahead: np.ndarray,
              sizes: np.ndarray, sides: int = 48, rings: int = 48) -> Mesh:
    """A closed skin through elliptic rings.

    centres (k, 3); across and ahead (3,) the ring's own axes; sizes (k, 3): half
    width, depth ahead, depth behind. Ends are closed with a small fan of quads.
    """
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(centres, axis=0), axis=1))])
    at = np.linspace(0, along[-1], rings)
    middle, size = spline(along, centres)(at), np.maximum(spline(along, sizes)(at), 1.0)
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    s, c = np.sin(turn), np.cos(turn)
    depth = np.where(c > 0, size[:, 1:2], size[:, 2:3])
    grid = (middle[:, None] + (size[:, :1] * s)[..., None] * across
            + (depth * c)[..., None] * ahead)
    index = np.arange(rings * sides).reshape(rings, sides)
    after = np.roll(index, -1, axis=1)
    quads = np.stack([index[:-1], after[:-1], after[1:], index[1:]], axis=-1).reshape(-1, 4)
    vertices = grid.reshape(-1, 3)
    half = sides // 2
    caps = []
    for row, down in ((index[0], True), (index[-1], False)):
        # A strip of quads from side to side closes a ring without a pole.
        for k in range(half - 1):
            quad = row[k], row[k + 1], row[-k - 2], row[-k - 1]
            caps.append(quad[::-1] if down else quad)
    quads = np.concatenate([quads, np.array(caps)])
    return Mesh(vertices, quads, NO_MARKS)


def column(rows: Sequence[Sequence[float]], rings: int) -> Mesh:
    table = np.array(rows, dtype=float)
    centres = np.stack([0 * table[:, 0], 0 * table[:, 0], table[:, 0]], axis=1)
    return ring_loft(centres, np.array([1.0, 0, 0]), np.array([0, -1.0, 0]), table[:, 1:],
                     64, rings)


def limb(points: Sequence[Sequence[float]], sizes: Sequence[Sequence[float]]) -> Mesh:
    """A limb along an axis that runs upwards; sizes: half width, front, back."""
    return ring_loft(np.array(points, dtype=float), np.array([1.0, 0, 0]),
                     np.array([0, -1.0, 0]), np.array(sizes, dtype=float), 40, 72)


def _on(a: Sequence[float], b: Sequence[float], fraction: float) -> np.ndarray:
    return np.asarray(a) + fraction * (np.asarray(b, dtype=float) - np.asarray(a))


def figure() -> dict[str, Mesh]:
    """Trunk, head, and the limbs of both sides, by name."""
    hand = _on(ELBOW, WRIST, 1.34)
    arm = limb(
        [hand, _on(WRIST, hand, .85), _on(WRIST, hand, .45), WRIST, _on(WRIST, ELBOW, .55),
         _on(WRIST, ELBOW, .82), ELBOW, _on(ELBOW, SHOULDER, .35), _on(ELBOW, SHOULDER, .75),
         SHOULDER, _on(ELBOW, SHOULDER, 1.13)],
        [(5, 12, 12), (16, 32, 30), (20, 40, 36), (25, 28, 28), (37, 40, 38), (45, 46, 44),
         (41, 41, 42), (46, 48, 48), (54, 58, 56), (50, 54, 54), (22, 26, 26)])
    leg = limb(
        [(168, -36, 4), (168, -30, 34), ANKLE, _on(ANKLE, KNEE, .3), _on(ANKLE, KNEE, .68),
         _on(ANKLE, KNEE, .9), KNEE, _on(KNEE, HIP, .12), _on(KNEE, HIP, .45),
         _on(KNEE, HIP, .8), HIP, _on(KNEE, HIP, 1.16)],
        [(46, 118, 66), (44, 92, 64), (38, 42, 46), (44, 46, 56), (59, 56, 72), (56, 55, 62),
         (56, 58, 58), (60, 61, 60), (80, 84, 82), (92, 97, 95), (80, 96, 98), (50, 70, 74)])
    return {"Trunk": column(TORSO, 90), "Head": column(HEAD, 40),
            "Arm left": arm, "Arm right": arm.mirrored(),
            "Leg left": leg, "Leg right": leg.mirrored()}
