"""The pictures of docs/geometry.md, drawn as SVG from what the engine finds.

Used by scripts/pictures.py. Nothing is drawn by hand but the lettering.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

from addon.core import layer, seams
from addon.core.flatten.band import CHEAPER, Band, choose_band, spared_share, with_lengths
from addon.core.flatten.bounds import utilisation_of_ratio
from addon.core.flatten.start import as_rigid_as_possible, start_of
from addon.core.flatten.system import System, no_seams
from addon.core.make import check
from addon.core.model import Region, Settings
from addon.core.stock import Stock
from tests.shapes import cap, grid, sculpt

INK, BLUE, GREY = "#1a1a1a", "#0b4f8a", "#6b6b6b"
FOAM = ("#e3e8ee", "#f1e7d8")
RAMP = ((247, 251, 255), (107, 174, 214), (8, 48, 107))  # one hue, told apart by lightness
LEVELS = 22
SKIN = Stock("skin", 1e-6)  # so thin that the sculpt is its layer; -5 / +10 % heated


class Canvas:
    """An SVG on a white plate, 800 units wide."""

    def __init__(self, height: float, title: str):
        self.parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 800 {height:g}" width="800" '
            f'height="{height:g}" font-family="Helvetica, Arial, sans-serif" font-size="15">',
            f"<title>{title}</title>", f'<rect width="800" height="{height:g}" fill="#ffffff"/>']

    def line(self, points, stroke=INK, width=1.5, fill="none", dash="", closed=False) -> None:
        """A polyline (k, 2) or polygon."""
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z" * closed
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<path d="{path}" fill="{fill}" stroke="{stroke}" '
                          f'stroke-width="{width}" stroke-linejoin="round"{dashed}/>')

    def triangles(self, corners, fill, stroke) -> None:
        """Triangles (m, 3, 2) of one colour as one path."""
        path = ""
        for a, b, c in np.round(10 * np.asarray(corners)).astype(int):  # whole tenths: short
            path += "M{} {}l{} {} {} {}z".format(*a, *(b - a), *(c - b))
        self.parts.append(f'<path transform="scale(0.1)" d="{path}" fill="{fill}" '
                          f'stroke="{stroke}" stroke-width="5" stroke-linejoin="round"/>')

    def text(self, x, y, words, anchor="start", colour=INK, size=15) -> None:
        self.parts.append(f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" '
                          f'fill="{colour}" font-size="{size}">{words}</text>')

    def measure(self, a, b, words="", at=None, anchor="middle", colour=INK) -> None:
        """A dimension from a to b, both (2,), with ticks across its ends and words at a place."""
        a, b = np.asarray(a, float), np.asarray(b, float)
        across = np.array([a[1] - b[1], b[0] - a[0]]) / max(np.linalg.norm(b - a), 1e-9) * 4
        self.line([a, b], colour, 1)
        for end in (a, b):
            self.line([end - across, end + across], colour, 1)
        if words:
            self.text(*at, words, anchor, colour)

    def save(self, path: Path) -> None:
        path.write_text("\n".join([*self.parts, "</svg>", ""]), encoding="ascii")


def draw(folder: Path) -> None:
    """Write the three pictures into a folder."""
    section().save(folder / "section.svg")
    flats().save(folder / "flats.svg")
    convergence().save(folder / "convergence.svg")


# --- a strip in section ------------------------------------------------------

# Heading at the start and the turns on the way, degrees; lengths and radii in mm.
START, CONVEX, CONCAVE, TRENCH, SEAM = 38.0, (24.0, 70.0), (38.0, 60.0), 48.0, 56.0
STRIP = Stock("foam", 10.0, neutral=0.62)
WEB, WIDTH, ROWS, SCALE = 0.3, 30.0, 5, 4.9


def section() -> Canvas:
    """A bent, trenched and mitred strip in section, formed and flat."""
    profile, trench, seam = _profile()
    wide = len(profile)
    points = np.array([[x, y, z] for y in np.linspace(0, WIDTH, ROWS) for x, z in profile])
    column = lambda i: i + wide * np.arange(ROWS)  # noqa: E731
    edges = lambda i: np.stack([column(i)[:-1], column(i)[1:]], axis=1)  # noqa: E731
    shape = sculpt((points, grid(wide, ROWS)), seams=edges(seam), trenches=edges(trench))
    cut = seams.cut(shape)
    count = len(cut.regions)
    lays = layer.layers(cut, [STRIP] * count, ["outer"] * count, WEB)
    pieces = check(shape, Settings(stock=STRIP, web=WEB)).pieces
    row = wide * (ROWS // 2) + np.arange(wide)
    picture = Canvas(520, "A strip of foam in section, formed and flat")
    order = sorted(range(count), key=lambda r: cut.regions[r].vertices[:, 0].mean())
    to = lambda p: np.array([80, 262]) + SCALE * (  # noqa: E731
        np.atleast_2d(p) - profile.min(axis=0)) * [1, -1]
    for r, colour in zip(order, FOAM, strict=True):
        _formed(picture, _runs(cut.regions[r], lays[r], row), to, colour)
    _letters(picture, cut, lays, order, row, to)
    _laid(picture, [pieces[r] for r in order], row)
    return picture


def _profile() -> tuple[np.ndarray, int, int]:
    """The section's outer face (k, 2) and the places of its trench and its seam."""
    heading, points = np.radians(START), [np.zeros(2)]

    def ahead(length, turn=0.0, parts=6):  # longer parts than a fold takes from the inside
        nonlocal heading
        for _ in range(parts):
            heading += turn / parts / 2
            step = length / parts
            points.append(points[-1] + step * np.array([np.cos(heading), np.sin(heading)]))
            heading += turn / parts / 2

    ahead(14)
    for (radius, turn), sign in ((CONVEX, -1), (CONCAVE, 1)):
        ahead(radius * np.radians(turn), sign * np.radians(turn), 24)
    ahead(16, parts=3)
    trench = len(points) - 1
    heading -= np.radians(TRENCH)
    ahead(26, parts=4)
    seam = len(points) - 1
    heading -= np.radians(SEAM)
    ahead(24, parts=4)
    return np.array(points), trench, seam


