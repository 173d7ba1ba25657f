"""The sizes that words on the command line ask for."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from ..core.errors import FoamError
from ..core.model import Sculpt, Settings
from ..core.sizing import AXES, Size, size_for, sized
from ..core.units import parse_length
from ..export.printed import REPORT, load

_NAME = re.compile(r"[^\s/\\:.][^/\\:]*")
_FORM = ('write it as NAME:WHAT, such as S:0.95, M:tall=1.05 or "L:girth@300mm=104cm,tall=650mm"')


def size(text: str) -> tuple[str, dict[str, dict]]:
    """An argument that is a size: its name, and what `size_for` is told.

    WHAT is a factor, or of one or more axes (across, deep, tall) a factor or a length with its
    unit, and girths of the inside at heights over the suit's lowest point.
    """
    name, colon, told = text.partition(":")
    if not colon or not _NAME.fullmatch(name):
        raise argparse.ArgumentTypeError(_FORM)
    asked: dict[str, dict] = {"factors": {}, "lengths": {}, "girths": {}}
    for part in filter(None, (part.strip() for part in told.split(","))):
        what, equal, value = (word.strip() for word in part.partition("="))
        factor = _number(value if equal else what)
        try:
            if not equal and factor is not None:
                asked["factors"] |= dict.fromkeys(AXES, factor)
            elif what in AXES and factor is not None:
                asked["factors"][what] = factor
            elif what in AXES:
                asked["lengths"][what] = parse_length(value)
            elif what.startswith("girth@"):
                asked["girths"][parse_length(what.removeprefix("girth@"))] = parse_length(value)
            else:
                raise argparse.ArgumentTypeError(_FORM)
        except FoamError as error:
            raise argparse.ArgumentTypeError(error.finding.message) from error
    return name, asked


def sizes(args: argparse.Namespace, sculpt: Sculpt, settings: Settings
          ) -> Iterator[tuple[Sculpt, Settings, Path | None]]:
    """What is to be worked on, and the folder for it: the sculpt as it is, or each of its sizes in
    a folder of its own. Raises FoamError `bad-size`."""
    if not args.size:
        yield sculpt, settings, args.out
        return
    for name, asked in args.size:
        found: Size = size_for(sculpt, settings, name, **asked)
        out = None if args.out is None else args.out / name
        known = (load(out / REPORT) if out is not None and not args.fresh_codes
                 and (out / REPORT).is_file() else None)
        yield (sized(sculpt, found),
               replace(settings, title=f"{settings.title}, size {name}", printed=known), out)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
