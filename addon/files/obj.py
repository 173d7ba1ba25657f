"""Wavefront OBJ: points, polygons and the names of their objects."""

from __future__ import annotations

import numpy as np

from .assemble import RawMesh


def read(data: bytes) -> RawMesh:
    """The polygons of an OBJ file. Objects are its `o` names.

    A file without them has one object for each `g` name, provided that no two groups
    share a point: groups of one surface are not objects. Raises ValueError.
    """
    points: list[list[str]] = []
    corners: list[int] = []
    sizes: list[int] = []
    labels: dict[str, list[int]] = {"o": [], "g": []}
    names: dict[str, dict[str, int]] = {"o": {"": 0}, "g": {"": 0}}
    current = {"o": 0, "g": 0}
    text = data.decode("utf-8", errors="replace").replace("\\\r\n", " ").replace("\\\n", " ")
    for line in text.splitlines():
        word, *rest = line.split() or ("",)
        if word == "v":
            points.append(rest[:3])
        elif word == "f":
            rest = line.partition("#")[0].split()[1:]
            for token in rest:
                index = int(token.partition("/")[0])
                if index == 0:
                    raise ValueError("a face refers to point 0, but points count from 1")
                corners.append(index - 1 if index > 0 else len(points) + index)
            sizes.append(len(rest))
            labels["o"].append(current["o"])
            labels["g"].append(current["g"])
        elif word in current:
            known = names[word]
            current[word] = known.setdefault(" ".join(rest), len(known))
    try:
        positions = np.array(points, dtype=float).reshape(-1, 3)
    except ValueError as error:
        raise ValueError("a point does not have three numbers") from error
    corners, sizes = np.array(corners, dtype=np.int64), np.array(sizes, dtype=np.int64)
    for kind in ("o", "g"):
        label = np.array(labels[kind], dtype=np.int64)
        if label.any() and (kind == "o" or _separate(corners, np.repeat(label, sizes))):
            return RawMesh(positions, corners, sizes, label, tuple(names[kind]))
    return RawMesh(positions, corners, sizes, np.zeros_like(sizes))


def _separate(corners: np.ndarray, label: np.ndarray) -> bool:
    """Whether no point is a corner of polygons with different labels."""
    order = np.lexsort((label, corners))
    same = np.diff(corners[order]) == 0
    return not (np.diff(label[order])[same] != 0).any()
