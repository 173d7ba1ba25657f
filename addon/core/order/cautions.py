"""What to mind at a step: usual cautions, in a few words. The whole of them stands in the plan."""

from __future__ import annotations

from collections.abc import Mapping

from ..model import Piece, Settings, Step

SHORT = {
    "Blades": "blades: sharp ones, cutting away from you and from the hand that holds the foam",
    "Dust": "dust, where you sand or grind: respirator and goggles",
    "Laser": "laser: only foam that is known to be free of chlorine, extraction on, never left "
             "alone",
    "Heat": "heat: keep the gun moving, in moving air, never near wet cement",
    "Solvent": "solvent: moving air, no flame, spark or heat gun near, wet cement covered",
    "Wearing": "wearing: drink, rest, leave ways for air, have somebody with you",
}
_KINDS = {"cut": ("Blades",), "line": ("Blades",), "bevel": ("Blades", "Dust"), "heat": (),
          "dart": ("Solvent",), "join": ("Solvent",), "close": ("Solvent",), "lay": ("Solvent",),
          "fasten": ("Solvent",), "finish": ("Solvent", "Heat", "Wearing")}
_NOT_IN_CARD = ("Solvent", "Heat", "Dust")  # a mock-up is cut and taped


def cautions(step: Step, pieces: Mapping[str, Piece], settings: Settings) -> tuple[str, ...]:
    """The titles of the cautions that apply, of SHORT. pieces: by their codes."""
    own = [pieces[code] for code in step.pieces if code in pieces]
    found = _KINDS[step.kind]
    if step.kind == "heat" and any(piece.verdict.kind != "bend" for piece in own):
        found = ("Heat",)
    if step.kind == "cut" and any(piece.stock.kerf > 0 for piece in own):
        found = (*found, "Laser")
    return tuple(name for name in found if not (settings.mock_up and name in _NOT_IN_CARD))


def in_words(names: tuple[str, ...]) -> str:
    """One sentence for the cautions of these titles, "" for none."""
    return f"Caution: {'; '.join(SHORT[name] for name in names)}." if names else ""
