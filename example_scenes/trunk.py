"""The plates about the trunk: breast, back and gorget.

Across is the angle about the body in degrees, 0 in front, 90 at the wearer's
left, 180 behind; up is the height over the floor in mm.
"""

from __future__ import annotations

import numpy as np

from .shapes import (
    SCORE,
    SEAM,
    TRENCH,
    Mesh,
    Net,
    chain,
    crease,
    ease,
    fixed,
    graph,
    polar,
    sample,
    spline,
    upright,
)

# --- breast and back: one shell about the trunk --------------------------------

WIDE = spline((1060, 1110, 1170, 1230, 1290, 1350, 1400, 1450),
              (174, 178, 188, 199, 207, 209, 207, 202))
AHEAD = spline((1060, 1110, 1170, 1230, 1285, 1340, 1390, 1440),
               (133, 136, 144, 157, 171, 156, 128, 99))
BEHIND = spline((1060, 1110, 1170, 1230, 1290, 1350, 1400, 1450),
                (124, 126, 133, 142, 149, 147, 136, 112))

WAIST_SIDE = 1096.0
SKIRT_SLOPE, FLANGE_SLOPE = 0.40, 0.60  # outwards per mm down; the flange adds to the skirt
BREAST_FOLD = spline((1074, 1180, 1290, 1350), (39, 43.5, 49, 50))  # seam to the side, degrees
SPINE_FOLD = spline((1070, 1170, 1290, 1380, 1440), (169, 164, 157, 158.5, 163))


def waist(phi: np.ndarray) -> np.ndarray:
    """Height of the waist seam: a point down in front and a softer one behind."""
    return WAIST_SIDE - 26 * np.exp(-phi / 34) - 16 * np.exp(-(180 - phi) / 40)


def skirt_drop(phi: np.ndarray) -> np.ndarray:
    """How far the skirt hangs below the waist seam."""
    return 62 + 62 * np.exp(-phi / 26) + 40 * np.exp(-(180 - phi) / 34)


def flange_drop(phi: np.ndarray) -> np.ndarray:
    """How far below the waist seam the trench of the turned-out edge runs."""
    return skirt_drop(phi) - 24


