"""The pattern: every stage in the order the data flows.

    sculpt -> sound? -> outer skin -> guides -> regions -> neutral layer -> flat -> verdict
           -> outlines -> pairs -> notches                            (check)
           -> mats -> pages -> build order                            (make_pattern)
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from .. import cards, mock_up, nest, order, widen
from ..errors import ERROR, Finding, FoamError, severity_rank
from ..model import BUTT_LINE, Pattern, Piece, Sculpt, Settings
from ..stopping import stoppable
from ..units import in_unit
from .looking import Progress, See, look
from .memory import Memory

__all__ = ["Memory", "check", "in_order", "make_pattern"]

ROUNDS = 4  # of butt lines: each about halves the pieces that are too large


def make_pattern(sculpt: Sculpt, settings: Settings, progress: Progress | None = None,
                 memory: Memory | None = None) -> Pattern:
    """Templates, mats, pages and build order for a sculpt.

    progress is told the share done (0 to 1) and what is being done; it may raise
    Cancelled, and while pieces are nested return True: the best layout so far will do.
    memory: of earlier checks. Raises FoamError when no pattern can be made;
    everything else the maker should know is in the pattern's findings.
    """
    say = progress or (lambda share, text: None)
    pattern = check(sculpt, settings, lambda share, text: say(0.5 * share, text), memory)
    pieces, settings = pattern.pieces, pattern.settings  # for a mock-up others than were given
    if settings.only is not None:
        pieces = _only(pieces, settings.only)
        own = [{code for code, _ in mate.edges} for mate in pattern.mates]
        pattern = replace(
            pattern, pieces=pieces, rods=(), blocks=(), laid=(), strips=(),
            mates=tuple(m for m, o in zip(pattern.mates, own, strict=True) if o == {settings.only}),
            beyond=tuple(m for m, o in zip(pattern.mates, own, strict=True)
                         if settings.only in o and len(o) > 1))
    say(0.5, "Nesting the pieces on mats")
    cut = (*pieces, *(block.piece for block in pattern.blocks),
           *(strip.piece for strip in pattern.strips))
    mats, mat_findings = nest.nest_mats(
        cut, settings, lambda share, text: say(0.5 + 0.4 * share, text), pattern.mates)
    say(0.9, "Packing the templates on pages")
    gauged = settings.gauges and not settings.mock_up
    gauge_cards = cards.gauge_cards(pieces, pattern.rods) if gauged else ()
    pages, page_findings = nest.pack_pages((*cut, *gauge_cards), settings)
    say(0.95, "Planning the build")
    pattern = in_order(pattern)
    say(1.0, "Done")
    return replace(pattern, mats=mats, pages=pages, cards=gauge_cards, findings=_sorted(
        [*pattern.findings, *mat_findings, *page_findings]))


def in_order(pattern: Pattern) -> Pattern:
    """A checked pattern with the steps of its build, its parts and what to know about both."""
    built = order.build(pattern.pieces, pattern.mates, pattern.settings, pattern.sculpt,
                        () if pattern.settings.mock_up else pattern.tapes, pattern.blocks,
                        pattern.laid)
    return replace(pattern, steps=built.steps, parts=built.parts, findings=_sorted(
        [*pattern.findings, *_told(built.findings, pattern.sculpt, pattern.settings)]))


@stoppable
def check(sculpt: Sculpt, settings: Settings, progress: Progress | None = None,
          memory: Memory | None = None, see: See | None = None) -> Pattern:
    """The pieces and mates of a sculpt with their verdicts; no sheets and no steps.

    memory: of earlier checks; pieces that have not changed since are not searched again.
    see: is shown the pieces as soon as they are cut, again when they are flat, and lettered.
    Where the settings ask for butt lines, pieces larger than a mat are parted by them; where
    they ask for a mock-up, this is about that.
    Raises FoamError with every reason why the sculpt or a part of it cannot be
    laid flat.
    """
    sculpt, settings = _cut_with(*mock_up.in_card(sculpt, settings))
    checked, memory = look if settings.split != BUTT_LINE else _parted, memory or Memory()
    try:
        if settings.widen or sculpt.widenings:
            pattern = _widened(checked, sculpt, settings, progress, memory, see)
        else:
            pattern = checked(sculpt, settings, progress, memory, see)
    except FoamError as error:
        raise FoamError(*_told(error.findings, sculpt, settings)) from error
    if settings.mock_up:  # it keeps codes, but no template of card is as one of foam was
        pattern = replace(pattern, settings=replace(settings, printed=None))
    return replace(pattern, findings=_sorted(_told(pattern.findings, sculpt, settings)))


def _cut_with(sculpt: Sculpt, settings: Settings) -> tuple[Sculpt, Settings]:
    """Both with stocks of the settings' kerf, where they name one."""
    if settings.kerf is None:
        return sculpt, settings
    objects = tuple(replace(o, stock=o.stock.with_kerf(settings.kerf)) if o.stock else o
                    for o in sculpt.objects)
    return (replace(sculpt, objects=objects),
            replace(settings, stock=settings.stock.with_kerf(settings.kerf)))


