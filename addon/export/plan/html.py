"""The plan as one page for a tablet in the workshop: boxes that remember their ticks, pictures
that enlarge, nothing from a network."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator
from functools import singledispatch
from html import escape
from pathlib import Path

from ...core.model import Pattern
from .blocks import (
    Block,
    Boxes,
    Bullets,
    Heading,
    Plan,
    Section,
    Table,
    Text,
    Tones,
    Views,
    Work,
)
from .contents import plan_of
from .svg import inline_svg, tone

_HERE = Path(__file__).parent
_NOT_KEPT = ("This browser does not let the page remember ticks: they last until you close it. "
             "Print the plan, or note how far you are.")


def write_plan_html(pattern: Pattern, path: str | Path) -> None:
    """Write the plan as one self-contained page. The same pattern gives the same bytes."""
    Path(path).write_text(page(plan_of(pattern)), encoding="utf-8", newline="\n")


def page(plan: Plan) -> str:
    """The document. Its policy lets in this style, this script, and nothing else."""
    style, script = ((_HERE / name).read_text(encoding="utf-8") for name in ("plan.css", "plan.js"))
    policy = (f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
              "base-uri 'none'; form-action 'none'")
    title = escape(plan.title)
    body = "\n".join([
        f'<header id="top"><h1>{title}</h1><p class="kind">Build plan</p></header>',
        _progress(plan), _contents(plan),
        f'<main><div class="cover">{_all(plan.cover)}</div>',
        *(_section(n, section) for n, section in enumerate(plan.sections, 1)),
        "</main>",
        '<dialog id="large" aria-label="Picture, enlarged"><form method="dialog">'
        '<button type="submit">Close</button></form><div></div></dialog>'])
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="Foamwright">
<title>{title}: build plan</title>
<style>{style}</style>
</head>
<body data-suit="{plan.digest}">
{body}
<script>{script}</script>
</body>
</html>
"""


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return "sha256-" + base64.b64encode(digest).decode("ascii")


def _progress(plan: Plan) -> str:
    total = sum(isinstance(b, Work) for s in plan.sections for b in s.blocks)
    return ('<div class="progress" role="group" aria-label="Progress">'
            f'<span><output id="done">0</output> of {total} steps done</span>'
            f'<progress id="bar" max="{max(total, 1)}" value="0" aria-label="Steps done">'
            '</progress><a id="next" href="#step-1">Next step</a>'
            '<button type="button" id="clear">Clear all ticks</button></div>'
            f'<p class="warn" id="not-kept" hidden>{_NOT_KEPT}</p>'
            "<noscript><p class=\"warn\">Without scripts the page works, but remembers no ticks."
            "</p></noscript>")


def _contents(plan: Plan) -> str:
    items = "".join(
        f'<li><a href="#part-{n}">{escape(section.title)}</a></li>'
        for n, section in enumerate(plan.sections, 1))
    return (f'<nav aria-label="Contents"><details><summary>Contents</summary><ol>{items}</ol>'
            "</details></nav>")


def _section(number: int, section: Section) -> str:
    return (f'<section id="part-{number}" aria-labelledby="part-{number}-title">'
            f'<h2 id="part-{number}-title">{escape(section.title)}</h2>{_all(section.blocks)}'
            "</section>")


def _all(blocks: tuple[Block, ...]) -> str:
    return "\n".join(markup(block) for block in blocks)


@singledispatch
def markup(block: Block) -> str:
    """A block as HTML."""
    raise TypeError(f"a plan holds no {type(block).__name__}")


@markup.register
def _(block: Heading) -> str:
    return f"<h3>{escape(block.text)}</h3>"


@markup.register
def _(block: Text) -> str:
    kind = ' class="lead"' if block.bold else ' class="note"' if block.note else ""
    return f"<p{kind}>{escape(block.text)}</p>"


@markup.register
def _(block: Bullets) -> str:
    return f'<ul>{"".join(f"<li>{escape(item)}</li>" for item in block.items)}</ul>'


@markup.register
def _(block: Boxes) -> str:
    return '<ul class="boxes">' + "".join(
        f'<li><label><input type="checkbox" data-key="{escape(box.key)}">'
        f"<span>{escape(box.text)}</span></label></li>" for box in block.items) + "</ul>"


@markup.register
def _(block: Table) -> str:
    def cells(kind: str, texts: Iterator[str]) -> str:
        return "<tr>" + "".join(
            f"<{kind}{_aligned(column.anchor)}{' scope=col' if kind == 'th' else ''}>"
            f"{escape(text)}</{kind}>"
            for text, column in zip(texts, block.columns, strict=True)) + "</tr>"

    head = cells("th", (column.title for column in block.columns))
    return (f'<div class="wide" tabindex="0" role="group" aria-label="Table">'
            f"<table><thead>{head}</thead><tbody>"
            + "".join(cells("td", row) for row in block.rows) + "</tbody></table></div>")


def _aligned(anchor: str) -> str:
    return ' class="end"' if anchor == "end" else ""


@markup.register
def _(block: Views) -> str:
    pictures = "".join(f"<figure>{_enlarging(inline_svg(p), p.alt)}"
                       f"<figcaption>{escape(p.caption)}</figcaption></figure>"
                       for p in block.pictures)
    return f'<div class="views views-{block.columns}">{pictures}</div>'


def _enlarging(svg: str, alt: str) -> str:
    return (f'<button type="button" class="picture" aria-label="Enlarge: {escape(alt)}">{svg}'
            "</button>")


@markup.register
def _(block: Tones) -> str:
    return '<ul class="tones">' + "".join(
        '<li><svg viewBox="0 0 7 4" width="28" height="16" aria-hidden="true">'
        f'<rect width="7" height="4" fill="{tone(grey)}"/></svg>{escape(text)}</li>'
        for grey, text in block.tones) + "</ul>"


@markup.register
def _(block: Work) -> str:
    words = "".join(f"<p>{escape(text)}</p>" for text in block.texts)
    if block.caution:
        words += f'<p class="caution">{escape(block.caution)}</p>'
    picture = _enlarging(inline_svg(block.picture), block.picture.alt) if block.picture else ""
    return (f'<article class="step" id="step-{block.number}">'
            f'<h3><label><input type="checkbox" data-key="{escape(block.box.key)}" data-step>'
            f'<span><b>{block.number}</b> {escape(block.box.text)}</span></label></h3>'
            f'<div class="work">{picture}<div>{words}</div></div></article>')
