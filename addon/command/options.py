"""What can be said on the command line."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from ..core.errors import FoamError
from ..core.measures import ANYWHERE, WORN
from ..core.model import (
    APART,
    BUTT_LINE,
    FINISHES,
    FLUSH,
    FREE,
    GRAIN,
    HALF,
    INNER,
    JOINS,
    MATES,
    MIDDLE,
    MIRRORED,
    OUTER,
    QUARTER,
    REFUSE,
    THIRD,
    Finish,
    Rates,
)
from ..core.model.finish import USUAL, WIDEST
from ..core.reach import NAMES
from ..core.stock import shipped
from ..core.units import format_length, parse_box, parse_change, parse_length
from .sizes import size

_DESCRIPTION = """\
Turn a sculpt into templates for foam armour: pieces at true size for foam of its real
thickness, with bevels, notches and labels, laid out on mats and pages, and a build plan."""

_EPILOG = """\
shipped stocks:
{stocks}
A TOML file describes your own foam; docs/stock.md explains it.

options: python -m addon make --help, and likewise for check, rebuild and calibration

examples:
  python -m addon check suit.blend
  python -m addon rebuild suit.blend --out trial
  python -m addon make suit.blend --out templates
  python -m addon make pauldron.obj --unit cm --seam-angle 40 --stock eva-6 --out templates

