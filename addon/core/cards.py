"""The gauges of pieces and rods as cards to be cut out, which lie on the pages of templates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from .model import OUTER, Gauge, Piece, Placement, Rod, Sheet, Verdict
from .stock import Stock

BACK = 25.0  # mm of card behind the deepest point of the profile: enough to hold, and to write on
GAP = 5.0  # mm between cards on a sheet of card
RISES = 0.5  # least share of a line's length that it rises on the wearer, for an arrow
CHORD = 0.02  # mm between an arc and its chords
CARD = Stock("gauge card", 1.0, origin="card or stiff paper")


def gauge_cards(pieces: Sequence[Piece], rods: Sequence[Rod] = ()) -> tuple[Piece, ...]:
    """A card for every gauge of every template and of every rod that is bent, with its marks;
    its code is that of the piece or rod and G1 or G2."""
    return (*(_profile(piece, gauge, f"{piece.code} G{number}")
              for piece in pieces if piece.template == piece.code
              for number, gauge in enumerate(piece.gauges, 1)),
            *(_band(rod, points, f"{rod.code} G{number}")
              for rod in rods for number, points in enumerate(rod.profiles, 1)))


def card_sheets(cards: Sequence[Piece]) -> tuple[Sheet, ...]:
    """The cards on sheets of card, upright in rows, for whoever has them cut by a machine."""
    tall = sorted(cards, key=lambda card: -np.ptp(card.cut[0], axis=0)[1])
    if not tall:
        return ()
    widest, highest = np.max([np.ptp(card.cut[0], axis=0) for card in cards], axis=0) + 2 * GAP
    size = np.maximum(CARD.sheet, (widest, highest))
    sheets: list[list[Placement]] = [[]]
    x = y = GAP
    row = 0.0  # height of the row begun
    for card in tall:
        low = card.cut[0].min(axis=0)
        wide, high = np.ptp(card.cut[0], axis=0)
        if x + wide + GAP > size[0]:
            x, y, row = GAP, y + row + GAP, 0.0
        if y + high + GAP > size[1]:
            sheets.append([])
            x, y, row = GAP, GAP, 0.0
        sheets[-1].append(Placement(card.code, 0.0, np.array((x, y)) - low))
        x, row = x + wide + GAP, max(row, high)
    return tuple(Sheet("mat", f"{CARD.name} {n}", (float(size[0]), float(size[1])), tuple(placed),
                       CARD) for n, placed in enumerate(sheets, 1))


def _profile(piece: Piece, gauge: Gauge, code: str) -> Piece:
    """The profile as its upper edge, a straight back, square ends."""
    profile = gauge.profile
    low = profile[:, 1].min() - BACK
    corner = np.array((profile[0, 0], low))
    ring = np.concatenate([profile[::-1], [corner, (profile[-1, 0], low)]]) - corner
    way = gauge.line[1] - gauge.line[0]
    rise = float(piece.up @ way) / float(np.hypot(*way))
    up = (np.sign(rise), 0.0) if abs(rise) >= RISES else (0.0, 0.0)
    middle = np.stack([np.interp(0.5, np.linspace(0, 1, len(profile)), x) for x in profile.T])
    marks = np.array([profile[0], middle, profile[-1]]) - corner
    return _card(code, piece.name, piece.object, piece.code, (ring,), up,
                 np.stack([marks, np.tile((0.0, -1.0), (3, 1))], axis=1))


def _band(rod: Rod, points: np.ndarray, code: str) -> Piece:
    """The rod as it lies on the card when it is bent, cut square at its ends."""
    import shapely

    closed = not rod.ends
    line = shapely.LinearRing(points) if closed else shapely.LineString(points)
    band = line.buffer(rod.stock.thickness / 2, cap_style="flat", join_style="mitre", quad_segs=16)
    band = shapely.orient_polygons(band.simplify(CHORD))
    low = np.array(band.bounds[:2])
    rings = tuple(shapely.get_coordinates(ring)[:-1] - low
                  for ring in (band.exterior, *band.interiors))
    ways = np.array([points[1] - points[0], points[-2] - points[-1]])
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    marks = np.stack([points[[0, -1]] - low, ways], axis=1)
    return _card(code, rod.name, rod.name, rod.code, rings, (0.0, 0.0),
                 () if closed else marks)


def _card(code: str, name: str, thing: str, of: str, rings: tuple[np.ndarray, ...],
          up: tuple[float, float], marks: ArrayLike) -> Piece:
    none = np.empty(0)
    return Piece(
        code=code, name=name, object=thing, stock=CARD, side=OUTER,
        verdict=Verdict("flat", 0.0, 0.0, (1.0, 1.0), np.inf, -1, "It is a card."),
        vertices=none.reshape(0, 3), faces=none.reshape(0, 3), source_vertex=none,
        source_face=none, flat=none.reshape(0, 2), stretch=none.reshape(0, 2), front=rings,
        back=rings, cut=rings, edges=(), up=up, area=sum(map(_area, rings)), template=code,
        gauge_of=of, marks=marks)


def _area(ring: np.ndarray) -> float:
    (x, y), (u, v) = ring.T, np.roll(ring, -1, axis=0).T
    return float((x * v - u * y).sum() / 2)
