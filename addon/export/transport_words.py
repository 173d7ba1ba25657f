"""The parts in a box, in a few lines to read."""

from __future__ import annotations

from ..core.model import Pattern
from ..core.units import format_box, format_length


def in_words(pattern: Pattern) -> list[str]:
    """Whether all parts go into the box, the order in which they are put in, and why not."""
    found, unit = pattern.transport, pattern.settings.unit
    box = f"a box of {format_box(found.box, unit)} inside"
    if found.fits:
        goes = (f"All {len(found.packed)} parts go" if len(found.packed) != 1 else
                "The one part goes")
        lines = [f"{goes} into {box}, and {'stand' if len(found.packed) != 1 else 'stands'} "
                 f"{format_length(round(found.height), unit)} high in it."]
    else:
        sure = "No arrangement is possible" if found.certain else "No arrangement was found"
        lines = [f"{sure} of all parts in {box}; left over: {', '.join(found.left)}. {found.why}"]
    if len(found.packed) > 1:
        lines.append(f"Put in from above, one after another: "
                     f"{'; '.join(one.part for one in found.packed)}.")
    return lines
