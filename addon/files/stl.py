"""STL, binary and text: loose triangles."""

from __future__ import annotations

import numpy as np

from .assemble import RawMesh

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
_HEADER = 84


def read(data: bytes) -> RawMesh:
    """The triangles of an STL file; each `solid` of a text file is an object. ValueError."""
    if len(data) >= _HEADER:
        count = int.from_bytes(data[80:_HEADER], "little")
        # Some binary files begin with "solid" too: only the length tells them apart.
        if len(data) == _HEADER + count * _FACET.itemsize:
            return _loose(np.frombuffer(data, _FACET, count, _HEADER)["corners"].reshape(-1, 3))
    if data.lstrip()[:5].lower() == b"solid":
        return _text(data)
    raise ValueError("it is cut short, or not an STL file")


def _text(data: bytes) -> RawMesh:
    names: list[str] = []
    points: list[list[str]] = []
    object_of: list[int] = []
    for line in data.decode("utf-8", errors="replace").splitlines():
        word, *rest = line.split() or ("",)
        match word.lower():
            case "solid":
                names.append(" ".join(rest))
            case "facet":
                object_of.append(len(names) - 1)
            case "vertex":
                points.append(rest)
    if len(points) != 3 * len(object_of):
        raise ValueError("a facet does not have three corners")
    return _loose(np.array(points, dtype=float).reshape(-1, 3), object_of, tuple(names))


def _loose(points: np.ndarray, object_of=None, names: tuple[str, ...] = ("",)) -> RawMesh:
    count = len(points) // 3
    return RawMesh(points.astype(float), np.arange(3 * count), np.full(count, 3),
                   np.array(object_of or np.zeros(count), dtype=np.int64), names)