def trunk_surface(phi: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Outer face of breast and back."""
    below = np.maximum(waist(phi) - z, 0)
    level = z + below  # under the waist seam the section is the seam's own
    out = crease(phi, 18 + 8 * ease(level, 1080, 1290) - 10 * ease(level, 1290, 1390), 30)
    # The folds of the side seams die away at the waist, so that the skirt has none of them.
    side = 14 * ease(level, 1085, 1260)
    out = out + np.where(phi < 90, crease(phi - BREAST_FOLD(level), side, 26), 0)
    spine = 5 * ease(level, 1085, 1250)
    out = out + np.where(phi > 90, crease(phi - SPINE_FOLD(level), spine, 20), 0)
    out = out + crease(180 - phi, 6 * (1 - ease(level, 1070, 1150)), 34)
    turned = np.maximum(below - flange_drop(phi), 0)
    out = out + SKIRT_SLOPE * below + FLANGE_SLOPE * turned
    x, y = polar(phi, WIDE(level), AHEAD(level), BEHIND(level), out)
    return np.stack([x, y, z], axis=1)


def skirt(net: Net, top: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The skirt under a stretch of the waist seam, with its turned-out edge.

    Returns its ends, at the first and at the last point of the seam.
    """
    fold, hem = top.copy(), top.copy()
    fold[:, 1] -= flange_drop(top[:, 0])
    hem[:, 1] -= skirt_drop(top[:, 0])
    upper = [sample(8, fold[i], top[i]) for i in (0, -1)]
    lower = [sample(3, hem[i], fold[i]) for i in (0, -1)]
    net.patch(*upper, fold, top)
    net.patch(*lower, hem, fold)
    net.mark(TRENCH, fold)
    return chain(lower[0], upper[0]), chain(lower[1], upper[1])


def breast_plate() -> Mesh:
    """Left half and its mirror image: front, side and skirt on each side."""
    net = Net()
    low_front = graph(13, waist, 0.0, 39.0)
    low_side = fixed(graph(12, waist, 39.0, 80.0), first=low_front[-1])
    neck, strap_in, strap_out = (0.0, 1360.0), (23.0, 1419.0), (38.5, 1416.0)
    arm_fold, arm_low = (50.0, 1340.0), (80.5, 1250.0)
    marks = (1176.0, 1194.0)  # the two tide lines, at the ridge
    ridge = [sample(n, (0.0, a), (0.0, b)) for n, a, b in (
        (12, low_front[0, 1], marks[0]), (2, *marks), (22, marks[1], neck[1]))]
    heights = (low_front[-1, 1], 1218.0, 1236.0, arm_fold[1])
    side_seam, start = [], low_front[-1]
    for count, low, high in zip((12, 2, 12), heights[:-1], heights[1:], strict=True):
        side_seam.append(fixed(upright(count, BREAST_FOLD, low, high), first=start))
        start = side_seam[-1][-1]
    arm_fold = tuple(side_seam[2][-1])
    armhole_up = sample(10, arm_fold, (43.5, 1374.0), (39.5, 1400.0), strap_out)
    armhole_down = sample(12, arm_fold, (58.5, 1302.0), (69.0, 1269.0), arm_low)
    top = chain(sample(9, neck, (9.0, 1367.0), (17.5, 1389.0), strap_in),
                sample(4, strap_in, strap_out))
    tide = [sample(13, r[-1], (15.0, r[-1][1] + 11), (29.0, r[-1][1] + 31), s[-1])
            for r, s in zip(ridge[:2], side_seam[:2], strict=True)]
    net.patch(ridge[0], side_seam[0], low_front, tide[0])
    net.patch(ridge[1], side_seam[1], tide[0], tide[1])
    net.patch(ridge[2], chain(side_seam[2], armhole_up), tide[1], top)
    open_side = sample(26, low_side[-1], (81.0, 1176.0), arm_low)
    net.patch(chain(*side_seam), open_side, low_side, armhole_down)
    skirt_ridge, _ = skirt(net, chain(low_front, low_side))
    net.mark(SEAM, *ridge, *side_seam, low_front, low_side, skirt_ridge)
    net.mark(SCORE, *tide)
    return net.build(trunk_surface).with_mirror()


def emblem() -> Mesh:
    """A lozenge on the left breast, its surface the face that is glued on."""
    low, out, high, near = (22.0, 1250.0), (32.0, 1288.0), (22.0, 1326.0), (12.0, 1288.0)
    net = Net()
    net.patch(sample(9, low, near), sample(9, out, high), sample(9, low, out),
              sample(9, near, high))
    return net.build(trunk_surface)


def back_plate() -> Mesh:
    """A centre piece down the spine, a side piece and a skirt on each side."""
    net = Net()
    low_side, low_mid = graph(9, waist, 100.0, 136.0), graph(8, waist, 136.0, 169.0)
    low_spine = graph(5, waist, 169.0, 180.0)
    low_mid = fixed(low_mid, first=low_side[-1])
    low_spine = fixed(low_spine, first=low_mid[-1])
    arm_low, arm_mid = (99.0, 1252.0), (127.0, 1330.0)
    strap_out, strap_in = (139.0, 1424.0), (153.0, 1430.0)
    spine_seam = fixed(upright(36, SPINE_FOLD, low_mid[-1, 1], 1418.0), first=low_mid[-1])
    # The line between the two patches of a side piece carries no mark.
    middle = sample(26, tuple(low_side[-1]), (131.0, 1220.0), arm_mid)
    side = sample(26, low_side[0], (99.0, 1176.0), arm_low)
    net.patch(side, middle, low_side, sample(9, arm_low, (110.0, 1272.0), (120.0, 1302.0), arm_mid))
    armhole = sample(10, arm_mid, (132.5, 1364.0), (136.5, 1398.0), strap_out)
    top = chain(sample(4, strap_out, strap_in), sample(4, strap_in, tuple(spine_seam[-1])))
    net.patch(chain(middle, armhole), spine_seam, low_mid, top)
    neck = sample(5, tuple(spine_seam[-1]), (171.0, 1409.0), (180.0, 1406.0))
    net.patch(spine_seam, sample(36, low_spine[-1], (180.0, 1406.0)), low_spine, neck)
    _, skirt_middle = skirt(net, chain(low_side, low_mid, low_spine))
    net.mark(SEAM, spine_seam, low_side, low_mid, low_spine, skirt_middle)
    return net.build(trunk_surface).with_mirror()


def grab_rail() -> np.ndarray:
    """The axis (k, 3) of the rail on the left of the back plate, from the lower end to the upper
    one: half an ellipse that stands on the plate, to pull a wet warden out by."""
    phi, low, high, out = 150.0, 1235.0, 1355.0, 50.0
    ends = trunk_surface(np.full(2, phi), np.array([low, high]))
    near = trunk_surface(np.array([phi - 1, phi + 1]), np.full(2, (low + high) / 2))
    way = ends[1] - ends[0]
    outward = np.cross(near[1] - near[0], way)
    outward /= np.linalg.norm(outward)
    turn = np.linspace(0.0, np.pi, 41)[:, None]
    return ends.mean(axis=0) - np.cos(turn) * way / 2 + out * np.sin(turn) * outward


# --- gorget: a collar standing on a yoke ----------------------------------------

YOKE_FALL = spline((0, 45, 90, 135, 180), (57, 37, 25, 36, 46))  # degrees below level
YOKE_WIDTH = spline((0, 14, 36, 66, 90), (152, 116, 88, 84, 104))
YOKE_WIDTH_BEHIND = spline((90, 112, 145, 164, 176), (104, 84, 82, 94, 112))
COLLAR_HEIGHT = spline((0, 22, 60, 110, 176), (30, 43, 48, 54, 60))


def gorget_surface(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
    """Outer face of the gorget: s mm up the collar, or -s mm down the yoke."""
    up, down = np.maximum(s, 0), np.maximum(-s, 0)
    fall = np.radians(YOKE_FALL(phi))
    level = 1491 - 18 * np.cos(np.radians(phi))
    ridge = crease(phi, 9, 30) + crease(phi, 0.12, 30) * down
    shoulder = crease(phi - 90, 0.20, 34) * down
    out = ridge + shoulder + 0.14 * up + np.cos(fall) * down
    x, y = polar(phi, 92, 86, 82, out)
    z = level + up - np.sin(fall) * down
    return np.stack([x, y + 6, z], axis=1)


def gorget() -> Mesh:
    """Collar halves, and a yoke in two front and two back pieces; open behind."""
    net = Net()
    last = 176.0
    root_front = sample(26, (0.0, 0.0), (90.0, 0.0))
    root_back = sample(24, (90.0, 0.0), (last, 0.0))
    root = chain(root_front, root_back)
    rim = np.stack([root[:, 0], COLLAR_HEIGHT(root[:, 0])], axis=1)
    front_ridge = sample(5, root[0], rim[0])
    net.patch(front_ridge, sample(5, root[-1], rim[-1]), root, rim)
    hem_front = graph(26, lambda p: -YOKE_WIDTH(p), 0.0, 90.0)
    hem_back = fixed(graph(24, lambda p: -YOKE_WIDTH_BEHIND(p), 90.0, last), first=hem_front[-1])
    ridge = sample(12, hem_front[0], root[0])
    shoulder = sample(12, hem_front[-1], root_front[-1])
    net.patch(ridge, shoulder, hem_front, root_front)
    net.patch(shoulder, sample(12, hem_back[-1], root[-1]), hem_back, root_back)
    net.mark(SEAM, front_ridge, ridge, shoulder, root)
    return net.build(gorget_surface).with_mirror()
