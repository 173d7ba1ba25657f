"""How far the wearer can move, in a few lines to read."""

from __future__ import annotations

import math

from ..core.model import Movement, Pattern


def in_words(pattern: Pattern) -> list[str]:
    """What falls short, what is held at all, and what is free."""
    found = pattern.reach
    if not found.movements:
        return ["No movement could be tried: all parts are worn on one side of every joint."]
    held = [m for m in found.movements if m.meeting is not None]
    were = "movement was" if len(found.movements) == 1 else "movements were"
    lines = [f"{len(found.movements)} {were} tried; plates meet in {len(held) or 'none'}"
             f"{_short(sum(not m.enough for m in held))}."]
    return lines + [f"{capital(m.words)} to {angle(m.reached, m.accuracy)}, then "
                    f"{m.meeting.pieces[0]} meets {m.meeting.pieces[1]}." for m in held]


def angle(radians: float, accuracy: float = 0.0) -> str:
    """Such as “82° (± 2°)”."""
    text = f"{round(math.degrees(radians))}°".replace("-", "−")
    return f"{text} (± {max(1, round(math.degrees(accuracy)))}°)" if accuracy else text


def of_body(segment: str) -> str:
    """Such as “the left thigh”, for “thigh left”."""
    name, _, side = segment.rpartition(" ")
    return f"the {side} {name}" if side in ("left", "right") else f"the {segment}"


def most_held_first(pattern: Pattern) -> list[Movement]:
    """The movements in which plates meet, by how far they fall short of what is wanted, then by
    how much of the way is left."""
    held = [m for m in pattern.reach.movements if m.meeting is not None]
    return sorted(held, key=lambda m: (m.enough, -round(m.most - m.reached, 2)))


def _short(count: int) -> str:
    return f", and {count} fall{'s' if count == 1 else ''} short of what is wanted" if count else ""


def capital(text: str) -> str:
    """With a capital letter first."""
    return text[:1].upper() + text[1:]
