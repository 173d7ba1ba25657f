"""The first pages of the templates: how to check the scale, where each piece is, what marks
mean, what to take care of."""

from __future__ import annotations

from collections.abc import Iterable

from ..core.model import HALF, Pattern, Piece, Sheet
from ..core.nest import paper_name, paper_size
from ..core.units import format_length
from . import mark_strokes
from .backs import back_pages
from .blocks import Block, beside, column_width, heading, paragraph, set_blocks, stacked
from .change_words import HEADING, sentences
from .changes import changes
from .legend import height, legend
from .pages import BASE, shortened
from .placement import absent as unplaced
from .rulers import ACROSS, ruler, square
from .strokes import MIN_SIZE, Drawing, Stroke, Text, combined
from .thumbnails import page_map
from .words import count

SCALE_STEPS = (
    "Print at 100 % (“actual size”), never “fit to page”.",
    "Measure this square both ways, and both rulers, with a steel rule.",
    "100 mm each way: good, print the rest.",
    "About 94 mm: the page was shrunk to fit, for instance A4 onto Letter paper. Choose the "
    "paper that is in the printer, switch the fitting off and print again.",
    "Any other size, the same both ways: print at 100 × 100 / (what you measured) percent; "
    "for 98 mm that is 102 %.",
    "Different sizes across and along: this printer stretches. Do not cut from these sheets; "
    "try another driver or printer.",
)
USE_STEPS = (
    "A template is as large as the foam is when it lies flat. Nothing is to be added.",
    "Cut the templates out on the thick line. Pages that show a part of a large piece are joined "
    "first: cut one page along its dashed line, lay it on the other so that the crosses meet, "
    "tape it, and go on row by row.",
    "Lay the template on the outside face of the foam with its print up, trace it, mark the "
    "notches, the folds and the code of the piece.",
    "“Mirrored” means: turn the template over and trace it once more.",
    "Every page carries a bar of 50 mm. Measure it now and then: paper moves with damp.",
)
CAUTIONS = (
    "Blades: use a fresh one, cut away from yourself and from the hand that holds the foam, and "
    "wear eye protection.",
    "Contact cement gives off vapour that harms and burns: work outdoors or with moving air, no "
    "flame, spark or heat gun near wet cement, and wear the respirator its label asks for.",
    "Heat gun: foam and tip burn skin. Warm the foam in moving air until it is soft, never until "
    "it smokes; keep water at hand and let it cool where nothing catches fire.",
    "Sanding and rotary tools: wear goggles and a dust respirator, and collect the dust.",
    "Laser: only foam known to be free of chlorine (never PVC), with extraction, never left alone.",
    "In the costume: rest, drink, let air through, see and hear, and have someone with you.",
    "The maker of a product, the venue and the law where you are come first. Ask a qualified "
    "person where you are not sure.",
)


BESIDE, NARROWEST = 110.0, 35.0  # mm from a check square's left to words; of the words' column


def front_pages(pattern: Pattern) -> list[Drawing]:
    """One drawing for each page before the templates."""
    w, h = paper_size(pattern.settings)
    margin = pattern.settings.margin
    room = ACROSS + 3.0  # for the rulers along the left and lower edge of the first page
    window = (margin, margin, w - margin, h - margin)
    first = (margin + room, margin + room, w - margin, h - margin)
    rulers = combined((ruler((margin, margin + room), first[3] - first[1], upright=True),
                       ruler((margin + room, margin), first[2] - first[0], upright=False)))

    def rest(width: float) -> list[Block]:
        return [*_changes(pattern, width), *page_map(pattern, width), *_legend(pattern, width),
                *_list(pattern, width), *_cautions(width)]

    width = column_width(first)
    if width < first[2] - first[0]:  # large paper: all of it in columns beside each other
        pages = set_blocks(_check(pattern, width) + rest(width), first)
    else:
        pages = set_blocks(_check(pattern, width), first)
        pages += set_blocks(rest(column_width(window)), window)
    # Whoever finds one of these pages alone must not take it for foam's.
    warning = Drawing((), (Text("text", shortened(
        f"{pattern.settings.title}: cut no foam from it", w - 2 * margin, MIN_SIZE, True),
        (margin, BASE), anchor="start", bold=True),)) if pattern.settings.mock_up else Drawing()
    return [page + warning for page in (pages[0] + rulers, *pages[1:])]


def _check(pattern: Pattern, width: float) -> list[Block]:
    settings = pattern.settings
    title = shortened(settings.title, width, 9.0, True)
    number = sum(p.copies + p.mirrored for p in pattern.pieces)
    mats: dict[tuple[str, str], int] = {}
    for sheet in pattern.mats:
        name = sheet.stock.name if sheet.stock else "foam"
        key = "offcut" if sheet.outline else "sheet" if settings.mock_up else "mat", name
        mats[key] = mats.get(key, 0) + 1
    of = "card" if settings.mock_up else "foam"
    parts = [_some(number, f"piece of {of}", f"pieces of {of}"),
             _some(len(pattern.templates), "template"),
             *([_some(len(pattern.cards), "forming gauge")] if pattern.cards else []),
             _some(len(pattern.pages), "page") + f" of {paper_name(settings)} to follow",
             *([_some(len(back_pages(pattern).pages), "back")] if settings.back_side else []),
             *(f"{_some(n, kind)} of {name}" for (kind, name), n in mats.items())]
    size = settings.mock_up
    kind = (f"MOCK-UP at {size} scale in card {format_length(settings.card, settings.unit)}: cut "
            "no foam from these pages") if size else "Templates at full size"
    return [
        paragraph(title, width, 9.0, True, 2.0),
        paragraph(kind + "  ·  " + "  ·  ".join(parts), width, bold=bool(size), space=4.0),
        heading("First check the scale", width),
        *_with(Block(square(100.0, "100 mm"), 100.0, 4.0), SCALE_STEPS, True, width),
        heading("How to use the templates", width),
        *_with(Block(square(101.6, "4 in"), 101.6, 4.0), _use(pattern), False, width),
    ]


