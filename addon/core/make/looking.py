"""One look at a sculpt: every stage from the sculpt to its pieces, mates and verdicts.

    sculpt -> sound? -> outer skin -> guides -> regions -> neutral layer -> flat -> verdict
           -> outlines -> pairs -> notches
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from .. import (
    bend_lines,
    bends,
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
    nest,
    pairs,
    point_marks,
    rods,
    seams,
    skin,
    soundness,
    strips,
    tapes,
    trace,
    widen,
    workable,
)
from ..errors import FoamError
from ..model import (
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
from ..stock import Stock
from .memory import Memory
from .upright import turned_upright, up_on_flat

Progress = Callable[[float, str], bool | None]
See = Callable[[Glance], None]

SOON = 30_000  # faces of a sculpt whose first look takes less than a tenth of a second


def look(sculpt: Sculpt, settings: Settings, progress: Progress | None, memory: Memory,
           see: See | None, whole: Sequence[Piece] = (),
         wider: widen.Wider | None = None) -> Pattern:
    """One look. whole: the pieces before butt lines parted some, whose codes the parts keep.
    wider: what is to be widened, as an earlier look told."""
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
    widened: list[widen.Done] = []
    if wider:
        sculpt, outside, cut, widened = _widened(sculpt, rested, outside, cut, wider, names)
        letters = [letter or known for letter, known in zip(letters, wider.letters, strict=True)
                   ] if len(letters) == len(wider.letters) else letters
    stands, lost = trace.set_out(outside)
    found += lost
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
    upright = [turned_upright(flat.points, up_on_flat(region, flat.points, sculpt.up))
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
    wide, told = widen.told(widened, cut, mates)
    found += told
    notched, lying = laid.placed(
        marks.add_notches(paired, mates, settings), mates, unders,
        settings.printed.letters if settings.printed else (), trace.Surface)
    notched = joining.lapped(notched, mates)
    if not settings.mock_up:  # card has no edges to speak of
        notched, mates, told = joining.finished(notched, mates, cut, settings.finishes)
        found += told
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
                   widened=wide,
                   findings=tuple(trace.on_sculpt(found, outside, own)))


def _widened(sculpt: Sculpt, rested: laid.Rested, outside: Sculpt, cut: Cut, wider: widen.Wider,
             names: Sequence[str]) -> tuple[Sculpt, Sculpt, Cut, list[widen.Done]]:
    """The sculpt, as it was sculpted and as it was cut, after seams were widened: details, marks
    and strips go along with what they lie on."""
    moved, widened = widen.widened(outside, cut, wider, names)
    detail = rested.number[outside.origin]
    for number, on in enumerate(rested.on):  # each after what it lies on
        own = np.unique(outside.faces[detail == number])
        ground = outside.faces[np.isin(outside.face_object, on) & (detail != number)]
        moved[own] = widen.carried(outside.vertices, ground, moved, outside.vertices[own],
                                   trace.Surface)
    along = lambda points: points + widen.carried(  # noqa: E731
        outside.vertices, outside.faces, moved, points, trace.Surface)
    marks = dict(markings=tuple(replace(m, points=along(m.points)) for m in sculpt.markings),
                 strips=tuple(replace(s, points=along(s.points)) for s in sculpt.strips))
    outside = replace(outside, vertices=outside.vertices + moved, **marks)
    cut = replace(widen.moved_cut(cut, moved), uncut=seams.uncut(outside))
    return (replace(sculpt, vertices=sculpt.vertices + moved[:len(sculpt.vertices)], **marks),
            outside, cut, widened)


def _lengths(sculpt: Sculpt, settings: Settings) -> dict[str, float]:
    """Of each stock, by its name, the longest strip that a mat takes."""
    stocks = [settings.stock, *(o.stock for o in sculpt.objects if o.stock),
              *(s.stock for s in sculpt.strips if s.stock)]
    return {s.name: nest.longest(s, settings) for s in stocks}


def _first_looks(cut: Cut, stocks: list[Stock], sides: list[str], memory: Memory
                 ) -> tuple[np.ndarray | None, ...]:
    """About the stretch of each region that the last check did not see; None for the others."""
    def first(region: Region, stock: Stock, side: str) -> np.ndarray | None:
        if memory.remembers(region, stock):
            return None
        return flatten.first_look(region, stock.heated, lambda points, normals, faces: (
            layer.rest_lengths(points, normals, faces, stock, side)))

    return tuple(first(*each) for each in zip(cut.regions, stocks, sides, strict=True))


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
            curve=fair.curve(region, region.borders[seam.sides[0][1]]),
            finish=seam.finish))
    return joining.joined(mates, [seam.join for seam in cut.seams], pieces, sizes, up)
