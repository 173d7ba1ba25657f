"""Words and steps for what is glued on the faces of other pieces."""

from __future__ import annotations

from collections.abc import Sequence

from ..model import Laid, Piece, Settings, Step
from .words import CEMENT, listed, natural

EARLY = "Glue details on while flat"
LATE = "Glue details on"
TAPED_ON = "Hold it with tape; card is not cemented."


def lay(group: Sequence[Laid], letters: dict[str, str], settings: Settings) -> tuple[str, ...]:
    """Sentences for gluing pieces onto the faces of others; letters: of mates, by code."""
    text = []
    for one in group:
        under = listed(sorted(one.on, key=natural))
        after = (f" It goes over {listed(dict.fromkeys(letters[m] for m in one.seams))}, which is "
                 "glued by now." if one.seams else "")
        text.append(f"Lay {one.piece} on the outside of {under}, on its placement outline: notches "
                    f"{one.letter} on the ticks {one.letter}.{after}")
    early = all(one.early for one in group)
    how = ("Both are still flat: set one end down on the outline and roll the rest down."
           if early else
           "Begin at one end and follow the curve, notch by notch; do not stretch the piece.")
    return (*text, TAPED_ON if settings.mock_up else CEMENT, how,
            "Check: every notch on its tick, the edge on the outline all round, nothing lifts.")


def before(group: Sequence[Piece], laid: Sequence[Laid]) -> list[Laid]:
    """What is glued onto pieces of a group while these are flat."""
    own = {piece.code for piece in group}
    return [one for one in laid if one.early and own & set(one.on)]


def after(group: Sequence[Piece], laid: Sequence[Laid], built: set[str]) -> list[Laid]:
    """What is glued onto a group when it stands, all else it lies on being built."""
    own = {piece.code for piece in group}
    return [one for one in laid if not one.early and own & set(one.on)
            and set(one.on) <= own | built]


def by_height(groups: Sequence, laid: Sequence[Laid]) -> list:
    """Groups, each (name, pieces), with what is glued on top before what is under it."""
    under = {one.piece: one.on for one in laid}

    def height(code: str) -> int:
        return 1 + max(height(c) for c in under[code]) if code in under else 0

    return sorted(groups, key=lambda item: -max(height(p.code) for p in item[1]))


def step(group: Sequence[Laid], letters: dict[str, str], settings: Settings) -> Step:
    """The step that lays pieces on."""
    codes = {c for one in group for c in (one.piece, *one.on)}
    title = EARLY if all(one.early for one in group) else LATE
    pieces = listed(sorted((one.piece for one in group), key=natural))
    return Step(0, "lay", f"{title}: {pieces}", lay(group, letters, settings),
                tuple(sorted(codes, key=natural)))
