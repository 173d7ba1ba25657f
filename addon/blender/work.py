"""Long work of the pure core in the background, one job at a time.

The main thread reads the scene, `start`s a job with a function that touches neither bpy nor
anything the main thread changes, looks at it now and then, and applies its result. What the
function is given to tell its progress raises `Cancelled` once the job was cancelled, and returns
True once the maker is content with the best found so far, which some work heeds.

    job = work.start(lambda progress: check(sculpt, settings, progress, memory))
    ...                         # from a timer: job.share, job.text, job.cancel()
    if job.over:
        pattern = job.result()  # or raises FoamError, Cancelled, or a mistake of ours

Jobs never overlap: a new one cancels the one before it and begins when that has ended, so
they may share a Memory. Undo and the loading of a file cancel the job (see `changes`).
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from ..core.errors import Cancelled

Progress = Callable[[float, str], bool | None]
_last: Job | None = None


class Job:
    """A function at work in a thread of its own.

    share (0 to 1) and text tell how far it is; over: it has ended, in whatever way; asked: the
    maker waits for it, so nothing else should take its place.
    """

    def __init__(self, function: Callable[[Progress], object], after: Job | None = None,
                 asked: bool = False):
        self.share, self.text, self.asked = 0.0, "", asked
        self._stop, self._enough = threading.Event(), threading.Event()
        self._value: object = None
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, args=(function, after),
                                        name="foamwright", daemon=True)
        self._thread.start()

    @property
    def over(self) -> bool:
        return not self._thread.is_alive()

    @property
    def cancelled(self) -> bool:
        """Was it asked to stop? It may have ended before it heard of that."""
        return self._stop.is_set()

    def cancel(self) -> None:
        """Ask the job to stop; returns at once, the job ends at its next word of progress."""
        self._stop.set()

    def settle(self) -> None:
        """Tell the job that the best it has found so far will do."""
        self._enough.set()

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until the job has ended; False if it has not within this time."""
        self._thread.join(seconds)
        return self.over

    def result(self) -> object:
        """What the function returned, once the job is over; raises what the function raised."""
        if not self.over:
            raise ValueError("the job is still at work")
        if self._error is not None:
            raise self._error
        return self._value

    def _run(self, function: Callable[[Progress], object], after: Job | None) -> None:
        try:
            if after is not None:
                after.wait()
            self._say(0.0, "")
            self._value = function(self._say)
        except BaseException as error:  # raised again in the main thread by `result`
            self._error = error

    def _say(self, share: float, text: str = "") -> bool:
        if self._stop.is_set():
            raise Cancelled
        self.share, self.text = share, text or self.text
        return self._enough.is_set()


def start(function: Callable[[Progress], object], asked: bool = False) -> Job:
    """Begin a job; one still at work is cancelled, and its end waited for in the background."""
    global _last
    before = stop()
    _last = Job(function, before, asked)
    return _last


def run(function: Callable[[Progress], object], progress: Progress) -> object:
    """Do the work in this thread, once a job in the background has been stopped."""
    before = stop()
    if before is not None:
        before.wait()
    return function(progress)


def running() -> Job | None:
    """The job at work, if any."""
    return _last if _last is not None and not _last.over else None


def stop(*_: object) -> Job | None:
    """Cancel the job at work and return it; it may go on for a moment. Fit for a handler."""
    job = running()
    if job is not None:
        job.cancel()
    return job


def register() -> None:
    """Nothing to make known; here so that `unregister` is called."""


def unregister() -> None:
    global _last
    job = stop()
    if job is not None:
        job.wait(10.0)
    _last = None
