"""The page of the plan on how the suit fits, read back."""

from dataclasses import replace

import pytest

from addon.core.fit import fitted
from addon.core.make import check
from addon.core.model import Settings
from addon.core.stock import find_stock
from addon.export.fit_words import in_words
from addon.export.plan import write_plan_pdf
from tests import shapes
from tests.fit.test_fit import pillar

pdfplumber = pytest.importorskip("pdfplumber")


def read(pattern, tmp_path):
    write_plan_pdf(pattern, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as book:
        return " ".join(" ".join(page.extract_text().split()) for page in book.pages)


@pytest.fixture(scope="module")
def pattern():
    tube = shapes.sculpt(shapes.cylinder(120.0, 6.2, 200.0, 49, 13))
    settings = Settings(find_stock("eva-10"), girth_heights=(100.0,))
    return fitted(check(tube, settings), pillar(low=0.0))


def test_the_plan_tells_how_it_fits(pattern, tmp_path):
    text = read(pattern, tmp_path)
    page = text[text.index("How it fits"):]
    assert f"{pattern.pieces[0].code} 29." in page or f"{pattern.pieces[0].code} 30" in page
    girth = pattern.fitted.girths[-1]
    assert f"at 100 mm 100 mm {girth.body:.0f} mm {girth.inside:.0f} mm" in page
    assert "Spacers for what floats" in page and "30 mm, 30 mm" in page
    assert "breathe deeply" in page  # the usual caution
    assert "How it fits" not in read(replace(pattern, fitted=None), tmp_path)


def test_words_tell_what_is_tight_and_what_is_too_narrow(pattern):
    lines = in_words(pattern)
    assert lines[0].startswith("Beside the body, the") and "off it" in lines[0]
    narrow = fitted(replace(pattern, findings=()), pillar(115.0, low=0.0))
    told = in_words(narrow)
    assert "into it" in told[0]
    assert "too narrow (wanted: 50 mm)" in told[1] or "too narrow" in " ".join(told)
