"""A search is stopped within one piece, not only between two."""

import pytest

from addon.core import stopping
from addon.core.errors import Cancelled
from addon.core.make import Memory, check
from addon.core.model import Settings
from addon.core.stock import Stock
from addon.core.suggest.relief import relieve
from tests import shapes

SETTINGS = Settings(stock=Stock("foam", 10.0))


class Said:
    """A progress function that is stopped once it has heard one and the same word often."""

    def __init__(self, most: float):
        self.words, self.most = [], most

    def __call__(self, share, text):
        self.words.append((share, text))
        if self.words.count((share, text)) >= self.most:
            raise Cancelled


def dome():
    return shapes.sculpt(shapes.cap(100, 1.0, 12))


def test_a_check_asks_again_and_again_while_it_searches_one_piece():
    said = Said(most=float("inf"))
    check(dome(), SETTINGS, said)
    flattening = [word for word in said.words if word[1].startswith("Flattening")]
    assert len(set(flattening)) == 1 and len(flattening) > 20
    assert [share for share, _ in said.words] == sorted(share for share, _ in said.words)


def test_it_ends_within_the_piece_and_what_it_remembers_stays_right():
    memory, whole = Memory(), check(dome(), SETTINGS)
    said = Said(most=5)
    with pytest.raises(Cancelled):
        check(dome(), SETTINGS, said, memory)
    assert said.words[-1][1].startswith("Flattening") and len(said.words) < 12
    again = check(dome(), SETTINGS, None, memory)
    assert (again.pieces[0].flat == whole.pieces[0].flat).all()


def test_so_does_the_search_for_relief():
    said = Said(most=5)
    with pytest.raises(Cancelled):
        relieve(dome(), Settings(stock=Stock("foam", 3.0)), [0], said)
    assert len(said.words) < 12


def test_a_procedure_within_another_is_asked_through_that():
    heard = []

    @stopping.stoppable
    def inner(progress):
        progress(0.5, "inner")
        stopping.ask()

    @stopping.stoppable
    def outer(number, progress=None):
        progress(0.0, "outer")
        inner(lambda share, text: progress(share / 2, text))
        stopping.ask()
        return number

    assert outer(3, lambda *word: heard.append(word)) == 3
    assert heard == [(0.0, "outer"), (0.25, "inner"), (0.25, "inner"), (0.25, "inner")]
    stopping.ask()  # nothing is left behind
    assert len(heard) == 4 and outer.__name__ == "outer"
