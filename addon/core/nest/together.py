"""Which pieces of foam the maker wants on one mat."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..errors import NOTE, Finding
from ..model import APART, MIRRORED, Mate, Sheet


def groups(wanted: str, templates: Sequence[str], mirrored: Sequence[bool], codes: Sequence[str],
           mates: Iterable[Mate]) -> list[tuple[int, ...]]:
    """The numbers of pieces of foam that go on one mat; each is in one group, of one or two.

    wanted: APART, MIRRORED (a template's copy and its mirrored partner), or MATES (of the pieces
    that are joined, those two first that share the longest seam; no piece has two partners).
    templates, mirrored, codes: of each piece of foam.
    """
    if wanted == APART:
        pairs = []
    elif wanted == MIRRORED:
        pairs = _partners(templates, mirrored)
    else:
        pairs = _joined(codes, mates)
    paired = {i for pair in pairs for i in pair}
    return sorted([*pairs, *((i,) for i in range(len(codes)) if i not in paired)])


def _partners(templates: Sequence[str], mirrored: Sequence[bool]) -> list[tuple[int, int]]:
    sides: dict[str, tuple[list[int], list[int]]] = {}
    for i, (template, turned_over) in enumerate(zip(templates, mirrored, strict=True)):
        sides.setdefault(template, ([], []))[turned_over].append(i)
    return [pair for plain, turned in sides.values() for pair in zip(plain, turned, strict=False)]


def _joined(codes: Sequence[str], mates: Iterable[Mate]) -> list[tuple[int, int]]:
    number = {code: i for i, code in reversed(list(enumerate(codes)))}
    shared: dict[tuple[int, int], float] = {}
    for mate in mates:
        pair = tuple(sorted({number[code] for code, _ in mate.edges if code in number}))
        if len(pair) == 2:
            shared[pair] = shared.get(pair, 0.0) + float(np.mean(mate.lengths))
    pairs, taken = [], set()
    for pair in sorted(shared, key=lambda pair: (-shared[pair], pair)):
        if not taken.intersection(pair):
            pairs.append(pair)
            taken.update(pair)
    return pairs


def parted_pairs(pairs: Iterable[tuple[tuple[str, bool], tuple[str, bool]]],
                 sheets: Iterable[Sheet]) -> list[Finding]:
    """A note for each pair of pieces (code, mirrored) that no mat could take together."""
    on = [{(p.piece, p.mirrored) for p in sheet.placements} for sheet in sheets]
    findings = []
    for one, other in pairs:
        if any({one, other} <= laid for laid in on):
            continue
        who = (f"{one[0]} and its mirror image" if one[0] == other[0] else
               f"{one[0]} and {other[0]}")
        findings.append(Finding(
            "pair-on-two-mats", NOTE, f"{who} do not fit one mat together and lie on two.",
            "Choose a larger mat if they must come from the same foam.", piece=one[0]))
    return findings
