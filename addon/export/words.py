"""What is written on a piece: its label and the notes of its folds. Words only, no places."""

from __future__ import annotations

import numpy as np

from ..core.model import EXAGGERATED, FRONT, TRENCH, Bend, EdgeFinish, Fold, Pattern, Piece
from ..core.units import format_angle, format_length
from .bevels import angle_range
from .labels import Block, Line
from .strokes import MIN_SIZE

DOT = " · "
TURNED = np.radians(10.0)  # a repeat worn turned by more than this is said to be


def count(piece: Piece) -> str:
    """How many are cut from this template."""
    if not piece.mirrored:
        return f"cut {piece.copies}"
    if not piece.copies:
        return f"cut {piece.mirrored} mirrored"
    return f"cut {piece.copies} + {piece.mirrored} mirrored"


def label_lines(piece: Piece, pattern: Pattern, placed: bool, back: bool = False) -> list[str]:
    """Code, then name, count, stock, face up and forming.

    placed: the piece lies on a mat as itself, so its count is left out. back: it is drawn as
    seen from behind.
    """
    if any(rod.code == piece.gauge_of for rod in pattern.rods):
        return [piece.code, piece.name, "bending gauge, cut 1", "lay the rod on it", ""]
    if piece.gauge_of:
        return [piece.code, piece.name, "forming gauge, cut 1", "inner face, a at a and b at b", ""]
    unit = pattern.settings.unit
    thickness = format_length(piece.stock.thickness, unit)
    stock = piece.stock.name
    if thickness not in stock:
        stock = f"{stock}, {thickness} thick"
    if pattern.settings.mock_up:
        stock = f"{stock}, {pattern.settings.mock_up}-scale mock-up"
    if placed:
        number = "mirrored" if piece.flipped else ""
    else:
        number = count(piece)
        also = [p.code + _turned(p, piece) for p in pattern.pieces
                if p.template == piece.code and p.code != piece.code]
        if also:
            number += f" (also {', '.join(also)})"
    face = "BACK: inside face up" if back else "outside face up"
    if piece.verdict.kind == "heat":
        face += ", heat to form"
    return [piece.code, piece.name, number, stock, face]


def _turned(piece: Piece, template: Piece) -> str:
    """Whether a piece is worn turned against the template it is cut from."""
    a, b = piece.up_on_template, template.up
    angle = abs(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)) if a.any() and b.any() else 0.0
    return f" turned {format_angle(angle)}" if angle > TURNED else ""


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


def finish_blocks(finish: EdgeFinish, unit: str) -> list[Block]:
    """The note of a seam's finish: its width on the face, and how deep a step is."""
    width = format_length(finish.width, unit)
    if finish.kind == EXAGGERATED:
        return [Block(Line(f"chamfer {width}")), Block(Line("chamfer"), Line(width))]
    depth = format_length(finish.depth, unit)
    return [Block(Line(f"set back {width}, {depth} deep")),
            Block(Line(f"set back {width}"), Line(f"{depth} deep"))]


def bend_blocks(bend: Bend) -> list[Block]:
    """The note of a bend: its angle, and to which side the piece goes from the line."""
    words = f"bend {format_angle(abs(bend.angle))}", "back" if bend.angle > 0 else "forward"
    return [Block(Line(" ".join(words))), Block(*map(Line, words))]
