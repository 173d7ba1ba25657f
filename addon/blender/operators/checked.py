"""The base class of operators that work with the pieces as a check of the foam finds them."""

from __future__ import annotations

from .. import memory
from .base import summary
from .long import LongOperator


class CheckedOperator(LongOperator):
    """Cuts and flattens the suit in the background; `keep` shows what was found."""

    def prepare(self, context):
        from ...core.make import check

        sculpt, settings = self.read(context)
        known = memory.of_scene(context.scene)
        return lambda progress: check(sculpt, settings, progress, known)

    def words(self, result):
        return summary(result)
