"""The build plan as a PDF to lie on the bench: what to buy, what to mind, what comes when."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np

from ..core.errors import severity_rank
from ..core.model import Pattern, Piece
from ..core.order import words
from ..core.units import format_length
from . import existing
from . import plan_words as say
from .fit_page import how_it_fits
from .flow import BODY, SMALL, SOFT, TITLE, Column, Flow
from .picture import suit_picture
from .plan_steps import draw_labels, draw_picture, lettering, steps
from .rebuild_page import how_it_comes_out
from .rods_page import rods
from .shopping import Shopping, shopping
from .words import count

A4, LETTER = (210.0, 297.0), (215.9, 279.4)  # ISO 216; ANSI/ASME Y14.1
_INCH_PAPERS = ("Letter", "Tabloid")


def write_plan_pdf(pattern: Pattern, path: str | Path) -> None:
    """Write the plan on A4, or on Letter where the templates are on an inch paper.

    The same pattern gives the same bytes.
    """
    size = LETTER if pattern.settings.paper in _INCH_PAPERS else A4
    flow = Flow(pattern.settings.title, size)
    buy = shopping(pattern)
    _cover(flow, pattern, buy)
    _materials(flow, pattern, buy)
    _method(flow)
    _verdicts(flow, pattern)
    _existing(flow, pattern)
    steps(flow, pattern)
    if pattern.rebuilt is not None:
        how_it_comes_out(flow, pattern)
    if pattern.fitted is not None:
        how_it_fits(flow, pattern)
    _findings(flow, pattern)
    flow.write(path)


def _cover(flow: Flow, pattern: Pattern, buy: Shopping) -> None:
    flow.bookmark(pattern.settings.title, 0)
    flow.text(pattern.settings.title, TITLE, bold=True)
    flow.text("Build plan", BODY * 1.4, grey=SOFT)
    flow.space(3.0)
    made = len({piece.object for piece in pattern.pieces})
    glue = f"{len(pattern.mates)} glued seams" if len(pattern.mates) != 1 else "one glued seam"
    flow.text(f"{len(pattern.pieces)} pieces from {len(pattern.templates)} templates, "
              f"{glue}, {made} separate {'part' if made == 1 else 'parts'}, "
              f"{len(pattern.steps)} steps.")
    foams = (f"{f.stock.name}: {'' if f.counted else 'about '}{_mats(f.mats)}" for f in buy.foam)
    flow.text("; ".join(foams) + ".")
    flow.space(8.0)
    _both_sides(flow, pattern)


def _both_sides(flow: Flow, pattern: Pattern) -> None:
    """The suit from the front and the back, one beside or one above the other, whichever is
    larger; each piece is lettered where it is seen well."""
    beside, below, top = 14.0, 12.0, flow.y
    high, wide = top - flow.bottom, flow.width
    rooms = {(1, 2): (wide / 2 - 2 * beside, high - below),
             (2, 1): (wide - 2 * beside, high / 2 - below)}
    sizes = {grid: suit_picture(pattern, "front", room).size for grid, room in rooms.items()}
    rows, columns = max(rooms, key=lambda grid: sizes[grid][0])
    pictures = [suit_picture(pattern, view, rooms[rows, columns]) for view in ("front", "back")]
    for i, (view, picture) in enumerate(zip(("front", "back"), pictures, strict=True)):
        row, column = divmod(i, columns)
        x = flow.margin + wide / columns * (column + 0.5) - picture.size[0] / 2
        y = top - row * high / rows - picture.size[1]
        there = pictures[1 - i].spots
        best = [c for c, (_, _, room) in picture.spots.items()
                if room >= 0.6 * there.get(c, (0, 0, 0))[2]]
        labels = lettering(picture, {}, SMALL, best)
        flow.draw(lambda s, p=picture, t=labels, x=x, y=y, v=view: (
            draw_picture(s, p, x, y), draw_labels(s, t, x, y),
            s.words(x + p.size[0] / 2, y - 7.0, f"From the {v}", SMALL, grey=SOFT,
                    anchor="middle")))
    flow.fresh = False


def _mats(number: int) -> str:
    return "1 mat" if number == 1 else f"{number} mats"


def _area(mm2: float, unit: str) -> str:
    return f"{mm2 / 645.16:.0f} in²" if unit == "in" else f"{mm2 / 100:.0f} cm²"


def _far(mm: float, unit: str) -> str:
    return f"{mm / 304.8:.0f} ft" if unit == "in" else f"{mm / 1000:.1f} m"


def _percent(fraction: float) -> str:
    """With a sign, and without one for what rounds to nothing."""
    value = round(100 * fraction, 1)
    return f"{value:+.1f}".replace("-", "−") if value else "0"


def _materials(flow: Flow, pattern: Pattern, buy: Shopping) -> None:
    unit = pattern.settings.unit
    flow.begin("What you need")
    flow.heading("Shopping list")
    for foam in buy.foam:
        sheet = " × ".join(format_length(s, unit) for s in foam.stock.sheet)
        share = 100 * foam.area / foam.sheet_area
        how = "as laid out" if foam.counted else "estimated"
        also = (f" and {foam.offcuts} offcut{'s' * (foam.offcuts > 1)} that you have"
                if foam.offcuts else "")
        flow.boxes([f"{foam.stock.name}: {_mats(foam.mats)} of {sheet}{also} ({how}; the pieces "
                    f"fill {share:.0f} % of them)."])
    for stock, lengths in buy.rods:
        parts = ("one length" if len(lengths) == 1 else
                 f"{len(lengths)} lengths, the longest {format_length(max(lengths), unit)}")
        flow.boxes([f"{stock.name[:1].upper()}{stock.name[1:]}: "
                    f"{format_length(sum(lengths), unit)} in {parts}."])
    for thing, number in buy.small:
        flow.boxes([f"{thing[:1].upper()}{thing[1:]}: {number}."])
    if buy.glue_area:
        amount = (f"{buy.cement * 33.814:.1f} US fl oz" if unit == "in"
                  else f"{max(buy.cement * 1000, 1):.0f} ml")
        flow.boxes([f"Contact cement: {amount} or more, for {_area(buy.glue_area, unit)} of edge "
                    "faces, both sides of every seam counted."])
    flow.boxes([f"Knife blades: {buy.blades}, for {_far(buy.cut, unit)} of cut.",
                "Webbing, buckles, hook-and-loop as your way of wearing asks for."])
    flow.text(say.COVERAGE_NOTE, SMALL, grey=SOFT)
    flow.heading("Tools")
    flow.boxes(say.TOOLS)
    for foam in buy.foam:
        flow.heading(f"Cut list: {foam.stock.name}")
        rows = [[p.code, _also(p, pattern), p.name, count(p), _area(p.area, unit)]
                for p in _sorted(pattern) if p.stock == foam.stock]
        flow.table([Column("Template", 2), Column("Also for", 3), Column("Name", 4),
                    Column("Cut", 3), Column("Area each", 2, "end")], rows)
        flow.space(1.5)
        flow.text(f"{foam.pieces} {'piece' if foam.pieces == 1 else 'pieces'}, "
                  f"{_area(foam.area, unit)} together.", SMALL, grey=SOFT)
    rods(flow, pattern)


def _sorted(pattern: Pattern) -> list[Piece]:
    return sorted(pattern.templates, key=lambda p: words.natural(p.code))


def _also(piece: Piece, pattern: Pattern) -> str:
    return ", ".join(p.code for p in pattern.pieces
                     if p.template == piece.code and p.code != piece.code)


def _method(flow: Flow) -> None:
    flow.begin("Before you start")
    flow.heading("How every seam is glued")
    flow.bullets(say.GLUING)
    flow.heading("Cautions")
    for title, text in say.CAUTIONS:
        flow.need(3 * BODY)
        flow.text(title, bold=True)
        flow.text(text)
        flow.space(1.8)


def _verdicts(flow: Flow, pattern: Pattern) -> None:
    unit = pattern.settings.unit
    flow.begin("How each piece takes its shape", new_page=False)
    rows = []
    for piece in _sorted(pattern):
        v = piece.verdict
        radius = format_length(v.radius, unit) if np.isfinite(v.radius) else "–"
        rows.append([piece.code, say.FORMING[v.kind], f"{100 * v.cold:.0f} %",
                     f"{100 * v.heated:.0f} %",
                     f"{_percent(v.stretch[0] - 1)} to {_percent(v.stretch[1] - 1)} %",
                     radius])
    flow.table([Column("Piece", 2), Column("Forming", 3.4), Column("Cold", 2.6, "end"),
                Column("Heated", 2.6, "end"), Column("Stretch", 4, "end"),
                Column("Smallest radius", 2.8, "end")], rows)
    flow.space(2.0)
    flow.text(say.LIMITS_NOTE, SMALL, grey=SOFT)


def _existing(flow: Flow, pattern: Pattern) -> None:
    """What to do with what is cut or glued already, where the design has changed since."""
    told = existing.in_words(existing.existing(pattern))
    if told:
        flow.begin(existing.HEADING, new_page=False)
    for title, mine in told:
        flow.heading(title)
        flow.boxes(mine)


def _findings(flow: Flow, pattern: Pattern) -> None:
    flow.begin("Findings")
    if not pattern.findings:
        flow.text("Nothing was found that you need to know about.")
        return
    found = Counter(f.severity for f in pattern.findings)
    flow.text(", ".join(f"{found[s]} {s if found[s] == 1 else s + 's'}"
                        for s in ("error", "warning", "note") if found[s]) + ".", grey=SOFT)
    flow.space(2.0)
    rows = [[f.severity, f.piece or "–", f.message, f.remedy]
            for f in sorted(pattern.findings, key=severity_rank)]
    flow.table([Column("Kind", 2), Column("Piece", 1.6), Column("What", 7),
                Column("What to do", 7)], rows)
