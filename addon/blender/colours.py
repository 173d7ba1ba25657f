"""The colours of the overlay: tints that tell pieces apart, and the scale of utilisation.

Both were chosen in Oklab (Ottosson 2020, "A perceptual color space for image processing") and
hold for any colour vision: the tints alternate between warm and cold on a ladder of lightness,
and the scale runs one way, from light to dark. All are sRGB, 0 to 1, as a screen shows them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def srgb(text: str) -> tuple[float, float, float]:
    """Red, green and blue from a hexadecimal number, such as f3e5b0."""
    return tuple(int(text[i:i + 2], 16) / 255 for i in (0, 2, 4))


# Neighbours in the list differ most, since it is gone through in order.
TINTS = np.array([srgb(t) for t in ("f3e5b0", "95aad3", "b38f67", "a9d8f6", "d5b88e", "797da0")])

MOST = 2.0  # utilisation at the dark end of the scale, and beyond it
_RAMP = np.array([srgb(t) for t in (
    "f2efe0", "decfac", "d0ae79", "c38950", "b5632f", "9a432c", "7c2629", "57132a", "330521")])
UNKNOWN = np.array(srgb("a6a6a6"))  # not flat yet

INK, PAPER = srgb("17181c"), srgb("fbfaf6")
TRENCH_INK, SCORE_INK = srgb("1f4e9c"), srgb("8c2f0e")


def of_utilisation(u: np.ndarray) -> np.ndarray:
    """Colours (m, 3) of utilisations (m,); grey where it is NaN, not known."""
    colour = of_share(np.nan_to_num(u, nan=0.0) / MOST)
    colour[np.isnan(u)] = UNKNOWN
    return colour


def of_share(share: np.ndarray) -> np.ndarray:
    """Colours (m, 3) along the scale, from 0, light, to 1, dark."""
    place = np.clip(share, 0.0, 1.0) * (len(_RAMP) - 1)
    step = np.arange(len(_RAMP))
    return np.stack([np.interp(place, step, _RAMP[:, i]) for i in range(3)], axis=1)


def told_apart(count: int, neighbours: Sequence[Sequence[int]]) -> np.ndarray:
    """Indices (count,) into TINTS, gone through in order so that objects that are cut alike are
    tinted alike, and so that neighbours (k, 2) differ where the tints suffice."""
    beside: list[set[int]] = [set() for _ in range(count)]
    for a, b in neighbours:
        if a != b:
            beside[a].add(b)
            beside[b].add(a)
    chosen = np.full(count, -1)
    for i in range(count):
        taken = {chosen[j] for j in beside[i]}
        wish = [(i + k) % len(TINTS) for k in range(len(TINTS))]
        chosen[i] = next((t for t in wish if t not in taken), wish[0])
    return chosen
