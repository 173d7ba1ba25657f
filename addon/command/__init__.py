"""The command line: a sculpt in a file -> templates in a folder, a check of the sculpt, or the
suit put together again.

Exit codes: 0 done, 2 cannot (the findings say why), 130 stopped from the keyboard.
Anything else is a bug and ends in a traceback with exit code 1.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from ..core.errors import FoamError
from ..export.folder import require_writable, write_set
from ..export.size_set import made
from . import findings
from .calibration import calibration_sheet
from .options import parser
from .outcome import summary
from .reading import read
from .sizes import sizes
from .working import work

STOPPED = 130  # what shells report for a command that Ctrl-C ended


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command with these words (default: of the process); returns the exit code.

    Wrong usage ends in SystemExit 2, as argparse does.
    """
    try:
        words = parser()
        args = words.parse_args(argv)
        if args.action == "calibration":
            print(calibration_sheet(args))
            return 0
        if args.ease is not None and not args.suggest_seams:
            words.error("--ease goes with --suggest-seams")
        if args.box_gap is not None and args.box is None:
            words.error("--box-gap goes with --box")
        if args.piece is not None and args.action != "make":
            words.error("--piece goes with make")
        if args.action == "make" and args.quick and not args.rebuild:
            words.error("--quick goes with --rebuild")
        if args.out is not None:
            require_writable(args.out)  # before minutes of work, not after
        sculpt, settings = read(args)
        patterns = made(sizes(args, sculpt, settings), sculpt,
                        lambda sized, chosen, n: work(args, sized, chosen))
        # All of them are known before any is written.
        files = write_set([(pattern, job.out) for job, pattern in patterns if job.out],
                          check=args.action != "make")
    except KeyboardInterrupt:
        print("Stopped. Nothing was written.", file=sys.stderr)
        return STOPPED
    except FoamError as error:
        for block in findings.blocks(error.findings):
            print(block, file=sys.stderr)
        return 2
    for (_, pattern), written in zip(patterns, files or [[]] * len(patterns), strict=True):
        if pattern.settings.size:
            print(f"=== {pattern.settings.title} ===\n")
        print(summary(pattern, written))
    return 0
