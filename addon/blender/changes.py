"""Has the maker changed anything? Handlers that only count, for work done on an earlier state.

`count` rises with every change that may matter to the foam, and `last` tells when. Both are
cheap and say too much rather than too little (a selection counts in some modes): whoever wants
to know for sure reads the scene again and compares `signature`s.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields

import bpy
from bpy.app.handlers import persistent

from ..core.model import Sculpt, Settings
from . import handlers, work

count = 0
where = 0  # session_uid of the scene in which something changed last
last = 0.0  # time.monotonic() of the last change
epoch = 0  # rises when the file or its past was loaded: nothing read before holds any longer
_ours = False
WORKING = ".foamwright"  # the scene in which working copies are evaluated; no change of the maker


def signature(sculpt: Sculpt, settings: Settings) -> bytes:
    """Digest of a sculpt as it was read and of what was asked about it."""
    digest = hashlib.blake2b(digest_size=16)
    for array in (sculpt.vertices, sculpt.faces, sculpt.edges, sculpt.kinds, sculpt.face_object):
        digest.update(f"{array.shape}".encode() + array.tobytes())
    for guide in sculpt.guides:
        digest.update(f"{guide.kind} {guide.closed} {guide.object}".encode()
                      + guide.points.tobytes())
    for one in sculpt.widenings:
        digest.update(f"{one.low} {one.high}".encode() + one.place.tobytes())
    for rod in sculpt.rods:
        digest.update(f"{rod.name} {rod.diameter} {rod.closed}".encode() + rod.points.tobytes())
    for mark in (*sculpt.markings, *sculpt.strips):
        digest.update(repr([getattr(mark, f.name) for f in fields(mark)]).encode()
                      + mark.points.tobytes())
    digest.update(repr((sculpt.objects, settings)).encode())
    return digest.digest()


def note(*_: object) -> None:
    """Something may have changed."""
    global count, last
    count += 1
    last = time.monotonic()


@contextmanager
def ours(layer: bpy.types.ViewLayer) -> Iterator[None]:
    """What is done inside, such as reading a mesh in Edit Mode, counts as no change."""
    global _ours
    layer.update()  # what the maker changed before it counts
    _ours = True
    try:
        yield
        layer.update()
    finally:
        _ours = False


@persistent
def _updated(scene, depsgraph):
    global where
    if not _ours and not scene.name.startswith(WORKING) and any(
            u.is_updated_geometry or u.is_updated_transform for u in depsgraph.updates):
        where = scene.session_uid
        note()


@persistent
def _another_past(*_):
    global epoch
    epoch += 1
    note()
    work.stop()


_HANDLERS = (("depsgraph_update_post", _updated), ("undo_post", _another_past),
             ("redo_post", _another_past), ("load_pre", _another_past),
             ("load_post", _another_past))


def register() -> None:
    handlers.add(_HANDLERS)


def unregister() -> None:
    handlers.remove(_HANDLERS)
