"""How a search that lies many calls below a procedure can be stopped half-way.

A procedure is told how to say its progress, and that raises Cancelled once the maker has stopped
it. Between two words of a procedure a large piece may be searched for a minute; so a search asks
at each of its turns, by saying the procedure's last word again.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from contextvars import ContextVar
from functools import wraps
from typing import TypeVar

_Procedure = TypeVar("_Procedure", bound=Callable)
# Of this thread and this call, like numpy's own way to treat errors; nothing outlives the call.
_ask: ContextVar[Callable[[], None]] = ContextVar("ask", default=lambda: None)


def ask() -> None:
    """To be called at each turn of a search; raises Cancelled where it shall go on no more."""
    _ask.get()()


def stoppable(procedure: _Procedure) -> _Procedure:
    """Let the searches in a procedure be stopped by its argument `progress`, where it has one."""
    signature = inspect.signature(procedure)

    @wraps(procedure)
    def run(*args: object, **named: object) -> object:
        bound = signature.bind(*args, **named)
        progress = bound.arguments.get("progress")
        if progress is None:
            return procedure(*args, **named)
        last = 0.0, ""

        def say(share: float, text: str) -> object:
            nonlocal last
            last = share, text
            return progress(share, text)

        bound.arguments["progress"] = say
        token = _ask.set(lambda: progress(*last))
        try:
            return procedure(*bound.args, **bound.kwargs)
        finally:
            _ask.reset(token)

    return run
