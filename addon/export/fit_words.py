"""How the suit fits, in a few lines to read."""

from __future__ import annotations

from ..core.fit import CLOSED
from ..core.model import GirthFit, Pattern, PieceFit
from ..core.units import format_length

WORST = 5  # pieces that are named


def tightest_first(pattern: Pattern) -> list[PieceFit]:
    """The pieces by their least clearance."""
    return sorted(pattern.fitted.pieces, key=lambda piece: piece.least)


def in_words(pattern: Pattern) -> list[str]:
    """The tightest pieces, the girths, and how many spacers are proposed."""
    found, unit = pattern.fitted, pattern.settings.unit
    pieces = "; ".join(f"{p.code} {_air(p.least, unit)}" for p in tightest_first(pattern)[:WORST])
    name = "the body" if found.body == "body" else f"the body “{found.body}”"
    lines = [f"Beside {name}, the tightest pieces: {pieces}."]
    lines += [f"{_capital(girth.name)}: {ease(girth, unit)}." for girth in found.girths]
    if found.spacers:
        pieces = {spacer.piece for spacer in found.spacers}
        lines.append(f"{len(found.spacers)} spacers would hold {len(pieces)} floating "
                     f"{'piece' if len(pieces) == 1 else 'pieces'} off the body.")
    return lines


def ease(girth: GirthFit, unit: str) -> str:
    """Such as “body 1 m, suit inside 1.1 m, 100 mm to spare (wanted: 98 mm)”."""
    spare = (f"{format_length(girth.ease, unit)} to spare" if girth.ease >= 0 else
             f"{format_length(-girth.ease, unit)} too narrow")
    more = (f"wanted: {format_length(girth.wanted, unit)}" if girth.round >= CLOSED else
            f"foam goes {100 * girth.round:.0f} % of the way round")
    return (f"body {format_length(girth.body, unit)}, suit inside "
            f"{format_length(girth.inside, unit)}, {spare} ({more})")


def _air(least: float, unit: str) -> str:
    return (f"{format_length(least, unit)} off it" if least >= 0 else
            f"{format_length(-least, unit)} into it")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
