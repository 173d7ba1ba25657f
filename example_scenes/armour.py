"""The armour of the causeway watch: every plate as a net on its own surface.

Each function returns the left or whole plate in world millimetres; the surface
is the outer face of the foam. Across is the angle about the body or limb,
degrees from its own front towards the wearer's left; up is height or distance
along the limb. Folds lie only where a seam or trench is marked, so every piece
is a cone, a cylinder or a gently domed patch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from . import figure
from .shapes import (
    SCORE,
    SEAM,
    TRENCH,
    Mesh,
    Net,
    chain,
    crease,
    ease,
    sample,
    spline,
    turn,
)

THICK, THIN = "eva-10", "eva-6"  # shipped foams of 10 and 6 mm


@dataclass(frozen=True, eq=False)
class Plate:
    """One object of the scene: its name, mesh and the foam it is made of."""

    name: str
    mesh: Mesh
    stock: str = THICK


def graph(count: int, height: Callable, start: float, stop: float) -> np.ndarray:
    """The curve up = height(across) in `count` equal steps: (count + 1, 2)."""
    x = np.linspace(start, stop, count + 1)
    return np.stack([x, height(x)], axis=1)


def upright(count: int, across: Callable, start: float, stop: float) -> np.ndarray:
    """The curve across = across(up) in `count` equal steps upwards."""
    z = np.linspace(start, stop, count + 1)
    return np.stack([across(z), z], axis=1)


def fixed(curve: np.ndarray, first: Sequence[float] | None = None,
          last: Sequence[float] | None = None) -> np.ndarray:
    """The curve with its ends put exactly on the given points."""
    curve = curve.copy()
    if first is not None:
        curve[0] = first
    if last is not None:
        curve[-1] = last
    return curve


def polar(phi: np.ndarray, wide: np.ndarray, ahead: np.ndarray, behind: np.ndarray,
          outwards: np.ndarray = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """x and y of an oval section (half width, depth ahead, depth behind), pushed outwards."""
    s, c = np.sin(np.radians(phi)), np.cos(np.radians(phi))
    s = np.where(phi == 180.0, 0.0, s)  # the mirror plane, to the last bit
    return (wide + outwards) * s, -(np.where(c > 0, ahead, behind) + outwards) * c


def limb_frame(low: Sequence[float], high: Sequence[float]) -> np.ndarray:
    """Rotation (3, 3) whose z runs up the limb and whose x points to the wearer's left."""
    z = np.subtract(high, low) / np.linalg.norm(np.subtract(high, low))
    x = np.array([1.0, 0.0, 0.0]) - z[0] * z
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z], axis=1)


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
    return skirt_drop(phi) - 24


