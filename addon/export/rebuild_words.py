"""What came of putting the suit together again, in a few lines to read."""

from __future__ import annotations

from collections.abc import Sequence

from ..core.model import Pattern, RebuiltPiece
from ..core.units import format_angle, format_length

WORST = 5  # pieces that are named


def worst_first(pattern: Pattern) -> list[RebuiltPiece]:
    """The pieces by how far they come out beside the sculpt at most."""
    return sorted(pattern.rebuilt.pieces, key=lambda piece: -piece.most)


def in_words(pattern: Pattern, pieces: bool = True) -> list[str]:
    """The whole suit, its worst seams and trenches, and how much forming does; pieces: also its
    worst pieces."""
    found, unit = pattern.rebuilt, pattern.settings.unit
    size = lambda mm: format_length(mm, unit)  # noqa: E731
    lines = [f"Put together again, the suit comes out {size(found.rms)} (RMS) beside the sculpt, "
             f"at most {size(found.most)}."]
    if pieces:
        lines.append("Furthest out: " + "; ".join(
            f"{p.code} {size(p.most)} at most, {size(p.rms)} (RMS)"
            for p in worst_first(pattern)[:WORST]) + ".")
    if found.mates:
        longest = max(found.mates, key=lambda m: m.mismatch)
        folded = max(found.mates, key=lambda m: abs(m.fold))
        lines.append(
            f"Seams: the edges differ by {size(longest.mismatch)} at most, once formed "
            f"({longest.code}); the folds are {format_angle(abs(folded.fold))} out at most "
            f"({folded.code}).")
    if found.trenches:
        aside = max(found.trenches, key=lambda t: t.offset)
        lines.append(f"Trenches: {size(aside.offset)} beside their line at most ({aside.piece}).")
    if found.unformed:
        rms, most = found.unformed
        lines.append(f"Bent only and never stretched, it would be {size(rms)} (RMS) and "
                     f"{size(most)} at most: what lies between is what careful forming does.")
    return lines + _held(pattern)


def _held(pattern: Pattern) -> list[str]:
    parts: Sequence[Sequence[str]] = [
        part for part in pattern.rebuilt.open_parts
        if any(tape.ends[0][0] in part for tape in pattern.tapes)]
    if not parts:
        return []
    named = "; ".join(part[0] if len(part) == 1 else f"{part[0]} to {part[-1]}" for part in parts)
    return [f"Free edges leave these open, hold them at the tapes while the glue sets: {named}."]
