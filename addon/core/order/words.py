"""What each step says, in a maker's words. Sentences only; no order is decided here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np

from ..model import (
    BACK,
    EXAGGERATED,
    FRONT,
    INNER,
    MIDDLE,
    OVERLAP,
    RECESSED,
    TRENCH,
    Mate,
    Piece,
    PieceEdge,
    Settings,
    Tape,
)
from ..units import format_angle, format_length
from .joins import Join, length, sides, template

SQUARE = np.radians(3.0)  # bevels and folds under this are not worth a word
EASE = 1.0  # mm of difference between two edges that the maker should know about

CEMENT = ("Contact cement thinly on both faces; wait until it is dry to the touch, "
          "5 to 20 minutes. The label of your cement wins.")
# Common practice, no source: a mock-up is taken apart again, or thrown away.
TAPED = "Tape the card edge to edge on its inner face; it is not cemented."
GLUE = "Match the notches. Press the two ends first, then the middle, then in between."
GLUE_RING = "Match the notches. Press one, then the one opposite, then in between."


def listed(words: Iterable[str]) -> str:
    """"A", "A and B", "A, B and C"."""
    words = list(words)
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def codes(pieces: Sequence[Piece]) -> str:
    """Codes of equal pieces; mirror images are named as such."""
    plain = [p.code for p in pieces if not p.flipped]
    turned = [p.code for p in pieces if p.flipped]
    if not plain or not turned:
        return listed(plain or turned)
    return f"{listed(plain)} and, turned over, {listed(turned)}"


def families(pieces: Iterable[Piece]) -> list[list[Piece]]:
    """Pieces grouped by their template, in the order given."""
    groups: dict[str, list[Piece]] = {}
    for piece in pieces:
        groups.setdefault(template(piece), []).append(piece)
    return list(groups.values())


def by_code(pieces: Iterable[Piece]) -> list[list[Piece]]:
    """Families in the order of their codes, for lists that are looked up."""
    return families(sorted(pieces, key=lambda p: natural(p.code)))


def natural(code: str) -> list:
    """Sort key that puts A2 before A10."""
    parts, digits = [], ""
    for char in code + "\0":
        if char.isdigit():
            digits += char
            continue
        if digits:
            parts.append((1, int(digits), ""))
            digits = ""
        parts.append((0, 0, char))
    return parts


def angle_span(angles: np.ndarray) -> str:
    """"45°" or "30–45°"; sizes without sign."""
    low, high = np.abs(angles).min(), np.abs(angles).max()
    if high - low < np.radians(2.0):
        return format_angle((low + high) / 2)
    return f"{format_angle(low)[:-1]}–{format_angle(high)}"


# --- before the glue ---------------------------------------------------------


def cut(pieces: Sequence[Piece], settings: Settings) -> list[str]:
    stock = pieces[0].stock
    sheet = " × ".join(format_length(side, settings.unit) for side in stock.sheet)
    counts = []
    for group in by_code(pieces):
        turned = sum(p.flipped for p in group)
        plain = len(group) - turned
        count = " + ".join(filter(None, (str(plain) if plain else "",
                                         f"{turned} mirrored" if turned else "")))
        code = template(group[0])
        counts.append(code if count == "1" else f"{code} ({count})")
    return [
        f"Cut from {stock.name}, mats of {sheet}: {', '.join(counts)}.",
        "Before the first cut, measure the check square on the printed page: 100 mm must be "
        "100 mm. Lay the templates on the outside face; for a mirrored piece turn the template "
        "over.",
        "Cut on the wide outer line with a fresh blade held upright, in long strokes and two or "
        "three passes. Bevels come later.",
        "Write on the inside face of each piece its code and the UP arrow, and carry over every "
        "edge letter and notch.",
    ]


def lines(pieces: Sequence[Piece], settings: Settings) -> list[str]:
    def size(mm):
        return format_length(mm, settings.unit)

    text = ["While the pieces still lie flat, cut their trenches and score lines. B is cut from "
            "the back (inside) face, F from the front (outside) face."]
    for group in by_code(p for p in pieces if p.folds):
        marks = []
        for fold in group[0].folds:
            face = "F" if fold.side == FRONT else "B"
            turn = f", folds {angle_span(fold.fold)}" if np.abs(fold.fold).max() > SQUARE else ""
            shape = (f"trench {face} {size(fold.depth)} deep, {size(fold.mouth)} wide"
                     if fold.kind == TRENCH else f"score line {face} {size(fold.depth)} deep")
            marks.append(shape + turn)
        counted = [f"{n} × {mark}" if n > 1 else mark for mark, n in Counter(marks).items()]
        text.append(f"{codes(group)}: {'; '.join(counted)}.")
    text.append("Make a trial on scrap: a trench should close just as the fold is reached. The web "
                "that is left carries the fold, so stop well before the other face.")
    return text


def finishes(pieces: Sequence[Piece], settings: Settings) -> list[str]:
    """How the outer edges of seams that are to be seen are cut, before they are glued."""
    def size(mm):
        return format_length(mm, settings.unit)

    text, kinds = [], {f.kind for p in pieces for f in p.finishes}
    for group in by_code(p for p in pieces if p.finishes):
        notes: dict[str, dict[str, None]] = {}
        for one in group[0].finishes:
            note = (f"chamfered by {size(one.width)}" if one.kind == EXAGGERATED else
                    f"set back by {size(one.width)}, {size(one.depth)} deep")
            notes.setdefault(note, {})[one.letter] = None
        marks = [f"{listed(letters)} {note}" for note, letters in notes.items()]
        text.append(f"{codes(group)}: {'; '.join(marks)}.")
    if EXAGGERATED in kinds:
        text.append("Chamfers: mark the width on the outside face and as much down the edge, and "
                    "cut from line to line, after the bevel. Two of them make the seam a V.")
    if RECESSED in kinds:
        text.append("Set back: cut straight down on the line, to the depth given, and then in "
                    "from the edge, so that a step comes off. Two of them make the seam a groove.")
    if kinds:
        text.append("Put no cement on what was cut away there: it stays open, and is seen.")
    return text


def needs_bevel(edge: PieceEdge) -> bool:
    return bool(edge.mate) and not edge.lap and np.abs(edge.bevel).max() > SQUARE


def bevels(pieces: Sequence[Piece]) -> list[str]:
    text = ["Tilt the knife by the angle given, from square, and trim the edge to the second, thin "
            "line. F: the outside face stays larger. B: the inside face stays larger. Edges not "
            "named stay square."]
    ranges = False
    for group in by_code(p for p in pieces if any(map(needs_bevel, p.edges))):
        notes: dict[str, dict[str, None]] = {}
        for edge in filter(needs_bevel, group[0].edges):
            face = {FRONT: " F", BACK: " B"}.get(edge.larger, "")
            notes.setdefault(angle_span(edge.bevel) + face, {})[edge.letter] = None
        ranges = ranges or any("–" in angle for angle in notes)
        marks = [f"{listed(letters)} {angle}" for angle, letters in notes.items()]
        text.append(f"{codes(group)}: {'; '.join(marks)}.")
    if ranges:
        text.append("Where a range is given the angle changes evenly along the edge; the template "
                    "carries the angle of each stretch.")
    return text


def held_by(settings: Settings) -> str:
    """What holds a seam: contact cement, or tape on the card of a mock-up."""
    return TAPED if settings.mock_up else CEMENT


def forming(pieces: Sequence[Piece], settings: Settings) -> list[str]:
    if settings.mock_up:
        return [f"Roll {listed(p.code for group in by_code(pieces) for p in group)} over a table "
                "edge or a tube until the card keeps the curve; card is not heated and does not "
                "stretch, so where a piece is to be domed it stays a little flat."]
    text, heated, bent = [], False, []
    for group in by_code(pieces):
        verdict = group[0].verdict
        radius = (f" Smallest radius {format_length(verdict.radius, settings.unit)}."
                  if np.isfinite(verdict.radius) else "")
        low, high = ((s - 1) * 100 for s in verdict.stretch)
        formed = (f"up to {max(high, 0):.0f} % stretched and {max(-low, 0):.0f} % pressed, "
                  f"{verdict.heated * 100:.0f} % of what the heated foam takes")
        if verdict.kind == "bend":
            bent.append(codes(group) + radius.replace(" Smallest", ", smallest").rstrip("."))
        elif verdict.kind == "heat":
            heated = True
            text.append(f"Heat-form {codes(group)}: {formed}.{radius}")
        elif verdict.kind == "relief":
            heated = True
            text.append(f"{codes(group)} needs more relief than its seams give: {formed}. Try it "
                        "on scrap first; see the findings at the end.")
    if bent:
        text.append(f"Bend cold: {'; '.join(bent)}. Roll the foam over a table edge or a tube "
                    "until it keeps the curve.")
    gauges = [f"{template(group[0])} G{number}" for group in by_code(pieces)
              for number, _ in enumerate(group[0].gauges, 1)]
    if gauges and settings.gauges:
        text.append(f"Hold the {'card' if len(gauges) == 1 else 'cards'} {listed(gauges)} against "
                    "the inner face at their marks: between card and foam there is no light.")
    if heated:
        text.append("Warm the foam evenly from both faces with the gun kept moving until it hangs "
                    "soft, shape it over a knee, a ball or a bowl, and hold it until it is cold. "
                    "Several gentle rounds beat one hot one. Fresh air; no cement or solvent "
                    "near the gun.")
        text.append("Check: held against its neighbours, the notches still meet.")
    return text


def shaped(piece: Piece) -> bool:
    return piece.verdict.kind in ("bend", "heat", "relief")


# --- glue --------------------------------------------------------------------


def darts(group: Sequence[Piece], mates: dict[str, list[Mate]], settings: Settings) -> list[str]:
    seams = [f"{codes([piece])}: close " + listed(
        f"{m.letter} on itself ({format_length(length(m), settings.unit)})"
        for m in mates[piece.code]) + "." for piece in group]
    every = [m for p in group for m in mates[p.code]]
    return [*seams, held_by(settings),
            "Start at the inner tip of a dart and press towards the rim; a seam that runs from rim "
            "to rim is pressed at its two ends first.", *_eased(every, settings), _check(every)]


def join(step: Sequence[Join], settings: Settings) -> list[str]:
    text, every = [], [m for j in step for m in j.mates]
    verb = "join" if settings.mock_up else "glue"
    for j in step:
        seams = listed(_seam(m, settings) for m in j.mates)
        if j.closes:
            text.append(f"Close {seams}.")
        elif len(j.added) > 1:
            text.append(f"Bring {listed(sorted(j.added, key=natural))}, already joined, to "
                        f"{listed(sorted(j.standing, key=natural))}: {verb} {seams}.")
        else:
            text.append(f"{verb.capitalize()} {seams}.")
    for mate in (m for m in every if m.join.kind == OVERLAP):
        under = next(code for code in sides(mate) if code != mate.join.over)
        text.append(f"{mate.letter}: {mate.join.over} lies on the outside of {under}, "
                    f"{format_length(mate.join.lap, settings.unit)} over it, its edge on the line "
                    f"drawn there, notches on the ticks. Cement both faces of that strip.")
    if len(every) > len(step):
        text.append("These seams meet at their ends: press them one after the other as one run.")
    if step[0].closes:
        text.append("This closes the loop. Finish everything that needs a hand inside before you "
                    "go on.")
    rings = all(np.allclose(m.curve[0], m.curve[-1]) for m in every)
    return [*text, held_by(settings), GLUE_RING if rings else GLUE, *_eased(every, settings),
            _check(every)]


def _seam(mate: Mate, settings: Settings) -> str:
    a, b = sorted(sides(mate), key=natural)
    size = format_length(length(mate), settings.unit)
    return f"{mate.letter} of {a} to {mate.letter} of {b} ({size})"


def _eased(mates: Iterable[Mate], settings: Settings) -> list[str]:
    text = []
    for mate in mates:
        if abs(mate.gap) < EASE:
            continue
        longer = mate.edges[int(np.argmax(mate.lengths))][0]
        text.append(f"{longer} is {format_length(abs(mate.gap), settings.unit)} longer along "
                    f"{mate.letter}: spread the difference evenly between the notches.")
    return text


def _check(mates: Sequence[Mate]) -> str:
    folds = np.concatenate([m.fold for m in mates])
    if np.abs(folds).max() < SQUARE:
        return "Check: the surface runs on smoothly, outside faces flush, every notch on its twin."
    hollow = ", hollow side out" if (folds < -SQUARE).all() else ""
    return (f"Check: every notch on its twin, outside edges closed, fold of "
            f"{angle_span(folds)}{hollow}.")


def tapes(step: Sequence[Tape], settings: Settings, glued: bool) -> list[str]:
    face = {INNER: "inside face", MIDDLE: "middle of the foam"}.get(settings.side, "outside face")
    when = "While the glue sets" if glued else "Until the foam is cold"
    names = dict.fromkeys(code for tape in step for code, *_ in tape.ends)
    return [f"{when}, hold the open rim of {listed(sorted(names, key=natural))} with masking tape "
            f"or cord at these widths, straight across from tick to tick, on the {face}: "
            + "; ".join(f"{tape.name} {format_length(tape.length, settings.unit)}"
                        for tape in step) + "."]


def finish(count: int, settings: Settings) -> list[str]:
    if settings.mock_up:
        return ["Check every fold and seam against the sculpt, and mend size and shape in the "
                "sculpt, not in the card.",
                "Nothing of it goes into the suit, whose templates are cut anew for foam."]
    parts = ("The parts stay separate: hold them with straps, webbing or hook-and-loop so that "
             "the suit comes off and packs." if count > 1 else
             "Before you add straps, try on how the part goes on and off.")
    return [
        "Check every seam, inside and out; touch up with a little cement where an edge lifts.",
        parts,
        "Glue webbing to foam that has been scored and cemented; hook-and-loop holds better sewn "
        "to the webbing than glued to foam.",
        "Pass the heat gun quickly over the outside to close the surface, then prime and paint.",
        "Try the suit on with a helper nearby: breathe, sit, raise both arms, look and listen.",
    ]
