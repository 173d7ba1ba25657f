"""What a person reads at the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from ..core.model import Pattern, Piece, Sheet
from ..core.nest import foam_of, paper_name
from ..export import existing, fit_words, reach_words, transport_words
from ..export.change_words import HEADING, sentences
from ..export.changes import changes
from ..export.folder import MATS
from ..export.printed import REPORT
from ..export.rebuild_words import in_words
from . import findings

VERDICTS = {"flat": "lies flat", "bend": "bends cold", "heat": "heat-form",
            "relief": "needs relief"}


def summary(pattern: Pattern, files: Sequence[Path]) -> str:
    """What a person reads at the end: findings, pieces, sheets, and where the results lie."""
    blocks = findings.blocks(pattern.findings)
    rows = [(p.code, p.name, VERDICTS[p.verdict.kind], f"{p.verdict.cold:.2f}",
             f"{p.verdict.heated:.2f}", p.stock.name, _cut(p)) for p in pattern.pieces]
    blocks.append(_table(
        ("piece", "name", "forming", "cold", "heated", "stock", "to cut"), rows, right={3, 4}))
    lines = [f"{_plural(len(pattern.pieces), 'piece')} from "
             f"{_plural(len(pattern.templates), 'template')}. The columns cold and heated "
             "tell which share of the foam's limits forming takes; above 1 it is too much."]
    if pattern.mats or pattern.pages:
        mats = ", ".join(f"{s.name} ({100 * _used(s, pattern):.0f} % used)" for s in pattern.mats)
        what = ("sheet", "card") if pattern.settings.mock_up else ("mat", "foam")
        lines.append(f"{_plural(len(pattern.mats), what[0])} of {what[1]}: {mats}. "
                     f"{_plural(len(pattern.pages), 'page')} of {paper_name(pattern.settings)}.")
    if pattern.mats or pattern.pages:
        told = sentences(changes(pattern))
        lines += [f"{HEADING}:"] * bool(told)
        for title, mine in told:
            lines += [f"    {title}{':' * bool(mine)}", *(f"    - {line}" for line in mine)]
        told = existing.in_words(existing.existing(pattern))
        lines += [f"{existing.HEADING}:"] * bool(told)
        for title, mine in told:
            lines += [f"    {title}:", *(f"    - {line}" for line in mine)]
    if pattern.rebuilt is not None:
        lines += in_words(pattern)
    if pattern.fitted is not None:
        lines += fit_words.in_words(pattern)
    if pattern.reach is not None:
        lines += reach_words.in_words(pattern)
    if pattern.transport is not None:
        lines += transport_words.in_words(pattern)
    if files:
        folder = next(f.parent for f in files if f.name == REPORT)  # every run writes it
        names = [f.name for f in files if f.parent == folder]
        mats = len(files) - len(names)
        names += [f"{_plural(mats, 'file')} in {MATS}"] * (mats > 0)
        lines.append(f"Written to {folder}: {', '.join(names)}.")
    return "\n\n".join([*blocks, "\n".join(lines)])


def _cut(piece: Piece) -> str:
    if piece.template != piece.code:
        return f"{'mirror image of' if piece.flipped else 'same as'} {piece.template}"
    return f"{piece.copies}" + (f" + {piece.mirrored} mirrored" if piece.mirrored else "")


def _used(sheet: Sheet, pattern: Pattern) -> float:
    """Share of a sheet that its pieces cover."""
    return (sum(pattern.piece(p.piece).area for p in sheet.placements)
            / foam_of(sheet).area)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], right: set[int]) -> str:
    rows = [tuple(head), *rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    return "\n".join("  ".join(
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(row, widths, strict=True))).rstrip()
        for row in rows)


def _plural(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
