"""A stock -> the TOML file that describes it (docs/stock.md)."""

from __future__ import annotations

import json

from ..core.stock import Stock

MEASURED = b"# measured"  # how the file of a stock begins that calibration made


def stock_file(stock: Stock) -> str:
    """The text of a stock file that `core.stock.read_stock` reads back as this stock."""
    lines = [f"# {stock.origin}", f"name = {json.dumps(stock.name, ensure_ascii=False)}"]
    lines += [f"{key} = {getattr(stock, key):.6g}" for key in (
        "thickness", "neutral", "kerf", "gap", "density")]
    lines += [f"sheet = [{stock.sheet[0]:.6g}, {stock.sheet[1]:.6g}]",
              f"grain = {'true' if stock.grain else 'false'}"]
    for state in ("cold", "heated"):
        limits = getattr(stock, state)
        lines += ["", f"[{state}]", *(f"{key} = {getattr(limits, key):.6g}"
                                      for key in ("compress", "stretch", "radius"))]
    return "\n".join(lines) + "\n"
