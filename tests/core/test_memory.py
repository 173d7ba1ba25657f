"""A memory of the last check spares searches and changes nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import flatten, layer, make, seams
from addon.core.errors import FoamError
from addon.core.model import SEAM, Sculpt, Settings
from addon.core.stock import find_stock
from tests.shapes import cylinder, surface

ROWS, COLUMNS = 25, 7
SETTINGS = Settings(stock=find_stock("eva-10"))


def strip(seams=(6, 12, 18)):
    """A domed strip 240 mm long, with a seam across at each of the given rows."""
    vertices, faces = surface(
        lambda x, y: (60 * x, 240 * y, 30 - 30 * x**2 - 60 * (y - 0.5) ** 2),
        np.linspace(-0.5, 0.5, COLUMNS), np.linspace(0, 1, ROWS))
    row = np.arange(COLUMNS)
    edges = np.concatenate([np.stack([row[:-1], row[1:]], axis=1) + COLUMNS * s for s in seams])
    return Sculpt.plain(vertices, faces, edges, np.full(len(edges), SEAM), name="Strip")


@pytest.fixture
def searched(monkeypatch):
    """Numbers of faces of the regions that are searched, in order."""
    seen, search = [], flatten.Draft.of.__func__

    def noted(cls, region, layer, stock):
        seen.append(tuple(np.sort(region.source_face)))
        return search(cls, region, layer, stock)

    monkeypatch.setattr(flatten.Draft, "of", classmethod(noted))
    return seen


def same(first, second):
    assert [p.code for p in first.pieces] == [p.code for p in second.pieces]
    for a, b in zip(first.pieces, second.pieces, strict=True):
        assert np.array_equal(a.flat, b.flat)
        assert np.array_equal(a.stretch, b.stretch)
        assert np.array_equal(a.source_face, b.source_face)
        assert repr(a.verdict) == repr(b.verdict)  # which may hold NaN, unequal to itself
        assert all(np.array_equal(x, y) for x, y in zip(a.cut, b.cut, strict=True))
    assert [m.edges for m in first.mates] == [m.edges for m in second.mates]
    assert [(f.code, f.message) for f in first.findings] == [
        (f.code, f.message) for f in second.findings]


def test_a_second_check_searches_nothing(searched, monkeypatch):
    memory = make.Memory()
    first = make.check(strip(), SETTINGS, memory=memory)
    assert len(searched) == 4
    searched.clear()
    monkeypatch.setattr(layer, "fit_surface", lambda *_: pytest.fail("normals were fitted again"))
    monkeypatch.setattr(flatten, "meet", lambda drafts: pytest.fail("mates were solved again"))
    same(make.check(strip(), SETTINGS, memory=memory), first)
    assert searched == []


def test_a_moved_seam_searches_the_two_pieces_beside_it(searched):
    memory = make.Memory()
    make.check(strip(), SETTINGS, memory=memory)
    fresh = make.check(strip((6, 12, 19)), SETTINGS)
    searched.clear()
    again = make.check(strip((6, 12, 19)), SETTINGS, memory=memory)
    assert searched == [tuple(p.source_face) for p in again.pieces[2:]]
    same(again, fresh)


def test_a_seam_that_renumbers_all_others_spares_the_pieces_away_from_it(searched):
    memory = make.Memory()
    make.check(strip((12, 18)), SETTINGS, memory=memory)
    fresh = make.check(strip(), SETTINGS)
    searched.clear()
    again = make.check(strip(), SETTINGS, memory=memory)
    # The piece next to the parted one too: the fold at their seam has changed a little.
    assert searched == [tuple(p.source_face) for p in again.pieces[:3]]
    same(again, fresh)


@pytest.mark.parametrize("stock", [
    SETTINGS.stock.with_thickness(6.0),
    replace(SETTINGS.stock, cold=replace(SETTINGS.stock.cold, stretch=0.01))])
def test_another_foam_searches_every_piece(searched, stock):
    memory = make.Memory()
    make.check(strip(), SETTINGS, memory=memory)
    changed = replace(SETTINGS, stock=stock)
    fresh = make.check(strip(), changed)
    searched.clear()
    same(make.check(strip(), changed, memory=memory), fresh)
    assert len(searched) == 4


def test_what_the_last_check_did_not_need_is_forgotten(searched):
    memory = make.Memory()
    make.check(strip(), SETTINGS, memory=memory)
    make.check(strip((12,)), SETTINGS, memory=memory)
    searched.clear()
    make.check(strip(), SETTINGS, memory=memory)
    assert len(searched) == 4


def test_a_piece_too_tight_for_the_foam_is_refused_every_time():
    memory, small = make.Memory(), replace(SETTINGS, scale=0.05)  # radii of 3 mm, foam of 10 mm
    for _ in range(2):
        with pytest.raises(FoamError) as caught:
            make.check(strip(), small, memory=memory)
        assert "tighter-than-thickness" in [f.code for f in caught.value.findings]


def test_no_more_is_kept_than_the_last_check_searched_though_a_piece_fails():
    """A strip in which a seam is moved time and again, beside a bend too tight for the foam."""
    memory, (tight, faces) = make.Memory(), cylinder(4, 2.0, 60)
    for row in (5, 6, 7, 8):
        part = strip((row,))
        both = Sculpt.plain(np.concatenate([part.vertices, tight + (500, 0, 0)]),
                            np.concatenate([part.faces, faces + len(part.vertices)]),
                            part.edges, part.kinds, name="Both")
        with pytest.raises(FoamError):
            make.check(both, SETTINGS, memory=memory)
        assert len(memory._drafts) == 2


def test_mates_that_touch_along_another_line_are_searched_again():
    """What is remembered holds also how long the line is in which mates touch."""
    memory, cut = make.Memory(), seams.cut(strip((12,)))
    layers = layer.layers(cut, [SETTINGS.stock] * 2, ["outer"] * 2, 0.3)
    first = memory.draft(cut.regions[0], layers[0], SETTINGS.stock)
    longer = replace(layers[0], contact=tuple(1.01 * c for c in layers[0].contact))
    again = memory.draft(cut.regions[0], longer, SETTINGS.stock)
    assert again.system.seams.contact == pytest.approx(1.01 * first.system.seams.contact)
