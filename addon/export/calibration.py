"""The calibration sheet: strips, a scale and the steps by which a maker measures their own foam."""

from __future__ import annotations

from pathlib import Path

from ..core.calibration import SPAN, USED
from ..core.model import Settings
from ..core.nest import paper_size
from ..core.units import format_length
from .blocks import Block, column_width, heading, paragraph, set_blocks
from .canvas import Canvas
from .strokes import MIN_SIZE, Drawing, Stroke, Text

SCALE = 160.0  # mm of one part of the scale
PARTS = 3  # of it, glued end to end: tins up to 150 mm across
STRIP, WIDE, ENDS = 160.0, 25.0, 30.0  # of a strip that is pulled: length, width, beyond the marks

CHECK = ("Print at 100 % (“actual size”), never “fit to page”, and lay a steel rule on the scale: "
         "its parts are 160 mm long each. If not, do not go on.")
NEUTRAL = (
    "Cut out the three parts of the scale and glue them end to end, 160 on 0.",
    "Take a tin or bottle 80 to 120 mm across, round all the way, and wrap the scale round it. "
    "Read where it meets its 0. This is C, the girth.",
    "Measure the thickness of your foam at several places. The mean is t.",
    "Cut a strip of foam 30 mm wide and longer than C by eight thicknesses, with one square end.",
    "Wrap it cold round the tin, snug but not stretched, outside of the suit outward. Mark where "
    "it meets its square end, on the side that lies on the tin, and cut it square there. Trim it "
    "until the ends just close.",
    "Lay the strip flat, let it recover for a minute, and measure it. This is L.",
)
STRETCH = (
    "Lay the strip below on foam, trace it and the two marks, and cut it out. Make three.",
    "Heat one evenly between the marks, from both sides, until it is as soft as when you form a "
    "piece.",
    "Pull it lengthwise, slowly and straight, until it begins to tear or is too thin for you. Hold "
    "it so until it is cold, and measure between the marks. The least of three is M.",
    "For compression, if you like: heat another, lay it between two battens so that it cannot bow, "
    "and push its ends together until it wrinkles. Hold it until it is cold, and measure. The "
    "largest of three is P.",
)
HEAT = (
    "Heat gun: foam and tip burn skin, and hot foam keeps its heat. Wear gloves that stand heat, "
    "work in moving air, keep the gun moving and stop at the first sharp smell; never heat foam "
    "until it smokes. Nothing that burns, and no wet cement, near it. "
    "The foam maker's data sheet and the rules where you are come first.")
BLADE = "Take a fresh blade, and cut away from yourself and from the hand that holds the foam."


def write_calibration_pdf(settings: Settings, path: str | Path) -> None:
    """Write the sheet for the settings' stock and paper: vector lines in mm, at 1:1."""
    size, margin = paper_size(settings), settings.margin
    window = (margin, margin, size[0] - margin, size[1] - margin)
    canvas = Canvas("Foam calibration")
    for n, drawing in enumerate(set_blocks(_blocks(settings, column_width(window)), window)):
        canvas.page(size)
        canvas.bookmark("Calibration" if n == 0 else f"Calibration, page {n + 1}")
        canvas.draw(drawing)
    canvas.write(path)


def _blocks(settings: Settings, width: float) -> list[Block]:
    stock = settings.stock
    thickness = format_length(stock.thickness, settings.unit)
    steps = lambda words: [paragraph(text, width, hang=f"{n}.")  # noqa: E731
                           for n, text in enumerate(words, 1)]
    return [
        paragraph("Measure your own foam", width, 9.0, True, 2.0),
        paragraph(f"For {stock.name}, {thickness} thick, whose neutral layer is taken at "
                  f"{stock.neutral:g} of the thickness now; heated it may be stretched by "
                  f"{100 * stock.heated.stretch:g} % and compressed by "
                  f"{100 * stock.heated.compress:g} %.", width),
        paragraph(CHECK, width, bold=True), paragraph(BLADE, width, space=4.0),
        heading("1  Which layer keeps its length", width), *steps(NEUTRAL), *_scale(),
        _fields(("C =", "L =", "t ="), width),
        paragraph("The neutral layer is (L − C) / (6.283 × t) of the thickness from the hollow "
                  "side. 1 mm in L or C is 0.016 of it in foam 10 mm thick.", width, space=6.0),
        heading("2  How far it stretches when it is hot", width),
        paragraph(HEAT, width, bold=True), *steps(STRETCH), _strip(),
        _fields(("M =", "P ="), width),
        paragraph(f"{100 * USED:g} % of what the foam stood is taken as its limit, since by hand "
                  f"some places get more than others: {USED:g} × (M − {SPAN:g}) / {SPAN:g}, and "
                  f"{USED:g} × ({SPAN:g} − P) / {SPAN:g} for compression.", width),
        paragraph("Enter C, L, M, P and the thickness t in Blender under Foam › Measurements, or: "
                  "python -m addon calibration --stock … --thickness t --girth C --closing L "
                  "--pulled M --out my-foam", width)]


def _scale() -> list[Block]:
    """The parts of a paper scale, to be cut out and glued."""
    blocks = []
    for part in range(PARTS):
        strokes = [Stroke("cut", [(0, 0), (SCALE, 0), (SCALE, -10.0), (0, -10.0)], closed=True)]
        texts = []
        for mm in range(int(SCALE) + 1):
            size = 4.0 if mm % 10 == 0 else 3.0 if mm % 5 == 0 else 2.0
            strokes.append(Stroke("text", [(mm, 0), (mm, -size)]))
            if mm % 10 == 0 and 5 < mm < SCALE - 5:
                texts.append(Text("text", str(int(part * SCALE) + mm), (mm, -8.5), MIN_SIZE))
        blocks.append(Block(Drawing(tuple(strokes), tuple(texts)), 10.0, 3.0))
    return blocks


def _strip() -> Block:
    """The strip that is pulled, with its two marks."""
    first, last = ENDS, ENDS + SPAN
    strokes = [Stroke("cut", [(0, 0), (STRIP, 0), (STRIP, -WIDE), (0, -WIDE)], closed=True),
               *(Stroke("notch", [(x, 0), (x, -WIDE)]) for x in (first, last))]
    words = ((STRIP / 2, "100 mm, to be heated"), (ENDS / 2, "hold"), (last + ENDS / 2, "hold"))
    return Block(Drawing(tuple(strokes), tuple(
        Text("text", text, (x, -WIDE / 2 - 1.2), MIN_SIZE) for x, text in words)), WIDE, 4.0)


def _fields(names: tuple[str, ...], width: float) -> Block:
    """Names with a line behind each to write a number on."""
    step = min(width / len(names), 55.0)
    texts = tuple(Text("text", f"{name}", (n * step, -7.0), 5.0, anchor="start", bold=True)
                  for n, name in enumerate(names))
    lines = tuple(Stroke("arrow", [(n * step + 13.0, -8.0), ((n + 1) * step - 17.0, -8.0)])
                  for n in range(len(names)))
    units = tuple(Text("text", "mm", ((n + 1) * step - 16.0, -7.0), MIN_SIZE, anchor="start")
                  for n in range(len(names)))
    return Block(Drawing(lines, (*texts, *units)), 9.0, 3.0)
