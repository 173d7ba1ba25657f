"""Where strips run: their lines on the surface, with the way that they stand off it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .. import mesh
from ..errors import WARNING, Finding, FoamError
from ..model import RIM, Sculpt, StripLine, StripWay
from .home import OFF, Surfaces
from .line import SurfaceLine, through
from .straight_on import straight_on
from .surface import Surface

BESIDE = 0.5  # mm beside a line where it is looked for foam


def strip_ways(sculpt: Sculpt) -> tuple[list[StripWay], list[Finding]]:
    """The ways of a sculpt's strips at its final scale, and what is wrong with them: a line that
    is off the surface, or not on a rim where the strip is to lie against one, is left out with
    `strip-left-out`."""
    ways: list[StripWay] = []
    found: list[Finding] = []
    surfaces = Surfaces(sculpt) if sculpt.strips else None
    for line in sculpt.strips:
        for one in (line, _image(line, sculpt)) if line.mirrored else (line,):
            try:
                ways.append(_way(one, surfaces))
            except FoamError as error:
                found += [f if f.code == "strip-left-out" else _left_out(
                    one, "runs over parts that do not hang together").finding
                    for f in error.findings]
    return ways, found


def _image(line: StripLine, sculpt: Sculpt) -> StripLine:
    across = np.cross(sculpt.up, sculpt.front)
    return replace(line, points=line.points - 2 * (line.points @ across)[:, None] * across,
                   mirrored=False, object=-1, name=f"{line.name} mirrored")


def _left_out(line: StripLine, why: str) -> FoamError:
    return FoamError(Finding(
        "strip-left-out", WARNING, f"The strip “{line.name}” {why}, so it was left out.",
        "Draw its line again on the sculpt; for an edge strip select the edges of an open rim."))


def _way(line: StripLine, surfaces: Surfaces) -> StripWay:
    points = line.points
    if len(points) < 2 or not np.isfinite(points).all() or not line.width > 0:
        raise _left_out(line, "has no length or no width")
    home = line.object
    if home < 0 or surfaces.surface(home)[0].nearest(points).distance.max() > OFF:
        home = surfaces.home(points)
    if home < 0:
        raise _left_out(line, "is off the surface")
    surface, _ = surfaces.surface(home)
    laid = through(surface, points, line.closed)
    if laid.length <= 1e-9:
        raise _left_out(line, "has no length or no width")
    normals, _ = mesh.face_normals(surface.vertices, surface.faces[laid.across])
    steps = np.diff(laid.points, axis=0)
    kept = np.linalg.norm(steps, axis=1) > 1e-9 * laid.length
    laid_points = np.concatenate([laid.points[:1], laid.points[1:][kept]])
    steps = steps[kept] / np.linalg.norm(steps[kept], axis=1)[:, None]
    out = normals[kept]
    if line.lies == RIM:
        side = _rim_side(surface, laid)
        if side == 0:
            raise _left_out(line, "is to lie against the edge of the foam, but its line is no "
                                  "open rim")
        out = side * np.cross(out, steps)
    return StripWay(line, laid_points, _at_points(out, laid.closed), home)


def _at_points(out: np.ndarray, closed: bool) -> np.ndarray:
    """Unit vectors (k + 1, 3) at the points between steps that have vectors (k, 3)."""
    inner = out[:-1] + out[1:]
    ends = (out[:1] + out[-1:],) * 2 if closed else (out[:1], out[-1:])
    whole = np.concatenate([ends[0], inner, ends[1]])
    return whole / np.maximum(np.linalg.norm(whole, axis=1), 1e-12)[:, None]


def _rim_side(surface: Surface, line: SurfaceLine) -> int:
    """1 where there is no foam to the left of most of a line, -1 to its right, 0 on neither."""
    free = []
    for k in np.unique(np.linspace(0, len(line.across) - 1, 9).astype(int)):
        face = int(line.across[k])
        way = line.points[k + 1] - line.points[k]
        normal = mesh.face_normals(surface.vertices, surface.faces[face:face + 1])[0][0]
        left = np.cross(normal, way / max(np.linalg.norm(way), 1e-12))
        middle = (line.points[k] + line.points[k + 1]) / 2
        free.append([straight_on(surface, face, middle, s * left, BESIDE) is None
                     for s in (1, -1)])
    left, right = np.mean(free, axis=0)
    return 1 if left > 0.5 else -1 if right > 0.5 else 0
