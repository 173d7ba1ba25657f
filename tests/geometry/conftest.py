"""Short ways to the stages for tests of geometry."""

import pytest

from addon.core import flatten, layer, seams
from addon.core.make import check
from addon.core.model import Settings
from addon.core.stock import Stock

WEB = 0.3


@pytest.fixture(scope="session")
def foam():
    """Plain foam: neutral layer in the middle, the limits -5 / +10 % heated."""
    return Stock("foam", 10.0)


@pytest.fixture(scope="session")
def laid():
    """laid(sculpt, stock, side) -> regions, layers, flats of every piece."""

    def lay(sculpt, stock, side="outer"):
        cut = seams.cut(sculpt)
        count = len(cut.regions)
        layers = layer.layers(cut, [stock] * count, [side] * count, WEB)
        flats = flatten.flatten_all(cut.regions, layers, [stock] * count)
        return cut.regions, layers, flats

    return lay


@pytest.fixture(scope="session")
def checked(foam):
    """checked(sculpt, **settings) -> Pattern."""
    return lambda sculpt, **more: check(sculpt, Settings(**{"stock": foam, **more}))
