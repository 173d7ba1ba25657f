"""The command line: a sculpt in a file -> templates in a folder, a check of the sculpt, or the
suit put together again.

Exit codes: 0 done, 2 cannot (the findings say why), 130 stopped from the keyboard.
Anything else is a bug and ends in a traceback with exit code 1.
"""

from __future__ import annotations

import argparse
import math
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TextIO

import numpy as np

from .core.errors import ERROR, Finding, FoamError
from .core.model import (
    APART,
    BUTT_LINE,
    FREE,
    GRAIN,
    HALF,
    INNER,
    MATES,
    MIDDLE,
    MIRRORED,
    OUTER,
    QUARTER,
    REFUSE,
    THIRD,
    Pattern,
    Piece,
    Printed,
    Sculpt,
    Settings,
    Sheet,
)
from .core.nest import NESTING, paper_name
from .core.stock import DEFAULT, find_stock, shipped
from .core.units import parse_length
from .export.change_words import HEADING, sentences
from .export.changes import changes
from .export.findings import Group, grouped
from .export.folder import MATS, require_writable, write_all
from .export.printed import REPORT, load
from .export.rebuild_words import in_words

BLEND = ".blend"
STOPPED = 130  # what shells report for a command that Ctrl-C ended
VERDICTS = {"flat": "lies flat", "bend": "bends cold", "heat": "heat-form",
            "relief": "needs relief"}
SHOWN = 8  # indices of elements printed for a finding; report.json has them all

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

