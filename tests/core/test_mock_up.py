"""Mock-ups: the suit made anew at another scale in card, not its templates shrunk."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core.errors import FoamError
from addon.core.make import check
from addon.core.model import HALF, THIRD, Sculpt, Settings
from addon.core.stock import find_stock
from tests import shapes


@pytest.fixture(scope="module")
def tube():
    """A pipe of radius 100 mm, cut open along one line."""
    vertices, faces = shapes.cylinder(100.0, 2 * np.pi * 0.98, 120.0, 49, 5)
    return Sculpt.plain(vertices, faces, name="Pipe")


@pytest.mark.parametrize("size, share", [(HALF, 2), (THIRD, 3)])
def test_the_flat_follows_the_card_s_own_neutral_layer(tube, size, share):
    # A sheet bent round its outside radius R is as long as its middle layer: (R - t/2) times the
    # angle (thin sheet bent to a cylinder; arithmetic).
    foam = Settings(find_stock("eva-10"))
    angle = 2 * np.pi * 0.98
    full = check(tube, foam).pieces[0]
    card = check(tube, replace(foam, mock_up=size, card=1.5)).pieces[0]
    assert np.ptp(full.flat, axis=0).max() == pytest.approx(angle * 95.0, rel=2e-3)
    assert np.ptp(card.flat, axis=0).max() == pytest.approx(
        angle * (100.0 / share - 0.75), rel=2e-3)
    assert card.stock.thickness == 1.5 and card.stock.name == "Card 1.5 mm"
    assert card.code == full.code


def test_all_objects_are_of_card_and_offcuts_of_foam_are_kept(tube):
    from addon.core.mock_up import in_card
    from addon.core.model import Offcut

    thin = replace(tube, objects=(replace(tube.objects[0], stock=find_stock("eva-6")),))
    settings = Settings(find_stock("eva-10"), mock_up=HALF, scale=1.2,
                        offcuts=(Offcut("scrap", (((0, 0), (9, 0), (9, 9)),)),))
    sculpt, found = in_card(thin, settings)
    assert sculpt.objects[0].stock == found.stock and found.offcuts == ()
    assert found.scale == pytest.approx(0.6) and found.notch_spacing == 35.0
    assert in_card(thin, replace(settings, mock_up="")) == (thin, replace(settings, mock_up=""))


@pytest.mark.parametrize("change", [dict(card=0.0), dict(card=float("nan")),
                                    dict(mock_up="quarter")])
def test_an_impossible_mock_up_is_refused_with_a_remedy(tube, change):
    settings = replace(Settings(find_stock(), mock_up=HALF), **change)
    with pytest.raises(FoamError) as caught:
        check(tube, settings)
    assert caught.value.finding.code == "bad-mock-up" and caught.value.finding.remedy
