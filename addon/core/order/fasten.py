"""Words about joins that are undone again: hook-and-loop and straps."""

from __future__ import annotations

from collections.abc import Sequence

from ..model import HOOK, Block, Mate, Settings
from ..units import format_angle, format_length
from .joins import sides
from .words import listed, natural


def fasten(mates: Sequence[Mate], settings: Settings, blocks: Sequence[Block] = ()
           ) -> list[str]:
    """Sentences for the step in which the removable joins get what holds them."""
    def size(mm: float) -> str:
        return format_length(mm, settings.unit)

    text = []
    for mate in sorted(mates, key=lambda m: natural(m.code)):
        a, b = sorted(sides(mate), key=natural)
        join = mate.join
        one = join.count == 1
        if join.kind == HOOK:
            text.append(
                f"{mate.letter}, between {a} and {b}: {join.count} "
                f"{'pair' if one else 'pairs'} of hook-and-loop, each {size(join.patch[0])} × "
                f"{size(join.patch[1])}, in an even row; sew each patch to webbing first "
                f"({size(join.webbing)} of it, {size(join.width)} wide, in all).")
        else:
            text.append(
                f"{mate.letter}, between {a} and {b}: {join.count} "
                f"{'strap' if one else 'straps'} of webbing {size(join.width)} wide, in an even "
                f"row, {size(join.webbing)} in all; fix {size(join.patch[1])} of each end and "
                "leave the rest for the buckle.")
    for block in blocks:
        text.append(
            f"{block.piece.code}: cut {block.piece.copies} pieces {size(block.length)} × "
            f"{size(block.width)}"
            + (f", glue {block.layers} on one another," if block.layers > 1 else "")
            + f" and shave them to a wedge {size(block.heights[0])} high at the side towards the "
            f"seam and {size(block.heights[1])} at the other ({format_angle(block.angle)}). Glue "
            f"one under each patch to the inside of {listed(dict.fromkeys(block.on))}.")
    letters = listed(dict.fromkeys(m.letter for m in mates))
    return [f"No cement between the edges of {letters}: this is where the suit comes apart.",
            *text,
            "Score the inside face where webbing goes, cement both, let them dry to the touch and "
            "press. Hook-and-loop that is glued straight to foam peels off.",
            "Check: the edges meet without a gap when it is fastened, and it opens with one hand."]
