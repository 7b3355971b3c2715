"""Telling how far a batch has come: a bar on a terminal, plain lines elsewhere."""

from __future__ import annotations

import shutil
import time
from typing import TYPE_CHECKING, TextIO

from trajplan.outside import printable

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.batch._outcome import Outcome

__all__ = ["Progress"]

#: Cells of the bar.
WIDTH = 28
#: Plain lines that a whole run prints, besides one for each case that failed.
LINES = 20


class Progress:
    """Counts outcomes and says so.

    Parameters
    ----------
    total : int
        Cases of the whole batch.
    stream : text stream
        Where to; a terminal gets a bar that is drawn over, anything else plain lines.
    clock : callable
        Seconds, for the rate.
    """

    def __init__(
        self, total: int, stream: TextIO, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._total, self._stream, self._clock = total, stream, clock
        self._begin = clock()
        self._kept = self._done = self._failed = 0
        self._bar = stream.isatty()

    def kept(self, count: int) -> None:
        """Count results of an earlier run; they do not enter the rate."""
        self._kept = count
        if count:
            self._print(f"{count} of {self._total} cases are finished already")
        if self._bar:
            self._draw()

    def show(self, outcome: Outcome) -> None:
        """Count an outcome."""
        self._done += 1
        if outcome.status == "failed":
            self._failed += 1
            self._print(" ".join(f"failed: {outcome.id}: {outcome.error}".split()))
        if self._bar:
            self._draw()
        elif self._said_every() or self._kept + self._done == self._total:
            self._print(self.words())

    def words(self) -> str:
        """How far it is.

        Returns
        -------
        str
            Count, rate, time left, failures.
        """
        told = self._kept + self._done
        taken = self._clock() - self._begin
        rate = self._done / taken if taken > 0 else 0.0
        left = "?" if rate == 0 else clock_text((self._total - told) / rate)
        return (
            f"{told} of {self._total} cases, {rate_text(rate)}, {left} left, {self._failed} failed"
        )

    def close(self) -> None:
        """Leave the line of the bar."""
        if self._bar:
            self._stream.write("\n")
            self._stream.flush()

    def _said_every(self) -> bool:
        step = max(1, self._total // LINES)
        return (self._kept + self._done) % step == 0

    def _draw(self) -> None:
        filled = WIDTH * (self._kept + self._done) // self._total
        line = f"[{'#' * filled}{'.' * (WIDTH - filled)}] {self.words()}"
        columns = shutil.get_terminal_size().columns
        self._stream.write(f"\r\x1b[K{line[: columns - 1]}")
        self._stream.flush()

    def _print(self, line: str) -> None:
        self._stream.write(f"\r\x1b[K{printable(line)}\n" if self._bar else f"{printable(line)}\n")
        self._stream.flush()


def rate_text(rate: float) -> str:
    """Cases in a second, or in a minute where they are slow.

    Parameters
    ----------
    rate : float
        Cases a second.

    Returns
    -------
    str
    """
    return f"{rate:.1f} cases/s" if rate >= 1 else f"{60 * rate:.1f} cases/min"


def clock_text(seconds: float) -> str:
    """Seconds as hours, minutes and seconds.

    Parameters
    ----------
    seconds : float
        0 or more.

    Returns
    -------
    str
    """
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
