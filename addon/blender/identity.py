"""Which object a finding was about, also once it was renamed and another bears its name.

A word of its own is kept on the object. A pointer would keep an object that the maker deletes
in the file, and its name taken.
"""

from __future__ import annotations

import uuid

import bpy

ID = "foamwright_id"  # custom property of objects


def mark(scene: bpy.types.Scene, item: bpy.types.Object) -> str:
    """The word by which an object is found again; empty where none can be kept on it."""
    if not item.is_editable:
        return ""
    word = item.get(ID)
    # A copy bears the word of the object it was made from, which is the older one.
    if not word or any(o.get(ID) == word and o.session_uid < item.session_uid
                       for o in scene.objects):
        item[ID] = uuid.uuid4().hex[:16]
    return item[ID]


def find(scene: bpy.types.Scene, name: str, word: str) -> bpy.types.Object | None:
    """The object that had this name when it bore the word; None where it is gone or where
    several might be it. Without a word the name decides."""
    named = scene.objects.get(name)
    if not word or named is not None and named.get(ID) == word:
        return named
    found = [o for o in scene.objects if o.get(ID) == word]
    return found[0] if len(found) == 1 else None