def _with(drawn: Block, words: Iterable[str], numbered: bool, width: float) -> list[Block]:
    """A check square with a list beside it, or below where there is no room for that."""
    across = width - BESIDE
    below = across < NARROWEST
    lines = [paragraph(t, width if below else across, hang=f"{n}." if numbered else "–")
             for n, t in enumerate(words, 1)]
    return [drawn, *lines] if below else [beside(drawn, stacked(lines), BESIDE)]


def _some(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _changes(pattern: Pattern, width: float) -> list[Block]:
    """Which templates that were printed before are still good."""
    told = sentences(changes(pattern), _pages_of(pattern.pages))
    blocks = [heading(HEADING, width)] if told else []
    for title, lines in told:
        blocks.append(paragraph(title + ":" * bool(lines), width, bold=bool(lines),
                                keep=bool(lines)))
        blocks += [paragraph(line, width, hang="–") for line in lines]
    return [*blocks, Block(Drawing(), 0.0, 5.0)] if blocks else []


def _use(pattern: Pattern) -> list[str]:
    """What to do with the templates of this pattern."""
    settings, steps = pattern.settings, list(USE_STEPS)
    if settings.mock_up:
        size = f"{settings.mock_up} of" if settings.mock_up == HALF else f"a {settings.mock_up} of"
        steps[0] = (f"This is a mock-up: {size} the suit's size, for card {settings.card:g} mm "
                    "thick. Where foam will stretch, card buckles a little.")
    elif settings.allowance:
        room = format_length(settings.allowance, settings.unit)
        steps[0] = ("Without its allowance a template is as large as the foam is when it lies "
                    f"flat. The dashed line is {room} outside: trace it where you want room to "
                    "trim.")
    if settings.back_side:
        steps.append("“Back of page 3” shows what is cut on the back of the pieces of page 3. "
                     "Turn the piece over and lay the page on it, print up; for a mirrored piece "
                     "print down.")
    return steps


def _legend(pattern: Pattern, width: float) -> list[Block]:
    without = mark_strokes.absent(pattern.pieces) | unplaced(pattern.pieces) | (
        set() if pattern.settings.allowance else {"allowance"}) | (
        set() if pattern.cards else {"gauge"}) | (
        set() if any(p.finishes for p in pattern.pieces) else {"finish"}) | (
        {"tape"} if pattern.settings.mock_up else set())
    drawing = legend(min(width, 190.0), without)
    tall = height(drawing)
    return [Block(drawing.moved((0.0, -tall)), tall, 7.0)]


def _list(pattern: Pattern, width: float) -> list[Block]:
    """A table of the templates."""
    pages = _pages_of(pattern.pages)
    head = ("Code", "Name", "Cut", "Stock", "Forming", "Page")
    rows = [(p.code, p.name, count(p), p.stock.name, _forming(p), pages.get(p.code, ""))
            for p in pattern.templates]
    shares = (0.09, 0.18, 0.21, 0.27, 0.15, 0.10)
    blocks = [heading("The pieces", width), _row(head, shares, width, bold=True)]
    return [*blocks, *(_row(row, shares, width) for row in rows), Block(Drawing(), 0.0, 5.0)]


def _row(cells: Iterable[str], shares: Iterable[float], width: float, bold: bool = False) -> Block:
    x, texts = 0.0, []
    for n, (words, share) in enumerate(zip(cells, shares, strict=True)):
        strong = bold or n == 0
        words = shortened(words, share * width - 2.0, MIN_SIZE, strong)
        texts.append(Text("text", words, (x, -3.6), anchor="start", bold=strong))
        x += share * width
    line = Stroke("text", [(0.0, -5.4), (width, -5.4)])
    return Block(Drawing((line,), tuple(texts)), 5.4, 0.6, keep=bold)


def _forming(piece: Piece) -> str:
    return {"flat": "lies flat", "bend": "bends cold", "heat": "heat to form",
            "relief": "needs relief"}.get(piece.verdict.kind, piece.verdict.kind)


def _pages_of(sheets: Iterable[Sheet]) -> dict[str, str]:
    """Piece code -> "3" or "7–10"."""
    numbers: dict[str, list[int]] = {}
    for n, sheet in enumerate(sheets, 1):
        for placement in sheet.placements:
            numbers.setdefault(placement.piece, []).append(n)
    return {code: f"{min(n)}" if min(n) == max(n) else f"{min(n)}–{max(n)}"
            for code, n in numbers.items()}


def _cautions(width: float) -> list[Block]:
    return [stacked([heading("Take care", width),
                     *(paragraph(t, width, hang="–") for t in CAUTIONS)])]
