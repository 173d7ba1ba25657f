"""The base of the records, whose arrays cannot be written to."""

from __future__ import annotations

import numpy as np


class Frozen:
    """Base of the records: turns sequences of numbers into read-only arrays."""

    _floats: tuple[str, ...] = ()
    _ints: tuple[str, ...] = ()

    def __post_init__(self):
        for names, dtype in ((self._floats, np.float64), (self._ints, np.int64)):
            for name in names:
                array = np.array(getattr(self, name), dtype=dtype)
                array.setflags(write=False)
                object.__setattr__(self, name, array)
