"""plan.html in a real browser: clicked through, with no network and with storage refused."""

import os
import shutil
from contextlib import contextmanager

import pytest

from addon.export.plan import plan_of, write_plan_html

playwright = pytest.importorskip("playwright.sync_api")
BROWSER = next((found for name in ("chromium", "chromium-browser", "google-chrome")
                if (found := shutil.which(name))), None)
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no Chromium is installed")

TABLET = {"width": 768, "height": 1024}
# Bound to no network; as root, in which CI runs, Chromium starts only without its sandbox.
ARGUMENTS = ["--disable-background-networking", "--disable-component-update", "--disable-sync",
             "--no-first-run", "--disable-gpu", "--host-resolver-rules=MAP * ~NOTFOUND",
             *(["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else [])]
NO_STORAGE = """Object.defineProperty(window, "localStorage", {
    get() { throw new DOMException("refused", "SecurityError"); }});"""


@pytest.fixture(scope="module")
def page_file(pair, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "plan.html"
    write_plan_html(pair, path)
    return path


@contextmanager
def opened(path, folder, before="", **options):
    """The page in a browser whose profile is kept in `folder`; every request and complaint."""
    with playwright.sync_playwright() as engine:
        context = engine.chromium.launch_persistent_context(
            str(folder), executable_path=BROWSER, args=ARGUMENTS, headless=True,
            **{"viewport": TABLET, **options})
        try:
            page = context.new_page()
            page.asked, page.complaints = [], []
            page.on("request", lambda request: page.asked.append(request.url))
            page.on("console", lambda word: page.complaints.append(word.text))
            page.on("pageerror", lambda error: page.complaints.append(str(error)))
            if before:
                page.add_init_script(before)
            page.goto(path.as_uri())
            yield page
        finally:
            context.close()


def test_ticks_stay_when_the_browser_is_closed_and_count_steps(page_file, pair, tmp_path):
    steps = len(pair.steps)
    with opened(page_file, tmp_path / "profile") as page:
        assert page.locator("#done").inner_text() == "0"
        page.locator("#step-1 label").click()
        page.get_by_label("Knife blades").check()
        assert page.locator("#done").inner_text() == "1"
        assert page.locator("#next").get_attribute("href") == "#step-2"
        page.locator("#next").click()
        assert page.locator("#step-2").bounding_box()["y"] < TABLET["height"]
        assert page.locator("#not-kept").is_hidden()
        assert page.asked == [page_file.as_uri()] and page.complaints == []
    with opened(page_file, tmp_path / "profile") as page:
        assert page.locator("#step-1 input").is_checked()
        assert page.get_by_label("Knife blades").is_checked()
        assert not page.locator("#step-2 input").is_checked()
        for number in range(2, steps + 1):
            page.locator(f"#step-{number} input").check()
        assert page.locator("#done").inner_text() == str(steps)
        assert page.locator("#next").is_hidden()
        page.once("dialog", lambda dialog: dialog.accept())
        page.locator("#clear").click()
        assert page.locator("input:checked").count() == 0
    with opened(page_file, tmp_path / "profile") as page:
        assert page.locator("input:checked").count() == 0


def drawn(place):
    """How wide what is drawn first comes out, in pixels."""
    return place.locator("svg path").first.bounding_box()["width"]


def test_every_picture_enlarges_and_closes_by_click_and_by_key(page_file, tmp_path):
    with opened(page_file, tmp_path / "profile") as page:
        pictures = page.locator(".picture")
        assert pictures.count() > 2
        for number in range(pictures.count()):
            before = drawn(pictures.nth(number))
            pictures.nth(number).click()
            after = drawn(page.locator("dialog"))
            assert page.locator("dialog").is_visible()
            in_step = pictures.nth(number).locator("xpath=ancestor::article").count()
            assert after / before > (1.5 if in_step else 0.95)  # the cover fills the width already
            if number % 2:
                page.keyboard.press("Escape")
            else:
                page.locator("dialog svg").click()
            assert page.locator("dialog").is_hidden()
        assert page.complaints == []


def test_where_storage_is_refused_the_page_says_so_and_works_on(page_file, tmp_path):
    with opened(page_file, tmp_path / "profile", NO_STORAGE) as page:
        assert page.locator("#not-kept").is_visible()
        page.locator("#step-1 input").check()
        assert page.locator("#done").inner_text() == "1"
        assert page.complaints == []


def test_another_suit_has_ticks_of_its_own(page_file, box, tmp_path):
    other = tmp_path / "other.html"
    write_plan_html(box, other)
    with opened(page_file, tmp_path / "profile") as page:
        page.locator("#step-1 input").check()
    with opened(other, tmp_path / "profile") as page:
        assert page.locator("#step-1 input").count() == 1
        assert page.locator("input:checked").count() == 0


@pytest.mark.parametrize("size", [(1024, 768), (768, 1024), (360, 740)])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_a_tablet_upright_and_lying_with_boxes_for_a_glove(
        page_file, tmp_path, size, scheme):
    view = {"width": size[0], "height": size[1]}
    with opened(page_file, tmp_path / "profile", viewport=view, color_scheme=scheme) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        for box in page.locator("label").all():
            assert box.bounding_box()["height"] >= 24  # WCAG 2.2, target size (minimum), 24 px
        ink, ground = page.evaluate(
            "[getComputedStyle(document.body).color, "
            "getComputedStyle(document.body).backgroundColor]")
        assert contrast(ink, ground) >= 7  # WCAG 2.2, contrast (enhanced)


def contrast(*colours):
    """WCAG 2.2's contrast ratio of two CSS colours "rgb(r, g, b)"."""
    light = []
    for colour in colours:
        parts = [int(p) / 255 for p in colour[4:-1].split(",")]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        light.append(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])
    return (max(light) + 0.05) / (min(light) + 0.05)


def test_printed_from_the_browser_every_step_is_there_and_no_button(page_file, pair, tmp_path):
    pdfplumber = pytest.importorskip("pdfplumber")
    with opened(page_file, tmp_path / "profile") as page:
        page.pdf(path=tmp_path / "printed.pdf", format="A4")
    with pdfplumber.open(tmp_path / "printed.pdf") as book:
        text = " ".join(" ".join(p.extract_text() for p in book.pages).split())
    assert "Clear all ticks" not in text
    for step in pair.steps:
        assert step.title in text
    assert plan_of(pair).title in text
