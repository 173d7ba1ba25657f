"""The build plan: one content (`contents`), as pages (`pdf`) and as one page to click (`html`)."""

from __future__ import annotations

from pathlib import Path

from ...core.model import Pattern
from .contents import plan_of
from .html import page, write_plan_html
from .pdf import pages, write_plan_pdf

__all__ = ["plan_of", "write_plan", "write_plan_html", "write_plan_pdf"]


def write_plan(pattern: Pattern, pdf: str | Path, html: str | Path) -> None:
    """Write the plan in both formats, its pictures drawn once."""
    plan = plan_of(pattern)
    pages(plan).write(pdf)
    Path(html).write_text(page(plan), encoding="utf-8", newline="\n")
