"""glTF 2.0 in one file (.glb): triangles of every node that shows a mesh.

Khronos glTF 2.0 specification, also ISO/IEC 12113:2022: metres, y up, +z forward.
"""

from __future__ import annotations

import json
import struct

import numpy as np

from .assemble import RawMesh

_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942
_COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC3": 3}
_SUPPORTED = {"KHR_mesh_quantization"}  # others change how points are stored
_TRIANGLES, _STRIP, _FAN = 4, 5, 6


def read(data: bytes) -> RawMesh:
    """The triangles of a .glb file, an object for each node. Raises ValueError."""
    document, binary = _chunks(data)
    unknown = set(document.get("extensionsRequired", ())) - _SUPPORTED
    compressed = sorted(name for name in unknown if "compression" in name.lower())
    if compressed:
        raise ValueError(f"its points are compressed ({', '.join(compressed)}); export it "
                         "without compression")
    points, faces, object_of, names = [], [], [], []
    base = 0
    for node, matrix in _placed(document):
        if "mesh" not in node:
            continue
        mesh = document["meshes"][node["mesh"]]
        for primitive in mesh["primitives"]:
            triangles = _triangles(document, binary, primitive)
            if triangles is None:
                continue
            position = _accessor(document, binary, primitive["attributes"]["POSITION"])
            points.append(position.astype(float) @ matrix[:3, :3].T + matrix[:3, 3])
            if np.linalg.det(matrix[:3, :3]) < 0:  # the standard: mirrored nodes wind backwards
                triangles = triangles[:, ::-1]
            if len(triangles) and triangles.max() >= len(position):
                raise ValueError("a face refers to a point that does not exist")
            faces.append(triangles + base)
            object_of.append(np.full(len(triangles), len(names)))
            base += len(position)
        names.append(node.get("name") or mesh.get("name") or "")
    faces = np.concatenate(faces or [np.empty((0, 3), dtype=np.int64)])
    return RawMesh(np.concatenate(points or [np.empty((0, 3))]), faces.ravel(),
                   np.full(len(faces), 3), np.concatenate(object_of or [np.empty(0, dtype=int)]),
                   tuple(names), unit="m", up="y")


def _chunks(data: bytes) -> tuple[dict, bytes]:
    """The JSON document and the binary buffer."""
    magic, version, length = struct.unpack_from("<3I", data)
    if magic != _MAGIC or version != 2:
        raise ValueError("it is not glTF 2.0 in binary form")
    if length > len(data):
        raise ValueError("it is cut short")
    found, at = {}, 12
    while at < length:
        size, kind = struct.unpack_from("<2I", data, at)
        found.setdefault(kind, data[at + 8:at + 8 + size])
        at += 8 + size
    return json.loads(found[_JSON]), found.get(_BIN, b"")


def _placed(document: dict) -> list[tuple[dict, np.ndarray]]:
    """Every node of the scene with its matrix (4, 4) in the world, parents before children."""
    nodes = document.get("nodes", [])
    children = {child for node in nodes for child in node.get("children", ())}
    roots = [i for i in range(len(nodes)) if i not in children]
    if document.get("scenes"):
        roots = document["scenes"][document.get("scene", 0)].get("nodes", [])
    waiting = [(i, np.eye(4)) for i in reversed(roots)]
    placed, seen = [], set()
    while waiting:
        i, parent = waiting.pop()
        if i in seen:
            raise ValueError("a node has two parents")
        seen.add(i)
        matrix = parent @ _matrix(nodes[i])
        placed.append((nodes[i], matrix))
        waiting += [(child, matrix) for child in reversed(nodes[i].get("children", ()))]
    return placed


def _matrix(node: dict) -> np.ndarray:
    """A node's own transform (4, 4), given whole (column by column) or in parts."""
    if "matrix" in node:
        return np.array(node["matrix"], dtype=float).reshape(4, 4).T
    x, y, z, w = node.get("rotation", (0.0, 0.0, 0.0, 1.0))
    turn = np.array([
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)]])
    matrix = np.eye(4)
    matrix[:3, :3] = turn * np.array(node.get("scale", (1.0, 1.0, 1.0)))
    matrix[:3, 3] = node.get("translation", (0.0, 0.0, 0.0))
    return matrix


def _triangles(document: dict, binary: bytes, primitive: dict) -> np.ndarray | None:
    """Triangles (m, 3) of a primitive, None for points and lines."""
    mode = primitive.get("mode", _TRIANGLES)
    if mode not in (_TRIANGLES, _STRIP, _FAN):
        return None
    if "indices" in primitive:
        corner = _accessor(document, binary, primitive["indices"]).ravel().astype(np.int64)
    else:
        corner = np.arange(document["accessors"][primitive["attributes"]["POSITION"]]["count"])
    if mode == _TRIANGLES:
        return corner.reshape(-1, 3)
    i = np.arange(len(corner) - 2)
    if mode == _FAN:
        return np.stack([corner[i + 1], corner[i + 2], np.full(len(i), corner[0])], axis=1)
    return corner[np.stack([i, i + 1 + i % 2, i + 2 - i % 2], axis=1)]


def _accessor(document: dict, binary: bytes, index: int) -> np.ndarray:
    """Values (count, width) of an accessor."""
    accessor = document["accessors"][index]
    if "sparse" in accessor or "bufferView" not in accessor:
        raise ValueError("it stores points sparsely, which is not read here")
    view = document["bufferViews"][accessor["bufferView"]]
    if view["buffer"] != 0 or "uri" in document["buffers"][0]:
        raise ValueError("its points lie in another file; export everything into one .glb")
    kind = np.dtype(_COMPONENTS[accessor["componentType"]])
    width = _WIDTHS[accessor["type"]]
    at = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
    stride = view.get("byteStride") or kind.itemsize * width
    count = accessor["count"]
    if count < 0 or at < 0 or at + stride * (count - 1) + kind.itemsize * width > len(binary):
        raise ValueError("it is cut short")
    values = np.ndarray((count, width), kind, binary, at, (stride, kind.itemsize))
    if accessor.get("normalized"):
        return np.maximum(values / np.iinfo(kind).max, -1.0)
    return values
