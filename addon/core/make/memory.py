"""What a check remembers of the last one."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from copy import copy
from dataclasses import replace

import numpy as np

from .. import flatten, layer
from ..model import Cut, Ease, Layer, Region
from ..stock import Stock


class Memory:
    """What the last check found, so that the next one searches only the pieces that changed.

    The caller holds it and may lose it at any time: with it the result is the same, sooner.
    A draft is found again by a digest of all that its search depends on.
    """

    def __init__(self):
        self._surfaces: dict[bytes, layer.Surface] = {}
        self._drafts: dict[bytes, flatten.Draft] = {}
        self._regions: set[bytes] = set()
        self._met: tuple[list, tuple[list[flatten.Draft], list[Ease]]] | None = None

    def layers(self, cut: Cut, stocks: list[Stock], sides: list[str], web: float) -> list[Layer]:
        """The layers of a cut, as layer.layers finds them; forgets the surfaces of all others."""
        used: dict[bytes, layer.Surface] = {}

        def fit(points: np.ndarray, faces: np.ndarray, thickness: float) -> layer.Surface:
            key = _digest(points, faces, thickness)
            used[key] = self._surfaces.get(key) or layer.fit_surface(points, faces, thickness)
            return used[key]

        found = layer.layers(cut, stocks, sides, web, fit)
        self._surfaces = used
        return found

    def remembers(self, region: Region, stock: Stock) -> bool:
        """Was this region a part of the last check?"""
        return _whole(region, stock) in self._regions

    def draft(self, region: Region, lay: Layer, stock: Stock) -> flatten.Draft:
        """The draft of a region by itself. Raises FoamError where there is none."""
        key = _search(region, lay, stock)
        if key not in self._drafts:
            self._drafts[key] = flatten.Draft.of(region, lay, stock)
        return _brought_up(self._drafts[key], region, lay, stock)

    def keep(self, drafts: Sequence[flatten.Draft]) -> list[bytes]:
        """Forget all other drafts than these; returns their digests."""
        keys = [_search(d.region, d.layer, d.stock) for d in drafts]
        self._drafts = {key: self._drafts[key] for key in keys}
        return keys

    def meet(self, drafts: Sequence[flatten.Draft]) -> tuple[list[flatten.Draft], list[Ease]]:
        """The drafts with lengths common to mates, as flatten.meet finds them; forgets the
        drafts of all other regions."""
        keys = self.keep(drafts)
        joints = [[border.seam for border in d.region.borders] for d in drafts]
        if self._met is None or self._met[0] != [keys, joints]:
            self._met = [keys, joints], flatten.meet(drafts)
        self._regions = {_whole(d.region, d.stock) for d in drafts}
        found, eased = self._met[1]
        return [_brought_up(f, d.region, d.layer, d.stock)
                for f, d in zip(found, drafts, strict=True)], eased


def _whole(region: Region, stock: Stock) -> bytes:
    return _digest(region.vertices, region.faces, region.leaf, stock)


def _search(region: Region, lay: Layer, stock: Stock) -> bytes:
    """Digest of what the search of a region depends on: neither names nor numbers in the
    sculpt."""
    borders = [(b.seam < 0, b.forward, b.vertices, b.faired) for b in region.borders]
    return _digest(region.vertices, region.faces, lay.lengths, region.loops, stock.thickness,
                   stock.cold, stock.heated, *(part for border in borders for part in border),
                   *lay.contact)


def _digest(*parts: object) -> bytes:
    digest = hashlib.blake2b(digest_size=16)
    for part in parts:
        if isinstance(part, np.ndarray):
            digest.update(f"{part.shape}{part.dtype}".encode() + part.tobytes())
        else:
            digest.update(f"{part}".encode())
    return digest.digest()


def _brought_up(draft: flatten.Draft, region: Region, lay: Layer, stock: Stock) -> flatten.Draft:
    """The draft for the same region of another run, in which things may be numbered otherwise."""
    if draft.region is region:
        return draft
    system, seams = copy(draft.system), draft.system.seams
    parts = seams.parts.copy()
    parts[:, 0] = [region.borders[border].seam for border in parts[:, 2]]
    system.seams = replace(seams, parts=parts)
    return replace(draft, region=region, layer=lay, stock=stock, system=system)
