"""The pattern that an action asks for."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

from ..core.model import Pattern, Sculpt, Settings
from .progress import Progress


def work(args: argparse.Namespace, sculpt: Sculpt, settings: Settings) -> Pattern:
    """Check, make or rebuild; seams are proposed first where that is wanted."""
    from ..core.make import check, make_pattern

    procedure = make_pattern if args.action == "make" else check
    again = args.action == "rebuild" or args.action == "make" and args.rebuild
    with Progress(sys.stderr) as progress:
        if args.suggest_seams:
            from ..core.suggest import suggest_seams

            foam = replace(settings, mock_up="")  # a mock-up has the seams of the suit
            sculpt = suggest_seams(sculpt, foam, args.ease or 0.0, progress).accepted(sculpt)
        pattern = procedure(sculpt, settings, progress)
        if pattern.sculpt.body is not None:
            from ..core.fit import fitted

            pattern = fitted(pattern, progress=progress)
        if args.reach is not None:
            from ..core.reach import reached

            pattern = reached(pattern, dict(args.reach), progress)
        if args.box is not None:
            from ..core.transport import GAP, packed

            pattern = packed(pattern, args.box, GAP if args.box_gap is None else args.box_gap,
                             progress)
        if again:
            from ..core.rebuild import tried

            pattern = tried(pattern, progress, args.quick)
        return pattern
