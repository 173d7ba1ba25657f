"""The sculpt and the settings that words on the command line lead to."""

from __future__ import annotations

import argparse
import math
from dataclasses import replace
from pathlib import Path

from ..core.errors import ERROR, Finding, FoamError
from ..core.measures import MEASURES
from ..core.model import STATES, Body, Price, Printed, Sculpt, Settings
from ..core.stock import find_stock, shipped
from ..export.printed import REPORT, load

BLEND = ".blend"
ROOT = __package__.rpartition(".")[0]  # of the add-on, whatever Blender calls it


def read(args: argparse.Namespace) -> tuple[Sculpt, Settings]:
    """The sculpt, and settings: defaults, then what the file says, then the options."""
    path = args.input
    if path.suffix.lower() == BLEND:
        if args.unit or args.up:
            raise FoamError(Finding(
                "bad-option", ERROR, "A Blender file carries its own units and axes.",
                "Leave out --unit and --up; --scale changes the size."))
        sculpt, chosen = _read_blend(path)
    else:
        from ..files import read_mesh

        sculpt, chosen = read_mesh(path, args.unit, args.up), {}
    settings = replace(Settings(stock=find_stock(), title=path.stem), **chosen)
    stock = find_stock(args.stock) if args.stock else settings.stock
    if args.thickness is not None:
        stock = stock.with_thickness(args.thickness)
    offcuts = None
    if args.offcuts is not None:
        from ..files.offcuts import read_offcuts

        offcuts = read_offcuts(args.offcuts)
    sculpt = _lying(sculpt, dict(args.lies_on))
    given = {"side": args.face, "contact": args.contact, "scale": args.scale,
             "only": args.piece, "paper": args.paper,
             "seed": args.seed, "turns": args.turns, "together": args.together,
             "holes": args.holes, "kerf": args.kerf, "mat_gap": args.mat_gap,
             "mat_margin": args.mat_margin, "nest_seconds": args.nest_seconds,
             "roll": args.roll_width,
             "allowance": args.allowance, "gauges": args.gauges, "back_side": args.back_side,
             "mock_up": args.mock_up, "card": args.card,
             "text_outlines": args.text_as_outlines, "offcuts": offcuts, "split": args.split,
             "fairing": args.fairing,
             "rates": settings.rates.changed(args.rates) if args.rates else None,
             "prices": tuple(Price(*each) for each in args.prices) if args.prices else None,
             "currency": args.currency,
             "held": tuple(args.held or ()) or None,
             "finishes": tuple(args.finishes or ()) or None,
             "widen": tuple(args.widen or ()) or None,
             "measures": _measures(args),
             "girth_heights": tuple(args.girth_heights or ()) or None,
             "seam_angle": None if args.seam_angle is None else math.radians(args.seam_angle)}
    settings = replace(settings, stock=stock, made=_made(args),
                       printed=_earlier(args, settings.printed),
                       **{key: value for key, value in given.items() if value is not None})
    sculpt = _detached(sculpt, settings, args.detach_raised)
    return _with_body(_with_places(sculpt, args), args, settings.scale), settings


def _detached(sculpt: Sculpt, settings: Settings, wanted: bool) -> Sculpt:
    """With raised shapes as objects of their own where that is wanted, else with a note of each.
    A sculpt with faults stays as it is; the check tells them."""
    from ..core import raised
    from ..core.soundness import faults

    if not len(sculpt.faces) or any(f.severity == ERROR for f in faults(sculpt)):
        return sculpt
    stocks = list(shipped().values())
    if wanted:
        return raised.all_apart(sculpt, settings, stocks)
    found = raised.findings(sculpt, raised.raised(sculpt.scaled(settings.scale)), stocks)
    return replace(sculpt, findings=(*sculpt.findings, *found)) if found else sculpt


def _measures(args: argparse.Namespace) -> tuple[tuple[str, float], ...] | None:
    """The wearer's own measures, as the options say."""
    unknown = [name for name, _ in args.measures or () if name not in MEASURES]
    if unknown:
        raise FoamError(Finding("bad-option", ERROR, f"There is no measure called “{unknown[0]}”.",
                                f"Give some of these: {', '.join(MEASURES)}."))
    return tuple(args.measures or args.figure or ()) or None


def _with_places(sculpt: Sculpt, args: argparse.Namespace) -> Sculpt:
    """With the places on the body that the options name."""
    places = dict(args.worn)
    if not places:
        return sculpt
    unknown = sorted(set(places) - {o.name for o in sculpt.objects})
    if unknown:
        names = ", ".join(o.name for o in sculpt.objects)
        raise FoamError(Finding(
            "bad-option", ERROR, f"The sculpt has no object called “{unknown[0]}”.",
            f"Say with --worn where one of these goes: {names}."))
    return replace(sculpt, objects=tuple(
        replace(o, worn=places.get(o.name, o.worn)) for o in sculpt.objects))


def _lying(sculpt: Sculpt, given: dict[str, str]) -> Sculpt:
    """With what lies on what, by the objects' names."""
    if not given:
        return sculpt
    names = [thing.name for thing in sculpt.objects]
    lost = sorted({name for pair in given.items() for name in pair if name} - set(names))
    if lost:
        raise FoamError(Finding("bad-option", ERROR, f"There is no object called “{lost[0]}”.",
                                f"Choose of these for --lies-on: {', '.join(names)}."))
    return replace(sculpt, objects=tuple(
        replace(thing, lies_on=given.get(thing.name, thing.lies_on)) for thing in sculpt.objects))


def _with_body(sculpt: Sculpt, args: argparse.Namespace, scale: float) -> Sculpt:
    """With the wearer that the options name, if they do. scale: of the sculpt."""
    if args.body is not None and args.figure is not None:
        raise FoamError(Finding("bad-option", ERROR, "There can be one wearer only.",
                                "Leave out --body or --figure."))
    if args.body is not None:
        from ..files import read_mesh

        mesh = read_mesh(args.body, args.unit, args.up)
        return replace(sculpt, body=Body(mesh.vertices, mesh.faces, args.body.stem))
    if args.figure is not None:
        from ..core.figure import figure

        # Measures are of the wearer as they are; the sculpt is still to be scaled.
        return replace(sculpt, body=figure(dict(args.figure)).body.scaled(1 / scale))
    return sculpt


def _made(args: argparse.Namespace) -> tuple[tuple[str, str], ...]:
    """How far pieces are made, as the options say."""
    return tuple((code, state) for state in STATES for code in getattr(args, state))


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
        from ..blender.read import read_blend
    except ModuleNotFoundError as error:
        if (error.name or ROOT).startswith(ROOT):
            raise  # a module of ours: a bug
        raise FoamError(Finding(
            "no-blender", ERROR, "A .blend file needs Blender, which this Python does not have.",
            "Install the bpy package, run blender --background --command foamwright with the "
            "same words, or export the sculpt as .obj or .glb.")) from error
    return read_blend(path)