def trunk(phi: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Outer face of breast and back."""
    below = np.maximum(waist(phi) - z, 0)
    level = z + below  # under the waist seam the section is the seam's own
    out = crease(phi, 18 + 8 * ease(level, 1080, 1290) - 10 * ease(level, 1290, 1390), 30)
    fold = 14 * ease(level, 1085, 1260)
    out = out + np.where(phi < 90, crease(phi - BREAST_FOLD(level), fold, 26), 0)
    spine = 5 * ease(level, 1085, 1250)
    out = out + np.where(phi > 90, crease(phi - SPINE_FOLD(level), spine, 20), 0)
    out = out + crease(180 - phi, 6 * (1 - ease(level, 1070, 1150)), 34)
    # The fold below may not follow the seams above, which have died away at the waist.
    turned = np.maximum(below - flange_drop(phi), 0)
    out = out + SKIRT_SLOPE * below + FLANGE_SLOPE * turned
    x, y = polar(phi, WIDE(level), AHEAD(level), BEHIND(level), out)
    return np.stack([x, y, z], axis=1)


def skirt(net: Net, top: np.ndarray, rows: int = 8) -> None:
    """The skirt under a stretch of the waist seam, with its turned-out edge."""
    fold, hem = top.copy(), top.copy()
    fold[:, 1] -= flange_drop(top[:, 0])
    hem[:, 1] -= skirt_drop(top[:, 0])
    ends = [(sample(rows, fold[i], top[i]), sample(3, hem[i], fold[i])) for i in (0, -1)]
    net.patch(ends[0][0], ends[1][0], fold, top)
    net.patch(ends[0][1], ends[1][1], hem, fold)
    net.mark(TRENCH, fold)


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
    side_seam = [upright(n, BREAST_FOLD, a, b) for n, a, b in zip(
        (12, 2, 12), heights[:-1], heights[1:], strict=True)]
    side_seam[0] = fixed(side_seam[0], first=low_front[-1])
    side_seam[1] = fixed(side_seam[1], first=side_seam[0][-1])
    side_seam[2] = fixed(side_seam[2], first=side_seam[1][-1])
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
    skirt(net, chain(low_front, low_side))
    net.mark(SEAM, *ridge, *side_seam, low_front, low_side)
    net.mark(SCORE, *tide)
    drop = waist(np.zeros(1))[0]
    flange, hem = (drop - d(np.zeros(1))[0] for d in (flange_drop, skirt_drop))
    net.mark(SEAM, sample(8, (0.0, flange), (0.0, drop)), sample(3, (0.0, hem), (0.0, flange)))
    return net.build(trunk).with_mirror()


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
    skirt(net, chain(low_side, low_mid, low_spine))
    net.mark(SEAM, spine_seam, low_side, low_mid, low_spine)
    drop = low_spine[-1, 1]
    fold, hem = drop - flange_drop(np.full(1, 180.0))[0], drop - skirt_drop(np.full(1, 180.0))[0]
    net.mark(SEAM, sample(8, (180.0, fold), (180.0, drop)), sample(3, (180.0, hem), (180.0, fold)))
    return net.build(trunk).with_mirror()


# --- gorget: a collar standing on a yoke ----------------------------------------

YOKE_FALL = spline((0, 45, 90, 135, 180), (57, 37, 25, 36, 46))  # degrees below level
YOKE_WIDTH = spline((0, 14, 36, 66, 90), (152, 116, 88, 84, 104))
YOKE_WIDTH_BEHIND = spline((90, 112, 145, 164, 176), (104, 84, 82, 94, 112))
COLLAR_HEIGHT = spline((0, 22, 60, 110, 176), (30, 43, 48, 54, 60))


def neck(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
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
    rim = graph(50, COLLAR_HEIGHT, 0.0, last)
    rim[:, 0] = root[:, 0]
    rim[:, 1] = COLLAR_HEIGHT(rim[:, 0])
    front_ridge = sample(5, root[0], rim[0])
    net.patch(front_ridge, sample(5, root[-1], rim[-1]), root, rim)
    hem_front = graph(26, lambda p: -YOKE_WIDTH(p), 0.0, 90.0)
    hem_back = fixed(graph(24, lambda p: -YOKE_WIDTH_BEHIND(p), 90.0, last), first=hem_front[-1])
    ridge = sample(12, hem_front[0], root[0])
    shoulder = sample(12, hem_front[-1], root_front[-1])
    net.patch(ridge, shoulder, hem_front, root_front)
    net.patch(shoulder, sample(12, hem_back[-1], root[-1]), hem_back, root_back)
    net.mark(SEAM, front_ridge, ridge, shoulder, root)
    return net.build(neck).with_mirror()


# --- forearm: two halves on a ridge, and a flared cuff at the elbow --------------

FOREARM_SEAM = spline((0, 45, 90, 130), (196, 184, 178, 180))


def forearm_surface(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
    seam = FOREARM_SEAM(np.abs(phi))
    flare = np.maximum(s - seam, 0)
    section = 1 + crease(phi, 0.17, 30)
    radius = (48 + 0.092 * (s - flare) + 0.55 * flare) * section
    x, y = polar(phi, radius, radius, radius)
    return np.stack([x, y, s - 0.15 * flare], axis=1)


def forearm() -> Mesh:
    """The left forearm, wrist down; open along the inside of the arm."""
    net = Net()
    tips = spline((0, 40, 85, 122), (-24, -4, 8, 6))
    cuffs = spline((0, 35, 75, 112), (66, 46, 34, 30))
    tide = [spline((0, 40, 85, 130), (a, a + 22, a + 40, a + 47)) for a in (58.0, 76.0)]
    lines = [lambda p: tips(np.abs(p)), *(lambda p, t=t: t(np.abs(p)) for t in tide),
             lambda p: FOREARM_SEAM(np.abs(p))]
    rows = (9, 2, 11)
    for way, ends, cuff_end in ((1, (104.0, 112.0, 114.0, 104.0), 96.0),
                                (-1, (118.0, 128.0, 129.5, 120.0), 112.0)):
        curves = [graph(15, line, 0.0, way * e) for line, e in zip(lines, ends, strict=True)]
        cuff = graph(15, lambda p: FOREARM_SEAM(np.abs(p)) + cuffs(np.abs(p)), 0.0, way * cuff_end)
        for low, high, n in zip([*curves], [*curves[1:], cuff], (*rows, 6), strict=True):
            ridge, edge = sample(n, low[0], high[0]), sample(n, low[-1], high[-1])
            if way > 0:
                net.patch(ridge, edge, low, high)
            else:
                net.patch(edge, ridge, low[::-1], high[::-1])
            if way > 0:
                net.mark(TRENCH if high is cuff else SEAM, ridge)
        net.mark(SCORE, *curves[1:3])
        net.mark(SEAM, curves[3])
    frame = limb_frame(figure.WRIST, figure.ELBOW)
    mesh = net.build(forearm_surface).moved(turn("z", 64), (0, 0, 0))
    return mesh.moved(frame, figure.WRIST + frame @ (0, 0, 12.0))


# --- thigh and knee ---------------------------------------------------------------

THIGH_TRENCH = 62.0


def thigh_surface(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
    section = 1 + crease(phi, 0.12, 27) + crease(phi - THIGH_TRENCH, 0.10, 20)
    radius = (86 + 0.105 * s) * section
    x, y = polar(phi, radius, radius, radius)
    return np.stack([x, y, s], axis=1)


def thigh() -> Mesh:
    """The left thigh: two pieces on a ridge; the outer one folds back on a trench."""
    net = Net()
    stations = (  # where each line across crosses the edges and folds: inner, ridge, trench, outer
        ((-64.0, 66.0), (0.0, 104.0), (THIGH_TRENCH, 72.0), (104.0, 92.0)),
        ((-50.6, 228.0), (0.0, 250.0), (THIGH_TRENCH, 296.0), (109.0, 276.0)),
        ((-49.0, 243.0), (0.0, 267.0), (THIGH_TRENCH, 312.0), (109.2, 291.0)),
        ((-46.0, 268.0), (0.0, 300.0), (THIGH_TRENCH, 342.0), (108.0, 320.0)))
    between = (
        (((-40.0, 70.0), (-16.0, 92.0)), ((18.0, 95.0), (40.0, 77.0)), ((84.0, 75.0),)),
        (((-24.0, 232.0),), ((32.0, 279.0),), ((88.0, 293.0),)),
        (((-24.0, 248.0),), ((32.0, 296.0),), ((88.0, 309.0),)),
        (((-24.0, 275.0),), ((32.0, 329.0),), ((88.0, 339.0),)))
    lines = [[sample(n, s[i], *b[i], s[i + 1]) for i, n in enumerate((11, 12, 8))]
             for s, b in zip(stations, between, strict=True)]
    for low, high, rows, bulge in zip(
            stations, stations[1:], (18, 2, 4), (4.0, 0.0, 0.0), strict=False):
        k = stations.index(low)
        ups = [sample(rows, a, b) for a, b in zip(low, high, strict=True)]
        if bulge:  # the open edges are bowed
            ups[0] = sample(rows, low[0], (-59.5 + bulge / 2, 150.0), high[0])
            ups[3] = sample(rows, low[3], (107.0 + bulge, 180.0), high[3])
        for i in range(3):
            net.patch(ups[i], ups[i + 1], lines[k][i], lines[k + 1][i])
        net.mark(SEAM, ups[1])
        net.mark(TRENCH, ups[2])
    net.mark(SCORE, *lines[1][:2], *lines[2][:2])
    frame = limb_frame(figure.KNEE, figure.HIP)
    return net.build(thigh_surface).moved(frame, figure.KNEE)


KNEE_SIZE = (83.0, 112.0, 90.0)
WING_FROM = 74.0


def knee_surface(lam: np.ndarray, beta: np.ndarray) -> np.ndarray:
    """A dome by longitude and latitude; beyond WING_FROM a fan spreads outwards."""
    a, b, c = KNEE_SIZE
    around, tilt = np.radians(np.minimum(lam, WING_FROM)), np.radians(beta)
    dome = np.stack([a * np.cos(tilt) * np.sin(around), -b * np.cos(tilt) * np.cos(around),
                     c * np.sin(tilt)], axis=1)
    ray = dome - (22.0, -66.0, 0.0)  # the fan is a cone with this apex
    ray /= np.linalg.norm(ray, axis=1)[:, None]
    return dome + np.maximum(lam - WING_FROM, 0)[:, None] * ray + (0.0, -15.0, 0.0)


def knee(relief: bool = True) -> Mesh:
    """The left knee: a dome in three gores, and a wing on the outside.

    Without relief the dome is one piece.
    """
    net = Net()
    gore = spline((-48, -24, 0, 25, 49), (9, 15.5, 19, 17, 10))
    right = upright(18, gore, -48.0, 49.0)
    left = right * (-1.0, 1.0)
    inner = sample(18, (-70.0, -18.0), (-77.0, 2.0), (-70.0, 22.0))
    outer = sample(18, (WING_FROM, -20.0), (WING_FROM, 24.0))
    for sides, low, high in (
            ((inner, left), ((-48.0, -29.0), (-24.0, -41.0)), ((-46.0, 34.0), (-22.0, 44.0))),
            ((left, right), ((0.0, -52.0),), ((0.0, 53.0),)),
            ((right, outer), ((24.0, -41.0), (50.0, -30.0)), ((22.0, 44.0), (48.0, 35.0)))):
        columns = 4 if len(low) == 1 else 9
        a, b = sides
        net.patch(a, b, sample(columns, tuple(a[0]), *low, tuple(b[0])),
                  sample(columns, tuple(a[-1]), *high, tuple(b[-1])))
    reach = spline((-20, -6, 10, 24), (22, 46, 52, 26))
    fan = outer.copy()
    fan[:, 0] = WING_FROM + reach(outer[:, 1])
    net.patch(outer, fan, sample(5, outer[0], fan[0]), sample(5, outer[-1], fan[-1]))
    net.mark(SEAM, outer, *((left, right) if relief else ()))
    frame = limb_frame(figure.KNEE, figure.HIP)
    return net.build(knee_surface).moved(frame, figure.KNEE)


def both(name: str, left: Mesh, stock: str = THICK) -> list[Plate]:
    return [Plate(f"{name} left", left, stock), Plate(f"{name} right", left.mirrored(), stock)]


def suit(relief: bool = True) -> list[Plate]:
    """All plates. Without relief the knee domes keep only the seam to their wing,
    and no 10 mm sheet follows them."""
    return [
        Plate("Gorget", gorget(), THIN),
        Plate("Breast plate", breast_plate()),
        Plate("Back plate", back_plate()),
        *both("Forearm", forearm(), THIN),
        *both("Thigh", thigh()),
        *both("Knee", knee(relief)),
    ]
