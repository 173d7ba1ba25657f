"""The sizes that words on the command line, or a table in a file, ask for."""

from __future__ import annotations

import argparse
import csv
import io
import json
import re
from dataclasses import dataclass, replace
from pathlib import Path

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Pattern, Printed, Sculpt, Settings, Size
from ..core.sizing import AXES, record_at, size_for, sized
from ..core.units import parse_length
from ..export.printed import REPORT, after, load

_NAME = re.compile(r"[^\s/\\:.][^/\\:]*")
_FORM = ('write it as NAME:WHAT, such as S:0.95, M:tall=1.05 or "L:girth@300mm=104cm,tall=650mm"')
_TABLE = ("Give a table with a column “name” and columns such as factor, across, tall or "
          "girth@300mm, the latter with units: 104cm.")
Asked = tuple[str, dict[str, dict]]


@dataclass(frozen=True, eq=False)
class Job:
    """One thing to work on, and the folder for it. size: the one that it is, and known: what was
    printed of that size itself; both None where no sizes are asked for."""

    sculpt: Sculpt
    settings: Settings
    out: Path | None
    size: Size | None = None
    known: Printed | None = None


def size(text: str) -> Asked:
    """An argument that is a size: its name, and what `size_for` is told.

    WHAT is a factor, or of one or more axes (across, deep, tall) a factor or a length with its
    unit, and girths of the inside at heights over the suit's lowest point, of the whole suit or of
    named objects.
    """
    name, colon, told = text.partition(":")
    if not colon or not _NAME.fullmatch(name):
        raise argparse.ArgumentTypeError(_FORM)
    try:
        return name, _asked([part.partition("=")[::2] for part in told.split(",") if part.strip()])
    except FoamError as error:
        raise argparse.ArgumentTypeError(error.finding.message) from error
    except ValueError as error:
        raise argparse.ArgumentTypeError(_FORM) from error


def _asked(parts: list[tuple[str, str]]) -> dict[str, dict]:
    """What `size_for` is told by names and values. Raises ValueError, and FoamError
    `bad-length`."""
    asked: dict[str, dict] = {"factors": {}, "lengths": {}, "girths": {}}
    for what, value in parts:
        what, value = what.strip(), value.strip()
        if not value:
            what, value = "factor", what
        factor = _number(value)
        if what == "factor" and factor is not None:
            asked["factors"] |= dict.fromkeys(AXES, factor)
        elif what in AXES and factor is not None:
            asked["factors"][what] = factor
        elif what in AXES:
            asked["lengths"][what] = parse_length(value)
        elif what.startswith("girth@"):
            height, _, names = what.removeprefix("girth@").partition("@")
            place = parse_length(height)
            if names:
                place = place, tuple(name.strip() for name in names.split("+"))
            asked["girths"][place] = parse_length(value)
        else:
            raise ValueError(f"“{what}” is no column for a size")
    return asked


def table(path: Path) -> list[Asked]:
    """The sizes in a file: CSV with a heading, or JSON, a list of objects; each with a name, and
    what `size` takes as further columns, empty ones left out.

    Raises FoamError `bad-sizes` with all rows that make no sense, by their numbers.
    """
    found: list[Asked] = []
    problems = []
    for where, row in _rows(path):
        try:
            cells = {str(key).strip(): str(value).strip() for key, value in row.items()
                     if key is not None and value is not None}
            if None in row:
                raise ValueError("it has more cells than the heading")
            name = cells.pop("name", "")
            if not _NAME.fullmatch(name):
                raise ValueError(f"“{name}” is no name for a size and its folder")
            if name in [other for other, _ in found]:
                raise ValueError(f"there are two sizes “{name}”")
            found.append((name, _asked([(k, v) for k, v in cells.items() if v])))
        except (ValueError, FoamError) as error:
            why = error.finding.message if isinstance(error, FoamError) else f"{error}."
            problems.append(Finding("bad-sizes", ERROR, f"{path.name}, {where}: {why}", _TABLE))
    if not found and not problems:
        problems.append(Finding("bad-sizes", ERROR, f"{path.name} holds no sizes.", _TABLE))
    if problems:
        raise FoamError(*problems)
    return found


def _rows(path: Path) -> list[tuple[str, dict]]:
    """The rows of a table, each with where it stands."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise FoamError(Finding("bad-sizes", ERROR, f"{path} cannot be read: {error.strerror}.",
                                "Check the name and the folder.")) from error
    except UnicodeDecodeError as error:
        raise FoamError(Finding("bad-sizes", ERROR, f"{path} is not a text in UTF-8.",
                                _TABLE)) from error
    if path.suffix.lower() == ".json":
        try:
            rows = json.loads(text)
        except ValueError as error:
            raise FoamError(Finding("bad-sizes", ERROR, f"{path.name} is no JSON: {error}.",
                                    _TABLE)) from error
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise FoamError(Finding("bad-sizes", ERROR, f"{path.name} is no list of objects.",
                                    _TABLE))
        return [(f"entry {n}", row) for n, row in enumerate(rows, 1)]
    head = text.partition("\n")[0]
    split = max(",;\t", key=head.count)  # tables of many countries have semicolons
    reader = csv.DictReader(io.StringIO(text), delimiter=split)
    return [(f"line {reader.line_num}", row) for row in reader
            if any(value for value in row.values())]


def sizes(args: argparse.Namespace, sculpt: Sculpt, settings: Settings) -> list[Job]:
    """What is to be worked on: the sculpt as it is, or each of its sizes in a folder of its own.
    Raises FoamError `bad-size` and `bad-sizes`."""
    wanted = [*args.size, *(table(args.sizes) if args.sizes else ())]
    if not wanted:
        return [Job(sculpt, settings, args.out)]
    names = [name.lower() for name, _ in wanted]
    if twice := next((name for name, _ in wanted if names.count(name.lower()) > 1), None):
        raise FoamError(Finding("bad-size", ERROR, f"There are two sizes “{twice}”.",
                                "Give each size a name of its own."))
    return [_job(args, sculpt, settings, size_for(sculpt, settings, name, **asked))
            for name, asked in wanted]


def _job(args: argparse.Namespace, sculpt: Sculpt, settings: Settings, found: Size) -> Job:
    out = None if args.out is None else args.out / found.name
    own = (load(out / REPORT) if out is not None and not args.fresh_codes
           and (out / REPORT).is_file() else None)
    known = own
    if known is None and settings.printed is not None:
        known = record_at(settings.printed, sculpt, found)
    return Job(sized(sculpt, found),
               replace(settings, title=f"{settings.title}, size {found.name}", printed=known,
                       size=found), out, found, own)


def with_codes_of(job: Job, first: Pattern, sculpt: Sculpt) -> Job:
    """A size with the codes and letters of the first one of its set, unless templates of its own
    were printed. sculpt: at no size."""
    if job.known is not None:
        return job
    record = record_at(after(first), sculpt, job.size, first.settings.size)
    return replace(job, settings=replace(job.settings, printed=record))


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
