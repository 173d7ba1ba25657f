"""A mock-up in card: the suit at half or a third of its size, made anew for the card's thickness.

A print that is merely shrunk shows foam that is shrunk as well. Here the sculpt is scaled and the
card is as thick as it is, so the parts of the mock-up meet as those of the foam will.
"""

from __future__ import annotations

from dataclasses import replace

from .errors import ERROR, Finding, FoamError
from .model import HALF, THIRD, Sculpt, Settings
from .stock import Stock

SCALES = {HALF: 1 / 2, THIRD: 1 / 3}
THICK = (0.1, 10.0)  # of card, mm
_SHEET = (594.0, 841.0)  # A1, ISO 216: card is sold so


def in_card(sculpt: Sculpt, settings: Settings) -> tuple[Sculpt, Settings]:
    """Both as they are where no mock-up is asked for; else the sculpt all of card, and settings
    at the mock-up's scale.

    The card counts as bending wherever heated foam would form: a mock-up shows shape and fit, and
    where foam is stretched card buckles a little. Rods and the wearer are left out of it.
    Raises FoamError `bad-mock-up`.
    """
    if not settings.mock_up:
        return sculpt, settings
    if settings.mock_up not in SCALES:
        raise _bad(f"There is no mock-up of the size “{settings.mock_up}”.",
                   f"Choose one of {', '.join(SCALES)}.")
    if not THICK[0] <= settings.card <= THICK[1]:  # false for NaN as well
        raise _bad(f"Card cannot be {settings.card:g} mm thick.",
                   f"Give its thickness, from {THICK[0]:g} to {THICK[1]:g} mm.")
    scale = SCALES[settings.mock_up]
    objects = tuple(replace(o, stock=_card(o.stock, settings.card) if o.stock else None)
                    for o in sculpt.objects)
    return replace(sculpt, objects=objects, rods=(), strips=(), body=None,
                   markings=tuple(m.smaller(scale) for m in sculpt.markings),
                   widenings=tuple(replace(w, low=scale * w.low, high=scale * w.high)
                                   for w in sculpt.widenings)), replace(
        settings, stock=_card(settings.stock, settings.card), scale=settings.scale * scale,
        title=f"{settings.title}: {settings.mock_up}-scale mock-up",
        fairing=settings.fairing * scale, notch_spacing=settings.notch_spacing * scale,
        widen=tuple((name, (scale * low, scale * high))
                    for name, (low, high) in settings.widen),
        offcuts=())


def _card(foam: Stock, thickness: float) -> Stock:
    """Card that bends where this foam forms."""
    return Stock(f"Card {thickness:g} mm", thickness, _SHEET, cold=foam.heated,
                 heated=foam.heated, density=700.0,
                 origin="card for a mock-up, with the limits of the foam it stands for")


def _bad(message: str, remedy: str) -> FoamError:
    return FoamError(Finding("bad-mock-up", ERROR, message, remedy))
