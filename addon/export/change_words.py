"""The list of changes in words: for the first pages, the terminal and Blender."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .changes import AMEND, GONE, KEEP, MOVED, NEW, REPRINT, Change

HEADING = "Since the templates were last made"
NOTHING = "Nothing has changed: every template that was printed is still good."
TITLES = {
    REPRINT: "Print again, and throw away the old ones",
    NEW: "Print, new",
    AMEND: "Keep, and put right with a pen",
    MOVED: "Keep; only the place on the suit is another",
    KEEP: "Keep",
    GONE: "Throw away",
}
_TOLD = (REPRINT, NEW, AMEND, GONE)  # kinds of which every template has something to say


def sentences(found: Sequence[Change], pages: Mapping[str, str] | None = None
              ) -> list[tuple[str, list[str]]]:
    """A title for each kind of change and what there is to say under it; empty where nothing
    was printed before.

    pages: the pages of each template by its code, to be told of those that are to be printed.
    """
    if found and all(change.kind == KEEP for change in found):
        return [(NOTHING, [])]
    told = []
    for kind, title in TITLES.items():
        mine = [change for change in found if change.kind == kind]
        if kind in _TOLD and any(change.why for change in mine):
            told.append((title, [_sentence(change, pages) for change in mine]))
        elif mine:
            told.append((title, [", ".join(_named(change, pages) for change in mine)]))
    return told


def _named(change: Change, pages: Mapping[str, str] | None) -> str:
    page = (pages or {}).get(change.code)
    if not page or change.kind not in (REPRINT, NEW):
        return change.code
    return f"{change.code} (page{'s' * ('–' in page)} {page})"


def _sentence(change: Change, pages: Mapping[str, str] | None) -> str:
    return f"{_named(change, pages)}: {' '.join(change.why)}" if change.why else _named(
        change, pages)