_OPTIONS = "stock and settings (options win over what a Blender file says)"


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command with these words (default: of the process); returns the exit code.

    Wrong usage ends in SystemExit 2, as argparse does.
    """
    try:
        parser = _parser()
        args = parser.parse_args(argv)
        if args.action == "calibration":
            print(_calibration(args))
            return 0
        if args.ease is not None and not args.suggest_seams:
            parser.error("--ease goes with --suggest-seams")
        if args.action == "make" and args.quick and not args.rebuild:
            parser.error("--quick goes with --rebuild")
        if args.out is not None:
            require_writable(args.out)  # before minutes of work, not after
        pattern = _run(args, *_read(args))
        files = _write(args, pattern)
    except KeyboardInterrupt:
        print("Stopped. Nothing was written.", file=sys.stderr)
        return STOPPED
    except FoamError as error:
        for block in _findings(error.findings):
            print(block, file=sys.stderr)
        return 2
    print(summary(pattern, files))
    return 0


# --- words in ----------------------------------------------------------------


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m addon", description=_DESCRIPTION,
        epilog=_EPILOG.format(stocks="\n".join(
            f"  {name:<8}{stock.name}" for name, stock in shipped().items())),
        formatter_class=argparse.RawDescriptionHelpFormatter)
    actions = parser.add_subparsers(dest="action", required=True,
                                    metavar="make | check | rebuild | calibration")
    make = actions.add_parser(
        "make", help="write the templates, mat layouts, build plan and report",
        description="Write pattern.pdf (print at 100 %), plan.pdf, mats/*.svg and *.dxf, and "
                    "report.json into a folder.")
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
    return parser


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
    group.add_argument("--scale", metavar="FACTOR", type=_number(0.0, 1000.0),
                       help="enlarge the sculpt first; templates always print 1:1")
    group.add_argument("--seam-angle", metavar="DEG", type=_number(0.0, 180.0),
                       help="also cut along every edge folded sharper than this, for files "
                            "that carry no marks")
    group.add_argument("--suggest-seams", action="store_true",
                       help="propose seams and trenches where none are marked, and go on with "
                            "them; a minute or so")
    group.add_argument("--ease", metavar="0-1", type=_number(0.0, 1.0, ends=True),
                       help="with --suggest-seams: 0 for the fewest pieces (default) up to 1 for "
                            "pieces that are easy to form")
    group.add_argument("--fairing", metavar="LENGTH", type=parse_length,
                       help="furthest a line that zigzags along the mesh is moved to become "
                            "smooth (default: 0.5 mm); 0 cuts it as marked")
    group.add_argument("--piece", metavar="CODE", help="this piece alone, for a quick trial")
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
                       help="words in SVG files as outlines, for cutters that lack the typeface")
    group = parser.add_argument_group("after a change of the sculpt")
    group = group.add_mutually_exclusive_group()
    group.add_argument("--earlier", metavar="PATH", type=Path,
                       help="report.json of an earlier pattern, or its folder: its codes and "
                            "letters are kept, and the templates to print again are told "
                            "(default: the one in --out)")
    group.add_argument("--fresh-codes", action="store_true",
                       help="give all codes and letters anew, as if nothing had been printed")
    group = parser.add_argument_group("laying pieces on mats")
    group.add_argument("--turns", choices=(FREE, QUARTER, GRAIN),
                       help="turn pieces freely (default), by quarter turns only, or keep them "
                            "along the grain, as on foam whose file says that it has one")
    group.add_argument("--together", choices=(APART, MIRRORED, MATES),
                       help="keep nothing together (default), a piece and its mirror image, or two "
                            "pieces that are joined, on one mat where one takes both")
    group.add_argument("--no-holes", dest="holes", action="store_false", default=None,
                       help="lay no small pieces in the holes of large ones")
    group.add_argument("--mat-gap", metavar="LENGTH", type=parse_length,
                       help="least distance of two pieces (default: as the stock says, 3 mm)")
    group.add_argument("--mat-margin", metavar="LENGTH", type=parse_length,
                       help="kept free at the rim of mats (default: half the gap)")
    group.add_argument("--nest-seconds", metavar="N", type=_number(0.0, 3600.0, ends=True),
                       help="about how long to look for a better layout, for each mat (default: "
                            "4); Ctrl-C meanwhile goes on with the best one so far")
    group.add_argument("--seed", metavar="N", type=int,
                       help="another number gives another layout on the mats")


def _number(above: float, below: float, ends: bool = False) -> Callable[[str], float]:
    """An argument that is a number between two. ends: it may also be one of them."""

    def parse(text: str) -> float:
        value = float(text)
        inside = above <= value <= below if ends else above < value < below
        if not inside:  # NaN never is
            raise argparse.ArgumentTypeError(f"must lie between {above:g} and {below:g}")
        return value

    parse.__name__ = "number"  # what argparse calls it
    return parse


# --- the work ----------------------------------------------------------------


def _read(args: argparse.Namespace) -> tuple[Sculpt, Settings]:
    """The sculpt, and settings: defaults, then what the file says, then the options."""
    path = args.input
    if path.suffix.lower() == BLEND:
        if args.unit or args.up:
            raise FoamError(Finding(
                "bad-option", ERROR, "A Blender file carries its own units and axes.",
                "Leave out --unit and --up; --scale changes the size."))
        sculpt, chosen = _read_blend(path)
    else:
        from .files import read_mesh

        sculpt, chosen = read_mesh(path, args.unit, args.up), {}
    settings = replace(Settings(stock=find_stock(), title=path.stem), **chosen)
    stock = find_stock(args.stock) if args.stock else settings.stock
    if args.thickness is not None:
        stock = stock.with_thickness(args.thickness)
    offcuts = None
    if args.offcuts is not None:
        from .files.offcuts import read_offcuts

        offcuts = read_offcuts(args.offcuts)
    given = {"side": args.face, "scale": args.scale, "only": args.piece, "paper": args.paper,
             "seed": args.seed, "turns": args.turns, "together": args.together,
             "holes": args.holes, "mat_gap": args.mat_gap, "mat_margin": args.mat_margin,
             "nest_seconds": args.nest_seconds, "roll": args.roll_width,
             "allowance": args.allowance, "gauges": args.gauges, "back_side": args.back_side,
             "mock_up": args.mock_up, "card": args.card,
             "text_outlines": args.text_as_outlines, "offcuts": offcuts, "split": args.split,
             "fairing": args.fairing,
             "seam_angle": None if args.seam_angle is None else math.radians(args.seam_angle)}
    return sculpt, replace(settings, stock=stock, printed=_earlier(args, settings.printed),
                           **{key: value for key, value in given.items() if value is not None})


def _earlier(args: argparse.Namespace, known: Printed | None) -> Printed | None:
    """What was printed before: as the options say, else by the folder that is written to, else
    as the file says (known)."""
    if args.fresh_codes:
        return None
    if args.earlier is None and (args.out is None or not (args.out / REPORT).is_file()):
        return known
    path = args.out if args.earlier is None else args.earlier
    try:
        printed = load(path)
    except OSError as error:
        raise FoamError(Finding(
            "bad-report", ERROR, f"{path} cannot be read: {error.strerror}.",
            "Name the report.json of the earlier pattern, or the folder it is in.")) from error
    if args.earlier is None:
        return printed or known
    if printed is None:
        raise FoamError(Finding(
            "bad-report", ERROR, f"{args.earlier} does not tell of templates that were made.",
            "Name the report.json that “make” wrote, or the folder it is in."))
    return printed


def _read_blend(path: Path) -> tuple[Sculpt, dict[str, object]]:
    if not path.is_file():
        raise FoamError(Finding("missing-file", ERROR, f"There is no file {path}.",
                                "Check the name and the folder."))
    try:
        from .blender.read import read_blend
    except ModuleNotFoundError as error:
        if (error.name or __package__).startswith(__package__):
            raise  # a module of ours: a bug
        raise FoamError(Finding(
            "no-blender", ERROR, "A .blend file needs Blender, which this Python does not have.",
            "Install the bpy package, run blender --background --command foamwright with the "
            "same words, or export the sculpt as .obj or .glb.")) from error
    return read_blend(path)


def _run(args: argparse.Namespace, sculpt: Sculpt, settings: Settings) -> Pattern:
    from .core.make import check, make_pattern

    work = make_pattern if args.action == "make" else check
    again = args.action == "rebuild" or args.action == "make" and args.rebuild
    with _Progress(sys.stderr) as progress:
        if args.suggest_seams:
            from .core.suggest import suggest_seams

            foam = replace(settings, mock_up="")  # a mock-up has the seams of the suit
            sculpt = suggest_seams(sculpt, foam, args.ease or 0.0, progress).accepted(sculpt)
        pattern = work(sculpt, settings, progress)
        if again:
            from .core.rebuild import tried

            pattern = tried(pattern, progress, args.quick)
        return pattern


def _write(args: argparse.Namespace, pattern: Pattern) -> list[Path]:
    if args.out is None:
        return []
    return write_all(pattern, args.out, check=args.action != "make")


def _calibration(args: argparse.Namespace) -> str:
    """Write the calibration sheet, and the stock that was measured; what was done in words."""
    from .core.calibration import Measured, calibrate
    from .export.folder import write_calibration

    stock = find_stock(args.stock or DEFAULT, args.thickness)
    measured = Measured(args.girth, args.closing, args.pulled, args.pressed)
    found = None
    if measured != Measured():
        found = calibrate(measured, stock.thickness).applied(stock)
    settings = Settings(stock=stock)
    settings = replace(settings, paper=args.paper or settings.paper)
    files = write_calibration(settings, args.out, found)
    lines = [f"Written to {args.out}: {', '.join(f.name for f in files)}."]
    if found:
        lines.insert(0, f"{found.name}: neutral layer {found.neutral:.3f} of the thickness; "
                        f"heated, stretch up to {100 * found.heated.stretch:.1f} % and "
                        f"compression up to {100 * found.heated.compress:.1f} %.")
    return "\n".join(lines)


class _Progress:
    """progress(fraction, text): one line that changes on a terminal, one a stage elsewhere.

    The first Ctrl-C while pieces are nested is answered with True, the best layout so far will
    do; every other one is a KeyboardInterrupt as ever.
    """

    def __init__(self, stream: TextIO):
        self.stream, self.live, self.last, self.width = stream, stream.isatty(), "", 0
        self.enough, self.shown = False, ""
        self._before: object = None

    def __enter__(self) -> _Progress:
        if threading.current_thread() is threading.main_thread():  # only there may it be asked
            self._before = signal.signal(signal.SIGINT, self._interrupted)
        return self

    def __exit__(self, *_) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)
        if self.live and self.width:
            print("\r" + " " * self.width + "\r", end="", file=self.stream, flush=True)

    def _interrupted(self, *_: object) -> None:
        if self.enough or not self.last.startswith(NESTING):
            raise KeyboardInterrupt
        self.enough = True
        print("\nGoing on with the best layout so far; once more to stop.", file=self.stream,
              flush=True)

    def __call__(self, fraction: float, text: str = "") -> bool:
        text = text or self.last
        line = f"[{100 * fraction:3.0f} %] {text}"
        if self.live and line == self.shown:  # while pieces are nested it is said very often
            return self.enough
        self.shown = line
        if self.live:
            print("\r" + line.ljust(self.width), end="", file=self.stream, flush=True)
            self.width = len(line)
        elif text != self.last:
            print(line, file=self.stream, flush=True)
        self.last = text
        return self.enough


# --- words out ---------------------------------------------------------------


def summary(pattern: Pattern, files: Sequence[Path]) -> str:
    """What a person reads at the end: findings, pieces, sheets, and where the results lie."""
    blocks = _findings(pattern.findings)
    rows = [(p.code, p.name, VERDICTS[p.verdict.kind], f"{p.verdict.cold:.2f}",
             f"{p.verdict.heated:.2f}", p.stock.name, _cut(p)) for p in pattern.pieces]
    blocks.append(_table(
        ("piece", "name", "forming", "cold", "heated", "stock", "to cut"), rows, right={3, 4}))
    lines = [f"{_plural(len(pattern.pieces), 'piece')} from "
             f"{_plural(len(pattern.templates), 'template')}. The columns cold and heated "
             "tell which share of the foam's limits forming takes; above 1 it is too much."]
    if pattern.mats or pattern.pages:
        mats = ", ".join(f"{s.name} ({100 * _used(s, pattern):.0f} % used)" for s in pattern.mats)
        what = ("sheet", "card") if pattern.settings.mock_up else ("mat", "foam")
        lines.append(f"{_plural(len(pattern.mats), what[0])} of {what[1]}: {mats}. "
                     f"{_plural(len(pattern.pages), 'page')} of {paper_name(pattern.settings)}.")
    if pattern.mats or pattern.pages:
        told = sentences(changes(pattern))
        lines += [f"{HEADING}:"] * bool(told)
        for title, mine in told:
            lines += [f"    {title}{':' * bool(mine)}", *(f"    - {line}" for line in mine)]
    if pattern.rebuilt is not None:
        lines += in_words(pattern)
    if files:
        folder = next(f.parent for f in files if f.name == REPORT)  # every run writes it
        names = [f.name for f in files if f.parent == folder]
        mats = len(files) - len(names)
        names += [f"{_plural(mats, 'file')} in {MATS}"] * (mats > 0)
        lines.append(f"Written to {folder}: {', '.join(names)}.")
    return "\n\n".join([*blocks, "\n".join(lines)])


def _findings(findings: Sequence[Finding]) -> list[str]:
    """A block for every kind of finding, most serious first."""
    return [_finding(findings[group.members[0]]) if len(group.members) == 1
            else _group(group, [findings[i] for i in group.members])
            for group in grouped(findings)]


def _group(group: Group, findings: Sequence[Finding]) -> str:
    """Several findings of one kind: what to do once, then each in a line."""
    lines = [f"{group.severity} ({group.code}): {group.title}, {len(findings)} times",
             f"    {group.remedy}"]
    for finding in findings[:SHOWN]:
        lines.append(f"    - {finding.piece}: {finding.message}" if finding.piece
                     else f"    - {finding.message}")
        lines += [f"    {line}" for line in _elements(finding)]
    if len(findings) > SHOWN:
        lines.append(f"    - and {len(findings) - SHOWN} more")
    return "\n".join(lines)


def _finding(finding: Finding) -> str:
    piece = f", piece {finding.piece}" if finding.piece else ""
    return "\n".join([f"{finding.severity} ({finding.code}{piece}): {finding.message}",
                      f"    {finding.remedy}", *_elements(finding)])


def _elements(finding: Finding) -> list[str]:
    """The vertices, edges and faces a finding is about, the first few of each."""
    lines = []
    for name in ("vertices", "edges", "faces"):
        elements = getattr(finding, name)
        if len(elements):
            shown = ", ".join("-".join(map(str, np.atleast_1d(e))) for e in elements[:SHOWN])
            more = f" and {len(elements) - SHOWN} more" if len(elements) > SHOWN else ""
            lines.append(f"    {name}: {shown}{more}")
    return lines


def _cut(piece: Piece) -> str:
    if piece.template != piece.code:
        return f"{'mirror image of' if piece.flipped else 'same as'} {piece.template}"
    return f"{piece.copies}" + (f" + {piece.mirrored} mirrored" if piece.mirrored else "")


def _used(sheet: Sheet, pattern: Pattern) -> float:
    """Share of a sheet that its pieces cover."""
    from .core.nest import foam_of

    return (sum(pattern.piece(p.piece).area for p in sheet.placements)
            / foam_of(sheet).area)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], right: set[int]) -> str:
    rows = [tuple(head), *rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    return "\n".join("  ".join(
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(row, widths, strict=True))).rstrip()
        for row in rows)


def _plural(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
