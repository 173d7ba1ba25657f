"""Rest lengths -> a flat piece whose stretch stays within what the foam takes.

A map of triangles to the plane is held as one complex number per vertex. On each
triangle its Jacobian is J = p z + q conj(z), whose singular values are |p| + |q|
and |p| - |q|; a negative second one is a flipped face. This makes every step below
plain complex arithmetic.

Least-squares conformal maps (Levy et al. 2002) start the flattening, a few
as-rigid-as-possible steps (Liu et al. 2008) even it out (`start`), then the alternating
direction method of multipliers minimises the utilisation (`band`): the forming map
flat -> layer must keep 1 - compress u <= sigma <= 1 + stretch u. Mates keep the length
of their seam; where that asks too much of a piece, pieces are solved `together`. What
no flattening can beat is in `bounds`. Whoever waits for all that is shown a `first_look`.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..model import Flat, Layer, Region
from ..stock import Stock
from .draft import Draft
from .first_look import first_look
from .forming import strain
from .meet import meet
from .system import rest_triangles

__all__ = ["Draft", "first_look", "flatten", "flatten_all", "meet", "rest_triangles", "strain"]


def flatten(region: Region, layer: Layer, stock: Stock) -> Flat:
    """Flatten a region by itself, its seams keeping their rest length.

    Raises FoamError `tighter-than-thickness` where the surface bends so tightly that
    the foam's own layer would turn inside out, `tube` for a region that closes round,
    and `cannot-flatten` when no flattening without flipped faces is found.
    """
    return flatten_all([region], [layer], [stock])[0]


def flatten_all(regions: Sequence[Region], layers: Sequence[Layer], stocks: Sequence[Stock]
                ) -> list[Flat]:
    """Flatten the regions of a cut so that their mates meet as far as the foam allows."""
    drafts = [Draft.of(*each) for each in zip(regions, layers, stocks, strict=True)]
    return [draft.flat() for draft in meet(drafts)[0]]
