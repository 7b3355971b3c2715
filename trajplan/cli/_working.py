"""A line on a terminal that says that a command is at work, before a second has passed."""

from __future__ import annotations

import contextlib
import sys
import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TextIO

__all__ = ["at_work", "hush", "speak"]

#: Seconds until the line appears, and until it is written anew.
FIRST, AGAIN = 0.7, 0.5
#: Back to the start of the line, and rid of it (ECMA-48: carriage return, erase in line).
CLEAR = "\r\x1b[K"


class _Line:
    """The line of a command; written by a thread, for the command itself is busy."""

    def __init__(self, stream: TextIO, what: str) -> None:
        self._stream, self._what = stream, what
        self._began = time.monotonic()
        self._lock = threading.Lock()
        self._still, self._shown = False, False
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        pause = FIRST
        while not self._over.wait(pause):
            pause = AGAIN
            with self._lock:
                if not self._still:
                    took = time.monotonic() - self._began
                    self._put(f"{CLEAR}trajplan {self._what}: at work, {took:.0f} s")
                    self._shown = True

    def _put(self, text: str) -> None:
        with contextlib.suppress(OSError, ValueError):  # a terminal that is gone stops no work
            self._stream.write(text)
            self._stream.flush()

    def hush(self) -> None:
        """Take the line away until `speak`."""
        with self._lock:
            if self._shown:
                self._put(CLEAR)
            self._still, self._shown = True, False

    def speak(self) -> None:
        """Let the line come again."""
        self._still = False

    def end(self) -> None:
        """Take the line away for good."""
        self._over.set()
        self._thread.join()
        self.hush()


_now: list[_Line] = []


@contextmanager
def at_work(what: str) -> Iterator[None]:
    """Say on the terminal of standard error that a command is at work, as long as it is.

    Parameters
    ----------
    what : str
        The command.
    """
    stream = sys.stderr
    if stream is None or not stream.isatty() or _now:
        yield
        return
    _now.append(_Line(stream, what))
    try:
        yield
    finally:
        _now.pop().end()


def hush() -> None:
    """Take the line away: something else is written there now."""
    for line in _now:
        line.hush()


def speak() -> None:
    """Let the line come again, after `hush`."""
    for line in _now:
        line.speak()
