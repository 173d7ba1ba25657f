"""A set of sizes of one suit: each worked on by itself, all with the same codes and letters."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Pattern, Printed, Sculpt, Settings, Size
from ..core.sizing import record_at, size_for, sized
from .printed import REPORT, after, load

Make = Callable[[Sculpt, Settings, int], Pattern]


@dataclass(frozen=True, eq=False)
class Job:
    """One thing to work on, and the folder for it. size: the one that it is, and known: what was
    printed of that size itself; both None where no sizes are asked for."""

    sculpt: Sculpt
    settings: Settings
    out: Path | None
    size: Size | None = None
    known: Printed | None = None


def jobs(sculpt: Sculpt, settings: Settings, wanted: Sequence[tuple[str, Mapping]],
         out: Path | None, fresh: bool = False) -> list[Job]:
    """A job for each size that is wanted: its name, and what `size_for` is told.

    out: the folder with those of the sizes. fresh: codes and letters are given anew, whatever was
    written there before. Raises FoamError `bad-size`, for two of one name as well.
    """
    names = [name.lower() for name, _ in wanted]  # some file systems take S and s for one folder
    if twice := next((name for name, _ in wanted if names.count(name.lower()) > 1), None):
        raise FoamError(Finding("bad-size", ERROR, f"There are two sizes “{twice}”.",
                                "Give each size a name of its own."))
    return [_job(sculpt, settings, size_for(sculpt, settings, name, **asked), out, fresh)
            for name, asked in wanted]


def made(todo: Sequence[Job], sculpt: Sculpt, make: Make) -> list[tuple[Job, Pattern]]:
    """The pattern of each job; of a set of sizes the first one's codes and letters hold for all
    of which no templates were printed. sculpt: at no size. make: is given the sculpt and settings
    of a job, and its place in the list.

    Raises FoamError as `make` does, with the name of the size.
    """
    done: list[tuple[Job, Pattern]] = []
    for n, job in enumerate(todo):
        if done and job.known is None:
            first = done[0][1]
            record = record_at(after(first), sculpt, job.size, first.settings.size)
            job = replace(job, settings=replace(job.settings, printed=record))
        try:
            done.append((job, make(job.sculpt, job.settings, n)))
        except FoamError as error:
            if job.size is None:
                raise
            raise FoamError(*(replace(f, message=f"Size “{job.size.name}”: {f.message}")
                              for f in error.findings)) from error
    return done


def _job(sculpt: Sculpt, settings: Settings, found: Size, out: Path | None, fresh: bool) -> Job:
    out = None if out is None else out / found.name
    own = load(out) if out is not None and not fresh and (out / REPORT).is_file() else None
    known = own
    if known is None and settings.printed is not None:
        known = record_at(settings.printed, sculpt, found)
    return Job(sized(sculpt, found),
               replace(settings, title=f"{settings.title}, size {found.name}", printed=known,
                       size=found), out, found, own)
