"""Laid-on parts: pieces that are glued on the face of others.

    sculpt -> what lies on what, set down on its base (rest) -> cut -> which pieces are under
    each (under) -> placement outlines and notches (places)

A detail may be sculpted as its outer face, its middle or the face that touches its base; contact
tells which. It is flattened like any piece, on its own neutral layer, once it has been set down.
"""

from .places import placed
from .rest import Rested, rest
from .tops import lower_faces
from .under import Under, under

__all__ = ["Rested", "Under", "lower_faces", "placed", "rest", "under"]
