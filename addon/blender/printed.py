"""What was printed of a suit, kept in the .blend with its scene, so that codes and letters stay.

The record is that of report.json (export/printed.py), packed as text.
"""

from __future__ import annotations

import base64
import json
import zlib

import bpy
from bpy.props import PointerProperty, StringProperty

from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Pattern, Printed
from . import changes as counted

PROPERTY = "foamwright_printed"


class FoamwrightPrinted(bpy.types.PropertyGroup):
    """record: packed, empty where nothing was printed; changes: JSON of what the last export
    changed."""

    record: StringProperty(options={"HIDDEN"})
    changes: StringProperty(options={"HIDDEN"})


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
    from ..export.printed import after, write

    found = changes(pattern)
    text = json.dumps(write(after(pattern, still_good(found))), allow_nan=False)
    group = getattr(scene, PROPERTY)
    group.record = base64.b64encode(zlib.compress(text.encode(), 9)).decode()
    group.changes = json.dumps([[c.code, c.name, c.kind, *c.why] for c in found])


def told(scene: bpy.types.Scene) -> list[tuple[str, list[str]]]:
    """What the last export changed, in titles and sentences."""
    from ..export.change_words import sentences
    from ..export.changes import Change

    text = getattr(scene, PROPERTY).changes
    return sentences([Change(code, name, kind, tuple(why))
                      for code, name, kind, *why in json.loads(text or "[]")])


def forget(scene: bpy.types.Scene) -> None:
    """Let the next export give codes and letters anew."""
    getattr(scene, PROPERTY).record = getattr(scene, PROPERTY).changes = ""
    counted.note()


def register() -> None:
    bpy.utils.register_class(FoamwrightPrinted)
    setattr(bpy.types.Scene, PROPERTY, PointerProperty(
        type=FoamwrightPrinted, name="Earlier Templates",
        description="The templates written last, by which codes and letters stay as they are"))


def unregister() -> None:
    delattr(bpy.types.Scene, PROPERTY)
    bpy.utils.unregister_class(FoamwrightPrinted)
