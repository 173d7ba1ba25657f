"""The plates on the wearer's left limbs: forearm, thigh and knee.

Across is the angle about the limb in degrees, 0 on its ridge, positive towards
the wearer's left; up is the distance along the limb in mm. Each limb is drawn
upright and then set on its place on the figure.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import figure
from .shapes import (
    SCORE,
    SEAM,
    TRENCH,
    Mesh,
    Net,
    crease,
    graph,
    polar,
    sample,
    spline,
    turn,
    upright,
)


def limb_frame(low: Sequence[float], high: Sequence[float]) -> np.ndarray:
    """Rotation (3, 3) whose z runs up the limb and whose x points to the wearer's left."""
    z = np.subtract(high, low) / np.linalg.norm(np.subtract(high, low))
    x = np.array([1.0, 0.0, 0.0]) - z[0] * z
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z], axis=1)


# --- forearm: two halves on a ridge, and a flared cuff at the elbow --------------

FOREARM_SEAM = spline((0, 45, 90, 130), (196, 184, 178, 180))


def forearm_surface(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
    """A cone with a ridge; above FOREARM_SEAM it flares."""
    seam = FOREARM_SEAM(np.abs(phi))
    flare = np.maximum(s - seam, 0)
    section = 1 + crease(phi, 0.17, 30)
    radius = (48 + 0.092 * (s - flare) + 0.55 * flare) * section
    x, y = polar(phi, radius, radius, radius)
    return np.stack([x, y, s - 0.15 * flare], axis=1)


def forearm() -> Mesh:
    """The left forearm, wrist down; open along the inside of the arm."""
    net = Net()
    # Lines across, from the wrist up: the hem, the two tide lines, the seam and the cuff's edge.
    tips = spline((0, 40, 85, 122), (-24, -4, 8, 6))
    tide = [spline((0, 40, 85, 130), (a, a + 22, a + 40, a + 47)) for a in (58.0, 76.0)]
    cuff = spline((0, 35, 75, 112), (66, 46, 34, 30))
    lines = (tips, *tide, FOREARM_SEAM, lambda phi: FOREARM_SEAM(phi) + cuff(phi))
    for side, ends in ((1, (104.0, 112.0, 114.0, 104.0, 96.0)),
                       (-1, (118.0, 128.0, 129.5, 120.0, 112.0))):
        curves = [graph(15, line, 0.0, end) * (side, 1.0)
                  for line, end in zip(lines, ends, strict=True)]
        for low, high, rows in zip(curves[:-1], curves[1:], (9, 2, 11, 6), strict=True):
            ridge, edge = sample(rows, low[0], high[0]), sample(rows, low[-1], high[-1])
            if side > 0:
                net.patch(ridge, edge, low, high)
            else:
                net.patch(edge, ridge, low[::-1], high[::-1])
            net.mark(TRENCH if high is curves[-1] else SEAM, ridge)
        net.mark(SCORE, *curves[1:3])
        net.mark(SEAM, curves[3])
    frame = limb_frame(figure.WRIST, figure.ELBOW)
    mesh = net.build(forearm_surface).moved(turn("z", 64), (0, 0, 0))
    return mesh.moved(frame, figure.WRIST + frame @ (0, 0, 12.0))


# --- thigh and knee ---------------------------------------------------------------

THIGH_TRENCH = 62.0


def thigh_surface(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
    """A cone with two folds: the ridge in front and the trench on the outside."""
    section = 1 + crease(phi, 0.12, 27) + crease(phi - THIGH_TRENCH, 0.10, 20)
    radius = (86 + 0.105 * s) * section
    x, y = polar(phi, radius, radius, radius)
    return np.stack([x, y, s], axis=1)


def thigh() -> Mesh:
    """The left thigh: two pieces on a ridge; the outer one folds back on a trench."""
    net = Net()
    # Lines across, from the knee up: the hem, the two tide lines and the top edge. Each crosses
    # the inner edge, the ridge, the trench and the outer edge, by way of the points between.
    fold = THIGH_TRENCH
    knots = (
        (((-64.0, 66.0), (-40.0, 70.0), (-16.0, 92.0), (0.0, 104.0)),
         ((0.0, 104.0), (18.0, 95.0), (40.0, 77.0), (fold, 72.0)),
         ((fold, 72.0), (84.0, 75.0), (104.0, 92.0))),
        (((-50.6, 228.0), (-24.0, 232.0), (0.0, 250.0)),
         ((0.0, 250.0), (32.0, 279.0), (fold, 296.0)),
         ((fold, 296.0), (88.0, 293.0), (109.0, 276.0))),
        (((-49.0, 243.0), (-24.0, 248.0), (0.0, 267.0)),
         ((0.0, 267.0), (32.0, 296.0), (fold, 312.0)),
         ((fold, 312.0), (88.0, 309.0), (109.2, 291.0))),
        (((-46.0, 268.0), (-24.0, 275.0), (0.0, 300.0)),
         ((0.0, 300.0), (32.0, 329.0), (fold, 342.0)),
         ((fold, 342.0), (88.0, 339.0), (108.0, 320.0))))
    lines = [[sample(count, *part) for count, part in zip((11, 12, 8), parts, strict=True)]
             for parts in knots]
    corners = [[part[0] for part in line] + [line[-1][-1]] for line in lines]
    straight = ((), (), (), ())
    bowed = (((-57.5, 150.0),), (), (), ((111.0, 180.0),))  # the open edges under the tide lines
    for k, (rows, via) in enumerate(((18, bowed), (2, straight), (4, straight))):
        ups = [sample(rows, low, *knot, high) for low, knot, high in zip(
            corners[k], via, corners[k + 1], strict=True)]
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