def _runs(region: Region, lay, row) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Points, normals (k, 2) and curvature (k, 2) along the row, one run per bank of a trench."""
    place = {int(v): i for i, v in enumerate(row)}
    local = {v: place[int(s)] for v, s in enumerate(region.source_vertex) if int(s) in place}
    found = {}
    for face, leaf in zip(region.faces, region.leaf, strict=True):
        on = sorted((local[int(v)], int(c)) for v, c in zip(face, leaf, strict=True)
                    if int(v) in local)
        if len(on) == 2:
            found[on[0][0]] = [c for _, c in on]
    runs = []
    for at in sorted(found):
        if runs and runs[-1][-1] == found[at][0]:
            runs[-1].append(found[at][1])
        else:
            runs.append(list(found[at]))
    return [(lay.points[c][:, [0, 2]], lay.normals[c][:, [0, 2]], lay.curvature[c])
            for c in runs]


def _formed(picture: Canvas, runs, to, colour) -> None:
    """One piece in section. Its ends at a fold are cut to the bisector, its web bends there."""
    t, w = STRIP.thickness, WEB * STRIP.thickness
    outer, inner, joint = [], [], None
    for k, (points, normals, _) in enumerate(runs):
        top, under = points, points - t * normals
        if k + 1 < len(runs):
            other = runs[k + 1][1][0]
            middle, cosine = _bisector(normals[-1], other)
            tip = points[-1] - w / cosine * middle
            joint = np.array([tip, points[-1] - t / cosine * middle])
            sweep = np.linspace(0, 1, 12)[:, None]
            arc = (1 - sweep) * normals[-1] + sweep * other
            arc = tip + w * arc / np.linalg.norm(arc, axis=1)[:, None]
            top, under = np.concatenate([top[:-1], arc]), np.concatenate([under[:-1], joint[1:]])
            picture.line(to([arc[0], points[-1], arc[-1]]), GREY, 1, dash="2 3")
        elif k:
            top, under = top[1:], under[1:]
        outer.append(top)
        inner.append(under)
    outer, inner = np.concatenate(outer), np.concatenate(inner)
    if colour == FOAM[0]:  # its last end, and the other's first, are mitred
        inner[-1] = _mitre(runs[-1][0][-1], runs[-1][1][-1], -SEAM)
    else:
        inner[0] = _mitre(runs[0][0][0], runs[0][1][0], SEAM)
    picture.line(to(np.concatenate([outer, inner[::-1]])), INK, 1.8, colour, closed=True)
    if joint is not None:
        picture.line(to(joint), INK, 1.8)
    for points, normals, curvature in runs:
        bend = curvature.sum(axis=1)
        for sign in (1, -1):
            on = sign * bend > 0.005
            hollow = STRIP.neutral * t
            depth = t - hollow if sign > 0 else hollow
            if on.any():
                picture.line(to((points - depth * normals)[on]), BLUE, 2.2, dash="8 4")


def _bisector(a, b) -> tuple[np.ndarray, float]:
    middle = (a + b) / np.linalg.norm(a + b)
    return middle, float(a @ middle)


def _mitre(point, normal, turn) -> np.ndarray:
    angle = np.radians(turn)
    other = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) @ normal
    middle, cosine = _bisector(normal, other)
    return point - STRIP.thickness / cosine * middle


def _letters(picture, cut, lays, order, row, to) -> None:
    t, hollow = STRIP.thickness, STRIP.neutral * STRIP.thickness
    runs = [run for r in order for run in _runs(cut.regions[r], lays[r], row)]
    points, normals, curvature = runs[0]
    p = lambda point: to(point)[0]  # noqa: E731
    start = points[0] - 2.5 * (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
    picture.measure(p(start), p(start - t * normals[0]), "t",
                    p(start - t / 2 * normals[0]) + [-7, 10], "end")
    bend = curvature.sum(axis=1)
    for sign in (1, -1):
        on = np.flatnonzero(sign * bend > 0.005)
        at = on[len(on) // 2]
        ends = (t - hollow, t) if sign > 0 else (0.0, hollow)
        a, b = (p(points[at] - h * normals[at]) for h in ends)
        picture.measure(a, b, "k t", (a + b) / 2 + [8, 5], "start", BLUE)
        face, name = (0.0, "outer face") if sign > 0 else (t, "inner face")
        picture.text(*(p(points[at] - face * normals[at]) + [0, -sign * 12 + (sign < 0) * 10]),
                     name, "middle")
    fold, other = runs[1][0][0], runs[2][0][0]
    for place, before, after, name in ((fold, runs[0], runs[1], "f: a trench"),
                                       (other, runs[1], runs[2], "g: a seam")):
        ahead = before[0][-1] - before[0][-2]
        ahead /= np.linalg.norm(ahead)
        onward = after[0][1] - after[0][0]
        onward /= np.linalg.norm(onward)
        picture.line(to([place + 0.5 * ahead, place + 13 * ahead]), GREY, 1, dash="3 3")
        sweep = np.linspace(0, 1, 16)[:, None]
        arc = (1 - sweep) * ahead + sweep * onward
        arc = place + 10 * arc / np.linalg.norm(arc, axis=1)[:, None]
        picture.line(to(arc), GREY, 1)
        picture.text(*(p(place + 13 * (ahead + onward) / np.linalg.norm(ahead + onward))
                       + [-5, 5]), name)
    # Where a square cut would end, and how far the mitre cuts back from it.
    end, normal = runs[1][0][-1], runs[1][1][-1]
    foot = end - t * normal
    back = _mitre(end, normal, -SEAM)
    picture.line(to([end, foot]), GREY, 1, dash="3 3")
    down = -1.6 * normal
    picture.measure(p(foot + down), p(back + down), "t tan(g/2)",
                    p((foot + back) / 2 + 3 * down) + [-8, 10], "end")
    picture.text(34, 30, "Formed: the dashed blue line keeps its length", size=17)


def _laid(picture: Canvas, pieces, row) -> None:
    """The same pieces on the cutting mat, in section, outer face up."""
    t, left, top = STRIP.thickness * SCALE, 30.0, 408.0
    picture.text(34, top - 52, "Flat: the same two pieces on the mat", size=17)
    for piece, colour in zip(pieces, FOAM, strict=True):
        at = np.flatnonzero(np.isin(piece.source_vertex, row))
        at = at[np.argsort(piece.source_vertex[at])]
        along = piece.flat[at[-1]] - piece.flat[at[0]]
        along /= np.linalg.norm(along)
        place = lambda q: (np.asarray(q) - piece.flat[at[0]]) @ along  # noqa: B023, E731
        front, back = place(piece.front[0]), place(piece.back[0])
        x = lambda s: left + SCALE * (s - min(front.min(), 0.0))  # noqa: B023, E731
        under = [(x(back.max()), top + t), (x(back.min()), top + t)]
        mouths = []
        for fold in piece.folds:
            middle = float(place(fold.points).mean())
            half, depth = fold.mouth / 2, SCALE * fold.depth
            under[1:1] = [(x(middle + half), top + t), (x(middle), top + t - depth),
                          (x(middle - half), top + t)]
            mouths.append((middle, half, depth))
        picture.line([(x(front.min()), top), (x(front.max()), top), *under], INK, 1.8, colour,
                     closed=True)
        for middle, half, depth in mouths:
            picture.measure((x(middle - half), top + t + 16), (x(middle + half), top + t + 16),
                            "m = 2 d tan(f/2)", (x(middle), top + t + 38))
            side = x(middle + half) + 16
            picture.measure((side, top + t - depth), (side, top + t), "d",
                            (side + 9, top + t - depth / 2 + 5), "start")
            picture.measure((side, top), (side, top + t - depth), "w",
                            (side + 9, top + (t - depth) / 2 + 5), "start")
        picture.measure((x(front.min()), top - 14), (x(front.max()), top - 14),
                        f"{np.ptp(front):.1f} mm", ((x(front.min()) + x(front.max())) / 2,
                                                    top - 21))
        if piece is pieces[0]:
            corner = x(back.max())
            picture.line([(x(front.max()), top), (x(front.max()), top + t)], GREY, 1, dash="3 3")
            picture.text(corner - 8, top + t + 20, "bevel g/2", "middle")
        left = x(max(front.max(), back.max())) + 26


# --- two flats of one cap ----------------------------------------------------

CAP, RADIUS, RINGS = 52.0, 100.0, 14


def _system(degrees: float, rings: int):
    """A cap's region, its linear system and a start."""
    cut = seams.cut(sculpt(cap(RADIUS, np.radians(degrees), rings)))
    (region,), (lay,) = cut.regions, layer.layers(cut, [SKIN], ["outer"], WEB)
    system = System(region.faces, lay.lengths, len(region.vertices), no_seams(region))
    return region, system, start_of(system, region)


