"""What is printed: plain characters, whoever reads it, however early they stop."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import TYPE_CHECKING, TextIO

from trajplan.cli._working import hush
from trajplan.errors import OutputError
from trajplan.outside import printable

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["complain", "printed"]


class _Printed(io.TextIOBase):
    """Standard output without characters that a terminal would obey.

    A reader that stops early is no fault: what is left goes nowhere, and the command ends as it
    would have. A place that takes no more, or not these letters, is one that can be mended.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        if self._stream is not None:
            hush()
            with self._minding():
                self._stream.write(printable(text))
        return len(text)

    def flush(self) -> None:
        if self._stream is not None:
            with self._minding():
                self._stream.flush()

    def isatty(self) -> bool:
        return self._stream is not None and self._stream.isatty()

    @contextlib.contextmanager
    def _minding(self) -> Iterator[None]:
        try:
            yield
        except BrokenPipeError:
            self._leave()
        except UnicodeEncodeError as error:
            raise OutputError(
                f"what is to be printed holds {error.object[error.start]!a}, which the encoding "
                f"{error.encoding} does not have",
                remedy="set PYTHONIOENCODING=utf-8",
            ) from None
        except OSError as error:
            self._leave()
            raise OutputError(
                f"what is printed cannot be written ({error.strerror})",
                remedy="print to a place with room",
            ) from None

    def _leave(self) -> None:
        """Let what is left go nowhere: the interpreter writes it again when it ends."""
        stream, self._stream = self._stream, None
        if stream is not None:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, stream.fileno())
            os.close(nowhere)


@contextlib.contextmanager
def printed() -> Iterator[None]:
    """Let what is printed inside go through `_Printed`.

    Raises
    ------
    OutputError
        Inside, where it cannot be printed.
    """
    out = _Printed(sys.stdout)
    with contextlib.redirect_stdout(out):
        try:
            yield
        except SystemExit:  # after the help: nobody flushes what it printed
            out.flush()
            raise


def complain(sentence: str) -> None:
    """Say one line on standard error, if anybody listens there.

    Parameters
    ----------
    sentence : str
        The line; line ends in it become blanks.
    """
    line = f"trajplan: {printable(' '.join(sentence.split()))}\n"
    stream = sys.stderr
    if stream is None:
        return
    hush()
    with contextlib.suppress(OSError):
        try:
            stream.write(line)
        except UnicodeEncodeError:
            stream.write(line.encode("ascii", "backslashreplace").decode("ascii"))
        stream.flush()
