"""plan.html read by a parser that follows the HTML standard, without a browser."""

import base64
import hashlib
import re
from dataclasses import replace

import pytest

from addon.export.plan import plan_of, write_plan_html
from tests.plan.conftest import box_patches, suit

html5lib = pytest.importorskip("html5lib")

NAMESPACES = {"h": "http://www.w3.org/1999/xhtml", "s": "http://www.w3.org/2000/svg"}


def read(pattern, tmp_path):
    """The text of the page, and its tree; strict: any breach of the standard's syntax raises."""
    write_plan_html(pattern, tmp_path / "plan.html")
    text = (tmp_path / "plan.html").read_text("utf-8")
    return text, html5lib.HTMLParser(strict=True).parse(text)


def words(element):
    return " ".join("".join(element.itertext()).split())


def test_every_step_and_box_of_the_plan_is_there_once_with_its_words(pair, tmp_path):
    plan = plan_of(pair)
    _, tree = read(pair, tmp_path)
    labels = {label.find("h:input", NAMESPACES).get("data-key"): words(label)
              for label in tree.iterfind(".//h:label", NAMESPACES)}
    boxes = plan.boxes()
    assert len(boxes) == len({box.key for box in boxes}) == len(labels)
    assert len(tree.findall(".//h:input", NAMESPACES)) == len(boxes)  # none without a label
    for box in boxes:
        assert labels[box.key].endswith(box.text)
    steps = tree.findall(".//h:article", NAMESPACES)
    assert [s.get("id") for s in steps] == [f"step-{s.number}" for s in pair.steps]
    for step, shown in zip(pair.steps, steps, strict=True):
        assert all(" ".join(text.split()) in words(shown) for text in step.text)


def test_nothing_comes_from_elsewhere_and_only_what_is_in_it_may_run(box, tmp_path):
    text, tree = read(box, tmp_path)
    for element in tree.iter():
        for name, value in element.attrib.items():
            assert not name.startswith("on")
            if name in ("src", "href", "srcset", "data", "action", "poster"):
                assert value.startswith("#"), value
    assert not re.search(r"@import|url\(|https?://", text)
    (policy,) = (m.get("content") for m in tree.iterfind(".//h:meta", NAMESPACES)
                 if m.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'") and "unsafe" not in policy
    for kind in ("style", "script"):  # W3C: Content Security Policy Level 2, hashes
        (part,) = tree.findall(f".//h:{kind}", NAMESPACES)
        digest = base64.b64encode(hashlib.sha256(part.text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy


def test_headings_do_not_skip_a_level_and_links_lead_somewhere(pair, tmp_path):
    _, tree = read(pair, tmp_path)
    levels = [int(e.tag[-1]) for e in tree.iter() if re.search(r"}h[1-6]$", str(e.tag))]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(levels, levels[1:], strict=False))
    ids = [e.get("id") for e in tree.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    for link in tree.iterfind(".//h:a", NAMESPACES):
        assert link.get("href")[1:] in ids
    for name in ("aria-labelledby",):
        assert all(e.get(name) in ids for e in tree.iter() if e.get(name))


def test_every_picture_is_drawn_in_the_page_and_named(pair, tmp_path):
    _, tree = read(pair, tmp_path)
    pictures = [b for b in tree.iterfind(".//h:button", NAMESPACES) if b.get("class") == "picture"]
    drawn = sum(block.picture is not None for section in plan_of(pair).sections
                for block in section.blocks if hasattr(block, "picture"))
    assert drawn > 0 and len(pictures) == drawn + 2  # and the cover from both sides
    for picture in pictures:
        assert picture.get("aria-label").startswith("Enlarge: ")
        assert picture.find("s:svg", NAMESPACES).findall(".//s:path", NAMESPACES)


def test_the_makers_words_are_never_markup(box, tmp_path):
    evil = '</title><script>alert("x")</script>'
    _, tree = read(replace(box, settings=replace(box.settings, title=evil)), tmp_path)
    assert len(tree.findall(".//h:script", NAMESPACES)) == 1
    assert words(tree.find(".//h:h1", NAMESPACES)) == evil


def test_ticks_are_kept_apart_for_each_suit_but_not_for_another_title(box):
    plan = plan_of(box)
    assert plan.digest == plan_of(replace(box, settings=replace(box.settings, title="New"))).digest
    assert plan.digest != plan_of(suit({"Box": box_patches(w=210.0)})).digest
