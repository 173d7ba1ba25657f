"""Find the pieces that one template serves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..model import Mate, Piece, Placement
from .congruence import Shape, motions, rigid
from .letters import Correspondence, Joints, joined

PARTNER = 5.0  # mm from a mirror image, on average, up to which a piece counts as its partner
ALONG = np.cos(np.radians(5.0))  # of two directions that count as one along the grain


@dataclass(frozen=True, eq=False)
class Match:
    """A piece and the template it is cut from, both as indices.

    motion carries the template's flat onto the piece's flat; flipped: the template is
    turned over for it. edges[i]: the edge of the piece on which edge i of the
    template comes to lie. partner: on the sculpt, the two are mirror images
    across the suit's plane of symmetry. A template matches itself.
    """

    piece: int
    template: int
    motion: Placement
    edges: tuple[int, ...]
    partner: bool = False

    @property
    def flipped(self) -> bool:
        return self.motion.mirrored


def find_pairs(pieces: Sequence[Piece], mates: Sequence[Mate] = (),
               lateral: Sequence[float] = (1.0, 0.0, 0.0)) -> tuple[Match, ...]:
    """One match per piece, in order; the first piece of each set is its template.

    Pieces are congruent when the stock is the same, both faces' outlines and the cut
    line agree within 0.3 mm everywhere after a rigid motion, and bevels (2°) and
    folds agree. The template may be turned over. Where a shape fits in several ways
    the one that mirrors the suit is taken, then the one that keeps what is up; but a
    template that is its own mirror image, letters and all, is never turned over. Two
    pieces whose mates could not carry the same letters and notches are not matched.
    Foam with a grain has its grain along what is up: there a template serves no piece
    that is worn turned, unless by 180°.
    lateral (3,): unit vector across the suit.
    """
    return matches(pieces, mates, lateral)[0]


def matches(pieces: Sequence[Piece], mates: Sequence[Mate],
            lateral: Sequence[float]) -> tuple[tuple[Match, ...], Correspondence]:
    """The matches of find_pairs and the mates that correspond under them."""
    shapes = [Shape(p) for p in pieces]
    joints, known = Joints(pieces, mates), Correspondence(len(mates))
    mirror = _Mirror(pieces, np.asarray(lateral, dtype=float))
    found: list[Match] = []
    for i, piece in enumerate(pieces):
        for t in (m.piece for m in found if m.piece == m.template):
            if not shapes[t].may_equal(shapes[i]):
                continue
            match, known = _best(shapes, t, i, joints, known, mirror)
            if match:
                found.append(match)
                break
        else:
            found.append(Match(i, i, Placement(piece.code, 0.0, (0.0, 0.0)),
                               tuple(range(len(piece.edges)))))
    return tuple(_unturned(match, shapes, joints, known) for match in found), known


def _unturned(match: Match, shapes: Sequence[Shape], joints: Joints,
              known: Correspondence) -> Match:
    """The match without turning the template over, where it is its own mirror image.

    Only where nothing but the piece's side tells the two apart: no mates need come to share
    a letter for it.
    """
    if not match.flipped:
        return match
    template, other = shapes[match.template], shapes[match.piece]
    if not any(m.mirrored and _alike(template, match.template, template, match.template, edges, m,
                                     joints, known)
               for m, _, edges in motions(template, template)):
        return match
    ways = motions(template, other)
    fits = [(round(float(_turned(m, template.piece.up) @ other.piece.up), 2), -error, k)
            for k, (m, error, edges) in enumerate(ways)
            if not m.mirrored and _grain_agrees(template.piece, other.piece, m)
            and _alike(template, match.template, other, match.piece, edges, m, joints, known)]
    if not fits:
        return match
    motion, _, edges = ways[max(fits)[2]]
    return replace(match, motion=motion, edges=edges)


def _alike(one: Shape, i: int, other: Shape, j: int, edges: tuple[int, ...], motion: Placement,
           joints: Joints, known: Correspondence) -> bool:
    """Do the letters of two pieces agree under a motion as things stand?"""
    after = joined(known, joints, (i, one.piece), (j, other.piece), edges, motion)
    return after is not None and after.same_sets(known)


def _turned(motion: Placement, direction: np.ndarray) -> np.ndarray:
    """A direction (2,) after the motion."""
    return Placement("", motion.angle, (0.0, 0.0), motion.mirrored).apply(direction[None])[0]


def _grain_agrees(template: Piece, piece: Piece, motion: Placement) -> bool:
    """Does the grain, which runs along what is up, keep its direction? Pieces that lie level
    have no direction of their own."""
    if not (template.stock.grain and template.up.any() and piece.up.any()):
        return True
    return abs(float(_turned(motion, template.up) @ piece.up)) >= ALONG


def _best(shapes, t, i, joints, known, mirror) -> tuple[Match | None, Correspondence]:
    template, piece = shapes[t].piece, shapes[i].piece
    ranked = []
    likely = mirror.motion(template, piece)
    for motion, error, edges in motions(shapes[t], shapes[i], likely):
        if not _grain_agrees(template, piece, motion):
            continue
        apart = mirror.distance(template, piece, motion) if motion.mirrored else np.inf
        partner = apart < PARTNER
        opposite = mirror.across(template) * mirror.across(piece) < 0
        up = _turned(motion, template.up)
        ranked.append(((not partner, motion.mirrored != opposite, round(1 - up @ piece.up, 2),
                        round(apart, 3) if partner else 0.0, error), motion, edges, partner))
    for _, motion, edges, partner in sorted(ranked, key=lambda r: r[0]):
        after = joined(known, joints, (t, template), (i, piece), edges, motion)
        if after:
            return Match(i, t, motion, edges, partner), after
    return None, known


class _Mirror:
    """The suit's plane of symmetry."""

    def __init__(self, pieces: Sequence[Piece], lateral: np.ndarray):
        from scipy.spatial import cKDTree

        self.normal = lateral / np.linalg.norm(lateral)
        centres = np.array([p.vertices.mean(axis=0) for p in pieces]).reshape(-1, 3)
        every = (np.concatenate([p.vertices for p in pieces]) if pieces else np.zeros((1, 3)))
        across = every @ self.normal
        # The world's own plane or the middle of the suit, whichever pairs more pieces.
        planes = (0.0, float(across.min() + across.max()) / 2)
        pairs = []
        for self.place in planes:
            apart = cKDTree(centres).query(self.image(centres))[0] if pieces else np.zeros(1)
            pairs.append(int((apart < PARTNER).sum()))
        self.place = planes[0] if pairs[0] >= pairs[1] else planes[1]

    def image(self, points: np.ndarray) -> np.ndarray:
        return points - 2 * (points @ self.normal - self.place)[:, None] * self.normal

    def across(self, piece: Piece) -> float:
        """Signed distance of a piece's middle from the plane, 0 where it lies on it."""
        away = float(piece.vertices.mean(axis=0) @ self.normal - self.place)
        return away if abs(away) > PARTNER else 0.0

    def motion(self, template: Piece, piece: Piece) -> list[Placement]:
        """The motion between the flats of two pieces that are mirror images on the sculpt."""
        from scipy.spatial import cKDTree

        image = self.image(template.vertices)
        # No vertex is nearer than the box they lie in.
        box = np.clip(image, piece.vertices.min(axis=0), piece.vertices.max(axis=0))
        if np.linalg.norm(image - box, axis=1).mean() > PARTNER:
            return []
        apart, near = cKDTree(piece.vertices).query(image)
        if apart.mean() > PARTNER:
            return []
        return [rigid(template.code, template.flat * (-1.0, 1.0), piece.flat[near], True)]

    def distance(self, template: Piece, piece: Piece, motion: Placement) -> float:
        """Mean distance on the sculpt between the piece and the template's mirror image,
        over the vertices that the motion brings together."""
        from scipy.spatial import cKDTree

        near = cKDTree(piece.flat).query(motion.apply(template.flat))[1]
        gap = self.image(template.vertices) - piece.vertices[near]
        return float(np.linalg.norm(gap, axis=1).mean())
