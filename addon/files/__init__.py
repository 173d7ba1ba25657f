"""Mesh files without marks: .obj, .stl, .ply and .glb -> Sculpt.

Read with numpy alone, so that polygons and object names survive and the
extension carries no further library. Units and axes are settled here.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from pathlib import Path

from ..core.errors import ERROR, NOTE, Finding, FoamError
from ..core.model import Sculpt
from ..core.units import MM_PER
from . import gltf, obj, ply, stl
from .assemble import RawMesh, assemble

READERS: Mapping[str, Callable[[bytes], RawMesh]] = {
    ".obj": obj.read, ".stl": stl.read, ".ply": ply.read, ".glb": gltf.read}
AXES = ("y", "z")


def read_mesh(path: str | Path, unit: str | None = None, up: str | None = None) -> Sculpt:
    """The surface in a mesh file, in millimetres, z up and seen from -y.

    unit: of the numbers in the file (a key of units.MM_PER). Without it .glb is in
    metres, as its standard says, and the others are taken as mm, with a note. up: the
    axis that points up, "y" or "z". Without it .glb has y up and looks along +z,
    as its standard says, and the others have z up. Coincident points of one object
    become one; polygons become triangles that remember their polygon.

    Raises FoamError: missing-file, unknown-file-type, unreadable-file, no-faces.
    """
    path = Path(path)
    if unit is not None and unit not in MM_PER or up is not None and up not in AXES:
        raise ValueError(f"unknown unit {unit!r} or axis {up!r}")
    raw = _read(path)
    if len(raw.sizes) == 0:
        raise _error("no-faces", f"The file {path} has no faces.",
                     "Export the file again with its surface.")
    findings = []
    if unit is None and raw.unit is None:
        findings.append(Finding(
            "unit-assumed", NOTE, f"A {path.suffix.lower()} file carries no unit; its numbers "
            "are taken as millimetres.", "State another unit with --unit if that is wrong."))
    points = raw.points * MM_PER[unit or raw.unit or "mm"]
    if (up or raw.up) == "y":
        points = points[:, [0, 2, 1]] * (1.0, -1.0, 1.0)
    return assemble(raw, points, path.stem, findings)


def _read(path: Path) -> RawMesh:
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise _error("unknown-file-type", f"“{path.suffix or path.name}” is not a mesh file "
                     "that can be read here.",
                     f"Use a Blender file or one of {', '.join(READERS)}.")
    try:
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise _error("missing-file", f"There is no file {path}.",
                     "Check the name and the folder.") from error
    except OSError as error:
        raise _error("unreadable-file", f"The file {path} cannot be read: {error.strerror}.",
                     "Check that it is a file and that you may read it.") from error
    try:
        return reader(data)
    except (ValueError, LookupError, TypeError, struct.error) as error:
        # The bytes are not what the format promises; where depends on the bytes.
        reason = str(error) if type(error) is ValueError else "its structure is damaged"
        raise _error("unreadable-file", f"The file {path} is not a sound {path.suffix.lower()} "
                     f"file: {reason}.", "Export it again from the modeller.") from error


def _error(code: str, message: str, remedy: str) -> FoamError:
    return FoamError(Finding(code, ERROR, message, remedy))
