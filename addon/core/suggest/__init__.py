"""Where to put seams on a sculpt that has none: few pieces that the foam takes.

    outer skin -> working surface -> many patches -> borders drawn into creases and valleys
               -> patches joined while their flat keeps within the foam's band -> darts
               -> smooth lines -> the engine's verdict -> trenches along folds that are left
               -> guides on the sculpt

Several starts are gone through and the best proposal is kept: few pieces first, then little
seam, and that along creases and on the mirror plane. The same sculpt and settings give the same
proposal.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .. import mesh, skin, soundness
from ..errors import NOTE, WARNING, Finding, FoamError
from ..model import SEAM, TRENCH, Guide, Sculpt, Settings
from ..seams import with_sharp_seams
from ..stock import Stock
from ..stopping import stoppable
from ..trace import lay
from .lines import guides_of, marked, together
from .merge import Parting
from .propose import Start, proposal
from .shell import base_shell, refuse_crowded, refuse_detail, refuse_failed, refuse_size, without
from .smooth import turning
from .tidy import narrow
from .trenches import with_trenches
from .verdict import Judged, judged
from .working import Working, working_surface

Progress = Callable[[float, str], None]

PATCH = 6000.0  # mm2: mean size of the patches that pieces are made of
SCALES = (0.6, 1.0, 1.6)  # times as many patches in the starts
FEWEST, MOST = 6, 60  # patches on a half
PER_MAT = 4  # patches at least for each mat that the area takes, which no fewer pieces cover
EASIEST = 0.4  # utilisation allowed when the easiest foam work is wanted, against 1

__all__ = ["Suggestion", "suggest_seams"]


@dataclass(frozen=True, eq=False)
class Suggestion:
    """A proposal of seams for a whole sculpt.

    guides: its lines, in the sculpt's own units. smooth: the surface on which they were sought,
    which runs smoothly through the sculpt's points, with them as marked edges; coarse: the
    sculpt's own faces are so large that only there can foam be judged. pieces: the verdicts;
    seams, darts and trenches: total lengths in mm after scaling; turning: degrees per 100 mm,
    off creases; starts: how many were gone through. details (k,): faces of small
    loose parts that are left out.
    """

    guides: tuple[Guide, ...]
    smooth: Sculpt
    coarse: bool
    pieces: tuple[Judged, ...]
    seams: float
    darts: float
    trenches: float
    turning: float
    starts: int
    details: np.ndarray
    findings: tuple[Finding, ...] = ()

    @property
    def u(self) -> float:
        """Utilisation of the piece that asks the most."""
        return max((piece.u for piece in self.pieces), default=0.0)

    def marked(self, sculpt: Sculpt) -> Sculpt:
        """The sculpt with the proposal added to its guides."""
        return replace(sculpt, guides=(*sculpt.guides, *self.guides),
                       findings=(*sculpt.findings, *self.findings))

    def accepted(self, sculpt: Sculpt) -> Sculpt:
        """What a pattern of the proposal is made from: the sculpt with the lines as guides, or the
        smooth surface in its place where the sculpt is coarse."""
        if self.coarse:
            return replace(self.smooth, findings=(*self.smooth.findings, *self.findings))
        details = sculpt.faces[np.isin(sculpt.origin, self.details)]
        return without(self.marked(sculpt), details.ravel())


@stoppable
def suggest_seams(sculpt: Sculpt, settings: Settings, ease: float = 0.0,
                  progress: Progress | None = None, scales: Sequence[float] = SCALES
                  ) -> Suggestion:
    """Propose seams and trenches for a sculpt.

    ease: from 0, as few pieces as the heated foam allows, to 1, pieces that are easy to form.
    scales: how finely the surface is divided at first, one start for each; fewer are quicker.
    progress is told the share done and what is being done; it may raise Cancelled. Seams and
    trenches that the sculpt has are kept, marked ones and lines across faces. Raises FoamError for
    a sculpt that is not sound, and `too-detailed` for one that bends too tightly all over, and
    `no-seams-found` where most pieces would fail.
    """
    say = progress or (lambda share, text: None)
    say(0.0, "Looking the sculpt over")
    drawn = (replace(guide, points=guide.points * settings.scale)
             for guide in sculpt.guides if guide.kind in (SEAM, TRENCH))
    sized = replace(sculpt, vertices=sculpt.vertices * settings.scale, guides=tuple(drawn))
    known = soundness.inspect(sized)
    outside = skin.outer_skin(sized)
    refuse_size(outside, settings, known)
    if settings.seam_angle is not None:
        outside = with_sharp_seams(outside, settings.seam_angle)
    outside = lay(outside)
    limit = 1 - (1 - EASIEST) * min(max(ease, 0.0), 1.0)
    chosen = []
    groups = _groups(outside, settings)
    built, details = base_shell(outside)
    groups = [(np.intersect1d(faces, built), stock, side) for faces, stock, side in groups]
    groups = [group for group in groups if len(group[0])]
    for index, (faces, stock, side) in enumerate(groups):
        def said(share: float, text: str, index: int = index) -> None:
            say((index + share) / len(groups), text)

        refuse_detail(outside, faces, stock)
        working = working_surface(outside, faces, stock, side, settings.web)
        first = [start for index, start in enumerate(_starts(working, scales))
                 if index == 0 or start.hard]
        said(0.0, "Looking for details")
        refuse_crowded(outside, working, first, limit,
                       lambda said=said: said(0.0, "Looking for details"))
        parting, pieces = _best(outside, faces, working, settings, limit, scales, said)
        said(0.95, "Looking for folds")
        folds, pieces = with_trenches(
            lambda lines, parting=parting, faces=faces: _real(parting, outside, faces, lines),
            pieces, settings, stock, side)
        chosen.append((faces, parting, folds, pieces))
    refuse_failed([piece for *_, pieces in chosen for piece in pieces])
    say(1.0, "Done")
    starts = sum(len(_starts(parting.working, scales)) for _, parting, *_ in chosen)
    return _suggestion(outside, settings, chosen, starts, details)


def _groups(sculpt: Sculpt, settings: Settings) -> list[tuple[np.ndarray, Stock, str]]:
    """Faces (k,) of the objects that are made of one foam, with it and the side they show."""
    kinds: dict[tuple[Stock, str], list[int]] = {}
    for index, thing in enumerate(sculpt.objects):
        key = thing.stock or settings.stock, thing.side or settings.side
        kinds.setdefault(key, []).append(index)
    groups = [(np.flatnonzero(np.isin(sculpt.face_object, things)), stock, side)
              for (stock, side), things in kinds.items()]
    return [group for group in groups if len(group[0])]


def _best(sculpt: Sculpt, faces: np.ndarray, working: Working, settings: Settings, limit: float,
          scales: Sequence[float], say: Progress) -> tuple[Parting, list[Judged]]:
    """The cheapest proposal of several starts, and what the engine says of it."""
    best, least, failure = None, np.inf, None
    starts = _starts(working, scales)
    for index, start in enumerate(starts):
        def tick(index: int = index) -> None:
            say((index + 0.5) / len(starts), f"Trying seams, start {index + 1} of {len(starts)}")

        tick()
        parting = proposal(working, start, limit, tick)
        try:
            pieces = judged(_real(parting, sculpt, faces), settings, working.stock, working.side)
        except FoamError as error:  # lines that leave a part closed; another start may not
            failure = error
            continue
        cost = _cost(parting, pieces)
        if cost < least:
            best, least = (parting, pieces), cost
    if best is None:
        raise failure
    return best


def _real(parting: Parting, sculpt: Sculpt, faces: np.ndarray, folds: Sequence[np.ndarray] = ()
          ) -> Sculpt:
    """What a pattern is made from: some faces (k,) of the sculpt with the lines of a parting cut
    into them and trenches along folds (j, 3), or the smooth surface where they are coarse."""
    if parting.working.coarse:
        return marked(parting, sculpt, folds)
    guides = tuple(guides_of(parting, sculpt, faces, folds))
    return lay(replace(sculpt, faces=sculpt.faces[faces], polygon=sculpt.polygon[faces],
                       face_object=sculpt.face_object[faces], origin=sculpt.origin[faces],
                       parent=sculpt.parent[faces] if len(sculpt.parent) else (), guides=guides))


def _starts(working: Working, scales: Sequence[float]) -> list[Start]:
    area = working.area[working.half].sum()
    least = int(np.ceil(PER_MAT * area / np.prod(working.stock.sheet)))
    numbers = [int(np.clip(round(area / PATCH * scale), max(FEWEST, least), max(MOST, least)))
               for scale in scales]
    starts = [Start(number) for number in dict.fromkeys(numbers)]
    if working.crease.any():
        starts.append(Start(1, hard=True))
    if working.symmetric:
        starts.append(Start(numbers[0], apart=True))
    return starts


def _cost(parting: Parting, pieces: Sequence[Judged]) -> float:
    """What a proposal costs, in mm of seam: a piece counts as much as 100 mm of it."""
    working, seams = parting.working, parting.seams
    border = _borders(parting)
    length = working.length[border].sum() + 0.7 * working.length[seams & ~border].sum()
    hidden = working.length[seams & (working.crease | working.plane)].sum()
    jagged = max(_turning(parting) - 40.0, 0.0)
    worst = sum(1000.0 for piece in pieces if piece.u > 1 or piece.why)
    tight = sum(200.0 for piece in pieces
                if piece.u <= 1 and not piece.why and not piece.formable)
    lost = 1000.0 * abs(len(pieces) - len(np.unique(parting.label)))  # lines that miss each other
    return (lost + 100 * len(pieces) + length * (1 + jagged / 200) - 0.3 * hidden + worst + tight
            + 150 * len(narrow(parting)))


def _borders(parting: Parting) -> np.ndarray:
    beside = parting.label[parting.working.beside]
    return beside[:, 0] != beside[:, 1]


def _turning(parting: Parting) -> float:
    working = parting.working
    return turning(working.points, working.edges[parting.seams & ~working.crease])


def _suggestion(outside: Sculpt, settings: Settings, chosen: list, starts: int,
                details: np.ndarray) -> Suggestion:
    guides, pieces = [], []
    seams = darts = trenches = turned = free = 0.0
    for faces, parting, folds, found in chosen:
        working, border = parting.working, _borders(parting)
        guides += guides_of(parting, outside, faces, folds)
        pieces += found
        seams += float(working.length[border].sum())
        darts += float(working.length[parting.seams & ~border].sum())
        trenches += float(working.length[working.crease & ~parting.seams].sum())
        trenches += sum(mesh.polyline_length(line) for line in folds)
        smooth = float(working.length[parting.seams & ~working.crease].sum())
        turned, free = turned + _turning(parting) * smooth, free + smooth
    guides = tuple(replace(guide, points=guide.points / settings.scale) for guide in guides)
    smooth = together([marked(parting, outside, folds if parting.working.coarse else ())
                       for _, parting, folds, _ in chosen])
    coarse = any(parting.working.coarse for _, parting, *_ in chosen)
    smooth = replace(smooth, vertices=smooth.vertices / settings.scale)
    return Suggestion(guides, smooth, coarse, tuple(pieces), seams, darts, trenches,
                      turned / max(free, 1e-9), starts, outside.origin[details],
                      tuple(_findings(guides, bool((outside.kinds & SEAM).any()), pieces, coarse,
                                      outside.origin[details])))


def _findings(guides: Sequence[Guide], has_seams: bool, pieces: Sequence[Judged], coarse: bool,
              details: np.ndarray) -> list[Finding]:
    if guides:
        found = [Finding(
            "suggested-seams", NOTE,
            f"Seams are proposed for {len(pieces)} pieces; the worst takes "
            f"{max(piece.u for piece in pieces):.2f} of what the foam stands heated.",
            "Look at the lines before you accept them, and move what should not show.")]
    else:
        found = [Finding("no-seams-needed", NOTE,
                         "The foam takes this sculpt " + (
                             "with the seams it has." if has_seams else "without seams."),
                         "Mark some all the same where the wearer gets in and out.")]
    if coarse:
        found.append(Finding(
            "coarse-sculpt", NOTE,
            "The faces of the sculpt are large beside the foam's bends, so the pieces are those of "
            "a smooth surface through its points.",
            "Subdivide the sculpt smoothly before you mark it, to see the surface that is meant."))
    if len(details):
        found.append(Finding(
            "details-left-out", NOTE,
            "Small loose parts are left out of the proposal: it is for the base shell.",
            "Make them as separate pieces and lay them on the shell.", faces=details))
    for piece in pieces:
        if not piece.formable:
            found.append(Finding(
                "suggested-piece-fails", WARNING,
                f"No seams were found that make this part of the sculpt formable. "
                f"{piece.why or piece.verdict.reason}",
                "Leave its detail out and lay it on afterwards, choose a thinner stock, or mark "
                "a seam there yourself.", faces=np.unique(piece.faces)))
    return found
