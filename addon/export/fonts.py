"""The typeface of sheets and plan: widths in mm, stand-ins for letters it lacks, outlines."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np

from .strokes import Text

FAMILY = "IBM Plex Sans"
FALLBACK = f"'{FAMILY}', 'Noto Sans', 'DejaVu Sans', Arial, sans-serif"  # CSS font-family
FOLDER = Path(__file__).resolve().parent.parent / "fonts"
REGULAR, BOLD = FOLDER / "IBMPlexSans-Regular.ttf", FOLDER / "IBMPlexSans-Bold.ttf"

_CURVE_STEPS = 6  # straight pieces per quadratic curve of an outline


class _Face:
    """One font file, read once."""

    def __init__(self, path: Path):
        from fontTools.ttLib import TTFont

        font = TTFont(BytesIO(path.read_bytes()), lazy=True)  # read in, so that no file stays open
        self.em = font["head"].unitsPerEm
        self.cap = font["OS/2"].sCapHeight / self.em
        self.names = font.getBestCmap()
        self.advance = {code: font["hmtx"][name][0] for code, name in self.names.items()}
        self.glyphs = font.getGlyphSet()


@lru_cache(maxsize=2)
def _face(bold: bool) -> _Face:
    return _Face(BOLD if bold else REGULAR)


def cap_height(size: float, bold: bool = False) -> float:
    """Height of capital letters, mm, at a font size in mm."""
    return size * _face(bold).cap


@lru_cache(maxsize=65536)  # a suit of some hundred pieces has ten thousands of words
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text, mm, at a font size in mm (no kerning).

    Letters the typeface lacks count as their stand-ins (see `legible`).
    """
    face = _face(bold)
    return sum(face.advance[ord(c)] for c in legible(text)) * size / face.em


@lru_cache(maxsize=65536)
def legible(text: str) -> str:
    """The text in characters the typeface has.

    A missing letter becomes its compatibility decomposition without the marks
    the face lacks ("ﬁ" -> "fi"), else its code point, such as "U+4E2D". Line
    breaks and tabs become blanks; other control characters vanish.
    """
    if text.isascii() and text.isprintable():
        return text
    known = _face(False).names
    out = []
    for char in unicodedata.normalize("NFC", str(text)):
        if char.isspace():
            out.append(" ")
        elif unicodedata.category(char) in ("Cc", "Cf"):
            continue
        elif ord(char) in known:
            out.append(char)
        else:
            out.append(_stand_in(char, known))
    return "".join(out)


def ascii_text(text: str) -> str:
    """The text in printable 7-bit ASCII, for formats that know no more (ASTM D6673)."""
    words = {"°": " deg", "·": "-", "×": "x", "–": "-", "—": "-", "’": "'", "“": '"', "”": '"'}
    out = []
    for char in unicodedata.normalize("NFC", str(text)):
        if char.isspace():
            out.append(" ")
        elif char.isascii():
            out.append(char if char.isprintable() else "")
        else:
            out.append(words.get(char) or _stand_in(char, range(32, 127)))
    return "".join(out)


def _stand_in(char: str, known) -> str:
    parts = unicodedata.normalize("NFKD", char)
    kept = "".join(c for c in parts if ord(c) in known and not unicodedata.combining(c))
    bare = [c for c in parts if not unicodedata.combining(c)]
    return kept if kept and len(kept) == len(bare) else f"U+{ord(char):04X}"


def outlines(text: str, size: float, bold: bool = False) -> list[np.ndarray]:
    """Closed contours (k, 2), mm, y up, of a line of text that starts at the origin.

    Fill with the non-zero rule: counters run the other way round.
    """
    face = _face(bold)
    scale, x, contours = size / face.em, 0.0, []
    for char in legible(text):
        for contour in _contours(char, bold):
            contours.append((contour + (x, 0.0)) * scale)
        x += face.advance[ord(char)]
    return contours


def placed_outlines(text: Text) -> list[np.ndarray]:
    """The contours (k, 2) of a text where it stands on its drawing."""
    back = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    start = back * text_width(text.text, text.size, text.bold)
    c, s = np.cos(text.angle), np.sin(text.angle)
    turn = np.array([[c, s], [-s, c]])
    return [(contour - (start, 0.0)) @ turn + text.point
            for contour in outlines(text.text, text.size, text.bold)]


@lru_cache(maxsize=1024)
def _contours(char: str, bold: bool) -> tuple[np.ndarray, ...]:
    """Contours of one glyph in font units, curves as short straight pieces."""
    from fontTools.pens.basePen import BasePen

    class Pen(BasePen):
        def __init__(self, glyphs):
            super().__init__(glyphs)
            self.done: list[list] = []

        def _moveTo(self, point):
            self.done.append([point])

        def _lineTo(self, point):
            self.done[-1].append(point)

        def _qCurveToOne(self, control, end):
            start, control, end = np.array([self.done[-1][-1], control, end], dtype=float)
            t = np.linspace(0, 1, _CURVE_STEPS + 1)[1:, None]
            curve = (1 - t) ** 2 * start + 2 * t * (1 - t) * control + t**2 * end
            self.done[-1].extend(map(tuple, curve))

        def _curveToOne(self, first, second, end):
            p0, p1, p2, p3 = np.array([self.done[-1][-1], first, second, end], dtype=float)
            t = np.linspace(0, 1, 2 * _CURVE_STEPS + 1)[1:, None]
            curve = ((1 - t) ** 3 * p0 + 3 * t * (1 - t) ** 2 * p1
                     + 3 * t**2 * (1 - t) * p2 + t**3 * p3)
            self.done[-1].extend(map(tuple, curve))

    face = _face(bold)
    pen = Pen(face.glyphs)
    face.glyphs[face.names[ord(char)]].draw(pen)
    return tuple(np.array(c, dtype=float) for c in pen.done)
