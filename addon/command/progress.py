"""How far the work is, told on a terminal or in a log."""

from __future__ import annotations

import signal
import threading
from typing import TextIO

from ..core.nest import NESTING


class Progress:
    """progress(fraction, text): one line that changes on a terminal, one a stage elsewhere.

    The first Ctrl-C while pieces are nested is answered with True, the best layout so far will
    do; every other one is a KeyboardInterrupt as ever.
    """

    def __init__(self, stream: TextIO):
        self.stream, self.live, self.last, self.width = stream, stream.isatty(), "", 0
        self.enough, self.shown = False, ""
        self._before: object = None

    def __enter__(self) -> Progress:
        if threading.current_thread() is threading.main_thread():  # only there may it be asked
            self._before = signal.signal(signal.SIGINT, self._interrupted)
        return self

    def __exit__(self, *_) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)
        if self.live and self.width:
            print("\r" + " " * self.width + "\r", end="", file=self.stream, flush=True)

    def _interrupted(self, *_: object) -> None:
        if self.enough or not self.last.startswith(NESTING):
            raise KeyboardInterrupt
        self.enough = True
        print("\nGoing on with the best layout so far; once more to stop.", file=self.stream,
              flush=True)

    def __call__(self, fraction: float, text: str = "") -> bool:
        text = text or self.last
        line = f"[{100 * fraction:3.0f} %] {text}"
        if self.live and line == self.shown:  # while pieces are nested it is said very often
            return self.enough
        self.shown = line
        if self.live:
            print("\r" + line.ljust(self.width), end="", file=self.stream, flush=True)
            self.width = len(line)
        elif text != self.last:
            print(line, file=self.stream, flush=True)
        self.last = text
        return self.enough