def _widened(checked: Callable[..., Pattern], sculpt: Sculpt, settings: Settings,
             progress: Progress | None, memory: Memory, see: See | None) -> Pattern:
    """A check of the sculpt made wider along its seams, which are known by a look at it as it is
    drawn, with the same codes and letters."""
    say = progress or (lambda share, text: None)
    plain = look(sculpt, settings, lambda share, text: say(share / 2, text), memory, None)
    wider, lost = widen.asked(sculpt, settings, plain.mates)
    pattern = checked(sculpt, settings, lambda share, text: say(0.5 + share / 2, text), memory,
                      see, wider=wider)
    return replace(pattern, findings=(*pattern.findings, *lost))


def _parted(sculpt: Sculpt, settings: Settings, progress: Progress | None, memory: Memory,
            see: See | None, wider: widen.Wider | None = None) -> Pattern:
    """A check after which every piece fits a mat, as far as butt lines can be proposed."""
    say = progress or (lambda share, text: None)
    pattern = look(sculpt, settings, lambda share, text: say(share / 2, text), memory, see,
                   wider=wider)
    whole = pattern.pieces
    for n in range(1, ROUNDS + 1):
        lines = nest.butt_lines(pattern.pieces, pattern.sculpt, settings)
        if not lines:
            break
        sculpt = replace(sculpt, guides=(*sculpt.guides, *(
            replace(line, points=line.points / settings.scale) for line in lines)))
        pattern = look(sculpt, settings, lambda share, text, n=n: say(
            1 - 0.5**n * (1 - share / 2), text), memory, see, whole, wider)
    say(1.0, "Checked")
    return replace(pattern, findings=(*pattern.findings, *nest.parted(whole, pattern.pieces)))


def _only(pieces: tuple[Piece, ...], code: str) -> tuple[Piece, ...]:
    """The one piece, to be cut once as it is."""
    for piece in pieces:
        if piece.code == code:
            return (replace(piece, template=code, copies=1, mirrored=0, flipped=False,
                            turn=0.0),)
    known = ", ".join(p.code for p in pieces)
    raise FoamError(Finding("no-such-piece", ERROR, f"There is no piece called “{code}”.",
                            f"Choose one of these: {known}."))


def _told(findings: Sequence[Finding], sculpt: Sculpt, settings: Settings) -> list[Finding]:
    """The findings with their lengths in the unit of whoever reads them."""
    names = [s.name for s in (settings.stock, *(o.stock for o in sculpt.objects)) if s]
    return [replace(f, message=in_unit(f.message, settings.unit, names),
                    remedy=in_unit(f.remedy, settings.unit, names)) for f in findings]


def _sorted(found) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=severity_rank))



