"""What is written on a piece: label, bevel and fold notes. Words only, no places."""

from __future__ import annotations

import numpy as np

from ..core.model import FRONT, TRENCH, Fold, Pattern, Piece, PieceEdge
from ..core.units import format_angle, format_length
from .labels import Block, Line
from .strokes import MIN_SIZE

BEVEL_STEP = np.radians(3.0)  # a bevel that changes by more than this is noted afresh
BEVEL_LEAST = np.radians(1.0)  # anything flatter is cut square
DOT = " · "
STRETCH_LEAST = 15.0  # mm of edge that can carry a note of its own


def count(piece: Piece) -> str:
    """How many are cut from this template."""
    if not piece.mirrored:
        return f"cut {piece.copies}"
    if not piece.copies:
        return f"cut {piece.mirrored} mirrored"
    return f"cut {piece.copies} + {piece.mirrored} mirrored"


def label_lines(piece: Piece, pattern: Pattern, placed: bool) -> list[str]:
    """Code, then name, count, stock, face up and forming.

    placed: the piece lies on a mat as itself, so its count is left out.
    """
    unit = pattern.settings.unit
    thickness = format_length(piece.stock.thickness, unit)
    stock = piece.stock.name
    if thickness not in stock:
        stock = f"{stock}, {thickness} thick"
    if placed:
        number = "mirrored" if piece.flipped else ""
    else:
        number = count(piece)
        also = [p.code for p in pattern.pieces
                if p.template == piece.code and p.code != piece.code]
        if also:
            number += f" (also {', '.join(also)})"
    face = "outside face up"
    if piece.verdict.kind == "heat":
        face += ", heat to form"
    return [piece.code, piece.name, number, stock, face]


def label_blocks(lines: list[str]) -> list[tuple[Block, Block, Block, Block]]:
    """The label from large to small, each size as a stack, as three, two and one line."""
    code, rest = lines[0], [line for line in lines[1:] if line]
    blocks = []
    for scale in (1.5, 1.0, 0.8, 0.6):
        big, name, small = (max(size * scale, MIN_SIZE) for size in (10.0, 5.0, 4.2))
        head = Line(code, big, bold=True)
        if lines[1]:
            named = [Line(rest[0], name), *(Line(line, small) for line in rest[1:])]
        else:
            named = [Line(line, small) for line in rest]
        titled = Line(f"{code} {lines[1]}".strip(), max(big * 0.6, MIN_SIZE), bold=True)
        blocks.append((
            Block(head, *named),
            Block(titled, Line(DOT.join(filter(None, lines[2:4])), small), Line(lines[4], small)),
            Block(titled, Line(DOT.join(filter(None, lines[2:])), small)),
            Block(Line(DOT.join([code, *rest]), small, bold=True)),
        ))
    return blocks


def fold_blocks(fold: Fold, unit: str) -> list[Block]:
    """The note of a trench or score line, from plain words to the shortest form."""
    side = "F" if fold.side == FRONT else "B"
    depth = format_length(fold.depth, unit)
    angle = angle_range(fold.fold)
    if fold.kind == TRENCH:
        mouth = format_length(fold.mouth, unit)
        kind, size = f"trench {side}", f"{depth} deep, {mouth} wide"
    else:
        kind, size = f"score {side}", f"{depth} deep"
    turn = f"fold {angle}" if angle else ""
    notes = [", ".join(filter(None, (kind, size, turn)))]
    return [
        Block(Line(notes[0])),
        Block(Line(", ".join(filter(None, (kind, turn)))), Line(size)),
        Block(Line(kind), *(Line(part) for part in size.split(", ")), Line(turn)),
    ]


def angle_range(angles: np.ndarray) -> str:
    """Degrees without sign: "60°", or "40–60°" where they vary by more than BEVEL_STEP."""
    size = np.abs(np.asarray(angles, dtype=float))
    low, high = float(size.min()), float(size.max())
    if high < BEVEL_LEAST:
        return ""
    if high - low <= BEVEL_STEP:
        return format_angle((low + high) / 2)
    return f"{format_angle(low).rstrip('°')}–{format_angle(high)}"


def bevel_note(angles: np.ndarray, larger: str) -> str:
    """Angle from square and which face is larger, such as "45° F>B"."""
    angle = angle_range(angles)
    if not angle:
        return ""
    return f"{angle} {'F>B' if larger == FRONT else 'B>F'}"


def bevel_stretches(edge: PieceEdge) -> list[tuple[int, int]]:
    """Runs (first, last) of an edge's points over which the bevel is one note.

    A run ends where the bevel has changed by more than BEVEL_STEP since its
    start; runs too short to carry a note join the one before.
    """
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge.cut, axis=0).T))])
    least = min(STRETCH_LEAST, arc[-1])
    runs, start = [], 0
    for i in range(1, len(edge.bevel)):
        seen = edge.bevel[start : i + 1]
        if np.ptp(seen) > BEVEL_STEP and arc[i] - arc[start] >= least:
            runs.append((start, i))
            start = i
    if start < len(edge.bevel) - 1:
        if runs and arc[-1] - arc[start] < least:
            start = runs.pop()[0]
        runs.append((start, len(edge.bevel) - 1))
    return runs
