"""The sheet by which a maker measures their own foam."""

from __future__ import annotations

import argparse
from dataclasses import replace

from ..core.calibration import Measured, calibrate
from ..core.model import Settings
from ..core.stock import DEFAULT, find_stock
from ..export.folder import write_calibration


def calibration_sheet(args: argparse.Namespace) -> str:
    """Write the calibration sheet, and the stock that was measured; what was done in words."""
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
