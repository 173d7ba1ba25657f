"""Outlines of leftover foam in an SVG drawing -> Offcuts."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Offcut
from ..core.stock import shipped

MM = {"": 25.4 / 96, "px": 25.4 / 96, "mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72,
      "pc": 25.4 / 6}  # of the units of SVG 1.1 and CSS Values 3, absolute lengths
CURVE = 24  # straight steps for a curve
LEAST = 20.0  # mm: least width and height of an offcut that is of use
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"


def read_offcuts(path: str | Path) -> tuple[Offcut, ...]:
    """The closed shapes of an SVG drawing at true size: paths, polygons and rectangles.

    Inner rings of a path are holes. The size of the drawing says what a unit is; without one it
    is mm. A shape in a group (or itself) with the short name of a shipped stock, such as eva-10,
    as its id or label is of that stock, one with the name of another stock as its label is of
    that; all else is of the suit's.

    Raises FoamError `missing-file`, `unreadable-file`, `no-offcuts` or `bad-offcut`.
    """
    path = Path(path)
    try:
        root = ElementTree.fromstring(path.read_bytes())
    except FileNotFoundError as error:
        raise _error("missing-file", f"There is no file {path}.",
                     "Check the name and the folder.") from error
    except (OSError, ElementTree.ParseError) as error:
        raise _error("unreadable-file", f"The file {path} cannot be read as SVG: {error}.",
                     "Save the drawing again as plain SVG.") from error
    try:
        shapes = list(_shapes(root, _base(root), ""))
    except (ValueError, IndexError, KeyError) as error:
        raise _error("unreadable-file", f"The file {path} holds a shape that makes no sense: "
                     f"{error}.", "Save the drawing again as plain SVG.") from error
    offcuts = tuple(_offcut(n, rings, stock, path)
                    for n, (rings, stock) in enumerate(shapes, 1))
    if not offcuts:
        raise _error("no-offcuts", f"The file {path} holds no closed shapes.",
                     "Draw the outline of each offcut as a closed path, polygon or rectangle.")
    return offcuts


def _offcut(number: int, rings: list[np.ndarray], stock: str, path: Path) -> Offcut:
    from shapely import Polygon

    rings.sort(key=lambda ring: -Polygon(ring).area)
    shape = Polygon(rings[0], rings[1:])
    if not shape.is_valid or min(np.ptp(rings[0], axis=0)) < LEAST:
        raise _error("bad-offcut",
                     f"Shape {number} of {path} is no outline of foam: it crosses itself, lies in "
                     f"several parts or is narrower than {LEAST:g} mm.",
                     "Mend its outline, or delete it. Draw each offcut as a shape of its own.")
    return Offcut(f"offcut {number}", tuple(tuple(map(tuple, ring.tolist())) for ring in rings),
                  stock)


def _base(root: ElementTree.Element) -> np.ndarray:
    """Affine map (2, 3) from the drawing's units to mm with y up."""
    size = [re.fullmatch(rf"\s*({_NUMBER})\s*([a-z]*)\s*", root.get(side, ""))
            for side in ("width", "height")]
    box = [float(number) for number in re.findall(_NUMBER, root.get("viewBox", ""))]
    scale = 1.0
    if size[0] and size[0][2] in MM:
        scale = MM[size[0][2]]
        if len(box) == 4:
            scale *= float(size[0][1]) / box[2]
    return np.array([[scale, 0.0, 0.0], [0.0, -scale, 0.0]])


def _shapes(element: ElementTree.Element, to_mm: np.ndarray, stock: str
            ) -> Iterator[tuple[list[np.ndarray], str]]:
    """The rings of every closed shape in mm, and the name of its stock."""
    tag = element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
    if tag in ("defs", "clipPath", "mask", "symbol", "marker", "pattern"):
        return
    to_mm = _after(to_mm, _transform(element.get("transform", "")))
    stock = _stock(element) or stock
    rings = {"path": _path, "polygon": _polygon, "rect": _rectangle}.get(tag, lambda e: [])(element)
    rings = [ring @ to_mm[:, :2].T + to_mm[:, 2] for ring in rings if len(ring) > 2]
    if rings:
        yield rings, stock
    for child in element:
        yield from _shapes(child, to_mm, stock)


def _stock(element: ElementTree.Element) -> str:
    label = next((value for key, value in element.items() if key.endswith("}label")), "")
    known = {name.lower(): stock.name for name, stock in shipped().items()}
    for name in (label, element.get("id", "")):
        if name.strip().lower() in known:
            return known[name.strip().lower()]
    return label.strip()


def _path(element: ElementTree.Element) -> list[np.ndarray]:
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.svgLib.path import parse_path

    pen = RecordingPen()
    parse_path(element.get("d", ""), pen)
    rings: list[list[np.ndarray]] = []
    for what, points in pen.value:
        points = [np.array(p) for p in points]
        if what == "moveTo":
            rings.append(points)
        elif what == "lineTo":
            rings[-1] += points
        elif what in ("curveTo", "qCurveTo"):
            t = np.linspace(0, 1, CURVE + 1)[1:, None]
            knots = [rings[-1][-1], *points]
            n = len(knots) - 1
            rings[-1] += list(sum(math.comb(n, k) * (1 - t) ** (n - k) * t**k * p
                                  for k, p in enumerate(knots)))
    return [_open(np.array(ring)) for ring in rings]


def _polygon(element: ElementTree.Element) -> list[np.ndarray]:
    numbers = np.array(re.findall(_NUMBER, element.get("points", "")), dtype=float)
    return [_open(numbers.reshape(-1, 2))]


def _rectangle(element: ElementTree.Element) -> list[np.ndarray]:
    x, y, w, h = (float(element.get(key, 0)) for key in ("x", "y", "width", "height"))
    return [np.array([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])]


def _open(ring: np.ndarray) -> np.ndarray:
    """Without a last point that repeats the first one."""
    return ring[:-1] if len(ring) > 1 and np.allclose(ring[0], ring[-1]) else ring


def _transform(text: str) -> np.ndarray:
    """The affine map (2, 3) of a transform attribute."""
    whole = np.eye(2, 3)
    for name, words in re.findall(r"(\w+)\s*\(([^)]*)\)", text):
        v = [float(number) for number in re.findall(_NUMBER, words)]
        if name == "matrix":
            step = np.array(v).reshape(3, 2).T
        elif name == "translate":
            step = np.array([[1, 0, v[0]], [0, 1, v[1] if len(v) > 1 else 0]])
        elif name == "scale":
            step = np.array([[v[0], 0, 0], [0, v[-1], 0]])
        elif name == "rotate":
            c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
            turn, (x, y) = np.array([[c, -s], [s, c]]), v[1:] or (0.0, 0.0)
            step = np.c_[turn, np.array([x, y]) - turn @ (x, y)]
        else:
            raise ValueError(f"the transform “{name}” is not known")
        whole = _after(whole, step)
    return whole


def _after(outer: np.ndarray, inner: np.ndarray) -> np.ndarray:
    return np.c_[outer[:, :2] @ inner[:, :2], outer[:, :2] @ inner[:, 2] + outer[:, 2]]


def _error(code: str, message: str, remedy: str) -> FoamError:
    return FoamError(Finding(code, ERROR, message, remedy))
