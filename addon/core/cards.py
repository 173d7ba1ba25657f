"""The gauges of pieces as cards to be cut out: shapes that lie on the pages with the templates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .model import Gauge, Piece, Verdict
from .stock import Stock

BACK = 25.0  # mm of card behind the deepest point of the profile: enough to hold, and to write on
RISES = 0.5  # least share of a line's length that it rises on the wearer, for an arrow
CARD = Stock("gauge card", 1.0, origin="card or stiff paper")


def gauge_cards(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """A card for every gauge of every template, with its marks; its code is that of the piece
    and G1 or G2."""
    return tuple(_card(piece, gauge, f"{piece.code} G{number}")
                 for piece in pieces if piece.template == piece.code
                 for number, gauge in enumerate(piece.gauges, 1))


def _card(piece: Piece, gauge: Gauge, code: str) -> Piece:
    """The profile as its upper edge, a straight back, square ends."""
    profile = gauge.profile
    low = profile[:, 1].min() - BACK
    corner = np.array((profile[0, 0], low))
    ring = np.concatenate([profile[::-1], [corner, (profile[-1, 0], low)]]) - corner
    way = gauge.line[1] - gauge.line[0]
    rise = float(piece.up @ way) / float(np.hypot(*way))
    up = (np.sign(rise), 0.0) if abs(rise) >= RISES else (0.0, 0.0)
    middle = np.stack([np.interp(0.5, np.linspace(0, 1, len(profile)), x) for x in profile.T])
    none = np.empty(0)
    return Piece(
        code=code, name=piece.name, object=piece.object, stock=CARD, side=piece.side,
        verdict=Verdict("flat", 0.0, 0.0, (1.0, 1.0), np.inf, -1, "It is a card."),
        vertices=none.reshape(0, 3), faces=none.reshape(0, 3), source_vertex=none,
        source_face=none, flat=none.reshape(0, 2), stretch=none.reshape(0, 2), front=(ring,),
        back=(ring,), cut=(ring,), edges=(), up=up, area=_area(ring), template=code,
        gauge_of=piece.code, marks=np.array([profile[0], middle, profile[-1]]) - corner)


def _area(ring: np.ndarray) -> float:
    (x, y), (u, v) = ring.T, np.roll(ring, -1, axis=0).T
    return float((x * v - u * y).sum() / 2)
