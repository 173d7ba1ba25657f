"""The figure's own shape, at its own height: rings of its parts, and where its joints are.

Adult proportions near the means of ANSUR II, in mm; drawn by eye, no one's body scan.
"""

from __future__ import annotations

import numpy as np

STATURE = 1756.0
# Height of a ring, half width, depth to the front, depth to the back.
TRUNK = (
    (826, 70, 60, 70), (850, 140, 92, 112), (905, 178, 112, 128), (980, 166, 113, 110),
    (1050, 152, 116, 100), (1100, 153, 118, 100), (1160, 162, 124, 106), (1220, 174, 133, 113),
    (1280, 183, 139, 119), (1340, 187, 132, 119), (1385, 183, 112, 106), (1420, 164, 88, 90),
    (1448, 126, 68, 76), (1472, 88, 60, 68), (1500, 66, 58, 62), (1530, 60, 57, 58),
    (1572, 58, 54, 56))
HEAD = (
    (1530, 18, 40, 16), (1545, 40, 72, 40), (1575, 55, 90, 66), (1610, 68, 98, 88),
    (1650, 76, 98, 99), (1690, 75, 94, 98), (1720, 65, 80, 84), (1742, 46, 56, 60),
    (1756, 20, 24, 26))
# On the left; joints in the middle have no x.
JOINTS = {"neck": (0, 0, 1500), "waist": (0, 0, 1055), "shoulder": (192, 6, 1398),
          "elbow": (336, 12, 1124), "wrist": (430, -30, 890), "hip": (98, 4, 890),
          "knee": (140, -8, 492), "ankle": (166, 16, 92)}


def _on(low: str, high: str, share: float) -> tuple[float, ...]:
    """A point on the line between two joints, or beyond."""
    a, b = np.array(JOINTS[low], dtype=float), np.array(JOINTS[high], dtype=float)
    return tuple(a + share * (b - a))


# The left limbs: points on the axis, upwards, and the sizes of their rings.
LIMBS = {
    "Arm": ((_on("elbow", "wrist", 1.34), _on("elbow", "wrist", 1.289),
             _on("elbow", "wrist", 1.153), _on("elbow", "wrist", 1.0),
             _on("wrist", "elbow", 0.55), _on("wrist", "elbow", 0.82),
             _on("elbow", "shoulder", 0.0), _on("elbow", "shoulder", 0.35),
             _on("elbow", "shoulder", 0.75), _on("elbow", "shoulder", 1.0),
             _on("elbow", "shoulder", 1.13)),
            ((5, 12, 12), (16, 32, 30), (20, 40, 36), (25, 28, 28), (37, 40, 38), (45, 46, 44),
             (41, 41, 42), (46, 48, 48), (54, 58, 56), (50, 54, 54), (22, 26, 26))),
    "Leg": (((168, -36, 0), (168, -30, 32), _on("ankle", "knee", 0.0), _on("ankle", "knee", 0.3),
             _on("ankle", "knee", 0.68), _on("ankle", "knee", 0.9), _on("knee", "hip", 0.0),
             _on("knee", "hip", 0.12), _on("knee", "hip", 0.45), _on("knee", "hip", 0.8),
             _on("knee", "hip", 1.0), _on("knee", "hip", 1.16)),
            ((46, 118, 66), (44, 92, 64), (38, 42, 46), (44, 46, 56), (59, 56, 72), (56, 55, 62),
             (56, 58, 58), (60, 61, 60), (80, 84, 82), (92, 97, 95), (80, 96, 98), (50, 70, 74))),
}
# Girths by their names in core.measures: the ring on which they are taken.
GIRTHS = {"Trunk": {"hips": 2, "waist": 4, "chest": 8, "neck": 14}, "Head": {"head": 4},
          "Arm": {"wrist": 3, "forearm": 5, "upper arm": 8}, "Leg": {"calf": 4, "thigh": 9}}
