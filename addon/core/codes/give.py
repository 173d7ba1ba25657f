"""A code for every region of a cut."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import count

import numpy as np

from ..model import Cut, Piece, Printed, Sculpt
from .letters import letter
from .match import find

_CODE = re.compile(r"(.*?)(\d+)([a-z]*)")  # initials, number, letter of a part


def give_codes(cut: Cut, sculpt: Sculpt, printed: Printed | None = None, scale: float = 1.0,
               whole: Sequence[Piece] = ()) -> tuple[Cut, list[str], list[str]]:
    """The cut with a code for each region and a letter for each seam, "" where it has none yet.

    Without an earlier pattern a code is the object's initials and a number in the order of its
    faces; the parts of a piece of `whole` have its code and a small letter. With one, pieces
    and seams that were there keep code, letter, direction and order, and come first; what is
    new gets a code that was never used. scale: by which the sculpt was enlarged.
    """
    if printed is None:
        codes = (_part_codes(cut, whole, [""] * len(cut.regions), set()) if whole
                 else _numbered(cut, sculpt, [""] * len(cut.regions), None))
        return cut, codes, [""] * len(cut.seams)
    names = [sculpt.objects[r.object].name for r in cut.regions]
    found = find(cut, names, printed, scale)
    cut, (pieces, mates) = _ordered(found.cut, found.pieces, found.mates)
    codes = [printed.pieces[i].code if i >= 0 else "" for i in pieces]
    if whole:
        codes = _part_codes(cut, whole, codes, printed.codes)
    else:
        codes = _numbered(cut, sculpt, codes, printed)
    return cut, codes, [printed.mates[m].letter if m >= 0 else "" for m in mates]


def stems(printed: Printed) -> Printed:
    """The same pattern with the parts of each piece that was parted as one."""
    groups: dict[str, list] = {}
    for piece in printed.pieces:
        match = _CODE.fullmatch(piece.code)
        groups.setdefault(match[1] + match[2] if match else piece.code, []).append(piece)
    pieces = []
    for code, parts in groups.items():
        if len(parts) > 1:
            area = np.array([p.area for p in parts])
            parts = [replace(
                parts[0], code=code, area=float(area.sum()), drawn=None,
                middle=area @ np.array([p.middle for p in parts]) / area.sum(),
                places=_shared(parts, area))]
        pieces += parts
    return replace(printed, pieces=tuple(pieces))


def _shared(parts: Sequence, area: np.ndarray) -> np.ndarray:
    """Points of several parts, each again for an equal area."""
    most = max(len(p.places) for p in parts)
    chosen = []
    for part, size in zip(parts, area, strict=True):
        count = max(1, round(most * size / area.max()))
        chosen.append(part.places[np.linspace(0, len(part.places) - 1, count).astype(int)])
    return np.concatenate(chosen)


def _ordered(cut: Cut, pieces: list[int], mates: list[int]
             ) -> tuple[Cut, tuple[list[int], list[int]]]:
    """The cut with its regions and seams in the order of an earlier pattern, new ones last."""

    def order(earlier: list[int]) -> list[int]:
        return sorted(range(len(earlier)), key=lambda i: (earlier[i] < 0, earlier[i], i))

    by_piece, by_mate = order(pieces), order(mates)
    region_at, seam_at = np.argsort(by_piece), np.argsort(by_mate)
    regions = [cut.regions[r] for r in by_piece]
    regions = [replace(region, borders=tuple(
        replace(b, seam=int(seam_at[b.seam])) if b.seam >= 0 else b for b in region.borders))
        for region in regions]
    seams = [replace(seam, sides=tuple((int(region_at[r]), b) for r, b in seam.sides))
             for seam in (cut.seams[s] for s in by_mate)]
    return replace(cut, regions=tuple(regions), seams=tuple(seams)), (
        [pieces[r] for r in by_piece], [mates[s] for s in by_mate])


# --- fresh codes -------------------------------------------------------------


def _numbered(cut: Cut, sculpt: Sculpt, codes: list[str], printed: Printed | None) -> list[str]:
    """The codes, with a fresh one for each region whose code is empty."""
    names = [sculpt.objects[r.object].name for r in cut.regions]
    used = printed.codes if printed else frozenset()
    initials = _known_initials(names, codes, printed)
    taken = {m[1] for code in used if (m := _CODE.fullmatch(code))} | set(initials.values())
    numbers = {(m[1], int(m[2])) for code in used if (m := _CODE.fullmatch(code))}
    for thing in sculpt.objects:
        if thing.name not in initials:
            initials[thing.name] = _initials(thing.name, taken)
            taken.add(initials[thing.name])
    given = []
    for name, code in zip(names, codes, strict=True):
        if not code:
            number = next(n for n in count(1) if (initials[name], n) not in numbers)
            numbers.add((initials[name], number))
            code = f"{initials[name]}{number}"
        given.append(code)
    return given


def _known_initials(names: list[str], codes: list[str], printed: Printed | None
                    ) -> dict[str, str]:
    """Initials by object: those most of its pieces have, else those of its name's pieces."""
    counts: dict[str, Counter] = {}
    seen = [*zip(names, codes, strict=True)] if printed else []
    for pairs in (seen, [(p.object, p.code) for p in printed.pieces] if printed else []):
        found: dict[str, Counter] = {}
        for name, code in pairs:
            if match := _CODE.fullmatch(code):
                found.setdefault(name, Counter())[match[1]] += 1
        counts = found | counts
    return {name: count.most_common(1)[0][0] for name, count in counts.items()}


def _part_codes(cut: Cut, whole: Sequence[Piece], codes: list[str], used: Collection[str]
                ) -> list[str]:
    """The codes, with one for each region whose code is empty: that of the piece it is or, with
    a small letter that was never used, a part of."""
    faces = [set(piece.source_face.tolist()) for piece in whole]
    of = []
    for region in cut.regions:
        shared = [len(faces[i].intersection(region.source_face.tolist()))
                  for i in range(len(whole))]
        of.append(shared.index(max(shared)))
    given, taken = [], {*used, *codes}
    for i, code in zip(of, codes, strict=True):
        if not code and of.count(i) == 1:
            code = whole[i].code
        elif not code:
            parts = (whole[i].code + letter(n).lower() for n in count())
            code = next(part for part in parts if part not in taken)
        taken.add(code)
        given.append(code)
    return given


def _initials(name: str, taken: set[str]) -> str:
    words = re.findall(r"[^\W\d_]+", unicodedata.normalize("NFC", name)) or ["P"]
    short = "".join(w[0] for w in words) if len(words) > 1 else words[0][:2]
    whole = "".join(words)
    choices = [short, *(short + whole[k] for k in range(1, len(whole)))]
    choices += [f"{short}{k}-" for k in range(2, len(taken) + 3)]
    return next(c.upper() for c in choices if c.upper() not in taken)
