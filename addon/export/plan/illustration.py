"""A picture of the suit with its codes and letters, as areas, lines and words in mm."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..fonts import cap_height, text_width
from ..picture import Picture

WIDTHS = {"outline": 0.35, "border": 0.18, "mark": 0.15, "seam": 1.0}  # of lines, mm
SIZE = 3.1  # of codes and letters, mm
_SOFT = 0.40  # grey of leaders
_RADIUS = 2.1  # mm, of the balloon round a letter, at least


@dataclass(frozen=True, eq=False)
class Area:
    """An area of one grey: rings (k, 2) inside rings are holes."""

    rings: tuple[np.ndarray, ...]
    grey: float


@dataclass(frozen=True, eq=False)
class Lines:
    """Lines (k, 2) of one look; dashes: lengths of ink and gap, mm."""

    lines: tuple[np.ndarray, ...]
    width: float
    grey: float = 0.0
    dashes: tuple[float, ...] = ()
    closed: bool = False


@dataclass(frozen=True)
class Words:
    """Bold words on a baseline that begins, ends or has its middle at (x, y), as anchor says."""

    text: str
    x: float
    y: float
    anchor: str = "middle"
    size: float = SIZE


Shape = Area | Lines | Words


@dataclass(frozen=True, eq=False)
class Illustration:
    """Shapes in the order they are painted, y up. size: (w, h) mm of the picture from the origin;
    codes beside it stand further out, as far as `beside` on each side. alt: what it shows."""

    size: tuple[float, float]
    shapes: tuple[Shape, ...]
    caption: str = ""
    alt: str = ""

    @property
    def beside(self) -> float:
        """How far words reach beyond the left or the right side, mm."""
        ends = [_reach(shape) for shape in self.shapes if isinstance(shape, Words)]
        return max([0.0, *(-low for low, _ in ends), *(high - self.size[0] for _, high in ends)])

    def scaled(self, factor: float) -> Illustration:
        """The same at another size, with lines as wide as they are."""
        return Illustration((self.size[0] * factor, self.size[1] * factor),
                            tuple(_scaled(shape, factor) for shape in self.shapes),
                            self.caption, self.alt)


def illustrate(picture: Picture, letters: Mapping[str, str] | None = None,
               wanted: Sequence[str] | None = None, caption: str = "", alt: str = "",
               only: Sequence[str] | None = None) -> Illustration:
    """A picture with its codes, and the letters of its seams by the codes of the mates.

    wanted: pieces that get a leader where their code does not fit inside; None: all that are
    seen. only: pieces that are lettered at all.
    """
    labels = lettering(picture, dict(letters or {}), SIZE, wanted)
    if only is not None:
        labels = [label for label in labels if label[1] in only]
    shapes = [Area(fill.rings, fill.grey) for fill in picture.fills]
    for kind, width in sorted(WIDTHS.items(), key=lambda item: item[1]):
        lines = tuple(line.points for line in picture.lines if line.kind == kind)
        if lines:
            shapes.append(Lines(lines, width, dashes=(1.2, 1.0) if kind == "mark" else ()))
    return Illustration(picture.size, (*shapes, *_drawn(labels)), caption, alt or caption)


def lettering(picture: Picture, letters: dict[str, str], size: float,
              wanted: Sequence[str] | None = None) -> list[tuple]:
    """Where codes and seam letters stand: ("code", text, x, y), ("leader", text, anchor, x, y,
    spot) or ("seam", text, x, y), relative to the picture.

    A code stands inside its piece where it fits, else beside the picture on a leader;
    with `wanted`, other pieces get no leader. Leaders do not cross on one side.
    """
    found, outside = [], {"end": [], "start": []}
    balloons = [(picture.seam_spots[c], letters[c]) for c in letters if c in picture.seam_spots]
    for code, (x, y, room) in picture.spots.items():
        half = np.hypot(text_width(code, size, True), cap_height(size, True)) / 2 + 0.4
        free = all(np.hypot(x - bx, y - by) > half + 2.4 for (bx, by), _ in balloons)
        if half <= room and free:
            found.append(("code", code, x, y - cap_height(size, True) / 2))
        elif wanted is None or code in wanted:
            side = "end" if x < picture.size[0] / 2 else "start"
            outside[side].append((y, x, code))
    for side, items in outside.items():
        at = -1.5 if side == "end" else picture.size[0] + 1.5
        heights = _spread([y for y, _, _ in sorted(items)], size * 1.25, picture.size[1])
        for (y, x, code), height in zip(sorted(items), heights, strict=True):
            found.append(("leader", code, side, at, height, (x, y)))
    return found + [("seam", letter, x, y) for (x, y), letter in balloons]


def _spread(heights: Sequence[float], step: float, top: float) -> np.ndarray:
    """Ascending heights moved apart to at least `step`, as little as a simple sweep can."""
    spread = np.array(heights, dtype=float)
    for i in range(1, len(spread)):
        spread[i] = max(spread[i], spread[i - 1] + step)
    over = max(0.0, spread[-1] - top) if len(spread) else 0.0
    spread -= over
    for i in range(len(spread) - 2, -1, -1):
        spread[i] = min(max(spread[i], heights[i] - over), spread[i + 1] - step)
    return spread


def _drawn(labels: Iterable[tuple]) -> list[Shape]:
    """What `lettering` found."""
    low, shapes = cap_height(SIZE, True) / 2, []
    for kind, text, *where in labels:
        if kind == "leader":
            side, at, height, spot = where
            inward = 0.6 if side == "end" else -0.6
            leader = np.array([(at + inward, height + low), spot])
            shapes += [Lines((leader,), 0.15, _SOFT), Area((_disc(spot, 0.4),), 0.0),
                       Words(text, at, height, side)]
        elif kind == "code":
            shapes.append(Words(text, *where))
        else:
            ring = _disc(where, max(_RADIUS, text_width(text, SIZE, True) / 2 + 0.9))
            shapes += [Area((ring,), 1.0), Lines((ring,), 0.3, closed=True),
                       Words(text, where[0], where[1] - low)]
    return shapes


def _disc(centre: Sequence[float], radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    return np.asarray(centre) + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def _reach(words: Words) -> tuple[float, float]:
    long = text_width(words.text, words.size, True)
    low = words.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[words.anchor] * long
    return low, low + long


def _scaled(shape: Shape, by: float) -> Shape:
    if isinstance(shape, Area):
        return Area(tuple(ring * by for ring in shape.rings), shape.grey)
    if isinstance(shape, Lines):
        return Lines(tuple(line * by for line in shape.lines), shape.width, shape.grey,
                     shape.dashes, shape.closed)
    return Words(shape.text, shape.x * by, shape.y * by, shape.anchor, shape.size * by)