Ventilate when you heat foam or use contact cement, cut away from yourself with a fresh
blade, and follow local rules; the build plan repeats the cautions for each step."""

_MOVEMENTS = ", ".join(name.replace(" ", "-") for name in NAMES)
_OPTIONS = "stock and settings (options win over what a Blender file says)"


def parser() -> argparse.ArgumentParser:
    """The actions, each with its options."""
    words = argparse.ArgumentParser(
        prog="python -m addon", description=_DESCRIPTION,
        epilog=_EPILOG.format(stocks="\n".join(
            f"  {name:<8}{stock.name}" for name, stock in shipped().items())),
        formatter_class=argparse.RawDescriptionHelpFormatter)
    actions = words.add_subparsers(dest="action", required=True,
                                    metavar="make | check | rebuild | calibration")
    make = actions.add_parser(
        "make", help="write the templates, mat layouts, build plan and report",
        description="Write pattern.pdf (print at 100 %), plan.pdf and plan.html, mats/*.svg and "
                    "*.dxf, and report.json into a folder.")
    check = actions.add_parser(
        "check", help="say what each piece needs; write no templates",
        description="Say how each piece can be formed and what is wrong with the sculpt.")
    again = actions.add_parser(
        "rebuild", help="put the pieces together again and say how far the suit comes out beside "
                        "the sculpt",
        description="Put the suit together again from its flat pieces, and write into report.json "
                    "how far each piece, seam and trench comes out beside the sculpt.")
    _add_calibration(actions.add_parser(
        "calibration", help="write the sheet by which you measure your own foam, and a stock file "
                            "with what you measured",
        description="Write foam-calibration.pdf with strips, a scale and steps; with "
                    "measurements also measured-foam.toml, which --stock takes."))
    for action in (make, check, again):
        _add_options(action)
        action.add_argument(
            "--out", metavar="DIR", type=Path, required=action is not check,
            help="also write report.json into this folder" if action is check
            else "folder for the results")
    make.add_argument("--rebuild", action="store_true",
                      help="also put the suit together again, and show in the plan how it should "
                           "come out; half a minute or so")
    for action in (make, again):
        action.add_argument("--quick", action="store_true",
                            help="put it together coarsely, within seconds")
    return words


def _add_calibration(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="DIR", type=Path, required=True,
                        help="folder for the sheet and the stock file")
    parser.add_argument("--stock", metavar="NAME|FILE",
                        help="the foam that is measured: a shipped stock (default: eva-10) or a "
                             "TOML file")
    parser.add_argument("--thickness", metavar="LENGTH", type=parse_length,
                        help="its measured thickness")
    parser.add_argument("--paper", metavar="NAME", default=None,
                        help="paper in your printer, such as A4 (default) or Letter")
    group = parser.add_argument_group("what you measured (the sheet tells how)")
    group.add_argument("--girth", metavar="LENGTH", type=parse_length, help="C, round the tin")
    group.add_argument("--closing", metavar="LENGTH", type=parse_length,
                       help="L, of the strip that closes round it")
    group.add_argument("--pulled", metavar="LENGTH", type=parse_length,
                       help="M, of the 100 mm after pulling")
    group.add_argument("--pressed", metavar="LENGTH", type=parse_length,
                       help="P, of the 100 mm after pressing")


def _add_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("input", metavar="INPUT", type=Path,
                        help="the sculpt: .blend, .obj, .stl, .ply or .glb")
    group = parser.add_argument_group("reading the file (not for .blend, which says it itself)")
    group.add_argument("--unit", choices=("mm", "cm", "m", "in"),
                       help="unit of the numbers in the file (default: mm; .glb: m)")
    group.add_argument("--up", choices=("y", "z"),
                       help="axis that points up in the file (default: z; .glb: y)")
    group = parser.add_argument_group(_OPTIONS)
    group.add_argument("--stock", metavar="NAME|FILE",
                       help="a shipped stock (default: eva-10) or a TOML file")
    group.add_argument("--thickness", metavar="LENGTH", type=parse_length,
                       help='thickness of the foam, such as 6mm or "3/8 in"')
    group.add_argument("--face", choices=(OUTER, MIDDLE, INNER),
                       help="which face of the foam the sculpt is (default: outer)")
    group.add_argument("--lies-on", metavar="DETAIL=BASE", action="append", type=lying,
                       default=[],
                       help="object DETAIL is glued on object BASE, or on none where BASE is left "
                            "out; otherwise contact tells; may be given several times")
    group.add_argument("--detach-raised", action="store_true",
                       help="shapes that stand out of the sculpt with a step all round become "
                            "pieces of their own, of the shipped foam that comes nearest, glued "
                            "on what then goes on smoothly below them")
    group.add_argument("--contact", metavar="LENGTH", type=parse_length,
                       help="furthest that a detail may float over what it lies on, or sink into "
                            "it (default: 1.5 mm)")
    group.add_argument("--scale", metavar="FACTOR", type=number(0.0, 1000.0),
                       help="enlarge the sculpt first; templates always print 1:1")
    group.add_argument("--size", metavar="NAME:WHAT", action="append", type=size, default=[],
                       help="a size, in a folder of its own; may be given several times. WHAT is "
                            "a factor on the sculpt (the foam stays as thick as it is), or, with "
                            "commas between, factors or lengths across=, deep= and tall=, and "
                            "girths of the inside such as girth@300mm=104cm, 300 mm over the "
                            "suit's lowest point, or girth@300mm@Breast+Back=104cm of the objects "
                            "of these names")
    group.add_argument("--sizes", metavar="FILE", type=Path,
                       help="a table of sizes, CSV or JSON: a column name, and columns factor, "
                            "across, deep, tall or girth@300mm, which take what --size takes")
    group.add_argument("--seam-angle", metavar="DEG", type=number(0.0, 180.0),
                       help="also cut along every edge folded sharper than this, for files "
                            "that carry no marks")
    group.add_argument("--suggest-seams", action="store_true",
                       help="propose seams and trenches where none are marked, and go on with "
                            "them; a minute or so")
    group.add_argument("--ease", metavar="0-1", type=number(0.0, 1.0, ends=True),
                       help="with --suggest-seams: 0 for the fewest pieces (default) up to 1 for "
                            "pieces that are easy to form")
    group.add_argument("--fairing", metavar="LENGTH", type=parse_length,
                       help="furthest a line that zigzags along the mesh is moved to become "
                            "smooth (default: 0.5 mm); 0 cuts it as marked")
    group.add_argument("--body", metavar="FILE", type=Path,
                       help="a mesh of the wearer, placed as the sculpt is, to tell how the suit "
                            "fits; a .blend file says itself which objects that is")
    group.add_argument("--figure", metavar="NAME=LENGTH", nargs="*", default=None, type=measure,
                       help="a plain figure instead, of measures such as stature=172cm chest=1m; "
                            "it stands on the floor (height 0) about the middle, and looks along "
                            "-y, as the sculpt should")
    group.add_argument("--rate", metavar="NAME=NUMBER", nargs="+", type=amount, dest="rates",
                       help="how fast you work, for the time in the plan: minutes for a metre, a "
                            "piece or a square metre; and coverage, the square metres that a "
                            f"litre of cement coats. Names: {', '.join(Rates.names())}")
    group.add_argument("--price", metavar="NAME=NUMBER", nargs="+", type=amount, dest="prices",
                       help="what one costs, for the costs in the plan: a mat by the name of its "
                            "foam, such as eva-10; a litre of cement; a blade; a metre of "
                            "webbing, of hook-and-loop, or of a rod by its name")
    group.add_argument("--currency", metavar="TEXT",
                       help="what stands after a price, such as EUR")
    group.add_argument("--join", metavar="LETTER=KIND", nargs="+", type=join, dest="held",
                       help=f"what holds the seams of a letter together, whatever is marked: "
                            f"{', '.join(filter(None, JOINS))}")
    group.add_argument("--finish", metavar="LETTER=KIND[:LENGTH]", nargs="+", type=finish,
                       dest="finishes",
                       help="how the seams of a letter look from outside, whatever is marked: "
                            "flush; exaggerated, both outer edges chamfered by a length; or "
                            "recessed, both set back by it; such as F=exaggerated:4mm (3 mm where "
                            "none is said)")
    group.add_argument("--widen", metavar="LETTER=LENGTH", nargs="+", type=widening,
                       help="make the suit wider at the seams of a letter, such as C=20mm, or "
                            "narrower, C=-15mm: every section across the seam grows by that, half "
                            "on each side; C=20mm:0mm from its lower end to its upper one, or "
                            "where it is level from the wearer's middle outward. A code such as "
                            "C.1 stands for one seam of several")
    group.add_argument("--measures", metavar="NAME=LENGTH", nargs="+", type=measure,
                       help="the wearer's own, such as head=57cm chest=1m, to tell whether head "
                            "and body get into rings; those of --figure count too")
    group.add_argument("--worn", metavar="OBJECT=PLACE", nargs="+", default=(), type=place,
                       help=f"where an object of the sculpt is worn, where its name does not tell: "
                            f"{', '.join(WORN)} or {ANYWHERE}")
    group.add_argument("--girth-at", metavar="LENGTH", nargs="+", type=parse_length,
                       dest="girth_heights", help="also tell girths at these heights over the "
                                                  "soles")
    group.add_argument("--reach", metavar="MOVEMENT=DEG", nargs="*", type=movement,
                       help="tell how far arms, legs, head and torso turn before plates meet, "
                            "coarsely; alone: all movements, as far as people get; or the ones "
                            f"that you name, to the angle you want: {_MOVEMENTS}")
    group.add_argument("--box", metavar="LxWxH", type=parse_box,
                       help="tell whether all parts, apart where joins are removable, go into a "
                            "box of this length, width and height inside, such as 60x40x40cm, and "
                            "how they lie in it")
    group.add_argument("--box-gap", metavar="LENGTH", type=parse_length,
                       help="least distance between parts in the box (default: 6 mm)")
    group.add_argument("--piece", metavar="CODE",
                       help="with make: this piece alone, for a quick trial")
    group.add_argument("--offcuts", metavar="FILE", type=Path,
                       help="an SVG drawing with the outlines of leftover foam at true size, to "
                            "be used before new mats; a group named like a stock holds its own")
    group.add_argument("--split", choices=(REFUSE, BUTT_LINE),
                       help="a piece larger than a mat: leave it out and say so (default), or "
                            "part it by straight cuts that are glued edge to edge")
    group = parser.add_argument_group("templates on paper")
    group.add_argument("--paper", metavar="NAME",
                       help="paper in your printer: A4 (default), A3, A2, A1, A0, Letter, Tabloid, "
                            "or roll")
    group.add_argument("--roll-width", metavar="LENGTH", type=parse_length,
                       help="width of the paper off a roll (default: 610 mm); each page is as long "
                            "as it needs to be")
    group.add_argument("--allowance", metavar="LENGTH", type=parse_length,
                       help="templates also show a line this far outside the cut line, for foam "
                            "that is trimmed when it has been tried on")
    group.add_argument("--no-gauges", dest="gauges", action="store_false", default=None,
                       help="print no cards by which bent pieces are formed")
    group.add_argument("--back-side", action="store_true", default=None,
                       help="also draw, mirrored, what is cut on the back of pieces")
    group.add_argument("--mock-up", choices=(HALF, THIRD),
                       help="instead of the suit a mock-up in card of this scale, made anew for "
                            "the card's thickness, into a folder of its own in --out")
    group.add_argument("--card", metavar="LENGTH", type=parse_length,
                       help="thickness of the card (default: 1.5 mm)")
    group.add_argument("--text-as-outlines", action="store_true", default=None,
                       help="words in SVG and DXF files as outlines of their letters, for cutters "
                            "that lack the typeface or pass over words")
    group = parser.add_argument_group("after a change of the sculpt")
    group = group.add_mutually_exclusive_group()
    group.add_argument("--earlier", metavar="PATH", type=Path,
                       help="report.json of an earlier pattern, or its folder: its codes and "
                            "letters are kept, and the templates to print again are told "
                            "(default: the one in --out)")
    group.add_argument("--fresh-codes", action="store_true",
                       help="give all codes and letters anew, as if nothing had been printed")
    group = parser.add_argument_group("what is made already")
    for state, words in (("cut", "are cut"), ("glued", "are glued"),
                         ("planned", "are still to be made, or made again")):
        group.add_argument(f"--{state}", metavar="CODES", type=codes, default=(),
                           help=f"pieces that {words}, such as A1,A2; the plan says after a "
                                "change what to do with what exists" if state == "cut" else
                                f"pieces that {words}")
    group = parser.add_argument_group("laying pieces on mats")
    group.add_argument("--turns", choices=(FREE, QUARTER, GRAIN),
                       help="turn pieces freely (default), by quarter turns only, or keep them "
                            "along the grain, as on foam whose file says that it has one")
    group.add_argument("--together", choices=(APART, MIRRORED, MATES),
                       help="keep nothing together (default), a piece and its mirror image, or two "
                            "pieces that are joined, on one mat where one takes both")
    group.add_argument("--no-holes", dest="holes", action="store_false", default=None,
                       help="lay no small pieces in the holes of large ones")
    group.add_argument("--kerf", metavar="LENGTH", type=parse_length,
                       help="width that a laser or another cutter takes from the foam; cut lines "
                            "on mats are moved outward by half of it (default: as the stock says, "
                            "0 for a knife)")
    group.add_argument("--mat-gap", metavar="LENGTH", type=parse_length,
                       help="least distance of two pieces (default: as the stock says, 3 mm)")
    group.add_argument("--mat-margin", metavar="LENGTH", type=parse_length,
                       help="kept free at the rim of mats (default: half the gap)")
    group.add_argument("--nest-seconds", metavar="N", type=number(0.0, 3600.0, ends=True),
                       help="about how long to look for a better layout, for each mat (default: "
                            "4); Ctrl-C meanwhile goes on with the best one so far")
    group.add_argument("--seed", metavar="N", type=int,
                       help="another number gives another layout on the mats")


def measure(text: str) -> tuple[str, float]:
    """An argument that is a measure of the body, such as chest=1m or upper-arm=33cm."""
    name, equal, length = text.partition("=")
    if not equal:
        raise argparse.ArgumentTypeError("write it as NAME=LENGTH, such as chest=98cm")
    return name.strip().replace("-", " ").lower(), parse_length(length)


def movement(text: str) -> tuple[str, float]:
    """An argument that is a movement and an angle, such as arm-forward=120."""
    name, equal, angle = text.partition("=")
    name = name.strip().replace("-", " ").lower()
    if not equal or name not in NAMES:
        raise argparse.ArgumentTypeError(
            f"write it as MOVEMENT=DEG, with one of {_MOVEMENTS}")
    return name, number(0.0, 180.0)(angle)


def place(text: str) -> tuple[str, str]:
    """An argument that tells where an object is worn, such as Cowl=head."""
    name, equal, where = (part.strip() for part in text.rpartition("="))
    where = where.lower().replace("-", " ")
    if not equal or where not in (*WORN, ANYWHERE):
        raise argparse.ArgumentTypeError(
            f"write it as OBJECT=PLACE, with one of {', '.join(WORN)} or {ANYWHERE}")
    return name, where


def join(text: str) -> tuple[str, str]:
    """An argument that tells how seams are held together, such as F=hook-and-loop."""
    letter, equal, kind = (part.strip() for part in text.partition("="))
    if not letter or kind.lower() not in JOINS[1:]:
        raise argparse.ArgumentTypeError(
            f"write it as LETTER=KIND, with one of {', '.join(JOINS[1:])}")
    return letter.upper(), kind.lower()


def finish(text: str) -> tuple[str, Finish]:
    """An argument that tells how seams look, such as F=exaggerated:4mm."""
    letter, equal, told = (part.strip() for part in text.partition("="))
    kind, _, length = (part.strip() for part in told.partition(":"))
    kind = kind.lower()
    if not letter or kind not in FINISHES or (kind == FLUSH and length):
        raise argparse.ArgumentTypeError(
            f"write it as LETTER=KIND or LETTER=KIND:LENGTH, with one of {', '.join(FINISHES)}")
    if kind == FLUSH:
        return letter.upper(), Finish()
    width = parse_length(length) if length else USUAL
    if not 0 < width <= WIDEST:
        raise argparse.ArgumentTypeError(f"a finish is at most {format_length(WIDEST)} wide")
    return letter.upper(), Finish(kind, width)


def widening(text: str) -> tuple[str, tuple[float, float]]:
    """An argument that tells by how much the suit grows at seams, such as F=20mm or F=20mm:0mm."""
    letter, equal, told = (part.strip() for part in text.partition("="))
    try:
        sizes = [parse_change(part) for part in told.split(":")]
    except FoamError as error:
        raise argparse.ArgumentTypeError(error.finding.message) from error
    if not letter or not 1 <= len(sizes) <= 2:
        raise argparse.ArgumentTypeError("write it as LETTER=LENGTH, such as C=20mm or C=20mm:0mm")
    if not any(sizes):
        raise argparse.ArgumentTypeError(f"{letter}={told} asks for no change; leave it out")
    return letter.upper(), (sizes[0], sizes[-1])


def codes(text: str) -> tuple[str, ...]:
    """An argument that is several codes, with commas between."""
    return tuple(code.strip() for code in text.split(",") if code.strip())


def lying(text: str) -> tuple[str, str]:
    """An argument that names a detail and what it lies on."""
    detail, sign, base = text.partition("=")
    if not sign or not detail.strip():
        raise argparse.ArgumentTypeError("must be DETAIL=BASE, such as Emblem=Breast")
    return detail.strip(), base.strip()


def number(above: float, below: float, ends: bool = False) -> Callable[[str], float]:
    """An argument that is a number between two. ends: it may also be one of them."""

    def parse(text: str) -> float:
        value = float(text)
        inside = above <= value <= below if ends else above < value < below
        if not inside:  # NaN never is
            raise argparse.ArgumentTypeError(f"must lie between {above:g} and {below:g}")
        return value

    parse.__name__ = "number"  # what argparse calls it
    return parse


def amount(text: str) -> tuple[str, float]:
    """An argument that is a name and a number, such as cut=2.5 or eva-10=12.50."""
    name, equal, value = (part.strip() for part in text.rpartition("="))
    try:
        found = float(value)
    except ValueError:
        found = float("nan")
    if not name or not equal or not found >= 0:
        raise argparse.ArgumentTypeError("write it as NAME=NUMBER, such as cut=2.5")
    return name, found
