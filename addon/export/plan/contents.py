"""What the build plan says: what to buy, what to mind, what comes when. Words and pictures, for
any reader; `pdf` and `html` lay it out."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator

import numpy as np

from ...core.errors import severity_rank
from ...core.model import Pattern
from ...core.units import format_length
from .. import existing
from ..picture import suit_picture
from ..shopping import shopping
from . import paper
from . import words as say
from .blocks import Block, Bullets, Column, Heading, Plan, Section, Table, Text, Views
from .fit import how_it_fits
from .illustration import illustrate
from .materials import boxes, by_code, foam_counts, materials
from .reach import how_it_moves
from .rebuild import how_it_comes_out
from .steps import steps
from .transport import how_it_packs

_HEAD, _BESIDE, _BELOW = 56.0, 14.0, 14.0  # mm: the words of the cover; round each of its pictures


def plan_of(pattern: Pattern) -> Plan:
    """The plan of a pattern; the same pattern gives the same plan."""
    buy = shopping(pattern)
    sections = [materials(pattern, buy), _method(), _verdicts(pattern)]
    told = existing.in_words(existing.existing(pattern))
    if told:
        sections.append(Section(existing.HEADING, tuple(
            block for title, mine in told
            for block in (Heading(title), boxes(title, mine))), room=0.0))
    sections += steps(pattern)
    if pattern.rebuilt is not None:
        sections.append(how_it_comes_out(pattern))
    if pattern.fitted is not None:
        sections.append(how_it_fits(pattern))
    if pattern.reach is not None:
        sections.append(how_it_moves(pattern))
    if pattern.transport is not None:
        sections.append(how_it_packs(pattern))
    sections.append(_findings(pattern))
    return Plan(pattern.settings.title, paper.size(pattern), _digest(pattern),
                tuple(_cover(pattern, foam_counts(buy))), tuple(sections))


def _digest(pattern: Pattern) -> str:
    """Of the pieces and the steps: it changes with the suit, not with prices or the title."""
    digest = hashlib.blake2b(digest_size=10)
    for piece in pattern.pieces:
        digest.update(f"{piece.code} {piece.stock.name} {piece.stock.thickness}".encode())
        for ring in piece.cut:
            digest.update(np.round(ring, 1).tobytes())
    for step in pattern.steps:
        digest.update(f"{step.number} {step.title}".encode())
    return digest.hexdigest()


def _cover(pattern: Pattern, foams: str) -> Iterator[Block]:
    made = len({piece.object for piece in pattern.pieces})
    glue = f"{len(pattern.mates)} glued seams" if len(pattern.mates) != 1 else "one glued seam"
    yield Text(f"{len(pattern.pieces)} pieces from {len(pattern.templates)} templates, "
               f"{glue}, {made} separate {'part' if made == 1 else 'parts'}, "
               f"{len(pattern.steps)} steps.")
    yield Text(foams)
    yield _both_sides(pattern)


def _both_sides(pattern: Pattern) -> Views:
    """The suit from the front and the back, one beside or one above the other, whichever is
    larger; each piece is lettered where it is seen well."""
    wide, high = paper.width(pattern), paper.size(pattern)[1] - 2 * paper.MARGIN - _HEAD
    rooms = {1: (wide - 2 * _BESIDE, high / 2 - _BELOW),
             2: (wide / 2 - 2 * _BESIDE, high - _BELOW)}
    sizes = {columns: suit_picture(pattern, "front", room).size for columns, room in rooms.items()}
    columns = max(rooms, key=lambda n: sizes[n][0])
    views = ("front", "back")
    pictures = [suit_picture(pattern, view, rooms[columns]) for view in views]
    shown = []
    for view, picture, other in zip(views, pictures, pictures[::-1], strict=True):
        best = [c for c, (_, _, room) in picture.spots.items()
                if room >= 0.6 * other.spots.get(c, (0, 0, 0))[2]]
        shown.append(illustrate(picture, {}, best, f"From the {view}"))
    return Views(tuple(shown), columns)


def _method() -> Section:
    blocks: list[Block] = [Heading("How every seam is glued"), Bullets(say.GLUING),
                           Heading("Cautions")]
    for title, text in say.CAUTIONS:
        blocks += [Text(title, bold=True), Text(text)]
    return Section("Before you start", tuple(blocks))


def _verdicts(pattern: Pattern) -> Section:
    rows = []
    for piece in by_code(pattern):
        v = piece.verdict
        radius = format_length(v.radius, pattern.settings.unit) if np.isfinite(v.radius) else "–"
        rows.append((piece.code, say.FORMING[v.kind], f"{100 * v.cold:.0f} %",
                     f"{100 * v.heated:.0f} %",
                     f"{_percent(v.stretch[0] - 1)} to {_percent(v.stretch[1] - 1)} %", radius))
    return Section("How each piece takes its shape", (
        Table((Column("Piece", 2), Column("Forming", 3.4), Column("Cold", 2.6, "end"),
               Column("Heated", 2.6, "end"), Column("Stretch", 4, "end"),
               Column("Smallest radius", 2.8, "end")), tuple(rows)),
        Text(say.LIMITS_NOTE, note=True)), room=0.0)


def _percent(fraction: float) -> str:
    """With a sign, and without one for what rounds to nothing."""
    value = round(100 * fraction, 1)
    return f"{value:+.1f}".replace("-", "−") if value else "0"


def _findings(pattern: Pattern) -> Section:
    if not pattern.findings:
        return Section("Findings", (Text("Nothing was found that you need to know about."),))
    found = Counter(f.severity for f in pattern.findings)
    return Section("Findings", (
        Text(", ".join(f"{found[s]} {s if found[s] == 1 else s + 's'}"
                       for s in ("error", "warning", "note") if found[s]) + ".", note=True),
        Table((Column("Kind", 2), Column("Piece", 1.6), Column("What", 7),
               Column("What to do", 7)),
              tuple((f.severity, f.piece or "–", f.message, f.remedy)
                    for f in sorted(pattern.findings, key=severity_rank)))))
