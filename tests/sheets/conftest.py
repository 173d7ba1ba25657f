"""Synthetic pieces for the sheets: rounded shapes of a given size, with a mate and a notch."""

import numpy as np
import pytest

from addon.core.model import Notch, Pattern, Piece, PieceEdge, Sculpt, Settings, Verdict
from addon.core.stock import Stock

FOAM = Stock("EVA 10 mm", 10.0)
LEVEL = Verdict("flat", 0.0, 0.0, (1.0, 1.0), np.inf, 0, "It is flat.")


def ring(outline) -> np.ndarray:
    return np.asarray(outline, dtype=float).reshape(-1, 2)


def rectangle(w: float, h: float) -> np.ndarray:
    return ring([(0, 0), (w, 0), (w, h), (0, h)])


def blob(rng: np.random.Generator, radius: float, count: int = 60) -> np.ndarray:
    """A smooth closed outline that is nowhere self-crossing (star-shaped about the origin)."""
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    r = radius * (1 + 0.25 * np.cos(2 * t + rng.uniform(0, 6))
                  + 0.1 * np.cos(3 * t + rng.uniform(0, 6)))
    return np.stack([r * np.cos(t), r * np.sin(t)], axis=1)


def make_piece(code: str, *rings, **more) -> Piece:
    """A flat piece that is cut along the given rings."""
    cut = tuple(ring(r) for r in rings)
    line = np.concatenate([cut[0], cut[0][:1]])
    fraction = np.linspace(0, 1, len(line))
    edge = PieceEdge(line, line, fraction, np.zeros(len(line)))
    notch = Notch(cut[0][0], np.array([0.0, 1.0]), "A", 1)
    values = dict(name="", object="body", stock=FOAM, side="outer", verdict=LEVEL,
                  vertices=np.c_[cut[0], np.zeros(len(cut[0]))], faces=[[0, 1, 2]],
                  source_vertex=np.arange(len(cut[0])), source_face=[0], flat=cut[0],
                  stretch=[[1.0, 1.0]], front=cut, back=cut, edges=(edge,), notches=(notch,),
                  template=code)
    return Piece(code=code, cut=cut, **(values | more))


def make_suit(pieces, settings, mats=(), pages=(), mates=()) -> Pattern:
    # As many vertices as the pieces know of.
    points = max((p.vertices for p in pieces), key=len, default=np.eye(3))
    sculpt = Sculpt.plain(points, [(0, 1, 2)])
    return Pattern(settings, sculpt, tuple(pieces), tuple(mates), mats=mats, pages=pages)


@pytest.fixture
def settings() -> Settings:
    """A4 and little work, for quick tests."""
    return Settings(FOAM, nest_seconds=0.1)


@pytest.fixture
def blobs() -> list[Piece]:
    rng = np.random.default_rng(4)
    return [make_piece(f"P-{i}", blob(rng, rng.uniform(25, 110)), copies=1, mirrored=i % 2)
            for i in range(12)]
