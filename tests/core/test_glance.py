"""A check shows the pieces as they come: cut, then flat, then lettered."""

import numpy as np

from addon.core import make
from addon.core.model import SEAM, Sculpt, Settings
from addon.core.stock import find_stock
from tests import shapes


def test_a_check_shows_cut_then_flat_then_lettered_pieces():
    vertices, faces = shapes.cylinder(80.0, 1.2, 100.0, 13, 7)
    row = 3 * 13 + np.arange(13)
    edges = np.stack([row[:-1], row[1:]], axis=1)
    sculpt = Sculpt.plain(vertices / 2, faces, edges, np.full(12, SEAM))
    seen = []
    pattern = make.check(sculpt, Settings(find_stock("eva-4"), scale=2.0), see=seen.append)
    assert [(len(g.sigma), len(g.verdicts), len(g.letters)) for g in seen] == [
        (0, 0, 0), (2, 0, 0), (2, 2, 1)]
    for glance in seen:
        assert glance.codes == tuple(p.code for p in pattern.pieces)
        assert [s.name for s in glance.stocks] == ["EVA craft foam 4 mm"] * 2
        for region, piece in zip(glance.cut.regions, pattern.pieces, strict=True):
            assert np.array_equal(region.vertices, piece.vertices)  # at the size that is worn
    last = seen[-1]
    assert last.letters == tuple(m.letter for m in pattern.mates)
    assert last.verdicts == tuple(p.verdict for p in pattern.pieces)
    assert all(np.array_equal(s, p.stretch)
               for s, p in zip(last.sigma, pattern.pieces, strict=True))
