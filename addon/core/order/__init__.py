"""Joins -> build steps, from sheets of foam to a suit that comes apart.

Foam is cut per stock. Then each part of the suit is built by itself: trenches and
score lines while flat, bevels, forming, darts, joins, and last the seams that
close a loop. Parts of equal or mirrored build are worked side by side.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..errors import NOTE, Finding
from ..model import Block, Laid, Mate, Part, Pattern, Piece, Sculpt, Settings, Step, Tape
from . import lay, words
from .cautions import cautions
from .fasten import fasten
from .joins import Join, assemblies, placed_order, sequence, sides, template
from .parts import alone, parts, stuck
from .space import Space
from .way_words import ways

__all__ = ["Build", "Join", "assemblies", "build", "loose_parts", "plan"]


_SHAPING = ("heat", "dart", "join", "close")


@dataclass(frozen=True)
class Build:
    """The steps of a build, the parts the suit comes apart in, and what to know about both."""

    steps: tuple[Step, ...] = ()
    parts: tuple[Part, ...] = ()
    findings: tuple[Finding, ...] = ()


def plan(pieces: Sequence[Piece], mates: Sequence[Mate], settings: Settings,
         sculpt: Sculpt, tapes: Sequence[Tape] = ()) -> tuple[Step, ...]:
    """The steps alone of `build`."""
    return build(pieces, mates, settings, sculpt, tapes).steps


def build(pieces: Sequence[Piece], mates: Sequence[Mate], settings: Settings,
          sculpt: Sculpt, tapes: Sequence[Tape] = (), blocks: Sequence[Block] = (),
          laid: Sequence[Laid] = ()) -> Build:
    """Build steps for all pieces; every mate is glued, or fitted to be undone, in exactly one of
    them, and the tapes are told where a part's last seam is glued or, of a piece by itself, where
    it is formed. blocks: to go under removable joins. laid: what is glued on the faces of others,
    which follows those.

    Deterministic, and the same for any numbering of the pieces. Raises
    ValueError for a mate that names an unknown piece or joins two objects.
    """
    _check(pieces, mates)
    if not pieces:
        return Build()
    placed = placed_order(pieces, sculpt)
    on_top = {one.piece for one in laid}
    standing = [p for p in placed if p.code not in on_top]
    base_mates = [m for m in mates if not on_top & set(sides(m))]
    space = Space(standing, base_mates)
    off = _with_details(parts(standing, base_mates, space), laid)
    every, mates = mates, [m for m in mates if not m.join.removable]
    steps = [_step("cut", f"Cut the {stock.name}", words.cut(group, settings), group)
             for stock, group in _by_stock(placed)]
    letters, done = {m.code: m.letter for m in every}, set()
    details = [p for p in placed if p.code in on_top]
    groups = [*_parts(details, [m for m in mates if set(sides(m)) <= on_top]),
              *_parts(standing, [m for m in base_mates if not m.join.removable])]
    for name, group in lay.by_height(_named(groups), laid):
        own = {p.code for p in group}
        room = Space(group, [m for m in mates if set(sides(m)) <= own]) if own <= on_top else space
        built = _held(_build(group, mates, settings, room, laid), group, mates, tapes, settings)
        late = lay.after(group, laid, done)
        built += [lay.step(late, letters, settings)] if late else []
        done |= own
        steps += [replace(step, part=name) for step in built]
    removable = [m for m in every if m.join.removable]
    if removable:
        held = {code for m in removable for code in sides(m)}
        steps.append(_step("fasten", "Fit the removable joins", fasten(removable, settings, blocks),
                           [p for p in placed if p.code in held], removable))
    steps.append(_step("finish", "Finish and try on",
                       words.finish(len(assemblies(standing, [
                           m for m in base_mates if not m.join.removable])), settings), placed))
    by_code = {piece.code: piece for piece in placed}
    steps = tuple(replace(step, number=i, cautions=cautions(step, by_code, settings))
                  for i, step in enumerate(steps, 1))
    return Build(steps, off, (*stuck(off, base_mates, standing), *_squeezed(steps, every)))


def loose_parts(pattern: Pattern) -> tuple[Part, ...]:
    """The parts that glue makes of the pieces, with their details, whether or not their way off is
    known; as `build` has them where that has been asked."""
    if pattern.parts:
        return pattern.parts
    on_top = {one.piece for one in pattern.laid}
    standing = [p for p in placed_order(pattern.pieces, pattern.sculpt) if p.code not in on_top]
    mates = [m for m in pattern.mates if not on_top & set(sides(m))]
    return _with_details(alone(standing, mates), pattern.laid)


def _with_details(found: Sequence[Part], laid: Sequence[Laid]) -> tuple[Part, ...]:
    """The parts, each with what is glued on the faces of its pieces."""
    home = {code: k for k, part in enumerate(found) for code in part.pieces}
    more: dict[int, list[str]] = defaultdict(list)
    for one in laid:  # what is under another comes first
        home[one.piece] = home[one.on[0]]
        more[home[one.piece]].append(one.piece)
    return tuple(replace(part, pieces=tuple(sorted((*part.pieces, *more[k]), key=words.natural)))
                 for k, part in enumerate(found))


def _squeezed(steps: Sequence[Step], mates: Sequence[Mate]) -> list[Finding]:
    """A note on each join that no order makes easy."""
    known, told = {m.code: m for m in mates}, []
    for step in steps:
        for move in step.moves:
            if not move.squeeze:
                continue
            seams = [known[code] for code in move.mates]
            letters = words.listed(dict.fromkeys(m.letter for m in seams))
            codes = sorted({code for m in seams for code in sides(m)}, key=words.natural)
            why = ("what stands is in the way of the piece that comes in" if move.press else
                   "no hand gets to it once the pieces are in place")
            told.append(Finding(
                "squeeze-in", NOTE,
                f"The join {letters} of {words.listed(codes)} is tight in any order: {why}. "
                f"Step {step.number} says how to squeeze it in.",
                "Foam gives, so this can be built; a seam elsewhere, or a removable join, would "
                "make it easy.", piece=codes[0]))
    return told


def _check(pieces, mates) -> None:
    objects = {p.code: p.object for p in pieces}
    for mate in mates:
        a, b = sides(mate)
        if a not in objects or b not in objects:
            raise ValueError(f"mate {mate.code} names a piece that is not there")
        if objects[a] != objects[b]:
            raise ValueError(f"mate {mate.code} would glue two objects together")


def _by_stock(pieces) -> list[tuple]:
    groups = defaultdict(list)
    for piece in pieces:
        groups[piece.stock].append(piece)
    return sorted(groups.items(), key=lambda item: (-item[0].thickness, item[0].name))


def _parts(placed: list[Piece], mates) -> list[list[Piece]]:
    """Assemblies of equal or mirrored build together, in placed order; small ones first.

    Pieces that nothing is glued to are taken together per object.
    """
    glued = Counter(code for mate in mates for code in set(sides(mate)))
    groups = defaultdict(list)
    for part in assemblies(placed, mates):
        alone = len(part) == 1 and not glued[part[0].code]
        key = (("alone", part[0].object) if alone else
               (tuple(sorted(map(template, part))), sum(glued[p.code] for p in part)))
        groups[key].append(part)
    rank = {p.code: i for i, p in enumerate(placed)}
    groups = [sorted((p for part in parts for p in part), key=lambda p: rank[p.code])
              for parts in sorted(groups.values(), key=lambda parts: len(parts[0]))]
    return groups


def _named(groups) -> list[tuple[str, list[Piece]]]:
    """A name for each group: its objects, and its pieces where an object has several."""
    names = [words.listed(sorted({p.object for p in group})) for group in groups]
    named = []
    for name, group in zip(names, groups, strict=True):
        if names.count(name) > 1:
            codes = sorted((p.code for p in group), key=words.natural)
            rest = f" to {codes[-1]}" if len(codes) > 1 else ""
            name = f"{name}: {codes[0]}{rest}"
        named.append((name, group))
    return named


def _build(pieces: list[Piece], mates, settings: Settings, space: Space,
           laid: Sequence[Laid]) -> list[Step]:
    """The steps for one group of assemblies."""
    own = {p.code for p in pieces}
    mates = [m for m in mates if sides(m)[0] in own]
    closed = defaultdict(list)
    for mate in mates:
        if sides(mate)[0] == sides(mate)[1]:
            closed[sides(mate)[0]].append(mate)
    steps = []
    folded = [p for p in pieces if p.folds]
    if folded:
        steps.append(_step("line", "Cut trenches and score lines",
                           words.lines(folded, settings), folded))
    early = lay.before(pieces, laid)
    if early:
        steps.append(lay.step(early, {}, settings))
    bevelled = [p for p in pieces if any(map(words.needs_bevel, p.edges))]
    seen = [p for p in pieces if p.finishes]
    if bevelled or seen:
        text = words.bevels(bevelled) if bevelled else []
        title = ("Bevel the edges" + " and finish the seams" * bool(seen) if bevelled else
                 "Finish the seams")
        steps.append(_step("bevel", title, text + words.finishes(seen, settings),
                           [p for p in pieces if p in bevelled or p in seen]))
    on_top = {one.piece for one in laid}  # bends with what it is glued on
    shaped = [p for p in pieces if words.shaped(p)
              and not (p.code in on_top and p.verdict.kind == "bend")]
    if shaped:
        hot = any(p.verdict.kind != "bend" for p in shaped)
        steps.append(_step("heat", "Heat-form and bend" if hot else "Bend to shape",
                           words.forming(shaped, settings), shaped))
    for group in words.families(p for p in pieces if p.code in closed):
        inner = [m for p in group for m in closed[p.code]]
        steps.append(_step("dart", f"Close {words.listed(p.code for p in group)} on "
                           f"{'itself' if len(group) == 1 else 'themselves'}",
                           words.darts(group, closed, settings), group, inner))
    between = [m for m in mates if sides(m)[0] != sides(m)[1]]
    by_code = {p.code: p for p in pieces}
    for made in sequence(pieces, between, space):
        made = sorted(made, key=lambda one: words.natural(min(one[0].added or one[0].standing,
                                                              key=words.natural)))
        step = [join for join, _ in made]
        seams = [m for j in step for m in j.mates]
        touched = [by_code[c] for c in own & {s for m in seams for s in sides(m)}]
        text = words.join(step, settings) + ways(made)
        steps.append(replace(_step("close" if step[0].closes else "join", _title(step), text,
                                   touched, seams), moves=tuple(move for _, move in made)))
    return steps


def _held(steps: Sequence[Step], pieces: list[Piece], mates, tapes: Sequence[Tape],
          settings: Settings) -> list[Step]:
    """The steps of a group with the widths of each part's rims at the last that shapes it."""
    steps, group = list(steps), {piece.code for piece in pieces}
    for part in assemblies(pieces, [m for m in mates if sides(m)[0] in group]):
        own = {piece.code for piece in part}
        mine = [tape for tape in tapes if tape.ends[0][0] in own]
        last = max((k for k, step in enumerate(steps)
                    if step.kind in _SHAPING and own & set(step.pieces)), default=None)
        if mine and last is not None:
            steps[last] = replace(steps[last], text=(
                *steps[last].text, *words.tapes(mine, settings, bool(steps[last].mates))))
    return steps


def _title(step: Sequence[Join]) -> str:
    if step[0].closes:
        letters = dict.fromkeys(m.letter for j in step for m in j.mates)
        return f"Close the loop at {words.listed(letters)}"
    titles = []
    for join in step:
        added = sorted(join.added, key=words.natural)
        seam = {s for m in join.mates for s in sides(m)} - set(added)
        titles.append(f"{words.listed(added)} to "
                      f"{words.listed(sorted(seam, key=words.natural))}")
    return f"Join {', '.join(titles)}"


def _step(kind, title, text, pieces, mates=()) -> Step:
    return Step(0, kind, title, tuple(text),
                tuple(sorted((p.code for p in pieces), key=words.natural)),
                tuple(m.code for m in mates))
