"""A pattern -> all its files in one folder: written whole, or not at all.

What an earlier run wrote is known from the `outputs` list of its report.json. Only
those files are replaced or, when no longer wanted, removed; a file of the maker's
that happens to have one of our names is never overwritten.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from ..core.cards import card_sheets
from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Pattern, Settings, Sheet
from ..core.stock import Stock
from .printed import REPORT

Progress = Callable[[float, str], None]

CALIBRATION, FOAM = "foam-calibration.pdf", "measured-foam.toml"
PATTERN, PLAN, MATS = "pattern.pdf", "plan.pdf", "mats"
PAGE = "plan.html"
LEGEND = "legend.svg"  # beside the mats
_OURS = re.compile(rf"{re.escape(PATTERN)}|{re.escape(PLAN)}|{re.escape(PAGE)}|{re.escape(REPORT)}"
                   rf"|{MATS}/({re.escape(LEGEND)}|[^/\\]+-(mat|offcut)-\d+(-back)?\.(svg|dxf))")


def write_all(pattern: Pattern, out: str | Path, check: bool = False,
              progress: Progress | None = None) -> list[Path]:
    """Write every file of the pattern into the folder `out`; a check writes its report only; a
    mock-up is written into a folder inside (see `home`).

    progress is told the share done (0 to 1) and what is being written; it may raise Cancelled.
    Returns the paths written. Raises FoamError `cannot-write`, and whatever an exporter
    or progress raises; the folder is then as it was before.
    """
    return write_set([(pattern, out)], check, progress)[0]


def write_set(patterns: Sequence[tuple[Pattern, str | Path]], check: bool = False,
              progress: Progress | None = None) -> list[list[Path]]:
    """Write several patterns, such as the sizes of a suit, each into its own folder as `write_all`
    does: all of them, or none. Returns the paths of each."""
    say = progress or (lambda share, text: None)
    with ExitStack() as stack:
        ready = []
        for n, (pattern, out) in enumerate(patterns):
            out = home(pattern, out).absolute()
            scratch = stack.enter_context(_scratch(out))
            names, stale = _write(
                pattern, out, scratch, check,
                lambda share, text, n=n: say((n + share) / len(patterns), text))
            ready.append((scratch / "new", scratch / "old", out, names, stale))
        _swap_all(ready)
    return [[out / name for name in names] for _, _, out, names, _ in ready]


def home(pattern: Pattern, out: str | Path) -> Path:
    """The folder that the files go to: a mock-up has one of its own in `out`, so that it never
    takes the place of the templates."""
    size = pattern.settings.mock_up
    return Path(out) / f"mock-up-{size}" if size else Path(out)


def write_calibration(settings: Settings, out: str | Path, measured: Stock | None = None
                      ) -> list[Path]:
    """Write the calibration sheet into the folder `out`, and a stock file of the foam as it was
    measured; returns the paths. What an earlier run wrote is replaced, but no stock file that
    the maker wrote.

    Raises FoamError `cannot-write`, or `unknown-paper`.
    """
    from .calibration import write_calibration_pdf
    from .stock_file import MEASURED, stock_file

    out = Path(out).absolute()
    with _scratch(out) as scratch:
        new = scratch / "new"
        new.mkdir()
        write_calibration_pdf(settings, new / CALIBRATION)
        if measured is not None:
            if (out / FOAM).exists() and not (out / FOAM).read_bytes().startswith(MEASURED):
                raise _cannot_write(
                    f"{out / FOAM} is there already, and not from an earlier run of Foamwright.",
                    "Choose another folder, or move that file away.")
            (new / FOAM).write_text(stock_file(measured), encoding="utf-8", newline="\n")
        names = sorted(path.name for path in new.iterdir())
        _swap_all([(new, scratch / "old", out, names, [])])
    return [out / name for name in names]


def require_writable(out: str | Path) -> None:
    """Raise FoamError `cannot-write` now if the folder could not be written later on."""
    with _scratch(Path(out).absolute()):
        pass


@contextmanager
def _scratch(out: Path) -> Iterator[Path]:
    """A temporary folder on the disk of `out`, so that moving into place copies nothing.

    What the disk objects to inside becomes FoamError `cannot-write`.
    """
    try:
        beside = next(p for p in (out, *out.parents) if p.exists())
        scratch = Path(tempfile.mkdtemp(prefix=".foamwright-", dir=beside))
        try:
            yield scratch
        finally:
            # Files are left in `old` only if putting them back failed: then keep them.
            if not any(path.is_file() for path in (scratch / "old").rglob("*")):
                shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise _cannot_write(
            f"The files cannot be written to {out}: {error.strerror or error}.",
            "Choose a folder you may write to, or make room on the disk.") from error


def mat_names(mats: Iterable[Sheet]) -> list[str]:
    """File names of mats and offcuts without their endings, counted each for itself as in the
    sheets' own names, so that the file of a stock's first mat is called mat 1 there as well."""
    names, count = [], Counter()
    for sheet in mats:
        stock = sheet.stock.name if sheet.stock else "foam"
        slug = re.sub(r"\W+", "-", stock.lower()).strip("-") or "foam"
        kind = "offcut" if sheet.outline else "mat"
        count[slug, kind] += 1
        names.append(f"{slug}-{kind}-{count[slug, kind]}")
    return names


def _write(pattern: Pattern, out: Path, scratch: Path, check: bool,
           say: Progress) -> tuple[list[str], list[str]]:
    """Make all files in `scratch`; the names of those to put in place, and of those to remove."""
    from .changes import changes, still_good
    from .printed import after, write
    from .report import report

    earlier = _earlier(out)
    new = scratch / "new"
    new.mkdir()
    if not check:
        _write_sheets(pattern, new, say)
    names = sorted(path.relative_to(new).as_posix() for path in new.rglob("*") if path.is_file())
    names.append(REPORT)
    # A check leaves the sheets of an earlier run where they are, and on record.
    kept = [name for name in earlier if check and name not in names and (out / name).is_file()]
    stale = [name for name in earlier if name not in names and name not in kept]
    settings = pattern.settings
    printed = (settings.printed if check or settings.mock_up
               else after(pattern, still_good(changes(pattern))))
    document = {**report(pattern, check=check), "outputs": sorted({*names, *kept}),
                "printed": write(printed) if printed else None}
    say(1.0, "Putting the files in place")
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1)
    (new / REPORT).write_text(text + "\n", encoding="utf-8", newline="\n")
    for name in names:
        if os.path.lexists(out / name) and name not in earlier:
            raise _cannot_write(
                f"{out / name} is there already, and not from an earlier run of Foamwright.",
                "Choose another folder, or move that file away.")
    return names, stale


def _write_sheets(pattern: Pattern, folder: Path, say: Progress) -> None:
    from .backs import back_of
    from .pdf import write_pattern_pdf
    from .plan import write_plan
    from .svg import legend_svg
    from .template import cut_on_back

    say(0.0, "Writing the templates")
    write_pattern_pdf(pattern, folder / PATTERN)
    say(0.5, "Writing the build plan")
    write_plan(pattern, folder / PLAN, folder / PAGE)
    (folder / MATS).mkdir()
    for name, sheet in zip(mat_names(pattern.mats), pattern.mats, strict=True):
        say(0.9, "Writing the mats")
        _write_mat(sheet, pattern, folder / MATS / name)
        if pattern.settings.back_side and any(
                cut_on_back(pattern.piece(p.piece)) for p in sheet.placements):
            _write_mat(back_of(sheet), pattern, folder / MATS / f"{name}-back")
    for n, sheet in enumerate(card_sheets(pattern.cards), 1):
        _write_mat(sheet, pattern, folder / MATS / f"gauge-card-mat-{n}")
    if pattern.mats:
        (folder / MATS / LEGEND).write_text(legend_svg(), encoding="utf-8", newline="\n")


def _write_mat(sheet: Sheet, pattern: Pattern, path: Path) -> None:
    """A mat as SVG and DXF; path: without an ending."""
    from .drawing import draw_placed
    from .dxf import dxf
    from .svg import svg

    drawn = draw_placed(sheet, pattern, kerf=True)
    for ending, write in (("svg", svg), ("dxf", dxf)):
        text = write(sheet, pattern, pattern.settings.text_outlines, drawn)
        path.with_name(f"{path.name}.{ending}").write_text(text, encoding="utf-8", newline="\n")


def _earlier(out: Path) -> list[str]:
    """What an earlier run wrote into `out`, none when its report.json is not ours."""
    try:
        document = json.loads((out / REPORT).read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return []
    names = document.get("outputs") if isinstance(document, dict) else None
    if not isinstance(names, list):
        return []
    return [name for name in names if isinstance(name, str) and _OURS.fullmatch(name)]


def _swap_all(ready: Sequence[tuple[Path, Path, Path, list[str], list[str]]]) -> None:
    """For each (new, old, out, names, stale): move stale and replaced files of `out` to `old`, and
    `names` from `new` to `out`.

    When any move fails, all are undone before the error goes on.
    """
    made = [folder for _, _, out, _, _ in ready for folder in (out / MATS, out, *out.parents)
            if not folder.exists()]
    moved: list[tuple[Path, Path]] = []

    def move(source: Path, target: Path) -> None:
        target.parent.mkdir(parents=True, exist_ok=True)
        os.replace(source, target)
        moved.append((source, target))

    try:
        for new, old, out, names, stale in ready:
            for name in (*stale, *names):
                if os.path.lexists(out / name):
                    move(out / name, old / name)
            for name in names:
                move(new / name, out / name)
    except BaseException:
        for source, target in reversed(moved):
            os.replace(target, source)
        _remove_empty(made)
        raise
    for _, old, out, _, stale in ready:
        shutil.rmtree(old, ignore_errors=True)
        if stale:
            _remove_empty([out / MATS])


def _remove_empty(folders: Iterable[Path]) -> None:
    for folder in folders:
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


def _cannot_write(message: str, remedy: str) -> FoamError:
    return FoamError(Finding("cannot-write", ERROR, message, remedy))