class _State(NamedTuple):
    points: np.ndarray
    u: float
    certificate: Callable[[], float]


def _search(system: System, start: np.ndarray, steps: int) -> Iterator[_State]:
    """The engine's search for the heated skin, step by step, without its early end."""
    limits = SKIN.heated
    band = Band(system, start, limits)
    for step in range(1, steps + 1):
        upper, lower, edges = band.reach()
        push = band.price * (limits.compress + limits.stretch) / 2
        spare = band.price / spared_share(system)
        u = choose_band(upper, lower, system.weight, band.u, limits.compress, limits.stretch,
                        push, spare)
        band.advance(u, with_lengths(system, edges, np.ones(system.seams.count)), spare)
        yield _State(band.points, u, band.certificate)
        band.cheapen(CHEAPER.get(step, 1.0))


def milnor(degrees: float) -> float:
    """Utilisation of the best flat of a cap (Milnor 1969)."""
    a = np.radians(degrees)
    return utilisation_of_ratio(a / np.sin(a), SKIN.heated)


def flats() -> Canvas:
    """A cap, its flat of least average strain, and its flat of least utilisation."""
    region, system, start = _system(CAP, RINGS)
    limits = SKIN.heated
    even = as_rigid_as_possible(system, start, 300)
    sigma = system.stretch(even)
    ratio = sigma[:, 0].max() / sigma[:, 1].min()
    # Scaled to its advantage: then both limits are reached alike.
    even = even * sigma[:, 0].max() / (1 + limits.stretch * utilisation_of_ratio(ratio, limits))
    best = min(_search(system, start, 2 * LAST), key=lambda b: system.utilisation(b.points, limits))
    best = best.points
    picture = Canvas(375, "A spherical cap and two flat pieces of it")
    size = 1.16
    lit = region.vertices @ _view().T
    corners = lit[region.faces][:, :, :2]
    across = np.cross(lit[region.faces[:, 1]] - lit[region.faces[:, 0]],
                      lit[region.faces[:, 2]] - lit[region.faces[:, 0]])
    light = across @ [-0.4, 0.5, 0.77] / np.linalg.norm(across, axis=1)
    seen = np.flatnonzero(across[:, 2] > 0)
    shown = corners[seen].reshape(-1, 2)
    middle = (shown.max(axis=0) + shown.min(axis=0)) / 2
    grey = (255 * (0.62 + 0.36 * np.maximum(light, 0.0)) / 8).astype(int) * 8
    for level in np.unique(grey[seen]):  # none hides another: the cap is convex
        picture.triangles([135, 185] + size * (corners[seen[grey[seen] == level]] - middle)
                          * [1, -1], f"rgb({level},{level},{level})", "#909090")
    picture.text(135, 30, "The sculpt", "middle", size=17)
    picture.text(135, 52, f"a cap of {CAP:.0f} degrees", "middle")
    most = 1.1
    for x, points, name in ((400, even, "Least average"), (665, best, "Least utilisation")):
        u = limits.utilisation(system.stretch(points))
        flat = np.stack([points.real, -points.imag], axis=1)
        flat = [x, 185] + size * (flat - (flat.max(axis=0) + flat.min(axis=0)) / 2)
        level = np.minimum((u / most * LEVELS).astype(int), LEVELS - 1)
        for k in np.unique(level):
            picture.triangles(flat[system.faces[level == k]], _shade((k + 0.5) / LEVELS),
                              "#8a98a8")
        for edge in _outline(system.faces[u > 1]):
            picture.line(flat[edge], INK, 1.3)
        picture.text(x, 30, name, "middle", size=17)
        beyond = 100 * system.area[u > 1].sum() / system.area.sum()
        picture.text(x, 52, f"u = {u.max():.3f}; {beyond:.0f} % of it is over 1" if beyond else
                     f"u = {u.max():.3f} (no flat is below {milnor(CAP):.3f})", "middle")
    left, wide, y = 200, 400, 315
    for k in range(LEVELS):
        x = left + wide * k / LEVELS
        picture.line([(x, y), (x + wide / LEVELS, y), (x + wide / LEVELS, y + 16), (x, y + 16)],
                     "none", 0, _shade((k + 0.5) / LEVELS), closed=True)
    picture.line([(left, y), (left + wide, y), (left + wide, y + 16), (left, y + 16)], INK, 0.8,
                 closed=True)
    for value in (0, 0.25, 0.5, 0.75, 1):
        x = left + wide * value / most
        picture.line([(x, y), (x, y + (22 if value < 1 else 24))], INK, 1 if value < 1 else 2.6)
        picture.text(x, y + 40, f"{value:g}", "middle")
    picture.text(left - 12, y + 14, "utilisation of a triangle", "end")
    picture.text(left + wide + 12, y + 14, "over 1: outlined", "start")
    return picture


