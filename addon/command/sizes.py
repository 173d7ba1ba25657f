"""The sizes that words on the command line, or a table in a file, ask for."""

from __future__ import annotations

import argparse

from ..core.errors import FoamError
from ..core.model import Sculpt, Settings
from ..export.size_set import Job, jobs
from ..files.sizes import Asked, asked, is_name, table

_FORM = ('write it as NAME:WHAT, such as S:0.95, M:tall=1.05 or "L:girth@300mm=104cm,tall=650mm"')


def size(text: str) -> Asked:
    """An argument that is a size: its name, and what `size_for` is told.

    WHAT is a factor, or of one or more axes (across, deep, tall) a factor or a length with its
    unit, and girths of the inside at heights over the suit's lowest point, of the whole suit or of
    named objects.
    """
    name, colon, told = text.partition(":")
    if not colon or not is_name(name):
        raise argparse.ArgumentTypeError(_FORM)
    try:
        return name, asked([part.partition("=")[::2] for part in told.split(",") if part.strip()])
    except FoamError as error:
        raise argparse.ArgumentTypeError(error.finding.message) from error
    except ValueError as error:
        raise argparse.ArgumentTypeError(_FORM) from error


def sizes(args: argparse.Namespace, sculpt: Sculpt, settings: Settings) -> list[Job]:
    """What is to be worked on: the sculpt as it is, or each of its sizes in a folder of its own.
    Raises FoamError `bad-size` and `bad-sizes`."""
    wanted = [*args.size, *(table(args.sizes) if args.sizes else ())]
    if not wanted:
        return [Job(sculpt, settings, args.out)]
    return jobs(sculpt, settings, wanted, args.out, args.fresh_codes)
