"""The search for cuts: cheap ones first, guessed, then tried, then judged by the engine."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ... import mesh
from ...errors import FoamError
from . import exposure, trial
from .field import SEEN, Field, near
from .ground import Ground
from .lines import DART, SEAM, SPLIT, Path, moved
from .site import Joined, Outcome, Site, Suit

HELPS, MAY_HELP = 0.95, 1.1  # rough utilisation up to which the engine is asked, and if all fails
BETTER = 0.9  # of the utilisation now: a cut that leaves more is none to propose
TRIALS, JUDGED = 8, 4  # of each kind: lines tried roughly, and lines the engine is asked about
WANTED = {DART: 1, SEAM: 2, SPLIT: 1}  # lines of each kind that are looked for
FIRST, SECOND = 3, 2  # cuts that a second one is added to, and those judged by the engine for each
KINDS = 2  # that are proposed at least, if there are lines of two that help
MOST = 3  # proposals
NONE = np.empty((0, 2), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Cut:
    """Lines tried, with what came of it.

    kind; lines: points (k, 3) on the site; outcome: the engine's; length: mm of seam that
    are added; visibility and where: of the lines; cleared (k, 2): edges that are seams no more.
    """

    kind: str
    lines: tuple[np.ndarray, ...]
    outcome: Outcome
    length: float
    visibility: float
    where: str
    cleared: np.ndarray = field(default_factory=NONE.copy)

    @property
    def rank(self) -> tuple[bool, float]:
        """Those that let the piece be formed come first, then the cheapest."""
        cost = max(self.length, 0.0) * (1 - SEEN + SEEN * self.visibility)
        return not self.outcome.passes, cost if self.outcome.passes else self.outcome.worst


class Search:
    """The search for one piece of a suit; `say` is told the share done, and may raise
    Cancelled."""

    def __init__(self, suit: Suit, site: Site, before: Outcome, say: Callable[[float, str], None]):
        self.suit, self.site, self.before = suit, site, before
        self.share, self.say = 0.1, say
        self.found: list[Cut] = []
        self.tried: list[tuple[Path, trial.Trial]] = []
        self.asked: dict[tuple[int, ...], Outcome | None] = {}  # of single cuts, by their way
        self.neighbours = False

    def proposals(self) -> list[Cut]:
        """The best cuts, one of each kind if there are; two cuts where one does not do."""
        field_ = Field.of(self.site.ground(), self.site)
        self._tell("Looking for lines")
        uncut = trial.search(field_.ground, NONE, self.site.stock)
        candidates = field_.candidates([uncut.middle, *self._worst_place()], self.site)
        for kind in (DART, SEAM):
            self._judge(kind, field_, [p for _, p in candidates if p.kind == kind])
        self._splits()
        if not self._passed():
            for kind in (DART, SEAM):
                self._ask_best(kind, field_, MAY_HELP)
        if not self._passed():
            self._second_cuts(field_)
        for kind in (DART, SEAM):
            kinds = {cut.kind for cut in self._best()}
            if len(kinds) < KINDS and kind not in kinds:
                self._ask_best(kind, field_, BETTER * self.before.worst)
        if len(self._best()) < KINDS:
            self._ask_best(SEAM, field_, BETTER * self.before.worst)
        return self._best()

    def alone(self, chosen: Sequence[Cut]) -> str:
        """Why all proposals are of one kind, in words, or ""."""
        kinds = {cut.kind for cut in chosen}
        if len(kinds) >= KINDS:
            return ""
        why = []
        if DART not in kinds:
            why.append("no dart that was tried helps enough" if any(
                path.kind == DART for path, _ in self.tried) else
                "a dart would lie over itself here or be very short")
        if SEAM not in kinds:
            why.append("no full seam that was tried helps enough")
        if SPLIT not in kinds:
            why.append("no seam beside it could be moved to help" if self.neighbours else
                       "no single seam with a neighbour is marked on its mesh that could be moved")
        text = "; ".join(why)
        return f"{text[0].upper()}{text[1:]}."

    def _passed(self) -> bool:
        return any(cut.outcome.passes for cut in self.found)

    def _tell(self, text: str) -> None:
        self.share += 0.5 * (0.95 - self.share) * 0.1
        self.say(self.share, text)

    def _worst_place(self) -> list[np.ndarray]:
        """Where (3,) the verdict was decided, if there is one."""
        sculpt = self.site.sculpt
        return [sculpt.vertices[sculpt.faces[verdict.worst]].mean(axis=0)
                for verdict in self.before.verdicts]

    def _judge(self, kind: str, field_: Field, candidates: Sequence[Path]) -> None:
        """Try the first candidates; the most promising are judged."""
        tried, asked, passed = 0, [], 0
        for path in candidates:
            if tried == TRIALS or len(asked) - passed == JUDGED or passed == WANTED[kind]:
                break
            if any(field_.beside(path, other) for other in asked):
                continue
            self._tell("Trying darts" if kind == DART else "Trying seams")
            rough = trial.search(field_.ground, path.edges, self.site.stock)
            tried += 1
            self.tried.append((path, rough))
            if rough.u < HELPS:
                asked.append(path)
                passed += self._ask(kind, [(field_, path)])

    def _ask_best(self, kind: str, field_: Field, bound: float) -> None:
        """Have the engine judge the best lines of a kind that it has not seen."""
        new = [(rough.u, path) for path, rough in self.tried
               if path.kind == kind and path.vertices not in self.asked and rough.u < bound]
        asked: list[Path] = []
        for _, path in sorted(new, key=lambda each: each[0]):
            if len(asked) == SECOND:
                break
            if any(field_.beside(path, other) for other in asked):
                continue
            self._tell("Trying darts" if kind == DART else "Trying seams")
            asked.append(path)
            if self._ask(kind, [(field_, path)]):
                break

    def _second_cuts(self, field_: Field) -> None:
        """A second cut in the part that fails after each of the most promising first ones, until
        two kinds pass."""
        possible = sorted(((path, left) for path, left in self.tried if np.isfinite(left.u)),
                          key=lambda each: each[1].u)
        passed: set[str] = set()
        for path, left in possible[:FIRST]:
            ground, place, rest = self._failing(field_, path, left)
            if rest > max(MAY_HELP, BETTER * self.before.worst):
                continue
            part = Field.of(ground, self.site)
            asked: list[Path] = []
            for _, second in part.candidates([place], self.site)[:TRIALS]:
                kind = DART if path.kind == second.kind == DART else SEAM
                if len(asked) == SECOND:
                    break
                if kind in passed or any(part.beside(second, other) for other in asked):
                    continue
                self._tell("Trying two cuts")
                rough = trial.search(ground, second.edges, self.site.stock)
                if rough.u < HELPS:
                    asked.append(second)
                    if self._ask(kind, [(field_, path), (part, second)]):
                        passed.add(kind)
                        break
            if len(passed) == KINDS:
                return

    def _failing(self, field_: Field, path: Path, left: trial.Trial
                 ) -> tuple[Ground, np.ndarray, float]:
        """The part that fails after a cut, where (3,) it does, and the utilisation of the others:
        by the engine's word if that was asked."""
        outcome = self.asked.get(path.vertices)
        if outcome is None or not outcome.verdicts:
            return left.worst, left.middle, left.rest
        verdicts = sorted(outcome.verdicts, key=lambda v: (v.kind != "relief", -v.heated))
        sculpt = self.site.sculpt
        place = sculpt.vertices[sculpt.faces[verdicts[0].worst]].mean(axis=0)
        parts = field_.ground.opened(path.edges)
        away = [((part.points - place) ** 2).sum(axis=1).min() for part in parts]
        return parts[int(np.argmin(away))], place, max((v.heated for v in verdicts[1:]), default=0)

    def _splits(self) -> None:
        """Have a seam moved, so that the piece gives a strip to a neighbour."""
        from scipy.spatial import cKDTree

        self._tell("Looking at neighbours")
        for joined in self.suit.joined():
            self.neighbours = True
            field_ = Field.of(joined.site.ground(), joined.site)
            mine, theirs = (cKDTree(points).query(field_.ground.points)[0]
                            for points in (joined.mine, joined.theirs))
            for path in moved(field_.ground, field_.cost, joined.line, mine < theirs):
                self._tell("Trying to move a seam")
                rough = trial.search(field_.ground, path.edges, joined.site.stock)
                if rough.u < HELPS and self._ask(SPLIT, [(field_, path)], joined):
                    return

    def _ask(self, kind: str, pairs: Sequence[tuple[Field, Path]], joined: Joined | None = None
             ) -> bool:
        """Have the engine judge cuts; whether the piece can then be formed."""
        site = joined.site if joined else self.site
        lines = tuple(where.line(path, site) for where, path in pairs)
        single = pairs[0][1].vertices if len(pairs) == 1 and not joined else None
        if single:
            self.asked[single] = None
        try:
            outcome = site.judged(site.guides(lines))
        except FoamError:  # a part that cannot be cut or laid flat: no proposal
            return False
        if single:
            self.asked[single] = outcome
        if kind == SEAM and len(outcome.verdicts) == 1:  # from hole to rim: the piece stays one
            kind = DART
        words, seen, length = [], 0.0, 0.0
        for (where, path), line in zip(pairs, lines, strict=True):
            on = where.ground.numbers(path.edges)
            own = mesh.polyline_length(line)
            share = where.ground.length[on]
            seen += own * float(where.visibility[on] @ share / share.sum())
            length += own
            words.append(exposure.in_words(where.features, on, where.ground.length))
        was = mesh.polyline_length(joined.line) if joined else 0.0
        hidden = [text for text in dict.fromkeys(words) if text != exposure.PLAIN]
        self.found.append(Cut(kind, lines, outcome, length - was, seen / max(length, 1e-9),
                              ", ".join(hidden) or exposure.PLAIN,
                              joined.edges if joined else NONE))
        return outcome.passes

    def _best(self) -> list[Cut]:
        """The best of each kind, then others that run elsewhere; only those that help."""
        helpful = [cut for cut in self.found if cut.outcome.passes
                   or not cut.outcome.overlaps and cut.outcome.worst < BETTER * self.before.worst]
        chosen: list[Cut] = []
        for cut in sorted(helpful, key=lambda cut: cut.rank):
            if cut.kind not in {other.kind for other in chosen} and len(chosen) < MOST:
                chosen.append(cut)
        for cut in sorted(helpful, key=lambda cut: cut.rank):
            if len(chosen) < MOST and all(cut is not other and not _alike(cut, other)
                                          for other in chosen):
                chosen.append(cut)
        return sorted(chosen, key=lambda cut: cut.rank)


def _alike(one: Cut, other: Cut) -> bool:
    """Do the lines of one run mostly beside those of the other?"""
    return near(np.concatenate(one.lines), np.concatenate(other.lines),
                sum(mesh.polyline_length(line) for line in other.lines))