def _view() -> np.ndarray:
    """Rows: right, up and towards the eye, for a look from above."""
    tilt = np.radians(50.0)
    return np.array([[1, 0, 0], [0, np.sin(tilt), np.cos(tilt)],
                     [0, -np.cos(tilt), np.sin(tilt)]])


def _shade(share: float) -> str:
    low, middle, high = np.array(RAMP)
    mixed = (low + (middle - low) * 2 * share if share < 0.5 else
             middle + (high - middle) * (2 * share - 1))
    return "#" + "".join(f"{round(v):02x}" for v in mixed)


def _outline(faces) -> np.ndarray:
    """Edges (k, 2) that only one of the faces has."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    found, count = np.unique(edges, axis=0, return_counts=True)
    return found[count == 1]


# --- a search step by step ---------------------------------------------------

HARD, LAST = 60.0, 160


def convergence() -> Canvas:
    """Utilisation found, multiplier's u and certificate against steps, with Milnor's value."""
    _, system, start = _system(HARD, 30)
    limits = SKIN.heated
    found, asked, proven = [], [], []
    for band in _search(system, start, LAST):
        found.append(system.utilisation(band.points, limits))
        asked.append(band.u)
        proven.append(band.certificate())
    steps = np.arange(1, LAST + 1)
    picture = Canvas(400, "Convergence of the search on a cap")
    left, right, top, bottom, low, high = 70, 770, 66, 340, 0.8, 1.7
    x = lambda s: left + (right - left) * np.asarray(s) / LAST  # noqa: E731
    y = lambda u: bottom - (bottom - top) * (np.asarray(u) - low) / (high - low)  # noqa: E731
    picture.text(left, 28, f"The search for the flat of a cap of {HARD:.0f} degrees, "
                 f"{len(system.faces):,} triangles", size=17)
    for value in np.arange(low, high + 0.01, 0.1):
        picture.line([(left, y(value)), (right, y(value))], "#e2e2e2", 1)
        picture.text(left - 8, y(value) + 5, f"{value:.1f}", "end")
    for value in range(0, LAST + 1, 20):
        picture.text(x(value), bottom + 22, f"{value}", "middle")
    picture.text((left + right) / 2, bottom + 46, "steps", "middle")
    picture.text(left - 8, top - 14, "u", "end")
    best = milnor(HARD)
    for values, colour, wide, dash in ((asked, GREY, 2, "2 3"), (found, "#08306b", 3, ""),
                                       (proven, "#4292c6", 3, "")):
        values = np.array(values)
        # From where it stays on the paper.
        on = np.arange(len(values)) > np.flatnonzero((values < low) | (values > high)).max(
            initial=-1)
        picture.line(np.stack([x(steps[on]), y(values[on])], axis=1), colour, wide, dash=dash)
    picture.line([(left, y(best)), (right, y(best))], INK, 1.2, dash="6 4")
    for k, (words, colour, dash) in enumerate((
            (f"utilisation found, at last {found[-1]:.3f}", "#08306b", ""),
            (f"u of the multipliers, at last {asked[-1]:.3f}", GREY, "2 3"),
            (f"certificate, at last {proven[-1]:.3f}", "#4292c6", ""),
            (f"least by Milnor on the sphere, {best:.3f}", INK, "6 4"))):
        at = bottom - 92 + 24 * k
        picture.line([(400, at - 5), (440, at - 5)], colour, 2.4, dash=dash)
        picture.text(450, at, words)
    return picture
