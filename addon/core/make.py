"""The pattern: every stage in the order the data flows.

    sculpt -> sound? -> outer skin -> guides -> regions -> neutral layer -> flat -> verdict
           -> outlines -> pairs -> notches                            (check)
           -> mats -> pages -> build order                            (make_pattern)
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import replace

import numpy as np

from . import (
    bend_lines,
    bends,
    cards,
    codes,
    edges,
    fair,
    flatten,
    formability,
    gauges,
    joining,
    laid,
    layer,
    marks,
    mock_up,
    nest,
    order,
    pairs,
    point_marks,
    rods,
    seams,
    skin,
    soundness,
    strips,
    tapes,
    trace,
    workable,
)
from .errors import ERROR, Finding, FoamError, severity_rank
from .model import (
    BUTT_LINE,
    Cut,
    Ease,
    Flat,
    Glance,
    JoinSizes,
    Layer,
    Mate,
    Pattern,
    Piece,
    Region,
    Sculpt,
    Settings,
)
from .stock import Stock
from .stopping import stoppable
from .units import in_unit

Progress = Callable[[float, str], bool | None]
See = Callable[[Glance], None]

SOON = 30_000  # faces of a sculpt whose first look takes less than a tenth of a second
ROUNDS = 4  # of butt lines: each about halves the pieces that are too large


class Memory:
    """What the last check found, so that the next one searches only the pieces that changed.

    The caller holds it and may lose it at any time: with it the result is the same, sooner.
    A draft is found again by a digest of all that its search depends on.
    """

    def __init__(self):
        self._surfaces: dict[bytes, layer.Surface] = {}
        self._drafts: dict[bytes, flatten.Draft] = {}
        self._regions: set[bytes] = set()
        self._met: tuple[list, tuple[list[flatten.Draft], list[Ease]]] | None = None

    def layers(self, cut: Cut, stocks: list[Stock], sides: list[str], web: float) -> list[Layer]:
        """The layers of a cut, as layer.layers finds them; forgets the surfaces of all others."""
        used: dict[bytes, layer.Surface] = {}

        def fit(points: np.ndarray, faces: np.ndarray, thickness: float) -> layer.Surface:
            key = _digest(points, faces, thickness)
            used[key] = self._surfaces.get(key) or layer.fit_surface(points, faces, thickness)
            return used[key]

        found = layer.layers(cut, stocks, sides, web, fit)
        self._surfaces = used
        return found

    def remembers(self, region: Region, stock: Stock) -> bool:
        """Was this region a part of the last check?"""
        return _whole(region, stock) in self._regions

    def draft(self, region: Region, lay: Layer, stock: Stock) -> flatten.Draft:
        """The draft of a region by itself. Raises FoamError where there is none."""
        key = _search(region, lay, stock)
        if key not in self._drafts:
            self._drafts[key] = flatten.Draft.of(region, lay, stock)
        return _brought_up(self._drafts[key], region, lay, stock)

    def keep(self, drafts: Sequence[flatten.Draft]) -> list[bytes]:
        """Forget all other drafts than these; returns their digests."""
        keys = [_search(d.region, d.layer, d.stock) for d in drafts]
        self._drafts = {key: self._drafts[key] for key in keys}
        return keys

    def meet(self, drafts: Sequence[flatten.Draft]) -> tuple[list[flatten.Draft], list[Ease]]:
        """The drafts with lengths common to mates, as flatten.meet finds them; forgets the
        drafts of all other regions."""
        keys = self.keep(drafts)
        joints = [[border.seam for border in d.region.borders] for d in drafts]
        if self._met is None or self._met[0] != [keys, joints]:
            self._met = [keys, joints], flatten.meet(drafts)
        self._regions = {_whole(d.region, d.stock) for d in drafts}
        found, eased = self._met[1]
        return [_brought_up(f, d.region, d.layer, d.stock)
                for f, d in zip(found, drafts, strict=True)], eased


def _whole(region: Region, stock: Stock) -> bytes:
    return _digest(region.vertices, region.faces, region.leaf, stock)


def _search(region: Region, lay: Layer, stock: Stock) -> bytes:
    """Digest of what the search of a region depends on: neither names nor numbers in the
    sculpt."""
    borders = [(b.seam < 0, b.forward, b.vertices, b.faired) for b in region.borders]
    return _digest(region.vertices, region.faces, lay.lengths, region.loops, stock.thickness,
                   stock.cold, stock.heated, *(part for border in borders for part in border),
                   *lay.contact)


def _digest(*parts: object) -> bytes:
    digest = hashlib.blake2b(digest_size=16)
    for part in parts:
        if isinstance(part, np.ndarray):
            digest.update(f"{part.shape}{part.dtype}".encode() + part.tobytes())
        else:
            digest.update(f"{part}".encode())
    return digest.digest()


def _brought_up(draft: flatten.Draft, region: Region, lay: Layer, stock: Stock) -> flatten.Draft:
    """The draft for the same region of another run, in which things may be numbered otherwise."""
    if draft.region is region:
        return draft
    system, seams = copy(draft.system), draft.system.seams
    parts = seams.parts.copy()
    parts[:, 0] = [region.borders[border].seam for border in parts[:, 2]]
    system.seams = replace(seams, parts=parts)
    return replace(draft, region=region, layer=lay, stock=stock, system=system)


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
    checked = _check if settings.split != BUTT_LINE else _parted
    try:
        pattern = checked(sculpt, settings, progress, memory or Memory(), see)
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


def _parted(sculpt: Sculpt, settings: Settings, progress: Progress | None, memory: Memory,
            see: See | None) -> Pattern:
    """A check after which every piece fits a mat, as far as butt lines can be proposed."""
    say = progress or (lambda share, text: None)
    pattern = _check(sculpt, settings, lambda share, text: say(share / 2, text), memory, see)
    whole = pattern.pieces
    for n in range(1, ROUNDS + 1):
        lines = nest.butt_lines(pattern.pieces, pattern.sculpt, settings)
        if not lines:
            break
        sculpt = replace(sculpt, guides=(*sculpt.guides, *(
            replace(line, points=line.points / settings.scale) for line in lines)))
        pattern = _check(sculpt, settings, lambda share, text, n=n: say(
            1 - 0.5**n * (1 - share / 2), text), memory, see, whole)
    say(1.0, "Checked")
    return replace(pattern, findings=(*pattern.findings, *nest.parted(whole, pattern.pieces)))


def _check(sculpt: Sculpt, settings: Settings, progress: Progress | None, memory: Memory,
           see: See | None, whole: Sequence[Piece] = ()) -> Pattern:
    """One look. whole: the pieces before butt lines parted some, whose codes the parts keep."""
    say = progress or (lambda share, text: None)
    say(0.0, "Looking the sculpt over")
    sculpt = sculpt.scaled(settings.scale)
    found = [*sculpt.findings, *soundness.inspect(sculpt)]
    lower = laid.lower_faces(sculpt, settings, trace.Surface)
    outside = skin.outer_skin(sculpt, lower)
    # Details lie on the outer face of what is under them, however well they were set there.
    rested = laid.rest(outside, settings, trace.Surface, set(sculpt.face_object[lower].tolist()))
    outside = rested.sculpt
    if settings.seam_angle is not None:
        outside = seams.with_sharp_seams(outside, settings.seam_angle)
    # Guides lie on the skin, so that none runs on the inside; and their ends join any seam.
    outside = trace.lay(outside)
    found += outside.findings[len(sculpt.findings):]
    stands, lost = trace.set_out(outside)
    found += lost
    own = len(sculpt.vertices)  # of the maker's; those of guides come after them

    say(0.1, "Cutting along the seams")
    try:
        cut = seams.cut(outside, settings.fairing)
    except FoamError as error:
        lost = [f for f in found if f.code == "guide-off-surface"]
        raise FoamError(*trace.on_sculpt(error.findings, outside, own), *lost) from error
    earlier = settings.printed
    if earlier and settings.split == BUTT_LINE and not whole:
        earlier = codes.stems(earlier)
    cut, names, letters = codes.give_codes(cut, sculpt, earlier, settings.scale, whole)
    stocks = [sculpt.objects[r.object].stock or settings.stock for r in cut.regions]
    sides = [rested.side(r.source_face) or sculpt.objects[r.object].side or settings.side
             for r in cut.regions]
    unders, told = laid.under(cut, rested, stocks, sides, names, trace.Surface)
    found += told
    glance = Glance(outside, cut, tuple(names), tuple(stocks))
    if see:
        # Of a small sculpt the strain is there so soon that its pieces are shown with it.
        soon = len(outside.faces) <= SOON
        if not soon:
            see(glance)
        looks = _first_looks(cut, stocks, sides, memory)
        known = any(look is not None for look in looks)
        if soon or known:
            see(replace(glance, sigma=looks) if known else glance)
    see = see or (lambda glance: None)
    layers = memory.layers(cut, stocks, sides, settings.web)

    flats, eased = _flatten(cut, layers, stocks, names, say, memory)
    glance = replace(glance, sigma=tuple(flat.sigma for flat in flats))
    see(glance)
    found += formability.easing(eased, cut, names)
    say(0.9, "Drawing bevels, notches and labels")
    upright = [_upright(flat.points, _up_on_flat(region, flat.points, sculpt.up))
               for region, flat in zip(cut.regions, flats, strict=True)]
    shapes = edges.outlines(cut, layers, [points for points, _ in upright], stocks, sides,
                            settings.web, settings.score_depth)
    set_out = point_marks.on_flats(cut, [points for points, _ in upright], stands)
    pieces = []
    for i, (region, lay, flat) in enumerate(zip(cut.regions, layers, flats, strict=True)):
        verdict = formability.judge(region, lay, flat, stocks[i], sides[i])
        (points, up), shape = upright[i], shapes[i]
        thing = sculpt.objects[region.object]
        found += bends.findings(region, lay, stocks[i], sides[i], names[i])
        found += formability.findings(region, verdict, names[i], stocks[i])
        found += edges.findings(shape, region, names[i])
        pieces.append(Piece(
            code=names[i], name=thing.name, object=thing.name, stock=stocks[i], side=sides[i],
            verdict=verdict, vertices=region.vertices, faces=region.faces,
            source_vertex=region.source_vertex, source_face=region.source_face,
            flat=points, stretch=flat.sigma,
            strain=flatten.strain(points, region.faces, lay.lengths),
            front=shape.front, back=shape.back, cut=shape.cut,
            edges=shape.edges, folds=shape.folds, up=up, area=shape.area, template=names[i],
            bends=bend_lines.bend_lines(region, lay, points),
            gauges=gauges.gauges(region, lay, points, shape.back, shape.folds, stocks[i], sides[i],
                                 verdict), point_marks=set_out[i]))
        found += point_marks.findings(pieces[-1])
        found += workable.findings(pieces[-1], region)
    found += workable.junction_findings(cut, layers, pieces) + workable.step_findings(cut, pieces)
    lateral = np.cross(sculpt.up, sculpt.front)
    paired, mates = pairs.apply_pairs(
        pieces, _mates(cut, layers, pieces, letters, settings.joins, sculpt.up), lateral,
        settings.printed.letters if settings.printed else ())
    mates = joining.by_letter(mates, settings.held, paired, settings.joins, sculpt.up)
    found += formability.unlike(mates, eased, cut) + joining.join_findings(
        cut, mates, paired, [o.worn for o in sculpt.objects], dict(settings.measures),
        rings=not settings.mock_up)  # one of half its size is not put on
    notched, lying = laid.placed(
        marks.add_notches(paired, mates, settings), mates, unders,
        settings.printed.letters if settings.printed else (), trace.Surface)
    see(replace(glance, verdicts=tuple(p.verdict for p in notched),
                letters=tuple(mate.letter for mate in mates)))
    along, told = rods.rods_of(sculpt, settings.stock, settings.side)
    found += told
    ways, lost = trace.strip_ways(outside)
    found += lost
    banding, told = strips.strips(ways, sculpt, settings, _lengths(sculpt, settings),
                                  [p.code for p in notched])
    found += told
    say(1.0, "Checked")
    # Shown as it was sculpted, details too, with the marks that were cut in.
    places = np.concatenate([sculpt.vertices, outside.vertices[own:]])
    shown = replace(sculpt, vertices=places, edges=outside.edges, kinds=outside.kinds)
    return Pattern(settings, shown, tuple(notched), tuple(mates),
                   tapes=tapes.tapes([p for p in notched if p.base == "body"], mates),
                   rods=along, blocks=joining.blocks(mates, notched), laid=lying, strips=banding,
                   findings=tuple(trace.on_sculpt(found, outside, own)))


def _lengths(sculpt: Sculpt, settings: Settings) -> dict[str, float]:
    """Of each stock, by its name, the longest strip that a mat takes."""
    stocks = [settings.stock, *(o.stock for o in sculpt.objects if o.stock),
              *(s.stock for s in sculpt.strips if s.stock)]
    return {s.name: nest.longest(s, settings) for s in stocks}


def _first_looks(cut: Cut, stocks: list[Stock], sides: list[str], memory: Memory
                 ) -> tuple[np.ndarray | None, ...]:
    """About the stretch of each region that the last check did not see; None for the others."""
    def look(region: Region, stock: Stock, side: str) -> np.ndarray | None:
        if memory.remembers(region, stock):
            return None
        return flatten.first_look(region, stock.heated, lambda points, normals, faces: (
            layer.rest_lengths(points, normals, faces, stock, side)))

    return tuple(look(*each) for each in zip(cut.regions, stocks, sides, strict=True))


def _flatten(cut: Cut, layers: list[Layer], stocks: list[Stock], codes: list[str],
             say: Progress, memory: Memory) -> tuple[list[Flat], list[Ease]]:
    """All flats, and what must be eased; every region that has no flat is named."""
    drafts, failures = [], []
    total = sum(len(r.faces) for r in cut.regions)
    done = 0
    for region, lay, stock, code in zip(cut.regions, layers, stocks, codes, strict=True):
        say(0.15 + 0.6 * done / total, f"Flattening {code}")
        done += len(region.faces)
        try:
            drafts.append(memory.draft(region, lay, stock))
        except FoamError as error:
            failures += [replace(f, piece=code) for f in error.findings]
    if failures:
        memory.keep(drafts)
        raise FoamError(*failures)
    say(0.75, "Bringing mates together")
    drafts, eased = memory.meet(drafts)
    return [draft.flat() for draft in drafts], eased


def _mates(cut: Cut, layers: list[Layer], pieces: list[Piece], letters: list[str],
           sizes: JoinSizes, up: np.ndarray) -> list[Mate]:
    mates = []
    for index, seam in enumerate(cut.seams):
        sides = [(pieces[r].code, b) for r, b in seam.sides]
        lengths = [pieces[r].edges[b].length for r, b in seam.sides]
        folds = layers[seam.sides[0][0]].folds[seam.sides[0][1]]
        region = cut.regions[seam.sides[0][0]]
        mates.append(Mate(
            code=f"seam {index + 1}", letter=letters[index], edges=(sides[0], sides[1]),
            lengths=lengths, gap=abs(lengths[0] - lengths[1]), fold=(folds.min(), folds.max()),
            curve=fair.curve(region, region.borders[seam.sides[0][1]])))
    return joining.joined(mates, [seam.join for seam in cut.seams], pieces, sizes, up)


def _only(pieces: tuple[Piece, ...], code: str) -> tuple[Piece, ...]:
    """The one piece, to be cut once as it is."""
    for piece in pieces:
        if piece.code == code:
            return (replace(piece, template=code, copies=1, mirrored=0, flipped=False,
                            turn=0.0),)
    known = ", ".join(p.code for p in pieces)
    raise FoamError(Finding("no-such-piece", ERROR, f"There is no piece called “{code}”.",
                            f"Choose one of these: {known}."))


def _up_on_flat(region: Region, points: np.ndarray, up: np.ndarray) -> np.ndarray:
    """Mean direction (2,) on the flat in which the formed piece rises; shorter than 1."""
    corner = points[region.faces]
    height = region.vertices @ up
    rise = height[region.faces]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    du, dv = rise[:, 1] - rise[:, 0], rise[:, 2] - rise[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    slope = np.stack([du * v[:, 1] - dv * u[:, 1], dv * u[:, 0] - du * v[:, 0]], axis=1)
    return slope.sum(axis=0) / max(double.sum(), 1e-300)


def _upright(points: np.ndarray, up: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The flat turned so that up points up and its corner of smallest x, y is the origin."""
    size = float(np.hypot(*up))
    if size < 0.2:  # lies nearly level on the wearer: no up worth an arrow
        direction = np.zeros(2)
        turned = points
    else:
        direction = np.array([0.0, 1.0])
        c, s = up[1] / size, up[0] / size
        turned = points @ np.array([[c, s], [-s, c]])
    return turned - turned.min(axis=0), direction


def _told(findings: Sequence[Finding], sculpt: Sculpt, settings: Settings) -> list[Finding]:
    """The findings with their lengths in the unit of whoever reads them."""
    names = [s.name for s in (settings.stock, *(o.stock for o in sculpt.objects)) if s]
    return [replace(f, message=in_unit(f.message, settings.unit, names),
                    remedy=in_unit(f.remedy, settings.unit, names)) for f in findings]


def _sorted(found) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=severity_rank))



