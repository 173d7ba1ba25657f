"""PLY, text and binary: points and polygons."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .assemble import RawMesh

_TYPES = {"char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4",
          "float": "f4", "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2",
          "uint16": "u2", "int32": "i4", "uint32": "u4", "float32": "f4", "float64": "f8"}
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_CORNERS = ("vertex_indices", "vertex_index")


@dataclass
class _Element:
    """A table of the file: its rows and, per column, name, type and type of a list's length."""

    name: str
    rows: int
    columns: list[tuple[str, str, str]] = field(default_factory=list)


# A table as read: per column an array (rows,), or (lengths (rows,), all items) for a list.
_Table = dict[str, "np.ndarray | tuple[np.ndarray, np.ndarray]"]


def read(data: bytes) -> RawMesh:
    """The polygons of a PLY file. Raises ValueError."""
    order, elements, body = _header(data)
    tables: dict[str, _Table] = {}
    take = _take_text(body) if order == "" else _take_binary(body, order)
    for element in elements:
        tables[element.name] = take(element)
        if "vertex" in tables and "face" in tables:
            break
    try:
        points = np.stack([tables["vertex"][axis] for axis in "xyz"], axis=1).astype(float)
        face = tables["face"]
        sizes, corners = face[next(name for name in _CORNERS if name in face)]
    except (KeyError, StopIteration) as error:
        raise ValueError("it lacks a list of points or of faces") from error
    sizes = sizes.astype(np.int64)
    return RawMesh(points, corners.astype(np.int64), sizes, np.zeros_like(sizes))


def _header(data: bytes) -> tuple[str, list[_Element], bytes]:
    head, found, body = data.partition(b"end_header")
    lines = [line.split() for line in head.decode("ascii", errors="replace").splitlines()]
    if not found or lines[0] != ["ply"]:
        raise ValueError("its header is damaged")
    body = body[body.index(b"\n") + 1:]
    order, elements = None, []
    for line in lines:
        match line:
            case ["format", name, _] if name in _ORDERS:
                order = _ORDERS[name]
            case ["element", name, rows]:
                elements.append(_Element(name, int(rows)))
            case ["property", "list", length, item, name]:
                elements[-1].columns.append((name, _TYPES[item], _TYPES[length]))
            case ["property", kind, name]:
                elements[-1].columns.append((name, _TYPES[kind], ""))
    if order is None:
        raise ValueError("its format is not one of " + ", ".join(_ORDERS))
    return order, elements, body


def _take_text(body: bytes) -> Callable[[_Element], _Table]:
    """Reads one table after another from text: one row a line."""
    lines = iter(line for line in body.splitlines() if line.strip())

    def take(element: _Element) -> _Table:
        cells = {name: [] for name, *_ in element.columns}
        lengths = {name: [] for name, *_ in element.columns}
        for _ in range(element.rows):
            line = next(lines, None)
            if line is None:
                raise ValueError("it is cut short")
            words = line.split()
            at = 0
            for name, _, length in element.columns:
                count = int(words[at]) if length else 1
                at += bool(length)
                cells[name] += words[at:at + count]
                lengths[name].append(count)
                at += count
            if at > len(words):
                raise ValueError("a row is cut short")
        return {name: ((np.array(lengths[name], dtype=np.int64), np.array(cells[name], dtype=kind))
                       if length else np.array(cells[name], dtype=kind))
                for name, kind, length in element.columns}

    return take


def _take_binary(body: bytes, order: str) -> Callable[[_Element], _Table]:
    """Reads one table after another from bytes."""
    at = 0

    def row_type(element: _Element, sizes: list[int]) -> np.dtype:
        """A row whose lists have these lengths."""
        parts, lists = [], iter(sizes)
        for i, (_, kind, length) in enumerate(element.columns):
            if length:
                parts.append((f"n{i}", order + length))
                parts.append((f"c{i}", order + kind, (next(lists),)))
            else:
                parts.append((f"c{i}", order + kind))
        return np.dtype(parts)

    def lengths_at(element: _Element, at: int) -> list[int]:
        sizes = []
        for _, kind, length in element.columns:
            if length:
                sizes.append(int(np.frombuffer(body, order + length, 1, at)[0]))
                at += np.dtype(length).itemsize + sizes[-1] * np.dtype(kind).itemsize
            else:
                at += np.dtype(kind).itemsize
        return sizes

    def take(element: _Element) -> _Table:
        """Runs of rows with equal list lengths are read at one stroke."""
        nonlocal at
        runs, left = [], element.rows
        while left:
            sizes = lengths_at(element, at)
            kind = row_type(element, sizes)
            rows = np.frombuffer(body, kind, min(left, max(1, (len(body) - at) // kind.itemsize)),
                                 at)
            alike = np.ones(len(rows), dtype=bool)
            counted = [i for i, column in enumerate(element.columns) if column[2]]
            for i, size in zip(counted, sizes, strict=True):
                alike &= rows[f"n{i}"] == size
            run = len(rows) if alike.all() else int(np.argmin(alike))
            runs.append(rows[:run])
            at += run * kind.itemsize
            left -= run
        return {name: _column(runs, i, bool(length))
                for i, (name, _, length) in enumerate(element.columns)}

    return take


def _column(runs: list[np.ndarray], i: int, is_list: bool):
    cells = np.concatenate([run[f"c{i}"].ravel() for run in runs] or [np.empty(0)])
    if not is_list:
        return cells
    return np.concatenate([run[f"n{i}"] for run in runs] or [np.empty(0, dtype=int)]), cells
