"""What was printed of a suit, kept in the .blend with its scene, so that codes and letters stay.

The record is that of report.json (export/printed.py), packed as text.
"""

from __future__ import annotations

import base64
import json
import zlib

import bpy
from bpy.props import (
    CollectionProperty,
    EnumProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import PLANNED, Pattern, Printed
from . import changes as counted
from .choices import MADE

PROPERTY = "foamwright_printed"


class FoamwrightMade(bpy.types.PropertyGroup):
    """A piece, name: its code, and how far it is made; told: what the record says of that."""

    state: EnumProperty(
        name="Made", description="How far this piece is made. After a change of the design the "
                                 "plan tells what to do with what is cut or glued",
        items=MADE, default=PLANNED)
    told: StringProperty(options={"HIDDEN"})


class FoamwrightPrinted(bpy.types.PropertyGroup):
    """record: packed, empty where nothing was printed; changes: JSON of what the last export
    changed; pieces: how far each is made, row: the chosen one; existing: JSON of what to do with
    what is made already."""

    record: StringProperty(options={"HIDDEN"})
    changes: StringProperty(options={"HIDDEN"})
    pieces: CollectionProperty(type=FoamwrightMade, name="Pieces",
                               description="How far the pieces are made")
    row: IntProperty(name="Piece", options={"HIDDEN"})
    existing: StringProperty(options={"HIDDEN"})


def of_scene(scene: bpy.types.Scene) -> Printed | None:
    """What the scene says was printed. Raises FoamError `bad-report` where that is damaged."""
    from ..export.printed import read

    packed = getattr(scene, PROPERTY).record
    if not packed:
        return None
    try:
        return read(json.loads(zlib.decompress(base64.b64decode(packed))))
    except (zlib.error, KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise FoamError(Finding(
            "bad-report", ERROR, "What this file says of the earlier templates is damaged.",
            "Choose Forget Earlier Templates; the codes are then given anew.")) from error


def keep(scene: bpy.types.Scene, pattern: Pattern) -> None:
    """Remember what was printed now, and what it changed."""
    from ..export.changes import changes, still_good
    from ..export.existing import existing, in_words
    from ..export.printed import after, write

    found = changes(pattern)
    record = after(pattern, still_good(found))
    text = json.dumps(write(record), allow_nan=False)
    group = getattr(scene, PROPERTY)
    group.existing = json.dumps(in_words(existing(pattern)))
    group.pieces.clear()
    for piece in record.pieces:
        item = group.pieces.add()
        item.name, item.state, item.told = piece.code, piece.state, piece.state
    group.record = base64.b64encode(zlib.compress(text.encode(), 9)).decode()
    group.changes = json.dumps([[c.code, c.name, c.kind, *c.why] for c in found])


def told(scene: bpy.types.Scene) -> list[tuple[str, list[str]]]:
    """What the last export changed, in titles and sentences."""
    from ..export.change_words import sentences
    from ..export.changes import Change

    text = getattr(scene, PROPERTY).changes
    return sentences([Change(code, name, kind, tuple(why))
                      for code, name, kind, *why in json.loads(text or "[]")])


def made(scene: bpy.types.Scene) -> tuple[tuple[str, str], ...]:
    """Codes of pieces and how far each is made, where the maker said so since the last export."""
    return tuple((item.name, item.state) for item in getattr(scene, PROPERTY).pieces
                 if item.state != item.told)


def to_do(scene: bpy.types.Scene) -> list[tuple[str, list[str]]]:
    """What to do with what is made already, in titles and sentences, as of the last export."""
    return [(title, lines) for title, lines in json.loads(
        getattr(scene, PROPERTY).existing or "[]")]


def forget(scene: bpy.types.Scene) -> None:
    """Let the next export give codes and letters anew."""
    group = getattr(scene, PROPERTY)
    group.record = group.changes = group.existing = ""
    group.pieces.clear()
    counted.note()


def register() -> None:
    bpy.utils.register_class(FoamwrightMade)
    bpy.utils.register_class(FoamwrightPrinted)
    setattr(bpy.types.Scene, PROPERTY, PointerProperty(
        type=FoamwrightPrinted, name="Earlier Templates",
        description="The templates written last, by which codes and letters stay as they are"))


def unregister() -> None:
    delattr(bpy.types.Scene, PROPERTY)
    bpy.utils.unregister_class(FoamwrightPrinted)
    bpy.utils.unregister_class(FoamwrightMade)
